"""Safeguarded search for the widest spacing at which a margin is still kept.

The margin falls as the spacing grows, and is nearly straight in the share of the tube that carries plates, 1/spacing.
So the search goes by 1/spacing: along the parabola x(margin) through the three nearest trials (inverse quadratic
interpolation, as in Brent's method), along a straight line while there are two; and by the middle of the bracket where
that leads out of it.
"""

from __future__ import annotations

from collections.abc import Callable

CLOSE = 0.005
"""A kept margin below this share is close enough."""

MOST_TRIALS = 12
"""The search ends after this many trials within the bracket; two or three are usual."""

Point = tuple[float, float]
"""1/spacing [1/m] and margin."""


def widest_kept(
    margin: Callable[[float], float],
    closest: tuple[float, float],
    widest: tuple[float, float],
    resolution: float = 1e-3,
) -> float:
    """The widest spacing tried whose margin is not negative.

    Parameters
    ----------
    margin : of a spacing [m]; what is left, as a share: 0 at the limit, negative beyond.
    closest, widest : spacing [m] and margin at both ends; the margin is 0 or more at the closest, negative at the
        widest.
    resolution : bracket that is narrow enough [m].

    Raises
    ------
    ValueError : the ends are not a bracket.

    Examples
    --------
    From 0.2 to 1 m, the margin of a flux 40/s against 100, 0 at 0.4 m:

    >>> found = widest_kept(lambda s: 0.4 / s - 1.0, (0.2, 1.0), (1.0, -0.6))
    >>> 0.398 < found <= 0.4
    True
    """
    if not (closest[0] < widest[0] and closest[1] >= 0.0 > widest[1]):
        raise ValueError(
            f"no bracket: margin {closest[1]:g} at {closest[0]:g} m and {widest[1]:g} at {widest[0]:g} m"
        )
    (low, kept), (high, broken) = closest, widest
    points = [(1.0 / low, kept), (1.0 / high, broken)]
    for _ in range(MOST_TRIALS):
        if kept <= CLOSE or high - low <= resolution:
            break
        trial = 1.0 / _next(points, 1.0 / high, 1.0 / low, min(0.4 * CLOSE, 0.5 * kept))
        found = margin(trial)
        points.append((1.0 / trial, found))
        if found >= 0.0:
            low, kept = trial, found
        else:
            high, broken = trial, found
    return low


def _next(points: list[Point], low: float, high: float, aim: float) -> float:
    """Where to try next: a 1/spacing within the bracket whose margin should be `aim`."""
    nearest = sorted(points, key=lambda point: abs(point[1] - aim))[:3]
    found = _through(nearest, aim)
    edge = 0.02 * (high - low)
    return found if low + edge < found < high - edge else 0.5 * (low + high)


def _through(points: list[Point], aim: float) -> float:
    """Lagrange's polynomial x(margin) through the points; a margin that comes twice leads nowhere (infinite)."""
    total = 0.0
    for own, (x, margin) in enumerate(points):
        term = x
        for other, (_, against) in enumerate(points):
            if other != own:
                if margin == against:
                    return float("inf")
                term *= (aim - against) / (margin - against)
        total += term
    return total

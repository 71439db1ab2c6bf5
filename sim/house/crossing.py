"""Where a function crosses zero between two places."""

from __future__ import annotations

from collections.abc import Callable
from math import copysign


def crossing(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """The place, within `tolerance`, at which a continuous function of opposite signs at both ends is zero.

    False position, each place set a little towards the middle so that both ends close in on the zero, and the middle
    itself after a step that has not halved what is left. Place and tolerance are in any unit, that of the ends. A
    library's search takes half a second to load.

    Raises
    ------
    ValueError : the signs at the ends are the same.

    Examples
    --------
    >>> round(crossing(lambda x: x * x - 2.0, 0.0, 2.0, 1e-12), 9)
    1.414213562
    """
    below, above = function(low), function(high)
    if below * above > 0.0:
        raise ValueError(f"no change of sign between {low:g} and {high:g}")
    if 0.0 in (below, above):
        return low if below == 0.0 else high
    halve = False
    while (wide := high - low) > tolerance:
        middle, place = 0.5 * (low + high), high - above * (high - low) / (above - below)
        place = middle if halve else place + copysign(0.5 * tolerance, middle - place)
        value = function(place)
        if (value < 0.0) == (below < 0.0):
            low, below = place, value
        else:
            high, above = place, value
        halve = high - low > 0.5 * wide
    return 0.5 * (low + high)

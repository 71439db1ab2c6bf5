"""Analytic view factors of rectangles and of infinite strips.

Aligned rectangles: Incropera et al., Fundamentals of Heat and Mass Transfer, table 13.2. General
position: J. R. Ehlert and T. F. Smith, J. Thermophysics 7 (1993) 587. Strips: Hottel's crossed strings.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from math import atan, dist, hypot, log, pi, sqrt

Span = tuple[float, float]


def aligned_parallel(width: float, length: float, gap: float) -> float:
    """View factor [-] between equal rectangles `width` x `length` [m] facing each other across `gap` [m]."""
    x, y = width / gap, length / gap
    p, q = sqrt(1 + x * x), sqrt(1 + y * y)
    logarithm = log(p * q / sqrt(1 + x * x + y * y))
    angles = x * q * atan(x / q) + y * p * atan(y / p) - x * atan(x) - y * atan(y)
    return 2 / (pi * x * y) * (logarithm + angles)


def perpendicular(width: float, height: float, edge: float) -> float:
    """View factor [-] from a rectangle `width` x `edge` to one of `height` x `edge` [m], at right angles
    along the common edge."""
    w, h = width / edge, height / edge
    w2, h2 = w * w, h * h
    a = (1 + w2) * (1 + h2) / (1 + w2 + h2)
    b = w2 * (1 + w2 + h2) / ((1 + w2) * (w2 + h2))
    c = h2 * (1 + w2 + h2) / ((1 + h2) * (h2 + w2))
    angles = w * atan(1 / w) + h * atan(1 / h) - hypot(w, h) * atan(1 / hypot(w, h))
    return (angles + 0.25 * (log(a) + w2 * log(b) + h2 * log(c))) / (pi * w)


def parallel_exchange(x: Span, y: Span, other_x: Span, other_y: Span, gap: float) -> float:
    """Exchange area A F [m2] of two rectangles in planes `gap` [m] apart, edges along x and y."""

    def term(u: float, v: float) -> float:
        p, q = hypot(u, gap), hypot(v, gap)
        squares = u * u + v * v + gap * gap
        return (v * p * atan(v / p) + u * q * atan(u / q) - 0.5 * gap * gap * log(squares)) / (2 * pi)

    return _corner_sum(term, x, other_x, y, other_y)


def perpendicular_exchange(x: Span, y: Span, z: Span, other_y: Span) -> float:
    """Exchange area A F [m2] of the rectangle `x` x `y` in the plane z = 0 and `z` x `other_y` in x = 0."""
    total = 0.0
    for (i, a), (j, b), (k, c), (m, d) in product(*(enumerate(span) for span in (x, z, y, other_y))):
        square, delta = a * a + b * b, c - d
        root = sqrt(square)
        # Both terms tend to zero at a common edge or corner.
        angle = delta * root * atan(delta / root) if root > 0 else 0.0
        both = square + delta * delta
        logarithm = 0.25 * (square - delta * delta) * log(both) if both > 0 else 0.0
        total += (-1) ** (i + j + k + m) * (angle - logarithm) / (2 * pi)
    return total


def crossed_strings(crossed: list[list[Span]], uncrossed: list[list[Span]]) -> float:
    """Exchange area per depth [m] of two strips, from the taut strings between their ends.

    Each string is the list of points it passes; of the two crossed and the two uncrossed strings.
    """
    lengths = [sum(_string_length(string) for string in strings) for strings in (crossed, uncrossed)]
    return 0.5 * (lengths[0] - lengths[1])


def _corner_sum(term: Callable[[float, float], float], x: Span, a: Span, y: Span, b: Span) -> float:
    """Signed sum over all pairs of corners."""
    corners = product(enumerate(x), enumerate(a), enumerate(y), enumerate(b))
    return sum((-1) ** (i + j + k + m) * term(p - q, r - s) for (i, p), (j, q), (k, r), (m, s) in corners)


def _string_length(points: list[Span]) -> float:
    """Length of the polygon through the points."""
    return sum(dist(start, end) for start, end in zip(points, points[1:], strict=False))

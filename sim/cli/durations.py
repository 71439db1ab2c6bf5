"""Times as one says them."""

from __future__ import annotations


def about(seconds: float) -> str:
    """A time as one says it.

    >>> about(42.3), about(310.0), about(9000.0)
    ('42 s', '5 min', '2.5 h')
    """
    if seconds < 90.0:
        return f"{max(seconds, 1.0):.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def between(low: float, high: float) -> str:
    """A time that is known from and to.

    >>> between(12.0, 45.0), between(40.0, 200.0), between(70.0, 71.0)
    ('12 to 45 s', '40 s to 3 min', '70 to 71 s')
    """
    first, last = about(low), about(high)
    if first == last:
        return first
    number, unit = first.split()
    return f"{number} to {last}" if last.endswith(f" {unit}") else f"{first} to {last}"

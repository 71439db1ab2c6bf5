"""Inches as they stand on a rule: whole ones and fractions, where a length has such a mark."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Literal

from sim.case.unit_sizes import INCH

Toward = Literal["nearest", "up", "down"]
"""Which way a length is rounded to a mark: what may be at most is rounded down, what must be at least up."""

WHOLE: dict[Toward, Callable[[float], int]] = {
    "nearest": round,
    "up": lambda n: math.ceil(n - 1e-6),
    "down": lambda n: math.floor(n + 1e-6),
}
"""The whole number a count of marks is rounded to."""

_ON_THE_MARK = 0.004
"""A length that is no farther from a 32nd is that one [in]: 19 mm is no 3/4 in, 22.2 mm is 7/8 in."""


def rule_inches(metres: float, toward: Toward = "nearest", parts: int = 16) -> str:
    """A length rounded to the marks of a rule.

    Parameters
    ----------
    metres : length [m].
    toward : which way it is rounded; one that lies on a mark stays there.
    parts : marks of an inch.

    Examples
    --------
    >>> rule_inches(0.0445), rule_inches(0.0804, "down"), rule_inches(0.0254)
    ('1 3/4 in', '3 1/8 in', '1 in')
    """
    marks = metres / INCH * parts
    whole, rest = divmod(Fraction(WHOLE[toward](marks), parts), 1)
    said = f"{whole} {rest}" if whole and rest else f"{rest or whole}"
    return f"{said} in"


def inches(metres: float) -> str:
    """A length as the trade writes it: a fraction where it is on a 32nd of the rule, else three digits.

    Examples
    --------
    >>> inches(0.01825625), inches(0.2349), inches(0.130), inches(0.0004826)
    ('23/32 in', '9 1/4 in', '5.12 in', '0.019 in')
    """
    found = metres / INCH
    if found >= 1.0 / 32.0 and abs(found * 32.0 - round(found * 32.0)) < 32.0 * _ON_THE_MARK:
        return rule_inches(metres, parts=32)
    return f"{round(found, 2):.10g} in" if found >= 10.0 else f"{found:.3g} in"

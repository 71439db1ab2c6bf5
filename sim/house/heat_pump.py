"""A heat pump by the weather: COP and greatest output from a few points of its test, and its cycling below its least.

Between test points (EN 14511: A7/W35 and the like, outdoor air and supply) the second-law fraction is interpolated,

    η = COP (T_s − T_o) / T_s,

linear in the outdoor temperature, then in the supply; beyond the points it keeps its nearest value, so the COP goes on
as Carnot's does. Outputs are interpolated alike. Held against published tests whose points were left out in turn, the
COP is met within 5 % along the supply and 8 % along the air, the output within 2 and 15 % (`test_house_season.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

RatingPoint = tuple[float, float, float, float, str]
"""Outdoor and supply temperature [K], COP [-], output [W], where it comes from."""

CYCLING = 0.9
"""Degradation coefficient C_c of a water heater that switches on and off: EN 14825 default (from memory)."""

LEAST_LIFT = 5.0
"""Supply less outdoor temperature is taken as no less than this [K]."""


def rated_ratio(points: Sequence[RatingPoint], outdoor: float, supply: float) -> float:
    """COP at an outdoor and a supply temperature [K], at full output.

    Examples
    --------
    At a test point itself:

    >>> points = [(280.15, 308.15, 4.6, 9000.0, ""), (266.15, 308.15, 2.8, 6500.0, "")]
    >>> round(rated_ratio(points, 280.15, 308.15), 12)
    4.6
    """
    fractions = [(out, at, ratio * _lift(out, at) / at) for out, at, ratio, _, _ in points]
    return _between(fractions, outdoor, supply) * supply / _lift(outdoor, supply)


def rated_output(points: Sequence[RatingPoint], outdoor: float, supply: float) -> float:
    """Greatest output at an outdoor and a supply temperature [K], [W]."""
    return _between([(out, at, watts) for out, at, _, watts, _ in points], outdoor, supply)


def cycling_factor(share: float) -> float:
    """How much of its COP is left to a heat pump that gives a share of its least output by switching on and off [-].

    CR / (C_c CR + 1 − C_c) with the share CR, 1 from the least output on (EN 14825, from memory).

    Examples
    --------
    >>> round(cycling_factor(0.5), 6)
    0.909091
    """
    share = min(1.0, max(share, 1e-6))
    return share / (CYCLING * share + 1.0 - CYCLING)


def _lift(outdoor: float, supply: float) -> float:
    return max(LEAST_LIFT, supply - outdoor)


def _between(rows: Sequence[tuple[float, float, float]], outdoor: float, supply: float) -> float:
    """A value between points: along the outdoor temperature at each supply, then along the supply."""
    levels = sorted({at for _, at, _ in rows})
    values = []
    for level in levels:
        own = sorted((out, value) for out, at, value in rows if at == level)
        values.append(np.interp(outdoor, [out for out, _ in own], [value for _, value in own]))
    return float(np.interp(supply, levels, values))


def is_rating(rows: object) -> bool:
    """Whether these are rows of test points of a file, in °C, no two alike."""
    if not (isinstance(rows, list) and rows and all(isinstance(row, list) and len(row) == 5 for row in rows)):
        return False
    numbers = all(_is_number(value) for row in rows for value in row[:4])
    if not numbers or len({(row[0], row[1]) for row in rows}) < len(rows):
        return False
    return all(row[1] > row[0] and row[2] > 0.0 and row[3] > 0.0 and row[4] for row in rows)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and bool(np.isfinite(value))

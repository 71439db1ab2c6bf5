"""How many people a floor or a ceiling bothers: the formulas of ISO 7730:2005 for local discomfort."""

from __future__ import annotations

import math

from sim.physics.foot import satisfying_range

CATEGORY_B = 10.0
"""Most people dissatisfied by a warm or cold floor in categories A and B of ISO 7730:2005 [%] (from memory)."""

WARM_CEILING = 5.0
"""Warm ceiling above the rest of the room, largest radiant asymmetry: ISO 7730:2005 categories A and B, ASHRAE 55
(from memory) [K]."""

_ASYMMETRY_RANGE = 23.0


def floor_range(percent: float = CATEGORY_B) -> tuple[float, float]:
    """Floor temperatures [°C] between which no more than a share of people in shoes is dissatisfied.

    Examples
    --------
    >>> [round(celsius, 1) for celsius in floor_range()]
    [19.2, 28.0]
    """
    return satisfying_range(percent)


def dissatisfied_by_warm_ceiling(asymmetry: float) -> float:
    """People dissatisfied by a warm ceiling [%], PD = 100/(1 + exp(2.84 − 0.174 Δt)) − 5.5 (ISO 7730:2005, 6.5).

    Parameters
    ----------
    asymmetry : radiant temperature above a person less that below, 0 to 23 K [K]; less than none counts as none.

    Raises
    ------
    ValueError : outside the formula's range.

    Examples
    --------
    >>> round(dissatisfied_by_warm_ceiling(5.0), 1)
    6.7
    """
    if not 0.0 <= asymmetry < _ASYMMETRY_RANGE:
        raise ValueError(f"{asymmetry:.1f} K is outside the formula's 0 to {_ASYMMETRY_RANGE:g} K")
    return max(0.0, 100.0 / (1.0 + math.exp(2.84 - 0.174 * asymmetry)) - 5.5)

"""The most that a floor may give: the water at which the first limit of floor, flooring or wood is met."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.house.crossing import crossing
from sim.house.curve import Curve
from sim.rules.limits import Limit, hold, limits_for

if TYPE_CHECKING:
    from sim.case.bay_case import Case

OF_THE_WATER = "water_supply_C"
"""Limits of this number bind the house's water, not what a floor gives with it."""

_LEAST = 1e-3


@dataclass(frozen=True, slots=True)
class Bound:
    """Mean water above the room [K] at which a limit is met, and the limit."""

    excess: float
    limit: Limit


def floor_limits(case: Case) -> tuple[Limit, ...]:
    """Limits of a bay but those of the water itself."""
    return tuple(limit for limit in limits_for(case) if limit.key != OF_THE_WATER)


def within_limits(case: Case, report: Mapping[str, float]) -> bool:
    """Whether a bay's report keeps every limit but those of the water itself."""
    return all(verdict.kept for verdict in hold(floor_limits(case), report))


def first_bound(curve: Curve, limits: Sequence[Limit]) -> Bound | None:
    """Where the first of some limits is met along a curve; None where all are kept to its end."""
    top = curve.report(curve.excess[-1])
    bounds = (
        Bound(_met(curve, limit), limit) for limit in limits if limit.key in top and top[limit.key] > limit.highest
    )
    return min(bounds, key=lambda bound: bound.excess, default=None)


def _met(curve: Curve, limit: Limit) -> float:
    """Mean water above the room at which a limit is met [K]; 0 where the unheated floor is beyond it."""

    def over(excess: float) -> float:
        return curve.report(excess)[limit.key] - limit.highest

    return 0.0 if over(_LEAST) >= 0.0 else crossing(over, _LEAST, curve.excess[-1], 1e-6)

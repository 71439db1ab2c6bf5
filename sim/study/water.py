"""The supply temperature that a bay needs for a wanted upward heat flux."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sim.case.constants import HOTTEST, ZERO_CELSIUS
from sim.case.errors import CaseError
from sim.case.taught import uses_learned_films
from sim.machine.brief import Brief, small_tree
from sim.results.people import format_value
from sim.results.stored import StoredResult
from sim.rules.ways_out import eveners
from sim.run import Model, Result, prepare, solve_model
from sim.solver.steady import Listener

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Point = tuple[float, float]
"""Supply temperature [K] and the rise it gives."""

MOST_SOLVES = 15
"""The search gives up after this many solves; three are usual."""


class UnreachableError(Exception):
    """No supply temperature up to the limit gives the wanted flux; the message says what the limit gives."""


class BetweenLawsError(UnreachableError):
    """The water would lie where two laws of the air meet, and neither holds there; `supplies`: what they want [K]."""

    def __init__(self, message: str, supplies: tuple[float, float]) -> None:
        super().__init__(message, supplies)
        self.supplies = supplies

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True, slots=True, repr=False)
class NeededWater(Brief):
    """The result at the needed supply temperature [K], and how many solves it took."""

    supply: float
    result: Result[Case] | StoredResult
    solves: int

    def __repr__(self) -> str:
        supply = format_value("water_supply_C", self.supply - ZERO_CELSIUS, "both")
        rows = [("supply", supply), *self.result.report.headlines(3), ("solves", str(self.solves))]
        return small_tree("NeededWater", [*rows, ("has", "supply in K, result, solves")])


@dataclass(frozen=True, slots=True)
class Target:
    """A report number to reach: its key, the value wanted, and the value that it has without any heating."""

    key: str
    wanted: float
    unheated: float = 0.0

    def reached(self, result: Result[Case]) -> float:
        """How far above the unheated value a result is."""
        return float(result.report[self.key]) - self.unheated

    @property
    def rise(self) -> float:
        """How far above the unheated value it should be."""
        return self.wanted - self.unheated


def required_supply(
    model: Model[Case], first: Result[Case], flux: float, *, tolerance: float = 1e-4, listener: Listener | None = None
) -> NeededWater:
    """Find the supply temperature at which the upward flux is as wanted [W/m²]; see `supply_for`."""
    return supply_for(model, first, Target("heat_flux_up_W_m2", flux), tolerance=tolerance, listener=listener)


def supply_for(
    model: Model[Case],
    first: Result[Case],
    target: Target,
    *,
    tolerance: float = 1e-4,
    listener: Listener | None = None,
) -> NeededWater:
    """Find the supply temperature at which a report number that rises with it is as wanted.

    Parameters
    ----------
    model : the prepared bay.
    first : its result at any supply temperature; the search starts there.
    target : what is wanted.
    tolerance : accepted error, as a share of the rise above the unheated value [-].

    Raises
    ------
    UnreachableError : it needs more than HOTTEST, or nothing warmer than the room gives it.
    BetweenLawsError : two laws of the air meet where it would be, and neither has it.

    Notes
    -----
    Everything grows almost in proportion to water minus room, so the secant through the room (no rise) is a good
    first step; further steps are secants kept inside the bracket found so far. A search keeps the air's law of its
    model, so that nothing leaps on the way; where another one holds at the water found, it is sought once more by that.
    """
    found = _sought(model, first, target, tolerance, listener)
    if not _holds(model, found):
        return _sought_anew(model, found, target, tolerance, listener)
    return found


def _holds(model: Model[Case], found: NeededWater) -> bool:
    """Whether the law of the model's air is the one that a bay with the water found would have."""
    return model.system.cavity is None or uses_learned_films(found.result.case) == model.by_learned_films


def _sought_anew(
    model: Model[Case], before: NeededWater, target: Target, tolerance: float, listener: Listener | None
) -> NeededWater:
    """The supply by the law of the air that holds at the one which the other law gave."""
    other = prepare(model.case.with_(**{"water.supply": before.supply}))
    found = _sought(other, solve_model(other, listener=listener), target, tolerance, listener)
    if _holds(other, found):
        return replace(found, solves=before.solves + found.solves + 1)
    raise BetweenLawsError(
        f"{model.case.name}: {format_value(target.key, target.wanted)} lies where the laws of the cavity's air meet; "
        f"it takes {_by_law(model, before)} and {_by_law(other, found)}, and neither holds there",
        (before.supply, found.supply),
    )


def _by_law(model: Model[Case], found: NeededWater) -> str:
    law = "learned films" if model.by_learned_films else "correlations"
    return f"{found.supply - ZERO_CELSIUS:.1f} °C by {law}"


def _sought(
    model: Model[Case], first: Result[Case], target: Target, tolerance: float, listener: Listener | None
) -> NeededWater:
    """The search, by the model's own law of the air."""
    search = search_supply(model.case, first, target, tolerance)
    result = first
    try:
        supply = next(search)
        while True:
            result = _solved_at(model, supply, result, listener)
            supply = search.send(result)
    except StopIteration as end:
        return end.value  # type: ignore[no-any-return]


def search_supply(
    case: Case, first: Result[Case], target: Target, tolerance: float = 1e-4, power: float = 1.0
) -> Generator[float, Result[Case], NeededWater]:
    """The search of `supply_for`: yields supplies [K] to try, is sent their results, and returns what was found.

    `power` of water above the room by which the first step from below takes heat to rise.

    Raises UnreachableError as that does.
    """
    room = float(case.room.temperature)
    supply, result = float(case.water.supply), first
    below, above = (room, 0.0), None
    for solves in range(MOST_SOLVES):
        point = (supply, target.reached(result))
        if abs(point[1] - target.rise) <= tolerance * abs(target.rise):
            return NeededWater(supply, result, solves)
        if point[1] > target.rise:
            above = point
        elif point[0] >= HOTTEST:
            break
        else:
            below = max(below, point)
        supply = _next(below, above, room, target.rise, power)
        result = yield supply
    given = format_value(target.key, point[1] + target.unheated, "both")
    wanted = format_value(target.key, target.wanted, "both")
    said = f"water of {_told(supply)} gives {given}, {wanted} is wanted{_more(case, target)}"
    raise UnreachableError(f"{case.name}: {said}")


def _more(case: Case, target: Target) -> str:
    """What would give more heat than the hottest water does; nothing that the bay has already."""
    if target.key != "heat_flux_up_W_m2":
        return ""
    ways = [*eveners(case), *(["a thinner covering"] if case.floor.coverings else [])]
    either = " or ".join(filter(None, [", ".join(ways[:-1]), ways[-1]]))
    return f"; {either} would give more, the rest has to come from elsewhere"


def _solved_at(model: Model[Case], supply: float, last: Result[Case], listener: Listener | None) -> Result[Case]:
    """The bay at another supply temperature, from the last state."""
    try:
        changed = model.with_supply(supply)
    except CaseError as error:
        raise no_such_water(model.case, supply, error) from error
    return solve_model(changed, listener=listener, start=last.solution.state)


def _told(supply: float) -> str:
    """A supply [K] in both systems: who asked may speak either."""
    return format_value("water_supply_C", supply - ZERO_CELSIUS, "both")


def no_such_water(case: Case, supply: float, error: CaseError) -> UnreachableError:
    """What to say where a supply [K] does not fit a case."""
    return UnreachableError(
        f"{case.name}: it would need water of {_told(supply)}, which does not fit the case: "
        + "; ".join(str(problem.rule) for problem in error.problems)
    )


def _next(below: Point, above: Point | None, room: float, rise: float, power: float = 1.0) -> float:
    """Where the line through the bracket's ends meets the rise; a power law through the room where one end is open."""
    if above is None:
        low, low_rise = below
        excess = max(low - room, 5.0)
        return min(HOTTEST, room + excess * ((rise / low_rise) ** (1.0 / power) if low_rise > 0.0 else 2.0))
    (low, low_rise), (high, high_rise) = below, above
    if low <= room and power != 1.0:
        return room + (high - room) * (rise / high_rise) ** (1.0 / power)
    return low + (high - low) * (rise - low_rise) / (high_rise - low_rise)

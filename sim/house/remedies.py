"""Changes that are tried with the model where a room falls short, each at the same mean water."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError
from sim.case.quantities import format_value
from sim.house.bay_solver import BaySolver, flux_of
from sim.house.plan import Remedy, RoomNeed

if TYPE_CHECKING:
    from sim.case.bay_case import Case

PLATE_GAP = 0.010
"""Least gap between plates for their expansion [m]: common practice, no source."""

ALIKE = 0.005
"""A shortfall below this share of the load is none."""

_MOST_RUNS = 3
_LEAST_PANEL = 1.0


@dataclass(frozen=True, slots=True)
class Proposal:
    """A remedy before it is tried: what it is, the values to change, and a note that goes with it."""

    what: str
    values: Mapping[str, Any]
    note: str = ""


@dataclass(frozen=True, slots=True)
class ShortRoom:
    """A room that falls short: its bay, mean water above it [K], area [m²], output and wanted output [W]."""

    case: Case
    excess: float
    area: float
    output: float
    wanted: float


def try_remedies(rooms: Sequence[ShortRoom], solver: BaySolver) -> list[tuple[Remedy, ...]]:
    """Every remedy for every room that falls short, and all that could be tried together."""
    changes = [_changes(room.case) for room in rooms]
    cases = [[_changed(room.case, change) for change in own] for room, own in zip(rooms, changes, strict=True)]
    wanted = [
        (case, room.excess)
        for room, own in zip(rooms, cases, strict=True)
        for case in own
        if not isinstance(case, str)
    ]
    reports = iter(solver.at(wanted, "remedies"))
    return [
        tuple(
            _remedy(room, change, case if isinstance(case, str) else flux_of(next(reports)))
            for change, case in zip(own, tried, strict=True)
        )
        for room, own, tried in zip(rooms, changes, cases, strict=True)
    ]


def panel(need: RoomNeed, given: float, water: tuple[float, float]) -> tuple[Remedy, ...]:
    """What the floor does not give, from a heated wall: a plain sum, nothing to be solved.

    Parameters
    ----------
    need : of the room.
    given : by its floor [W].
    water : supply [K] and drop [K] that a panel would be fed with.
    """
    rest = need.wanted - given
    if not rest > max(ALIKE * need.wanted, _LEAST_PANEL):
        return ()
    watts = format_value(round(rest), "heat flow")
    supply, back, room = (_degrees(kelvin) for kelvin in (water[0], water[0] - water[1], need.temperature))
    what = f"a radiator, towel warmer or panel of {watts} with water of {supply}, {back} back, in a room of {room}"
    return (Remedy(what, "", need.wanted, rest, True, "a sum, not solved"),)


def _degrees(kelvin: float) -> str:
    """A temperature to a tenth of a degree."""
    return format_value(ZERO_CELSIUS + round(kelvin - ZERO_CELSIUS, 1), "temperature")


def _remedy(room: ShortRoom, change: Proposal, found: float | str) -> Remedy:
    """A remedy with its effect, or with why it could not be tried."""
    key = ", ".join(change.values)
    if isinstance(found, str):
        return Remedy(change.what, "", float("nan"), float("nan"), False, found)
    output = found * room.area
    enough = output >= room.wanted * (1.0 - ALIKE)
    return Remedy(change.what, key, output, output - room.output, enough, change.note)


def _changed(case: Case, change: Proposal) -> Case | str:
    """The bay with the change, or why that cannot be."""
    try:
        return case.with_(**change.values)
    except CaseError as error:
        return error.problems[0].rule


def _changes(case: Case) -> list[Proposal]:
    """What is tried: closer plates, one run more, a thinner covering, more insulation, and all of it together."""
    single = [
        change for change in (_plates(case), _run(case), _covering(case), _insulation(case)) if change is not None
    ]
    fitting = [change for change in single if not isinstance(_changed(case, change), str)]
    if len(fitting) < 2:
        return single
    together = {key: value for change in fitting for key, value in change.values.items()}
    return [*single, Proposal("all that fits of these together", together)]


def _plates(case: Case) -> Proposal | None:
    """Plates as close as their expansion allows; plates at all where there are none."""
    if case.tube.direction == "across":
        return None
    if case.plates is None:
        return Proposal("plates every 225 mm, 130 mm wide", {"plates": _PLATES, "tube.depth": 0.0})
    closest = case.plates.length + PLATE_GAP
    if case.plates.spacing <= closest + 1e-6:
        return None
    shown = (format_value(closest, "length"), format_value(case.plates.spacing, "length"))
    return Proposal(f"plates every {shown[0]} instead of {shown[1]}", {"plates.spacing": closest})


_PLATES = {"width": 0.13, "length": 0.2, "spacing": 0.225}
"""Plates for a bay that has none."""


def _run(case: Case) -> Proposal | None:
    """One run more; with narrower plates where these would not fit side by side."""
    if case.tube.direction == "across" or case.tube.runs >= _MOST_RUNS:
        return None
    count = case.tube.runs + 1
    change = Proposal(f"{count} runs in a bay instead of {case.tube.runs}", {"tube.runs": count})
    if case.plates is None or not isinstance(_changed(case, change), str):
        return change
    width = round(case.bay.clear_width / count - PLATE_GAP, 3)
    shown = (format_value(width, "length"), format_value(case.plates.width, "length"))
    what = f"{change.what}, plates {shown[0]} wide instead of {shown[1]}"
    return Proposal(what, {"tube.runs": count, "plates.width": width})


def _covering(case: Case) -> Proposal | None:
    """The most resistant covering halved."""
    if not case.floor.coverings:
        return None
    number, layer = max(enumerate(case.floor.coverings), key=lambda pair: float(pair[1].thermal_resistance))
    half = layer.thermal_resistance / 2.0
    what = (
        f"{layer.material} of half the resistance, {format_value(half, 'thermal resistance')} instead of "
        f"{format_value(layer.thermal_resistance, 'thermal resistance')}"
    )
    return Proposal(what, {f"floor.covering[{number}].thermal_resistance": half})


def _insulation(case: Case) -> Proposal | None:
    """Twice the insulation where it fits between the joists, or else the same thickness half as conductive."""
    layer = case.cavity.insulation
    if layer is None:
        values = {"cavity.insulation": {"material": "glass wool batt", "thickness": 0.09}}
        return Proposal("90 mm of glass wool in the bay", values)
    twice = layer.thermal_resistance * 2.0
    old, new = (format_value(value, "thermal resistance") for value in (layer.thermal_resistance, twice))
    what = f"twice the insulation below, {new} instead of {old}"
    thick = {"cavity.insulation.thickness": 2.0 * layer.thickness, "cavity.insulation.thermal_resistance": twice}
    change = Proposal(what, thick, "it mostly saves downward heat")
    if not isinstance(_changed(case, change), str):
        return change
    dense = {"cavity.insulation.thermal_resistance": twice}
    return Proposal(what, dense, "in the same space; it mostly saves downward heat")

"""Changes that are tried with the model where a room falls short, each at the same mean water."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.case.errors import CaseError
from sim.case.quantities import convert, format_value
from sim.house.bay_solver import BaySolver, flux_of
from sim.house.layout import ALIKE, RoomNeed
from sim.house.remedy import Remedy

if TYPE_CHECKING:
    from sim.case.bay_case import Case

PLATE_GAP = 0.010
"""Least gap between plates for their expansion [m]: common practice, no source."""

_MOST_RUNS = 3
_LEAST_PANEL = 1.0


Words = Callable[[str], str]
"""A text with its numbers in a system of units, "SI" or "IP"."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A remedy before it is tried: what it is, by system of units, the values to change, and a note with it."""

    what: Words
    values: Mapping[str, Any]
    note: str = ""


@dataclass(frozen=True, slots=True)
class ShortRoom:
    """A room that falls short: its bay, mean water above it [K], area [m²], output and wanted output [W].

    `fall` is how far the mean water lies below its supply in the bay as it is [K].
    """

    case: Case
    excess: float
    area: float
    output: float
    wanted: float
    fall: float = 0.0


def try_remedies(rooms: Sequence[ShortRoom], solver: BaySolver) -> list[tuple[Remedy, ...]]:
    """Every remedy for every room that falls short, and all that could be tried together."""
    changes = [_changes(room.case) for room in rooms]
    cases = [[_changed(room.case, change) for change in own] for room, own in zip(rooms, changes, strict=True)]
    wanted = [
        (case, room.excess, room.fall)
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
    def what(system: str) -> str:
        watts = _decimals(rest, "heat flow", system, 0)
        feed, back, room = (_decimals(kelvin, "temperature", system, 1) for kelvin in ends)
        return f"a radiator, towel warmer or panel of {watts} with water of {feed}, {back} back, in a room of {room}"

    ends = (water[0], water[0] - water[1], need.temperature)
    return (Remedy(what("SI"), what("IP"), "", need.wanted, rest, True, "a sum, not solved"),)


def _decimals(value: float, dimension: str, system: str, digits: int) -> str:
    """A value with so many decimals, whatever its size."""
    number, unit = convert(value, dimension, system)
    return f"{number:,.{digits}f} {unit}"


def _remedy(room: ShortRoom, change: Proposal, found: float | str) -> Remedy:
    """A remedy with its effect, or with why it could not be tried."""
    key = ", ".join(change.values)
    told = (change.what("SI"), change.what("IP"))
    if isinstance(found, str):
        return Remedy(*told, "", float("nan"), float("nan"), False, found)
    output = found * room.area
    enough = output >= room.wanted * (1.0 - ALIKE)
    return Remedy(*told, key, output, output - room.output, enough, change.note)


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
    return [*single, Proposal(lambda system: "all that fits of these together", together)]


def _plates(case: Case) -> Proposal | None:
    """Plates as close as their expansion allows; plates at all where there are none."""
    if case.tube.direction == "across":
        return None
    if case.plates is None:
        return Proposal(_new_plates, {"plates": _PLATES, "tube.depth": 0.0})
    closest = case.plates.length + PLATE_GAP
    if case.plates.spacing <= closest + 1e-6:
        return None
    what = _instead("plates every {} instead of {}", "length", closest, case.plates.spacing)
    return Proposal(what, {"plates.spacing": closest})


def _instead(words: str, dimension: str, *values: float) -> Words:
    """Words with values in the system of units that is asked for."""
    return lambda system: words.format(*(format_value(value, dimension, system) for value in values))


_PLATES = {"width": 0.13, "length": 0.2, "spacing": 0.225}
"""Plates for a bay that has none."""

_new_plates = _instead("plates every {}, {} wide", "length", _PLATES["spacing"], _PLATES["width"])


def _run(case: Case) -> Proposal | None:
    """One run more; with narrower plates where these would not fit side by side."""
    if case.tube.direction == "across" or case.tube.runs >= _MOST_RUNS:
        return None
    count = case.tube.runs + 1
    runs = f"{count} runs in a bay instead of {case.tube.runs}"
    change = Proposal(lambda system: runs, {"tube.runs": count})
    if case.plates is None or not isinstance(_changed(case, change), str):
        return change
    width = round(case.bay.clear_width / count - PLATE_GAP, 3)
    what = _instead(f"{runs}, plates {{}} wide instead of {{}}", "length", width, case.plates.width)
    return Proposal(what, {"tube.runs": count, "plates.width": width})


def _covering(case: Case) -> Proposal | None:
    """The most resistant covering halved."""
    if not case.floor.coverings:
        return None
    number, layer = max(enumerate(case.floor.coverings), key=lambda pair: float(pair[1].thermal_resistance))
    half = layer.thermal_resistance / 2.0
    name = layer.material.replace("{", "{{").replace("}", "}}")
    words = f"{name} of half the resistance, {{}} instead of {{}}"
    what = _instead(words, "thermal resistance", half, layer.thermal_resistance)
    return Proposal(what, {f"floor.covering[{number}].thermal_resistance": half})


def _insulation(case: Case) -> Proposal | None:
    """Twice the insulation where it fits between the joists, or else the same thickness half as conductive."""
    layer = case.cavity.insulation
    if layer is None:
        values = {"cavity.insulation": {"material": "glass wool batt", "thickness": 0.09}}
        return Proposal(_instead("{} of glass wool in the bay", "length", 0.09), values)
    twice = layer.thermal_resistance * 2.0
    words = "twice the insulation below, {} instead of {}"
    what = _instead(words, "thermal resistance", twice, layer.thermal_resistance)
    thick = {"cavity.insulation.thickness": 2.0 * layer.thickness, "cavity.insulation.thermal_resistance": twice}
    change = Proposal(what, thick, "it mostly saves downward heat")
    if not isinstance(_changed(case, change), str):
        return change
    dense = {"cavity.insulation.thermal_resistance": twice}
    return Proposal(what, dense, "in the same space; it mostly saves downward heat")

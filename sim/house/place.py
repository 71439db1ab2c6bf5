"""Bays of a house put into its plan, and everything that must hold before anything is solved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, combinations, product
from typing import TYPE_CHECKING

from sim.case.errors import CaseError, Problem
from sim.case.fields import fill
from sim.case.fluids import water_properties
from sim.case.house_load import bay_case
from sim.case.quantities import format_value
from sim.house.circuits import LONGEST, Circuit, CircuitBay, CircuitError, Split, split_bays
from sim.house.door import length_problems, outline_problems
from sim.house.loads import Load
from sim.house.placed import PlacedBay, Stretch
from sim.house.room_shape import Box, outline
from sim.house.way import Point, lay_way, length_of

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.house_case import House
    from sim.case.house_parts import BayGroup, HeatedRoom

AREA_SLACK = 0.05
"""The bays' heated area may differ from a room's active area by this share of it: rounding of bays to joists."""

LOSS_FACTOR = 1.12
"""Heat of a circuit over its upward heat where flows are set: 12 % down, common practice, no source."""

FLOW_STEP = 0.005
"""Flows are set to multiples of this [kg/s], 0.3 l/min."""

MIDDLE = 25.0
"""Water above the room at which its specific heat is taken for the flow [K]."""

_OVERLAP = 2e-3
"""Bays that share less than this width [m] lie side by side: drawings are rounded to the millimetre."""

LIMITS_BY_SIZE = {"3/8": 60.0, "1/2": LONGEST, "5/8": 120.0, "3/4": 150.0}
"""Longest circuit by nominal size of tube [m], leaders included: 200, 300, 400, 500 ft, common practice, no source."""


@dataclass(frozen=True, slots=True)
class PlacedRoom:
    """A room with its bay as a case, its bays in the plan, and its circuits by length alone."""

    room: HeatedRoom
    case: Case
    bays: tuple[PlacedBay, ...]
    split: Split

    @property
    def area(self) -> float:
        """Heated floor [m²]."""
        return sum(bay.area for bay in self.bays)


def place_house(house: House, change: Mapping[str, object] | None = None) -> tuple[PlacedRoom, ...]:
    """Every room with its bays placed and its circuits split; `change` are the values of a variant.

    Raises
    ------
    CaseError
        Bays that overlap, a blocked stretch outside its bay, an area that does not fit, a circuit that cannot be
        split; all such problems together.
    """
    cases, problems = bay_cases(house, change)
    if problems:
        raise CaseError(house.path or house.name, problems)
    placed = [
        tuple(_room_bays(house, room, case)) for room, case in zip(house.rooms, cases, strict=True)
    ]
    for number, (room, bays) in enumerate(zip(house.rooms, placed, strict=True)):
        problems += [*_blocked(room, bays, f"room[{number}]"), *_area(room, bays, f"room[{number}]")]
    problems += [*_overlaps(house, placed), *_same_names(placed), *outline_problems(house, placed)]
    splits = [split for number, case in enumerate(cases) for split in _split(house, case, placed[number], problems)]
    if problems:
        raise CaseError(house.path or house.name, problems)
    rows = zip(house.rooms, cases, placed, splits, strict=True)
    return tuple(PlacedRoom(*row) for row in rows)


def _same_names(placed: Sequence[Sequence[PlacedBay]]) -> Iterator[Problem]:
    """Bays of one name: groups whose names and numbers run together."""
    names = [bay.name for bays in placed for bay in bays]
    for number, bays in enumerate(placed):
        if twice := sorted({bay.name for bay in bays if names.count(bay.name) > 1}):
            rule = f"two bays are called {twice[0]}"
            yield Problem(f"room[{number}].bays", "", rule, "give groups names that do not end in a number")


def _split(house: House, case: Case, bays: Sequence[PlacedBay], problems: list[Problem]) -> Iterator[Split]:
    """The circuits of a room whose bays all have heated floor; what hinders them joins the problems."""
    name = bays[0].room
    if not all(bay.spans for bay in bays):
        return
    try:
        yield split_room(house, case, bays, f"{name}.")
    except CircuitError as error:
        number = [room.name for room in house.rooms].index(name)
        problems.append(Problem(f"room[{number}].bays", "", f"cannot be made into circuits: {error}"))


def with_outlines(house: House, placed: Sequence[PlacedRoom]) -> House:
    """The house with every room's outline; one that the file leaves out lies around the room's bays."""
    rooms = []
    for entry in placed:
        (x, y), room = outline(entry.room, entry.bays), entry.room.model_copy()
        fill(room, x=x[0], y=y[0], width=x[1] - x[0], depth=y[1] - y[0])
        rooms.append(room)
    house = house.model_copy()
    fill(house, rooms=tuple(rooms))
    return house


def with_flows(house: House, placed: Sequence[PlacedRoom], loads: Sequence[Load]) -> tuple[PlacedRoom, ...]:
    """Rooms whose bays have the flow that a circuit needs for its share of the load with the design drop.

    In a house flows stay as they were set, whatever the weather does to the water's temperature. The film in the tube
    hardly asks for more than two digits, so flows are rounded, and rooms that are alike keep sharing their solves.
    """
    return tuple(
        replace(room, case=room.case.with_(**{"water.flow": _flow(house, room, load)}))
        for room, load in zip(placed, loads, strict=True)
    )


def _flow(house: House, room: PlacedRoom, load: Load) -> float:
    """Flow of one of a room's circuits [kg/s]."""
    heat = LOSS_FACTOR * load.total / len(room.split.circuits)
    water = water_properties(room.room.temperature + MIDDLE, house.design.glycol)
    flow = heat / (float(water.specific_heat) * house.design.drop)
    return max(1.0, round(flow / FLOW_STEP)) * FLOW_STEP


def bay_cases(house: House, change: Mapping[str, object] | None) -> tuple[list[Case], list[Problem]]:
    """The bay of every room, and what is wrong with any."""
    cases: list[Case] = []
    problems: list[Problem] = []
    for number in range(len(house.rooms)):
        try:
            cases.append(bay_case(house, number, change))
            problems += length_problems(house, number, cases[-1])
        except CaseError as error:
            problems += error.problems
    return cases, problems


def circuit_limit(house: House, case: Case) -> float:
    """Longest circuit [m]: the file's, or the usual one of the tube's nominal size."""
    if house.design.circuit_limit is not None:
        return float(house.design.circuit_limit)
    return LIMITS_BY_SIZE.get(case.tube.size, LONGEST)


def split_room(
    house: House, case: Case, bays: Sequence[PlacedBay], name: str, heat_per_metre: float = 1.0
) -> Split:
    """The circuits of a room, each along its way through the plan; heat per metre of tube [W/m] where it is known.

    Raises
    ------
    CircuitError
        As `sim.house.circuits.split_bays`.
    """
    place = house.manifold(house.room(bays[0].room).manifold)
    manifold = (place.x, place.y, place.riser)

    def join(first: int, end: int) -> Circuit:
        return circuit_of(bays[first:end], manifold, heat_per_metre)

    links = [join(number, number + 1).bays[0] for number in range(len(bays))]
    return split_bays(links, circuit_limit(house, case), name=name, join=join)


def circuit_of(bays: Sequence[PlacedBay], manifold: Point, heat_per_metre: float = 1.0) -> Circuit:
    """Placed bays joined to one circuit, with the tube [m] that its way has in each."""
    way = lay_way(bays, manifold)
    parts = zip(bays, way.bays, strict=True)
    return Circuit("", tuple(_link(bay, length_of(part), heat_per_metre) for bay, part in parts), way)


def _link(bay: PlacedBay, tube: float, heat_per_metre: float) -> CircuitBay:
    """A bay as a part of a circuit."""
    return CircuitBay(bay.name, tube, heat_per_metre, heated=bay.tube_with_heat)


def _room_bays(house: House, room: HeatedRoom, case: Case) -> Iterator[PlacedBay]:
    """The bays of a room in the order of its groups, named by the room, the group and a number from 1."""
    for group in room.bays:
        pieces = _strips(group, case) if case.tube.direction == "across" else _along(group, case)
        for number, (x, y, joists) in enumerate(pieces, start=1):
            name = f"{room.name}-{group.name}{number}"
            yield _placed(house, room, group, PlacedBay(name, room.name, x, y, "", "low", 1, joists), case)


Piece = tuple[tuple[float, float], tuple[float, float], int]
"""Extent along x and y [m], and joists passed by its own tube."""


def _along(group: BayGroup, case: Case) -> Iterator[Piece]:
    """Bays from joist to joist."""
    width = case.bay.joist_spacing
    for number in range(group.count):
        along = (0.0, group.length)
        across = (number * width, (number + 1) * width)
        yield (*_turned(group, along, across), 0)


def _strips(group: BayGroup, case: Case) -> Iterator[Piece]:
    """Strips of floor across the joists, one for every run that fits."""
    width, whole = case.tube.across_spacing, group.count * case.bay.joist_spacing
    for number in range(max(1, int(group.length / width + 1e-6))):
        along = (number * width, min((number + 1) * width, group.length))
        yield (*_turned(group, along, (0.0, whole)), group.count - 1)


def _turned(
    group: BayGroup, along: tuple[float, float], across: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Extents along x and along y from those along and across the joists."""
    x, y = (along, across) if group.along == "x" else (across, along)
    return (group.x + x[0], group.x + x[1]), (group.y + y[0], group.y + y[1])


def _placed(house: House, room: HeatedRoom, group: BayGroup, bay: PlacedBay, case: Case) -> PlacedBay:
    """A bay with its direction, entry, runs and what blocks it."""
    across = case.tube.direction == "across"
    along = {"x": "y", "y": "x"}[group.along] if across else group.along
    positions = () if across else tuple(case.tube.positions)
    bay = replace(bay, along=along, runs=1 if across else case.tube.runs, positions=positions)
    stretches = tuple(
        Stretch(blocked.start, blocked.end, blocked.why, blocked.passes)
        for blocked in room.blocked
        if bay.name.removeprefix(f"{room.name}-") in blocked.bays
    )
    return replace(bay, entry=group.entry or _nearer_end(house, room, bay), blocked=stretches)


def _nearer_end(house: House, room: HeatedRoom, bay: PlacedBay) -> str:
    """The end of a bay that is nearer to its manifold."""
    manifold = house.manifold(room.manifold)
    along = manifold.x if bay.along == "x" else manifold.y
    return min(("low", "high"), key=lambda side: abs(along - bay.end(side)))


def _blocked(room: HeatedRoom, bays: Sequence[PlacedBay], where: str) -> Iterator[Problem]:
    """Blocked stretches of bays that are not there, or that reach beyond their bay or over each other."""
    names = [bay.name.removeprefix(f"{room.name}-") for bay in bays]
    for number, blocked in enumerate(room.blocked):
        for name in blocked.bays:
            if name not in names:
                shown = f"known: {', '.join(names)}"
                yield Problem(f"{where}.blocked[{number}].bays", f'"{name}"', "there is no such bay", shown)
    for bay in bays:
        ordered = sorted(bay.blocked, key=lambda stretch: stretch.start)
        for stretch in ordered:
            if stretch.end > bay.length + _OVERLAP:
                given = format_value(stretch.end, "distance")
                rule = f"bay {bay.name} is only {format_value(bay.length, 'distance')} long"
                way_out = "end it there, or make the group's bays longer"
                yield Problem(f"{where}.blocked", f"{stretch.why} to {given}", rule, way_out)
        yield from _unreached(bay, where)
        for first, second in zip(ordered, ordered[1:], strict=False):
            if second.start < first.end - _OVERLAP:
                rule = f"{first.why} and {second.why} overlap in bay {bay.name}"
                yield Problem(f"{where}.blocked", "", rule, "write them as one stretch")


def _unreached(bay: PlacedBay, where: str) -> Iterator[Problem]:
    """A bay of which nothing is heated, or whose tube cannot come back."""
    if not bay.spans:
        yield Problem(f"{where}.blocked", "", f"nothing of bay {bay.name} is heated", "leave the bay out")
    elif bay.runs % 2 and bay.cut_off > 0.0:
        rule = f"what blocks bay {bay.name} parts it, and with an odd number of runs its tube cannot come back"
        yield Problem(f"{where}.blocked", "", rule, "end the bay there, let tube pass, or lay an even number of runs")


def _area(room: HeatedRoom, bays: Sequence[PlacedBay], where: str) -> Iterator[Problem]:
    """The heated area of the bays against the room's active area."""
    area = sum(bay.area for bay in bays)
    if room.active_area is not None and abs(area - room.active_area) > AREA_SLACK * room.active_area:
        behind = [bay.name for bay in bays if bay.cut_off > 0.0]
        reason = f" (tube does not reach beyond what blocks {', '.join(behind)})" if behind else ""
        yield Problem(
            f"{where}.active_area",
            format_value(room.active_area, "area"),
            f"the bays of room {room.name} heat {format_value(area, 'area')}{reason}; must agree within "
            f"{AREA_SLACK:.0%}",
            "change active_area, or number, length and blocked stretches of the bays",
        )


def _overlaps(house: House, placed: Sequence[Sequence[PlacedBay]]) -> Iterator[Problem]:
    """Bays that take up floor of bays before them on their storey; a room is told once."""
    before: dict[str, list[tuple[Box, Sequence[PlacedBay]]]] = {}
    for number, (room, bays) in enumerate(zip(house.rooms, placed, strict=True)):
        around, rooms = _around(bays), before.setdefault(room.storey, [])
        near = [others for box, others in rooms if _share(box, around)]
        pairs = chain(combinations(bays, 2), *(product(others, bays) for others in near))
        for first, second in (pair for pair in pairs if _share(*((bay.x, bay.y) for bay in pair))):
            rule = f"bays {first.name} and {second.name} overlap on the storey {room.storey}"
            yield Problem(f"room[{number}].bays", "", rule, "move one group, or give it fewer or narrower bays")
            break
        rooms.append((around, bays))


def _around(bays: Sequence[PlacedBay]) -> Box:
    """The rectangle around all bays of a room."""
    sides = ([getattr(bay, axis) for bay in bays] for axis in ("x", "y"))
    along_x, along_y = ((min(low for low, _ in own), max(high for _, high in own)) for own in sides)
    return along_x, along_y


def _share(first: Box, second: Box) -> bool:
    """Whether two rectangles share more than a seam."""
    return all(
        min(own[1], other[1]) - max(own[0], other[0]) > _OVERLAP for own, other in zip(first, second, strict=True)
    )


def plates_in(bay: PlacedBay, case: Case) -> int:
    """Plates that fit into the free stretches of a bay, on all its runs."""
    if case.plates is None:
        return 0
    gap = case.plates.spacing - case.plates.length
    fitting = (int((end - start + gap) / case.plates.spacing + 1e-9) for start, end in bay.spans)
    return bay.runs * sum(fitting)

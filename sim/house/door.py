"""What a house says of itself that cannot be: found before anything is solved, with the bays in the plan.

Rules that need no bays are in `sim.case.house_rules`; those about the bays of one room in `sim.house.place`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import TYPE_CHECKING

from sim.case.constants import HOTTEST, ZERO_CELSIUS
from sim.case.errors import Problem
from sim.case.quantities import format_value
from sim.house.curve import EXCESSES
from sim.house.ordering import HIGHEST, coils_for, fill
from sim.house.room_shape import SEAM, Box, outline, room_parts

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.house_case import House
    from sim.case.house_parts import HeatedRoom
    from sim.house.circuits import Circuit
    from sim.house.loads import Load
    from sim.house.placed import PlacedBay
    from sim.house.schemes import Scheme


def outline_problems(house: House, placed: Sequence[Sequence[PlacedBay]]) -> Iterator[Problem]:
    """Bays outside their room's outline, outlines over each other, rooms that are not above the room they name."""
    for number, (room, bays) in enumerate(zip(house.rooms, placed, strict=True)):
        yield from _outside(room, bays, f"room[{number}]")
    boxes = [outline(room, bays) for room, bays in zip(house.rooms, placed, strict=True)]
    yield from _crossed(house, boxes)
    floors = [room_parts(room, bays) for room, bays in zip(house.rooms, placed, strict=True)]
    places = {room.name: number for number, room in enumerate(house.rooms)}
    for number, room in enumerate(house.rooms):
        if room.below.room in places:
            yield from _beneath(house, number, places[room.below.room], floors)


def _crossed(house: House, boxes: Sequence[Box]) -> Iterator[Problem]:
    """Outlines over one before them on their storey; a room is told once."""
    drawn = [number for number, room in enumerate(house.rooms) if _drawn(room)]
    for place, second in enumerate(drawn):
        other = house.rooms[second]
        for first in drawn[:place]:
            one = house.rooms[first]
            if one.storey == other.storey and overlap(boxes[first], boxes[second]):
                rule = f"the outlines of rooms {one.name} and {other.name} overlap on the storey {one.storey}"
                way_out = "move one, or make it smaller; leave x, y, width and depth of a room out that is no rectangle"
                yield Problem(f"room[{second}].x", "", rule, way_out)
                break


def _drawn(room: HeatedRoom) -> bool:
    """Whether the file gives all of a room's outline; overlapping bays are told by themselves."""
    return None not in (room.x, room.y, room.width, room.depth)


def overlap(first: Box, second: Box) -> bool:
    """Whether two boxes share more than a seam."""
    return all(
        min(own[1], other[1]) - max(own[0], other[0]) > SEAM for own, other in zip(first, second, strict=True)
    )


def _outside(room: HeatedRoom, bays: Sequence[PlacedBay], where: str) -> Iterator[Problem]:
    """The first bay of a room that reaches beyond its outline."""
    box = outline(room, bays)
    for bay in bays:
        over = max(
            max(side[0] - own[0], own[1] - side[1]) for own, side in zip((bay.x, bay.y), box, strict=True)
        )
        if over > SEAM:
            rule = f"bay {bay.name} lies {format_value(over, 'distance')} outside the outline of room {room.name}"
            yield Problem(f"{where}.bays", "", rule, "move or shorten the group, or change x, y, width, depth")
            return


def _beneath(house: House, upper: int, lower: int, floors: Sequence[Sequence[Box]]) -> Iterator[Problem]:
    """A room below that is on the same storey, or elsewhere in the plan, or as warm as it is not."""
    room, other, where = house.rooms[upper], house.rooms[lower], f"room[{upper}].below"
    if room.storey == other.storey:
        rule = f"rooms {room.name} and {other.name} are both on the storey {room.storey}"
        yield Problem(f"{where}.room", f'"{other.name}"', rule, "name the room below, or leave it out")
    elif not any(overlap(*pair) for pair in product(floors[upper], floors[lower])):
        rule = f"room {other.name} does not lie beneath room {room.name} in the plan"
        yield Problem(f"{where}.room", f'"{other.name}"', rule, "name the room below, or correct x, y, width, depth")
    said = room.below.temperature
    if said is not None and abs(said - other.temperature) > 1e-6:
        shown, its = format_value(said, "temperature"), format_value(other.temperature, "temperature")
        yield Problem(f"{where}.temperature", shown, f"room {other.name} below is set to {its}", "leave it out")


def length_problems(house: House, number: int, base: Case) -> Iterator[Problem]:
    """Bays as long as their case models them whole; a case of one pitch fits bays of any length."""
    room, where = house.rooms[number], f"room[{number}]"
    if base.span != "bay":
        return
    for index, group in enumerate(room.bays):
        if abs(group.length - base.bay.length) > SEAM:
            shown, wanted = format_value(group.length, "distance"), format_value(base.bay.length, "distance")
            yield Problem(
                f"{where}.bays[{index}].length",
                shown,
                f"the case of room {room.name} models a whole bay of {wanted}",
                'change one of them, the case\'s by "bay.length" in [room.change]',
            )


def ordering_problems(house: House, circuits: Sequence[Circuit]) -> Iterator[Problem]:
    """Circuits that no coil is long enough for, and a height that the relief valve does not allow."""
    try:
        coils_for(house, circuits)
    except ValueError as error:
        yield Problem("design.coils", "", f"circuit {error}", "name longer coils, or a shorter design.circuit_limit")
    try:
        fill(house, 1.0, HIGHEST)
    except ValueError as error:
        shown = format_value(house.design.static_height, "distance")
        yield Problem("design.static_height", shown, str(error), "hang the vessel higher")


def water_problems(house: House, wanted: Sequence[Scheme], loads: Sequence[Load]) -> Iterator[Problem]:
    """Rooms outside what is solved, sources too cool for a room, and a house that loses nothing."""
    coldest, warmest = ZERO_CELSIUS, HOTTEST - EXCESSES[-1]
    for number, room in enumerate(house.rooms):
        if not coldest <= room.temperature <= warmest:
            shown, limits = format_value(room.temperature, "temperature"), (coldest, warmest)
            low, high = (format_value(kelvin, "temperature") for kelvin in limits)
            rule = f"rooms from {low} to {high} are solved: their water stays between freezing and boiling"
            yield Problem(f"room[{number}].temperature", shown, rule, "write one of these, or leave the room out")
    if not any(load.total > 0.0 for load in loads):
        yield Problem("room", "", "no room loses heat", "give at least one room a load above 0")
    for scheme in wanted:
        yield from _too_cool(house, scheme)


def _too_cool(house: House, scheme: Scheme) -> Iterator[Problem]:
    """A source whose hottest water cannot fall by the drop above some room."""
    cold = [room.name for room in house.rooms if scheme.hottest - room.temperature <= scheme.drop]
    if cold and scheme.source is not None:
        shown = format_value(scheme.hottest, "temperature")
        drop = format_value(scheme.drop, "temperature difference")
        rule = f"water of {shown} at most ({scheme.why}) cannot fall by {drop} above room {', '.join(cold)}"
        yield Problem(f'source "{scheme.source.name}"', "", rule, "a smaller drop, hotter water or another source")

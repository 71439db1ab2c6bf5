"""Where bays end at a rim joist, and want a piece of insulation there; joists count, whichever way the tube runs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sim.bay.geometry import needed

if TYPE_CHECKING:
    from sim.case.house_parts import BayGroup, HeatedRoom

AT_THE_RIM = 0.3
"""A bay that ends so near to a side of its room [m] ends at the wall there."""

Span = tuple[float, float]


def rim_ends(rooms: Sequence[HeatedRoom], name: str, spacing: float) -> int:
    """Ends of a room's bays at an outer side of the plan.

    A side is taken for an outer one where no other room of the storey lies beyond that end of the bay.

    Parameters
    ----------
    rooms : all of the house, with their outlines.
    name : of the room.
    spacing : of its joists [m].
    """
    room = next(room for room in rooms if room.name == name)
    others = [other for other in rooms if other.storey == room.storey and other.name != name]
    return sum(_outside(room, end, others) for group in room.bays for end in _ends(group, spacing))


End = tuple[str, float, float, int]
"""The way of a bay's joists, its place along them, the middle of the bay across them, and which way is out."""


def _ends(group: BayGroup, spacing: float) -> Iterator[End]:
    """Both ends of every bay of a group."""
    low, side = (group.x, group.y) if group.along == "x" else (group.y, group.x)
    for number in range(group.count):
        middle = side + (number + 0.5) * spacing
        yield group.along, low, middle, -1
        yield group.along, low + group.length, middle, 1


def _outside(room: HeatedRoom, end: End, others: list[HeatedRoom]) -> bool:
    """Whether an end lies at its room's side, with no room beyond."""
    way, place, middle, out = end
    side = _reach(room, way)[out > 0]
    return abs(place - side) <= AT_THE_RIM and not any(_beyond(other, end) for other in others)


def _beyond(other: HeatedRoom, end: End) -> bool:
    """Whether a room lies further out, in line with a bay."""
    way, place, middle, out = end
    low, high = _reach(other, "y" if way == "x" else "x")
    return low < middle < high and max(out * edge for edge in _reach(other, way)) > out * place + AT_THE_RIM


def _reach(room: HeatedRoom, way: str) -> Span:
    """Extent of a room along x or y [m]."""
    low, size = (room.x, room.width) if way == "x" else (room.y, room.depth)
    return needed(low), needed(low) + needed(size)

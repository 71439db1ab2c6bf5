"""Where bays end at a rim joist, and want a piece of insulation there; joists count, whichever way the tube runs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.house_parts import BayGroup, HeatedRoom
    from sim.house.room_shape import Box

AT_THE_RIM = 0.3
"""A bay that ends so near to a side of its room [m] ends at the wall there."""

def rim_ends(room: HeatedRoom, spacing: float, floor: Sequence[Box]) -> int:
    """Ends of a room's bays at an outer side of the plan.

    A side is taken for an outer one where no floor of the storey lies beyond that end of the bay, neither another
    room's nor the other arm of its own.

    Parameters
    ----------
    room : with its groups of bays.
    spacing : of its joists [m].
    floor : rectangles of all rooms of its storey, its own among them, as of `storey_parts`.
    """
    return sum(not any(_beyond(part, end) for part in floor) for group in room.bays for end in _ends(group, spacing))


End = tuple[str, float, float, int]
"""The way of a bay's joists, its place along them, the middle of the bay across them, and which way is out."""


def _ends(group: BayGroup, spacing: float) -> Iterator[End]:
    """Both ends of every bay of a group."""
    low, side = (group.x, group.y) if group.along == "x" else (group.y, group.x)
    for number in range(group.count):
        middle = side + (number + 0.5) * spacing
        yield group.along, low, middle, -1
        yield group.along, low + group.length, middle, 1


def _beyond(part: Box, end: End) -> bool:
    """Whether floor lies further out, in line with a bay; less than to a wall is the rest of its own room."""
    way, place, middle, out = end
    along, across = part if way == "x" else part[::-1]
    return across[0] < middle < across[1] and max(out * edge for edge in along) > out * place + AT_THE_RIM

"""The floor of a room in the plan: the rectangle that the file draws, or what its bays cover together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sim.case.fields import given

if TYPE_CHECKING:
    from sim.case.house_parts import HeatedRoom
    from sim.house.placed import PlacedBay

SEAM = 5e-3
"""Outlines and bays may miss each other by this much [m]: drawings are rounded."""

Box = tuple[tuple[float, float], tuple[float, float]]
"""From and to along x and along y [m]."""

BEAM = 0.25
"""A gap between bays of one room no wider than this [m] is a beam or a bearing wall in it: floor all the same."""

Corner = tuple[float, float]
Loop = tuple[Corner, ...]
"""Corners in order, counterclockwise round floor and clockwise round a hole in it; the last joins the first."""

Tile = tuple[int, int]
"""Number along x and along y of a rectangle between the lines at which parts begin and end."""


def outline(room: HeatedRoom, bays: Sequence[PlacedBay]) -> Box:
    """A room in the plan: as drawn, or else around its bays."""
    sides = []
    for axis, size in (("x", "width"), ("y", "depth")):
        low = min(getattr(bay, axis)[0] for bay in bays)
        high = max(getattr(bay, axis)[1] for bay in bays)
        start = low if getattr(room, axis) is None else float(getattr(room, axis))
        sides.append((start, high if getattr(room, size) is None else start + float(getattr(room, size))))
    return sides[0], sides[1]


def room_parts(room: HeatedRoom, bays: Sequence[PlacedBay]) -> tuple[Box, ...]:
    """Rectangles that make up a room's floor: the one that the file draws, or those of the room's bays."""
    if any(given(room, key) for key in ("x", "y", "width", "depth")):
        return (outline(room, bays),)
    return tuple((bay.x, bay.y) for bay in bays)


def storey_parts(rooms: Sequence[HeatedRoom], bays: Sequence[PlacedBay], storey: str) -> tuple[Box, ...]:
    """The rectangles of every room of a storey; `rooms` and `bays` are those of the whole house."""
    here = [room for room in rooms if room.storey == storey]
    return tuple(part for room in here for part in room_parts(room, [bay for bay in bays if bay.room == room.name]))


def room_loops(parts: Sequence[Box]) -> tuple[Loop, ...]:
    """The outlines of what rectangles cover together, the largest first.

    Examples
    --------
    >>> room_loops([((0.0, 4.0), (0.0, 3.0)), ((0.0, 2.0), (3.0, 5.0))])
    (((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (2.0, 3.0), (2.0, 5.0), (0.0, 5.0)),)
    """
    across, up = (_lines([part[axis] for part in parts]) for axis in (0, 1))
    covered = {tile for part in parts for tile in _tiles(part, across, up)}
    covered |= _gaps(covered, across, 0) | _gaps(covered, up, 1)
    loops = [tuple((across[i], up[j]) for i, j in loop) for loop in _walk(_edges(covered))]
    return tuple(sorted(loops, key=_size, reverse=True))


def _lines(spans: Sequence[tuple[float, float]]) -> list[float]:
    """Where parts begin and end along an axis, in order; places a seam apart are one."""
    found: list[float] = []
    for place in sorted(end for span in spans for end in span):
        if not found or place - found[-1] > SEAM:
            found.append(place)
    return found


def _tiles(part: Box, across: Sequence[float], up: Sequence[float]) -> Iterator[Tile]:
    """The tiles that a rectangle covers."""
    spans = [range(*(_nearest(lines, end) for end in ends)) for ends, lines in zip(part, (across, up), strict=True)]
    return ((i, j) for i in spans[0] for j in spans[1])


def _nearest(lines: Sequence[float], place: float) -> int:
    return min(range(len(lines)), key=lambda number: abs(lines[number] - place))


def _gaps(covered: set[Tile], lines: Sequence[float], axis: int) -> set[Tile]:
    """Tiles as narrow as a beam along an axis, with floor on both sides."""
    step = (1, 0) if axis == 0 else (0, 1)
    beside = {(i + step[0], j + step[1]) for i, j in covered} & {(i - step[0], j - step[1]) for i, j in covered}
    return {tile for tile in beside - covered if lines[tile[axis] + 1] - lines[tile[axis]] <= BEAM}


def _edges(covered: set[Tile]) -> set[tuple[Tile, Tile]]:
    """Sides of tiles with floor on their left alone, from crossing to crossing of lines."""
    sides = set()
    for i, j in covered:
        corners = ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1))
        sides |= set(zip(corners, (*corners[1:], corners[0]), strict=True))
    return {(start, end) for start, end in sides if (end, start) not in sides}


def _walk(edges: set[tuple[Tile, Tile]]) -> Iterator[list[Tile]]:
    """Edges joined to loops, without the places where a loop goes straight on; at a touching corner it turns left."""
    left = set(edges)
    while left:
        start, here = min(left)
        left.remove((start, here))
        loop = [start, here]
        while here != start:
            ahead = max((end for begin, end in left if begin == here), key=lambda end: _turn(loop[-2], here, end))
            left.remove((here, ahead))
            loop.append(ahead)
            here = ahead
        ring = loop[:-1]
        yield [spot for spot, before, after in zip(ring, [ring[-1], *ring], [*ring[1:], ring[0]], strict=False)
               if _turn(before, spot, after)]  # fmt: skip


def _turn(before: Tile, here: Tile, after: Tile) -> int:
    """1 for a turn to the left, -1 to the right, 0 straight on."""
    (a, b), (c, d) = ((end[0] - start[0], end[1] - start[1]) for start, end in ((before, here), (here, after)))
    return (a * d - b * c > 0) - (a * d - b * c < 0)


def _size(loop: Loop) -> float:
    """The area within a loop [m²], negative for a hole."""
    pairs = zip(loop, (*loop[1:], loop[0]), strict=True)
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs) / 2.0

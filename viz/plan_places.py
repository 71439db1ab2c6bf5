"""Where names of circuits and their leaders go on a plan, so that they hide no number and no wall."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import dist
from typing import Any

Point = tuple[float, float]
Segment = tuple[Point, Point]


def room_loops(room: Mapping[str, Any]) -> list[list[Point]]:
    """The corners of a room's floor, as house.json holds it; an older one holds its extent alone."""
    if loops := room.get("outline_m"):
        return [[(x, y) for x, y in loop] for loop in loops]
    (left, right), (low, high) = room["x_m"], room["y_m"]
    return [[(left, low), (right, low), (right, high), (left, high)]]


def closed(loop: Sequence[Point]) -> list[Point]:
    """A loop with its first corner at its end too."""
    return [*loop, loop[0]]


def widest_part(room: Mapping[str, Any], bays: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    """A room with the extent of its largest rectangle of bays side by side, where a name is sure to stand on its floor.

    A room of four corners is its own; `bays` are the room's.
    """
    if [len(loop) for loop in room_loops(room)] == [4] or not bays:
        return room
    groups: dict[tuple[float, ...], list[Mapping[str, Any]]] = {}
    for bay in bays:
        groups.setdefault((bay["along"] == "x", *bay["x_m" if bay["along"] == "x" else "y_m"]), []).append(bay)
    extents = [_extent(group) for group in groups.values()]
    largest = max(extents, key=_floor)
    return {**room, **largest}


def _extent(bays: Sequence[Mapping[str, Any]]) -> dict[str, list[float]]:
    """From and to of bays side by side [m]."""
    ends = ([end for bay in bays for end in bay[key]] for key in ("x_m", "y_m"))
    return {key: [min(own), max(own)] for key, own in zip(("x_m", "y_m"), ends, strict=True)}


def _floor(extent: Mapping[str, Sequence[float]]) -> float:
    """The area of an extent [m²]."""
    return (extent["x_m"][1] - extent["x_m"][0]) * (extent["y_m"][1] - extent["y_m"][0])


def outer_corners(storey: Mapping[str, Any]) -> Segment:
    """Two opposite corners round all rooms of a storey, as house.json holds it [m]."""
    across, upwards = ([end for room in storey["rooms"] for end in room[key]] for key in ("x_m", "y_m"))
    return (min(across), min(upwards)), (max(across), max(upwards))


def aside_within(spots: Sequence[Point], by: float, walls: Segment) -> Point:
    """How far a leader is moved aside along both axes, towards the side that keeps it between the outer walls.

    `walls` are two opposite corners round all rooms; a leader along an outer wall runs inside it.
    """
    (left, low), (right, high) = ((min(ends), max(ends)) for ends in zip(*walls, strict=True))
    bounds = ((left, low), (right, high))

    def beyond(move: Point) -> float:
        """How far its corners come to lie outside, in all."""
        return sum(
            max(0.0, ends[0] - place - step, place + step - ends[1])
            for spot in spots
            for place, step, ends in zip(spot, move, bounds, strict=True)
        )

    return min(((by, by), (by, -by), (-by, by), (-by, -by)), key=lambda move: round(beyond(move), 6))


LONGEST_TAG = 12
"""Letters of a circuit's name on a plan; of a longer one the middle is left out, so that it hides no number."""


def tag_names(circuits: Sequence[str]) -> dict[str, str]:
    """What circuits are called on a plan: names that would be alike without their middle stay whole.

    >>> tag_names(["R1.1", "Bedroom-to-the-north.1", "Bedroom-to-the-south.2"])
    {'R1.1': 'R1.1', 'Bedroom-to-the-north.1': 'Bedro…orth.1', 'Bedroom-to-the-south.2': 'Bedro…outh.2'}
    """
    short = {name: _without_middle(name) for name in circuits}
    called = list(short.values())
    return {name: tag if called.count(tag) == 1 else name for name, tag in short.items()}


def _without_middle(name: str) -> str:
    """A circuit's name with the first and last letters of its room, and its number."""
    room, dot, number = name.rpartition(".")
    left = LONGEST_TAG - len(number) - 1
    return f"{cut(room, left)}.{number}" if dot and left > 2 else name


def cut(name: str, most: int) -> str:
    """A name in so many letters, 3 at least: what is longer loses its middle.

    >>> cut("Bath", 6), cut("Bedroom-to-the-north", 9)
    ('Bath', 'Bedr…orth')
    """
    most = max(3, most)
    return name if len(name) <= most else f"{name[: most // 2]}…{name[-((most - 1) // 2) :]}"


def tag_places(ways: Sequence[Sequence[Point]], size: Point, kept_free: Sequence[Point] = ()) -> list[Point]:
    """Where names of so many circuits stand: at the start of each way, or further along where another's name is.

    Around places that are to be kept free none stands.
    """
    taken: list[Point] = list(kept_free)
    for way in ways:
        first = way[0]
        ahead = next(point for point in way if dist(point, first) > 1e-9)
        long = dist(first, ahead)
        step = (size[0] * (ahead[0] - first[0]) / long, size[1] * (ahead[1] - first[1]) / long)
        place = first
        while any(abs(place[0] - x) < size[0] and abs(place[1] - y) < size[1] for x, y in taken):
            place = (place[0] + step[0], place[1] + step[1])
        taken.append(place)
    return taken[len(kept_free) :]


def label_place(size: Point, wanted: Sequence[Point], lines: Sequence[Segment], room: Point) -> Point:
    """The middle, of those wanted, round which a label of a size crosses fewest lines and stays in the drawing."""
    wide, high = size[0] / 2.0, size[1] / 2.0

    def crossed(middle: Point) -> int:
        x, y = middle
        under = sum(
            min(a[0], b[0]) < x + wide and max(a[0], b[0]) > x - wide
            and min(a[1], b[1]) < y + high and max(a[1], b[1]) > y - high
            for a, b in lines
        )  # fmt: skip
        inside = wide <= x <= room[0] - wide and high <= y <= room[1] - high
        return under if inside else under + len(lines)

    return min(wanted, key=crossed)


STEP = 6.0
"""A strip with a room's name is moved up or down by so much at a time [px]."""


def off_tags(strip: tuple[Point, Point], tags: Sequence[Segment], floor: Point) -> float:
    """The upper edge of a strip, nearest to where it is, at which it hides no tag; as it is where there is none.

    Parameters
    ----------
    strip : upper left corner and size.
    tags : two opposite corners of each, upper left first.
    floor : upper and lower edge between which it stays.
    """
    (left, top), (wide, high) = strip
    beside = [tag for tag in tags if tag[0][0] < left + wide and tag[1][0] > left]
    reach = int((floor[1] - floor[0]) / STEP)
    places = sorted((top + STEP * step for step in range(-reach, reach + 1)), key=lambda place: abs(place - top))
    inside = (place for place in places if floor[0] <= place and place + high <= floor[1])
    free = (place for place in inside if not any(up < place + high and low > place for (_, up), (_, low) in beside))
    return next(free, top)

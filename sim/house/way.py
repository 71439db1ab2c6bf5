"""The way of a circuit's tube through the plan, corner by corner: the one source of its drawing and of its length.

From the manifold down its riser, along the wall at the bays' ends, into the first bay; to and fro in every bay, from
bay to bay through the joist between them, and from wherever the last run ends back to the manifold. Corners are square:
rounded bends of the tube lie inside them, so the tube is a few centimetres a bend shorter and never longer.

Along a bay is u, across it v; the manifold hangs its riser above (or below) the bays.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import dist

from sim.house.placed import PlacedBay

END_GAP = 0.06
"""Tube turns so far before the end of a bay or of its last free stretch [m]: common practice, no source."""

Point = tuple[float, float, float]
"""x, y in the plan and height above the bays [m]."""

_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Way:
    """The tube of one circuit: corners from the manifold to the first bay, in every bay, and back [m].

    Every part begins where the one before ends, so a bay's part holds the step over from the bay before.
    """

    out: tuple[Point, ...]
    bays: tuple[tuple[Point, ...], ...]
    back: tuple[Point, ...]

    @property
    def points(self) -> tuple[Point, ...]:
        """All corners, none twice in a row."""
        parts = (self.out, *self.bays, self.back)
        return tuple(_distinct(point for part in parts for point in part))

    @property
    def length(self) -> float:
        """Of the whole tube [m]."""
        return length_of(self.points)

    @property
    def leaders(self) -> tuple[float, float]:
        """There and back between manifold and bays [m]."""
        return length_of(self.out), length_of(self.back)


def length_of(points: Sequence[Point]) -> float:
    """Length of straight lines through points [m]."""
    return sum(dist(start, end) for start, end in pairwise(points))


def lay_way(bays: Sequence[PlacedBay], manifold: Point) -> Way:
    """Lay the tube of a circuit.

    Parameters
    ----------
    bays : in the order of the water, at least one, every one with floor that tube reaches.
    manifold : its place in the plan and the length of its riser [m].
    """
    return _laid(tuple(bays), manifold)


@lru_cache(maxsize=4096)
def _laid(bays: tuple[PlacedBay, ...], manifold: Point) -> Way:
    """The way, laid once: every heat source asks for the same ones."""
    parts: list[tuple[Point, ...]] = []
    side = bays[0].entry
    for number, bay in enumerate(bays):
        here = parts[-1][-1] if parts else None
        side = _side(bay, here)
        corners = list(_runs(bay, side, _rising(bays, number, here)))
        step = [] if here is None else _step(here, (bays[number - 1], bay), corners[0], side)
        parts.append(tuple(_distinct([*step, *corners])))
    last = bays[-1]
    ending = side if last.runs % 2 == 0 else _other(side)
    out = _leader(manifold, bays[0], bays[0].entry, parts[0][0])
    back = _leader(manifold, last, ending, parts[-1][-1])
    return Way(out, tuple(parts), back[::-1])


def _other(side: str) -> str:
    return "high" if side == "low" else "low"


def _side(bay: PlacedBay, here: Point | None) -> str:
    """The end at which the tube enters: the bay's own, or with an odd number of runs the one where the tube is."""
    if here is None or bay.runs % 2 == 0:
        return bay.entry
    low, high = _reach(bay)
    u = _uv(bay, here)[0]
    return "low" if abs(u - low) <= abs(u - high) else "high"


def _rising(bays: Sequence[PlacedBay], number: int, here: Point | None) -> bool:
    """Whether a bay's runs follow each other with rising v: away from where the tube comes, or towards the next bay."""
    bay = bays[number]
    if here is not None:
        return _uv(bay, here)[1] <= bay.middle
    return number + 1 == len(bays) or bays[number + 1].along != bay.along or bays[number + 1].middle >= bay.middle


def _reach(bay: PlacedBay) -> tuple[float, float]:
    """Where the tube turns at both ends of a bay, as u in the plan [m]."""
    (low, _), (_, high) = bay.spans[0], bay.spans[-1]
    gap = min(END_GAP, (high - low) / 2.0)
    return bay.start + low + gap, bay.start + high - gap


def _runs(bay: PlacedBay, side: str, rising: bool) -> Iterator[Point]:
    """Corners of a bay's runs, to and fro from the side where the tube enters."""
    near, far = _reach(bay) if side == "low" else _reach(bay)[::-1]
    for v in bay.lines if rising else bay.lines[::-1]:
        yield _xy(bay, near, v)
        yield _xy(bay, far, v)
        near, far = far, near


def _step(here: Point, between: tuple[PlacedBay, PlacedBay], start: Point, side: str) -> list[Point]:
    """From a bay to the start of the next: along first where the first lets it pass, across first where the next does.

    Where neither does, the tube moves along the free floor of the bay that is freer there.
    """
    leaving, entering = between
    (u, v), (to_u, to_v) = _uv(entering, here), _uv(entering, start)
    outward = 1.0 if side == "high" else -1.0
    if leaving.along != entering.along:
        across_first = False
    elif (to_u - u) * outward > 0.0:
        across_first = not leaving.open_at(side)
    else:
        across_first = entering.open_at(side)
    corner = (u, to_v) if across_first else (to_u, v)
    return [here, _xy(entering, *corner)]


def _leader(manifold: Point, bay: PlacedBay, side: str, entry: Point) -> tuple[Point, ...]:
    """From the manifold along the wall at a bay's end, or beside what blocks that end, to where the tube enters."""
    u, v = _uv(bay, entry)
    wall = bay.end(side) if bay.open_at(side) else u
    foot = (manifold[0], manifold[1], 0.0)
    corners = (manifold, foot, _xy(bay, wall, _uv(bay, foot)[1]), _xy(bay, wall, v), entry)
    return tuple(_distinct(corners))


def _uv(bay: PlacedBay, point: Point) -> tuple[float, float]:
    """A place along and across a bay."""
    return (point[0], point[1]) if bay.along == "x" else (point[1], point[0])


def _xy(bay: PlacedBay, u: float, v: float) -> Point:
    """A place in the plan from those along and across a bay."""
    return (u, v, 0.0) if bay.along == "x" else (v, u, 0.0)


def _distinct(points: Iterator[Point] | Sequence[Point]) -> Iterator[Point]:
    """Points, none twice in a row."""
    last: Point | None = None
    for point in points:
        if last is None or dist(point, last) > _SAME:
            yield point
            last = point

"""Measures round a plan: its walls, and in which order and how wide the bays of each room follow."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist
from typing import Any

from viz.drawings.board import TEXT, TICK, Board, Spot, width_of
from viz.drawings.free_place import free_place, hides_text
from viz.drawings.paper import PaperView, measure
from viz.page_parts import PageReader
from viz.plan_places import room_loops, widest_part

Values = Mapping[str, Any]

Measured = tuple[str, bool, float, float, float, float]
"""Measures of a room's bays: axis, whether on the lower side of the plan, the room's walls, first and last bay [m]."""

NBSP = "\u00a0"
"""A blank at which no line breaks."""

WALLS, BAYS = 21.0, 11.0
"""How far the lines of measures of walls and of bays are from the plan [mm]."""

BETWEEN = WALLS - BAYS
"""Between those lines [mm]."""

SAME = 0.002
"""Walls so near to each other are one for a measure [m]."""


@dataclass(frozen=True, slots=True)
class Span:
    """A measure on the paper: its ends [mm], its number, how far its line is moved aside [mm]."""

    ends: tuple[Spot, Spot]
    text: str
    aside: float

    @property
    def is_short(self) -> bool:
        """Whether its line is too short for its number."""
        return width_of(self.text) > dist(*self.ends) - 1.0


@dataclass(frozen=True, slots=True)
class Chain:
    """Measures that follow each other, from left to right or upwards, and what they are of."""

    of: str
    spans: tuple[Span, ...]

    @property
    def in_words(self) -> str:
        """Its numbers in order, each whole at the end of a line."""
        return f"{self.of}: {', '.join(span.text.replace(' ', NBSP) for span in self.spans)}"


def plan_extent(storey: Values) -> tuple[Spot, Spot]:
    """Lower left and upper right corner of a storey's rooms and manifolds [m]."""
    spots = [(room["x_m"][end], room["y_m"][end]) for room in storey["rooms"] for end in (0, 1)]
    spots += [(manifold["x_m"], manifold["y_m"]) for manifold in storey["manifolds"]]
    along_x, along_y = zip(*spots, strict=True)
    return (min(along_x), min(along_y)), (max(along_x), max(along_y))


def draw_measures(
    board: Board, view: PaperView, storey: Values, bays: Sequence[Values], reader: PageReader
) -> list[str]:
    """Walls along the lower and the left side; where bays begin and how they follow each other around the plan.

    Returns
    -------
    list of str
        Chains of measures of which a number had no place without hiding another, in words.
    """
    chains = _once(_chains(view, storey, bays, reader))
    lines = {span: board.dimension_line(*span.ends, span.aside) for chain in chains for span in chain.spans}
    for span, (first, last) in lines.items():
        if not span.is_short:
            board.number_on(first, last, span.text)
    return [chain.in_words for chain in chains if not _all_placed(board, chain, lines)]


def _all_placed(board: Board, chain: Chain, lines: Mapping[Span, tuple[Spot, Spot]]) -> bool:
    """Put the numbers of a chain's short lines beside them; none where one has no place, as others would mislead."""
    before = len(board.marks)
    for span in chain.spans:
        if span.is_short and not _placed(board, span, lines[span]):
            del board.marks[before:]
            return False
    return True


def _once(chains: Iterable[Chain]) -> list[Chain]:
    """Chains without those that say the same in the same place as another."""
    found: dict[tuple[object, ...], Chain] = {}
    for chain in chains:
        spots = [tuple(round(number, 2) for spot in span.ends for number in spot) for span in chain.spans]
        found.setdefault((*spots, *((span.text, span.aside) for span in chain.spans)), chain)
    return list(found.values())


def _placed(board: Board, span: Span, line: tuple[Spot, Spot]) -> bool:
    """Put the number of a short line beside it where it hides no other; whether there is such a place."""
    long, high = width_of(span.text) + 1.0, TEXT + 1.6
    for turned, wanted in _beside(line, long, span.aside):
        size = (high, long) if turned else (long, high)
        if spots := [spot for spot in wanted if not hides_text(board, size, spot)]:
            x, y = free_place(board, size, spots)
            place = (x + TEXT / 2.0, y) if turned else (x, y - TEXT / 2.0)
            board.words(place, span.text, anchor="middle", turn=90.0 if turned else 0.0, halo=True)
            return True
    return False


def _beside(line: tuple[Spot, Spot], long: float, aside: float) -> list[tuple[bool, list[Spot]]]:
    """Middles of a number of a length [mm] beside a short line, those wanted first before others; whether turned.

    Of a level line at its ends, above and below. Of an upright one level on the side away from the plan, unless that
    reaches the next line of measures; else turned, beyond its ends.
    """
    (x0, y0), (x1, y1) = line
    if abs(x1 - x0) >= abs(y1 - y0):
        away, middle = long / 2.0 + 1.0, (x0 + x1) / 2.0
        ends = [(max(x0, x1) + away, y0), (min(x0, x1) - away, y0)]
        return [(False, [*ends, (middle, y0 - 3.2), (middle, y0 + 3.2)])]
    away = (long / 2.0 + 1.5) * (-1.0 if aside > 0.0 else 1.0)
    level = (False, [(x0 + away, (y0 + y1) / 2.0)])
    x, beyond = x0 - 0.8 - TEXT / 2.0, long / 2.0 + TICK
    turned = (True, [(x, max(y0, y1) + beyond), (x, min(y0, y1) - beyond)])
    return [level, turned] if long + 1.5 <= BETWEEN else [turned, level]


def _chains(view: PaperView, storey: Values, bays: Sequence[Values], reader: PageReader) -> Iterator[Chain]:
    """All measures of a storey."""
    low, high = plan_extent(storey)
    corners = [corner for room in storey["rooms"] for loop in room_loops(room) for corner in loop]
    for number, (axis, aside) in enumerate((("x", -WALLS), ("y", WALLS))):
        ends = _distinct(corner[number] for corner in corners)
        yield Chain(f"walls {_WAYS[axis]}", tuple(
            Span(_side_of(view, low, axis, start, end), measure(end - start, reader.units), aside)
            for start, end in pairwise(ends)
        ))  # fmt: skip
    taken: list[Measured] = []
    for room in storey["rooms"]:
        own = [bay for bay in bays if bay["room"] == room["name"]]
        for group in _side_by_side(own):
            walls = widest_part(room, group) if len(room_loops(room)[0]) > 4 else room
            yield _bay_chain(view, walls, group, (low, high, reader), taken)


_WAYS = {"x": "from left to right", "y": "upwards"}


def _side_of(view: PaperView, at: Spot, axis: str, start: float, end: float) -> tuple[Spot, Spot]:
    """A stretch of a side of the plan on the paper, parallel to an axis."""
    if axis == "x":
        return view.at(start, at[1]), view.at(end, at[1])
    return view.at(at[0], start), view.at(at[0], end)


def _distinct(ends: Iterator[float]) -> list[float]:
    """Places in order, those of one wall once."""
    found: list[float] = []
    for end in sorted(ends):
        if not found or end - found[-1] > SAME:
            found.append(end)
    return found


def _bay_chain(
    view: PaperView, room: Values, bays: Sequence[Values], around: tuple[Spot, Spot, PageReader], taken: list[Measured]
) -> Chain:
    """From the room's wall to its first bay, over equal bays, and to the other wall, on the nearer side of the plan.

    On the further side where another room's measures stand there already.
    """
    low, high, reader = around
    axis, other = ("x", "y") if bays[0]["along"] == "y" else ("y", "x")
    sides = [bay[f"{axis}_m"] for bay in bays]
    first, last = min(side[0] for side in sides), max(side[1] for side in sides)
    middle = sum(room[f"{other}_m"]) / 2.0
    place = "xy".index(other)
    is_low = middle <= (low[place] + high[place]) / 2.0
    span = (room[f"{axis}_m"][0], room[f"{axis}_m"][1], first, last)
    if _stands((axis, is_low, *span), taken) and not _stands((axis, not is_low, *span), taken):
        is_low = not is_low
    taken.append((axis, is_low, *span))
    at, aside = (low, -1.0) if is_low else (high, 1.0)
    aside = (BAYS if axis == "x" else -BAYS) * aside
    spans = []
    for start, end in pairwise(_distinct(iter((room[f"{axis}_m"][0], first, last, room[f"{axis}_m"][1])))):
        text = measure(end - start, reader.units)
        if start == first and end == last:
            text = f"{len(sides)} x {measure((end - start) / len(sides), reader.units)}"
        spans.append(Span(_side_of(view, at, axis, start, end), text, aside))
    return Chain(f"bays of {room['name']} {_WAYS[axis]}", tuple(spans))


def _side_by_side(bays: Sequence[Values]) -> list[list[Values]]:
    """The bays of a room in groups that lie between the same two lines, each bay at the next one's side."""
    groups: list[list[Values]] = []
    for bay in bays:
        along, across = ("x_m", "y_m") if bay["along"] == "x" else ("y_m", "x_m")
        last = groups[-1][-1] if groups else None
        if last and last["along"] == bay["along"] and last[along] == bay[along] and _meet(last[across], bay[across]):
            groups[-1].append(bay)
        else:
            groups.append([bay])
    return groups


def _meet(first: Sequence[float], second: Sequence[float]) -> bool:
    """Whether a stretch begins where another ends."""
    return min(abs(second[0] - first[1]), abs(first[0] - second[1])) <= SAME


def _stands(wanted: Measured, taken: Sequence[Measured]) -> bool:
    """Whether measures along that stretch of a side stand there already; those between the same places say the same."""
    return any(
        wanted[:2] == entry[:2] and min(wanted[3], entry[3]) - max(wanted[2], entry[2]) > SAME
        and any(abs(own - other) > SAME for own, other in zip(wanted[2:], entry[2:], strict=True))
        for entry in taken
    )  # fmt: skip

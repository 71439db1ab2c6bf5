"""Measures round a plan: its walls, and in which order and how wide the bays of each room follow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from viz.drawings.board import Board, Spot
from viz.drawings.paper import PaperView, measure
from viz.page_parts import PageReader

Values = Mapping[str, Any]

Measured = tuple[str, bool, float, float, float, float]
"""Measures of a room's bays: axis, whether on the lower side of the plan, the room's walls, first and last bay [m]."""

SAME = 0.002
"""Walls so near to each other are one for a measure [m]."""


def plan_extent(storey: Values) -> tuple[Spot, Spot]:
    """Lower left and upper right corner of a storey's rooms and manifolds [m]."""
    spots = [(room["x_m"][end], room["y_m"][end]) for room in storey["rooms"] for end in (0, 1)]
    spots += [(manifold["x_m"], manifold["y_m"]) for manifold in storey["manifolds"]]
    along_x, along_y = zip(*spots, strict=True)
    return (min(along_x), min(along_y)), (max(along_x), max(along_y))


def draw_measures(board: Board, view: PaperView, storey: Values, bays: Sequence[Values], reader: PageReader) -> None:
    """Walls along the lower and the left side; where bays begin and how they follow each other around the plan."""
    low, high = plan_extent(storey)
    for axis, aside in (("x", -21.0), ("y", 21.0)):
        ends = _distinct(end for room in storey["rooms"] for end in room[f"{axis}_m"])
        for start, end in pairwise(ends):
            first, last = _side_of(view, low, axis, start, end)
            board.dimension(first, last, measure(end - start, reader.units), aside)
    taken: list[Measured] = []
    for room in storey["rooms"]:
        own = [bay for bay in bays if bay["room"] == room["name"]]
        for group in _side_by_side(own):
            _measure_bays(board, view, room, group, (low, high, reader), taken)


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


def _measure_bays(
    board: Board, view: PaperView, room: Values, bays: Sequence[Values], around: tuple[Spot, Spot, PageReader],
    taken: list[Measured],
) -> None:  # fmt: skip
    """From the room's wall to its first bay, over equal bays, and to the other wall, on the nearer side of the plan.

    On the further side where another room's measures stand there already.
    """
    low, high, reader = around
    axis, other = ("x", "y") if bays[0]["along"] == "y" else ("y", "x")
    sides = [bay[f"{axis}_m"] for bay in bays]
    first, last = min(side[0] for side in sides), max(side[1] for side in sides)
    middle = sum(room[f"{other}_m"]) / 2.0
    place = 0 if other == "y" else 1
    is_low = middle <= (low[place] + high[place]) / 2.0
    span = (room[f"{axis}_m"][0], room[f"{axis}_m"][1], first, last)
    if _stands((axis, is_low, *span), taken) and not _stands((axis, not is_low, *span), taken):
        is_low = not is_low
    taken.append((axis, is_low, *span))
    at, aside = (low, -1.0) if is_low else (high, 1.0)
    aside = (11.0 if axis == "x" else -11.0) * aside
    for start, end in pairwise(_distinct(iter((room[f"{axis}_m"][0], first, last, room[f"{axis}_m"][1])))):
        text = measure(end - start, reader.units)
        if start == first and end == last:
            text = f"{len(sides)} x {measure((end - start) / len(sides), reader.units)}"
        board.dimension(*_side_of(view, at, axis, start, end), text, aside, before=end == first)


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

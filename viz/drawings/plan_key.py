"""The key of a plan: its circuits with their numbers, what is in the way and where, and lists; beside the plan, or on a
sheet of its own where a house has too many circuits for that."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from viz.drawings.board import SOFT, Board, Pen, Spot, width_of
from viz.drawings.frame import column_space, drawing_space
from viz.drawings.paper import measure
from viz.drawings.tabular import TableColumn, draw_row, draw_table, row_height
from viz.page_parts import PageReader
from viz.plan_places import tag_names

Values = Mapping[str, Any]

CIRCUITS = (
    TableColumn("", 15.0), TableColumn("circuit", 26.0), TableColumn("bays", 27.0),
    TableColumn("length", 22.0, True), TableColumn("flow", 22.0, True),
)  # fmt: skip
OBSTACLES = (TableColumn("", 6.0), TableColumn("what", 46.0), TableColumn("bays, from their low end", 60.0))
LINES = (TableColumn("", 112.0),)

ABOUT = (
    "leaders: full to the bays, dotted back to the manifold", "arrows: the way of the water",
    "numbers in bays: the end of their names",
)  # fmt: skip
"""What stands at the foot of every plan's column."""

FOOT = 17.0
"""Height of those lines [mm]."""


@dataclass(frozen=True, slots=True)
class PlanKey:
    """What the key of a storey tells: `bays` are those of the storey, `pens` those of all circuits."""

    layout: Values
    bays: Sequence[Values]
    obstacles: Mapping[str, str]
    pens: Mapping[str, Pen]
    reader: PageReader


@dataclass(frozen=True, slots=True)
class KeyBlock:
    """A piece of a key that is not parted: its height [mm], and what draws it from its upper left corner."""

    height: float
    draw: Callable[[Board, Spot], object]
    heading: bool = False


def draw_key(board: Board, key: PlanKey, lists: Mapping[str, Sequence[str]], storey: str) -> None:
    """The key in the column beside a plan; where it has no room there, that it has a sheet of its own."""
    (x, bottom), (_, high) = column_space(board)
    blocks = key_blocks(key)
    if needs_sheet(board, key):
        told = f'the key has a sheet of its own: "{key_heading(storey)}"'
        blocks = [KeyBlock(7.0, lambda board, at: board.words((at[0], at[1] - 7.0), told))]
    blocks += _lists(lists)
    _stack(board, (x + 3.0, bottom + high), blocks[: _filling(blocks, high - FOOT)])
    for place, text in enumerate(ABOUT):
        board.words((x + 3.0, bottom + 12.0 - 4.0 * place), text, colour=SOFT)


def key_heading(storey: str) -> str:
    """What the sheet of a key is called."""
    return f"Key to the plan, {storey}"


def needs_sheet(board: Board, key: PlanKey) -> bool:
    """Whether the key of a plan has no room beside it."""
    return sum(block.height for block in key_blocks(key)) > column_space(board)[1][1] - FOOT


def draw_key_sheet(board: Board, key: PlanKey) -> None:
    """Fill a sheet with a key, in columns from left to right, that of the title block the last."""
    (left, bottom), (wide, high) = drawing_space(board)
    column = sum(entry.width for entry in CIRCUITS) + 8.0
    corners = [(left + 6.0 + column * number, bottom + high) for number in range(int((wide - 6.0) / column))]
    side, (_, side_high) = column_space(board)
    corners.append((side[0] + 3.0, side[1] + side_high))
    floors = [*(bottom for _ in corners[:-1]), side[1]]
    blocks = key_blocks(key)
    for corner, floor in zip(corners, floors, strict=True):
        count = _filling(blocks, corner[1] - floor - 4.0)
        _stack(board, corner, blocks[:count])
        blocks = blocks[count:]


def _filling(blocks: Sequence[KeyBlock], room: float) -> int:
    """How many blocks fill a height [mm]; a heading does not stand last."""
    count, used = 0, 0.0
    while count < len(blocks) and used + blocks[count].height <= room:
        used += blocks[count].height
        count += 1
    while count and count < len(blocks) and blocks[count - 1].heading:
        count -= 1
    return count


def _stack(board: Board, corner: Spot, blocks: Sequence[KeyBlock]) -> None:
    """Blocks below each other."""
    x, y = corner
    for block in blocks:
        block.draw(board, (x, y))
        y -= block.height


def key_blocks(key: PlanKey) -> list[KeyBlock]:
    """Circuits, and what is in the way."""
    blocks = [_head("Circuits", CIRCUITS), *_circuits(key)]
    if key.obstacles:
        rows = [(letter, why, _places_of(key, why)) for why, letter in key.obstacles.items()]
        blocks += [_head("In the way", OBSTACLES), *(_row(OBSTACLES, row) for row in rows)]
    return blocks


def _lists(lists: Mapping[str, Sequence[str]]) -> Iterator[KeyBlock]:
    """Lines under their headings, where there are any."""
    for heading, lines in lists.items():
        if lines:
            yield _head(heading, LINES)
            yield from (_row(LINES, (line,)) for line in lines)


def _head(words: str, columns: Sequence[TableColumn]) -> KeyBlock:
    """A heading with the heads of its table, if it has any."""
    down = 8.0 if any(column.heading for column in columns) else 4.0

    def draw(board: Board, at: Spot) -> None:
        board.words((at[0], at[1] - 7.0), words, 3.0, bold=True)
        draw_table(board, (at[0], at[1] - down), columns, [])

    return KeyBlock(down + row_height(columns, [column.heading for column in columns]), draw, heading=True)


def _row(columns: Sequence[TableColumn], cells: Sequence[str]) -> KeyBlock:
    return KeyBlock(row_height(columns, cells), lambda board, at: draw_row(board, at, columns, cells))


def _circuits(key: PlanKey) -> Iterator[KeyBlock]:
    """A line for every circuit of the storey, with a piece of its tube."""
    known = {bay["name"] for bay in key.bays}
    here = [row for row in key.layout["circuits"] if known.intersection(row["bays"].split())]
    names, spans = tag_names([row["circuit"] for row in here]), _spans(here, CIRCUITS[2].width - 1.5)
    for row in here:
        name = row["circuit"]
        numbers = (key.reader.value(what, row[what]) for what in ("length_m", "flow_l_min"))
        yield _circuit(("", names[name], spans[name], *numbers), key.pens[name])


def _circuit(cells: Sequence[str], pen: Pen) -> KeyBlock:
    def draw(board: Board, at: Spot) -> None:
        x, y = at[0], at[1] - 5.0
        board.line(((x, y + 1.0), (x + 12.0, y + 1.0)), pen)
        for column, cell in zip(CIRCUITS, cells, strict=True):
            place = x + column.width - 1.5 if column.number else x
            board.words((place, y), cell, anchor="end" if column.number else "start")
            x += column.width

    return KeyBlock(5.6, draw)


def _spans(circuits: Sequence[Values], wide: float) -> dict[str, str]:
    """The bays of each circuit; their numbers alone where the names of some take more than a width [mm]."""
    spans = {row["circuit"]: bays_in_words(row["bays"].split()) for row in circuits}
    if all(width_of(span) <= wide for span in spans.values()):
        return spans
    return {name: " to ".join(part.rpartition("-")[2] for part in span.split(" to ")) for name, span in spans.items()}


def _places_of(key: PlanKey, why: str) -> str:
    """The bays and stretches of one obstacle, equal stretches together."""
    spans: dict[tuple[float, float], list[str]] = {}
    for bay in key.bays:
        for stretch in bay["blocked"]:
            if stretch["why"] == why:
                spans.setdefault((stretch["from_m"], stretch["to_m"]), []).append(bay["name"])
    units = key.reader.units
    return "; ".join(
        f"{bays_in_words(names)}: {measure(low, units)} to {measure(high, units)}"
        for (low, high), names in spans.items()
    )


def bays_in_words(names: Sequence[str]) -> str:
    """The first of some bays and the number of the last."""
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1].rpartition('-')[2]}"

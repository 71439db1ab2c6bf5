"""Tables on a sheet: columns of fixed width, cells that wrap, and how high it came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from viz.drawings.board import INK, SOFT, TEXT, THIN, Board, Spot, wrapped

ROW = 4.0
"""From line to line [mm]."""


@dataclass(frozen=True, slots=True)
class TableColumn:
    """Heading, width [mm], and whether it holds numbers (set to the right)."""

    heading: str
    width: float
    number: bool = False


def draw_table(
    board: Board, corner: Spot, columns: Sequence[TableColumn], rows: Sequence[Sequence[str]]
) -> float:
    """Draw a table from its upper left corner; return the height [mm] of its lower edge on the sheet."""
    x, y = corner
    heads = [column.heading for column in columns]
    y = draw_row(board, (x, y), columns, heads, True)
    wide = sum(column.width for column in columns)
    board.line(((x, y + 1.0), (x + wide, y + 1.0)), THIN)
    for row in rows:
        y = draw_row(board, (x, y), columns, row, False)
    return y


def table_height(columns: Sequence[TableColumn], rows: Sequence[Sequence[str]]) -> float:
    """How high such a table comes out [mm]."""
    heads = [column.heading for column in columns]
    return sum(row_height(columns, row) for row in (heads, *rows))


def row_height(columns: Sequence[TableColumn], cells: Sequence[str]) -> float:
    """How high a row comes out [mm]."""
    return _lines(columns, cells) * ROW + 0.6


def _lines(columns: Sequence[TableColumn], cells: Sequence[str]) -> int:
    return max(len(wrapped(cell, column.width - 1.5, TEXT)) for column, cell in zip(columns, cells, strict=True))


def draw_row(
    board: Board, corner: Spot, columns: Sequence[TableColumn], cells: Sequence[str], head: bool = False
) -> float:
    """One row without a line below it; returns its lower edge [mm]."""
    x, y = corner
    for column, cell in zip(columns, cells, strict=True):
        for line, text in enumerate(wrapped(cell, column.width - 1.5, TEXT)):
            place = x + column.width - 1.5 if column.number else x
            anchor = "end" if column.number else "start"
            colour = SOFT if head else INK
            board.words((place, y - ROW * (line + 1) + 1.0), text, TEXT, anchor=anchor, colour=colour)
        x += column.width
    return y - ROW * _lines(columns, cells) - 0.6

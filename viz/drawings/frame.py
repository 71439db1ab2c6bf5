"""The frame of a sheet and its title block: what it shows, scale, number, room for date, revision and signature."""

from __future__ import annotations

from dataclasses import dataclass

from sim.results.people import Units
from viz.drawings.board import NORMAL, PAPER, SOFT, THICK, THIN, Board, Spot, wrapped
from viz.drawings.paper import PAPERS

BOUND, EDGE = 20.0, 10.0
"""Margins: the side that is bound, and the others [mm]."""

BLOCK_WIDTH, BLOCK_HEIGHT = 118.0, 70.0
ASIDE = BLOCK_WIDTH
"""Width of the column above the title block [mm]."""

WARNING = (
    "A design aid, not an approval: check on the site before boring, cutting or ordering; local codes and a licensed "
    "professional decide. Lengths are between corners of the tube's way; bends lie inside them."
)

MEASURES: dict[Units, str] = {"si": "Measures without a unit are millimetres.", "ip": "Measures are feet and inches."}


@dataclass(frozen=True, slots=True)
class Heading:
    """What a title block says of its sheet; number and count are filled in when the set is complete."""

    house: str
    sheet: str
    about: str
    scale: str = ""


def framed(units: Units, heading: Heading, number: int, count: int) -> Board:
    """An empty sheet with frame and title block."""
    _, width, height = PAPERS[units]
    board = Board(width, height)
    board.box((BOUND, EDGE), (width - EDGE, height - EDGE), THICK)
    _title_block(board, units, heading, f"{number} of {count}")
    return board


def drawing_space(board: Board) -> tuple[Spot, Spot]:
    """Lower left corner and size of what lies left of the column with the title block [mm]."""
    return (BOUND, EDGE), (board.width - BOUND - EDGE - ASIDE, board.height - 2.0 * EDGE)


def column_space(board: Board) -> tuple[Spot, Spot]:
    """Lower left corner and size of the column above the title block [mm]."""
    low = EDGE + BLOCK_HEIGHT
    return (board.width - EDGE - ASIDE, low), (ASIDE, board.height - EDGE - low)


def _title_block(board: Board, units: Units, heading: Heading, number: str) -> None:
    right, bottom = board.width - EDGE, EDGE
    left, top = right - BLOCK_WIDTH, bottom + BLOCK_HEIGHT
    board.box((left, bottom), (right, top), THICK, PAPER)
    board.line(((left, board.height - EDGE), (left, top)), NORMAL)
    inside = left + 2.5
    for row, text in enumerate(wrapped(heading.house, BLOCK_WIDTH - 5.0, 3.2)[:2]):
        board.words((inside, top - 6.0 - 4.6 * row), text, 3.2, bold=True)
    for row, text in enumerate(wrapped(heading.sheet, BLOCK_WIDTH - 5.0, 3.0)[:2]):
        board.words((inside, top - 16.5 - 4.2 * row), text, 3.0)
    for row, text in enumerate(wrapped(heading.about, BLOCK_WIDTH - 5.0)[:2]):
        board.words((inside, top - 25.5 - 3.6 * row), text, colour=SOFT)
    for row, text in enumerate(wrapped(f"{MEASURES[units]} {WARNING}", BLOCK_WIDTH - 5.0)):
        board.words((inside, bottom + 35.0 - 3.5 * row), text, colour=SOFT)
    _cells(board, (left, bottom), (("scale", heading.scale or "none"), ("paper", PAPERS[units][0]), ("sheet", number)))
    _cells(board, (left, bottom + 8.0), (("revision", ""), ("date", ""), ("checked, signed", "")))


def _cells(board: Board, corner: Spot, cells: tuple[tuple[str, str], ...]) -> None:
    """A row of boxes with a small word above what is written or left to be written."""
    wide, (x, y) = BLOCK_WIDTH / len(cells), corner
    for place, (word, text) in enumerate(cells):
        low = x + wide * place
        board.box((low, y), (low + wide, y + 8.0), THIN)
        board.words((low + 1.2, y + 4.8), word, colour=SOFT)
        board.words((low + 1.2, y + 1.0), text, bold=True)

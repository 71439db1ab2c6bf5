"""Boards as pages of a PDF, true to scale."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from viz.drawings.board import PAPER, Board, Fill, Lettering, Stroke

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MILLIMETRE = 72.0 / 25.4
"""In points."""

CAPITALS = 0.729
"""Height of capitals over the size of the type that matplotlib brings."""


def write_pdf(boards: Sequence[Board], path: Path, title: str) -> Path:
    """Write one page a board; the same boards give the same file.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    known = {"Title": title, "CreationDate": None, "Creator": "joistbay", "Producer": None}
    with rc_context({"hatch.linewidth": 0.35}), PdfPages(path, metadata=known) as pages:
        for board in boards:
            pages.savefig(figure_of(board))
    return path


def figure_of(board: Board) -> Figure:
    """A board as a figure of its size."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(board.width / 25.4, board.height / 25.4), facecolor=PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, board.width), ylim=(0.0, board.height))
    axes.axis("off")
    for order, mark in enumerate(board.marks):
        if isinstance(mark, Stroke):
            _stroke(axes, mark, order)
        elif isinstance(mark, Fill):
            _fill(axes, mark, order)
        else:
            _words(axes, mark, order)
    return figure


def _stroke(axes: Axes, mark: Stroke, order: int) -> None:
    from matplotlib.lines import Line2D

    x, y = zip(*mark.points, strict=True)
    width = mark.pen.width * MILLIMETRE
    line = Line2D(x, y, color=mark.pen.colour, linewidth=width, zorder=order, solid_joinstyle="round")
    if mark.pen.dash:
        line.set_linestyle((0.0, tuple(step / mark.pen.width for step in mark.pen.dash)))
    axes.add_line(line)


def _fill(axes: Axes, mark: Fill, order: int) -> None:
    from matplotlib.patches import Polygon

    look = {"edgecolor": mark.hatch, "hatch": "////"} if mark.hatch else {}
    axes.add_patch(Polygon(mark.points, closed=True, linewidth=0.0, zorder=order, facecolor=mark.colour, **look))


def _words(axes: Axes, mark: Lettering, order: int) -> None:
    behind = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6} if mark.halo else None
    axes.text(
        *mark.place, mark.text, fontsize=mark.height * MILLIMETRE / CAPITALS, color=mark.colour, rotation=mark.turn,
        ha={"start": "left", "middle": "center", "end": "right"}[mark.anchor], va="baseline",
        rotation_mode="anchor", weight="bold" if mark.bold else "normal", zorder=order, parse_math=False, bbox=behind,
    )  # fmt: skip

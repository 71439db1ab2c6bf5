"""Boards as pages of a PDF, true to scale.

What matplotlib writes PDF with is used directly, without its figures and artists: they take three times as long.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from viz.drawings.board import PAPER, Board, Fill, Lettering, Spot, Stroke
from viz.layout import Weight, text_width

if TYPE_CHECKING:
    from matplotlib.backend_bases import GraphicsContextBase
    from matplotlib.backends.backend_pdf import RendererPdf
    from matplotlib.font_manager import FontProperties

POINTS = 72.0
"""In an inch."""

MILLIMETRE = POINTS / 25.4
"""In points."""

CAPITALS = 0.729
"""Height of capitals over the size of the type that matplotlib brings."""

HIGHEST, LOWEST = 0.78, 0.24
"""How far letters reach above the baseline and below it, over the size of the type."""

HALO = 0.6
"""Paper left free around a text that lies over lines [points]."""

_SHARES = {"start": 0.0, "middle": 0.5, "end": 1.0}


def write_pdf(boards: Sequence[Board], path: Path, title: str) -> Path:
    """Write one page a board; the same boards give the same file.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfFile

    known = {"Title": title, "CreationDate": None, "Creator": "joistbay", "Producer": None}
    with rc_context({"hatch.linewidth": 0.35}):
        file = PdfFile(path, metadata=known)
        try:
            for board in boards:
                _page(file, board)
            file.finalize()
        finally:
            file.close()
    return path


def _page(file: object, board: Board) -> None:
    """A board as a page of its size."""
    from matplotlib.backends.backend_pdf import RendererPdf

    wide, high = board.width / 25.4, board.height / 25.4
    file.newPage(wide, high)  # type: ignore[attr-defined]
    renderer = RendererPdf(file, POINTS, high, wide)
    for mark in board.marks:
        if isinstance(mark, Stroke):
            _stroke(renderer, mark)
        elif isinstance(mark, Fill):
            _fill(renderer, mark.points, mark.colour, mark.hatch)
        else:
            _words(renderer, mark)
    renderer.finalize()


def _stroke(renderer: RendererPdf, mark: Stroke) -> None:
    look = renderer.new_gc()
    look.set_foreground(mark.pen.colour)
    look.set_linewidth(mark.pen.width * MILLIMETRE)
    look.set_joinstyle("round")
    look.set_capstyle("butt" if mark.pen.dash else "projecting")
    if mark.pen.dash:
        look.set_dashes(0.0, [step * MILLIMETRE for step in mark.pen.dash])
    _path(renderer, look, mark.points, closed=False)


def _fill(renderer: RendererPdf, points: Sequence[Spot], colour: str, hatch: str = "") -> None:
    look = renderer.new_gc()
    look.set_linewidth(0.0)
    if hatch:
        look.set_hatch("////")
        look.set_hatch_color(hatch)
    _path(renderer, look, points, closed=True, fill=colour)


def _path(
    renderer: RendererPdf, look: GraphicsContextBase, points: Sequence[Spot], *, closed: bool, fill: str = ""
) -> None:
    """Straight lines through points [mm]."""
    from matplotlib.colors import to_rgba
    from matplotlib.path import Path as Way
    from matplotlib.transforms import Affine2D

    corners = [*points, points[0]] if closed else list(points)
    renderer.draw_path(look, Way(corners, closed=closed), Affine2D().scale(MILLIMETRE), to_rgba(fill) if fill else None)


def _words(renderer: RendererPdf, mark: Lettering) -> None:
    """A line of text: turned about its start, middle or end on the baseline."""
    from math import cos, radians, sin

    size, weight = mark.height * MILLIMETRE / CAPITALS, "bold" if mark.bold else "normal"
    wide, high, below = POINTS * text_width(mark.text, size, weight), HIGHEST * size, LOWEST * size
    along = (cos(radians(mark.turn)), sin(radians(mark.turn)))
    x, y = (place * MILLIMETRE for place in mark.place)
    back = _SHARES[mark.anchor] * wide
    x, y = x - back * along[0], y - back * along[1]

    def at(ahead: float, up: float) -> Spot:
        """A place seen from the start of the text [points], in millimetres of the paper."""
        return (
            (x + ahead * along[0] - up * along[1]) / MILLIMETRE,
            (y + ahead * along[1] + up * along[0]) / MILLIMETRE,
        )

    if mark.halo:
        low, top, end = -below - HALO, high + HALO, wide + HALO
        _fill(renderer, (at(-HALO, low), at(end, low), at(end, top), at(-HALO, top)), PAPER)
    look = renderer.new_gc()
    look.set_foreground(mark.colour)
    renderer.draw_text(look, x, y, mark.text, _type(size, weight), mark.turn)


@lru_cache(maxsize=64)
def _type(size: float, weight: Weight) -> FontProperties:
    """The type of a size [points]."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(size=size, weight=weight)

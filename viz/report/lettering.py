"""A line of text on a sheet of paper, set at once.

Texts of matplotlib measure themselves, wrap and turn before they are set; a booklet has thousands that need none of
this, and takes half as long without.
"""

from __future__ import annotations

from functools import lru_cache

from matplotlib.artist import Artist
from matplotlib.backend_bases import RendererBase
from matplotlib.font_manager import FontProperties

from viz.layout import Weight, text_width

_SHARES = {"left": 0.0, "right": 1.0}


class SetLine(Artist):
    """A text at its baseline.

    Parameters
    ----------
    place : of its start, or of its end where it stands at the right of its column [in from the lower left].
    text : one line.
    size : of the type [pt].
    colour : as matplotlib takes them.
    look : "left" or "right", weight, and family of the type.
    """

    def __init__(
        self, place: tuple[float, float], text: str, size: float, colour: str, look: tuple[str, Weight, str]
    ) -> None:
        super().__init__()
        self.place, self.text, self.size, self._colour, self._look = place, text, size, colour, look

    def draw(self, renderer: RendererBase) -> None:
        """Set it."""
        side, weight, family = self._look
        pen = renderer.new_gc()
        pen.set_foreground(self._colour)
        x, y = self.place
        x -= _SHARES[side] * text_width(self.text, self.size, weight)
        dots = float(renderer.points_to_pixels(72.0))  # type: ignore[arg-type]
        high = renderer.get_canvas_width_height()[1]
        y = high - y * dots if renderer.flipy() else y * dots
        renderer.draw_text(pen, x * dots, y, self.text, _type(self.size, weight, family), 0.0, ismath=False)
        pen.restore()


@lru_cache(maxsize=64)
def _type(size: float, weight: Weight, family: str) -> FontProperties:
    """A type, found once."""
    return FontProperties(family=family, size=size, weight=weight)

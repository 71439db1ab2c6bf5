"""Sheets for the wall of a classroom: large letters, thick lines, 1600 × 900 pixels, so that the back row can read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from viz.layout import FAINT, INK, SOFT, Weight, text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT, DPI = 16.0, 9.0, 100
"""Size [in] and pixels per inch of a still picture."""

TITLE, TEXT, SMALL = 30.0, 22.0, 18.0
"""Sizes of letters [pt]: at 100 pixels an inch the smallest is 25 pixels high, a 36th of the picture."""

COLOURS = ("#c8402f", "#1f6fa8", "#3d7d3a", "#8a5a9e", "#b8860b")
"""Of cases, in their order; each also differs in its dash or its label."""
DASHES: tuple[Any, ...] = ("solid", (0, (6, 2)), (0, (2, 1.5)), "dashdot", (0, (8, 2, 2, 2)))


class LessonSheet:
    """A picture under construction; places are shares of its width and height."""

    def __init__(self, title: str, note: str = "") -> None:
        from matplotlib.figure import Figure

        self.figure: Figure = Figure(figsize=(WIDTH, HEIGHT), dpi=DPI, facecolor="white")
        size = fitted(title, WIDTH - 0.8, TITLE, "bold")
        self.figure.text(0.025, 0.925, title, fontsize=size, color=INK, weight="bold", parse_math=False)
        if note:
            size = fitted(note, WIDTH - 0.8, SMALL)
            self.figure.text(0.025, 0.875, note, fontsize=size, color=SOFT, parse_math=False)

    def axes(self, left: float, bottom: float, width: float, height: float, **options: Any) -> Axes:
        """Axes with large numbers and a light grid behind what is drawn."""
        axes = self.figure.add_axes((left, bottom, width, height), **options)
        axes.tick_params(colors=INK, labelsize=SMALL, length=6, width=1.4)
        for spine in axes.spines.values():
            spine.set(color=SOFT, linewidth=1.4)
        axes.grid(color=FAINT, linewidth=1.0)
        axes.set_axisbelow(True)
        return axes

    def text(self, left: float, bottom: float, text: str, size: float = SMALL, **style: Any) -> None:
        """Words at a place."""
        self.figure.text(left, bottom, text, fontsize=size, parse_math=False, **({"color": INK} | style))


def fitted(text: str, room: float, size: float, weight: Weight = "normal") -> float:
    """The size [pt], at most the wanted one, at which a text fits a width [in]."""
    return min(size, size * room / max(text_width(text, size, weight), 1e-9))


def name_axes(axes: Axes, across: str, up: str) -> None:
    """Large labels on both axes."""
    axes.set_xlabel(across, fontsize=TEXT, color=INK)
    axes.set_ylabel(up, fontsize=TEXT, color=INK)

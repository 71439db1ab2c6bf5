"""Sheets of paper for pictures: everything is placed in inches, text is measured before it is set.

Figures are made without any window system or global state (matplotlib's Agg canvas).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from sim.results.air_words import air_words
from sim.results.people import Units
from sim.results.spelling import kept_together
from viz.scales import Scale, temperature_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

    from viz.choice import Choice

INK = "#1d2327"
"""Colour of text and main lines."""
SOFT = "#69737a"
"""Colour of secondary text."""
FAINT = "#c9cfd3"
"""Colour of frames and guides."""

MARGIN = 0.35
TITLE_SIZE, TEXT_SIZE, SMALL_SIZE = 14.0, 10.0, 8.5
DPI = 110

Weight = Literal["normal", "bold"]

_KEPT = "\u00a0"
"""Stands for a space at which no line ends."""


class PictureSheet:
    """One sheet under construction: a matplotlib figure and the way to place things on it in inches.

    Parameters
    ----------
    width, height : float
        Size [in].
    """

    def __init__(self, width: float, height: float) -> None:
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self.figure: Figure = Figure(figsize=(width, height), dpi=DPI, facecolor="white")

    def axes(self, left: float, bottom: float, width: float, height: float, **options: Any) -> Axes:
        """Add axes at a place [in] from the lower left corner."""
        box = (left / self.width, bottom / self.height, width / self.width, height / self.height)
        axes = self.figure.add_axes(box, **options)
        axes.tick_params(colors=INK, labelsize=SMALL_SIZE, length=3, width=0.7)
        for spine in axes.spines.values():
            spine.set(color=SOFT, linewidth=0.7)
        return axes

    def text(self, left: float, bottom: float, text: str, size: float = TEXT_SIZE, **style: Any) -> None:
        """Write text at a place [in]."""
        style = {"color": INK, "ha": "left", "va": "baseline", "parse_math": False, **style}
        self.figure.text(left / self.width, bottom / self.height, text, fontsize=size, **style)

    def leader(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Draw a thin line from a part (with a dot on it) to its label; places in inches."""
        from matplotlib.lines import Line2D

        x, y = [start[0] / self.width, end[0] / self.width], [start[1] / self.height, end[1] / self.height]
        for colour, width, dot in (("white", 2.6, 5.5), (INK, 0.9, 3.0)):
            line = Line2D(x, y, color=colour, linewidth=width, marker="o", markersize=dot, markevery=[0])
            line.set_markeredgewidth(0)
            self.figure.add_artist(line)

    def head(self, title: str, note: str = "", finding: str = "") -> float:
        """Write what the picture shows, its title and a note, each wrapped; return the height left below them [in]."""
        top = self.height - MARGIN
        for text, size, look in _head_lines(title, note, finding):
            for line in wrap(text, self.width - 2 * MARGIN, size, look.get("weight", "normal")):
                top -= line_height(size)
                self.text(MARGIN, top + 0.004 * size, line, size, **look)
        return top - 0.12

    def foot(self, caption: str) -> None:
        """Write the caption at the lower left."""
        (line, *_) = wrap(caption, self.width - 2 * MARGIN, SMALL_SIZE, most=1) or [""]
        self.text(MARGIN, 0.16, line, SMALL_SIZE, color=SOFT)


def head_height(title: str, note: str, width: float, finding: str = "") -> float:
    """Return the height that `PictureSheet.head` takes, margin included [in]."""
    return MARGIN + 0.12 + sum(
        len(wrap(text, width - 2 * MARGIN, size, look.get("weight", "normal"))) * line_height(size)
        for text, size, look in _head_lines(title, note, finding)
    )


def _head_lines(title: str, note: str, finding: str) -> list[tuple[str, float, dict[str, Any]]]:
    """Texts of a head with their size and look: first what the picture shows, else its title, at large."""
    first, *more = [text for text in (finding, title) if text] or [""]
    large = [(first, TITLE_SIZE, {"weight": "bold"})]
    return [*large, *((text, TEXT_SIZE, {}) for text in more), (note, TEXT_SIZE, {"color": SOFT})]


def line_height(size: float) -> float:
    """Return the height of a line of text of a size [pt] in inches."""
    return size * 1.35 / 72.0


@lru_cache(maxsize=16384)
def text_width(text: str, size: float = TEXT_SIZE, weight: Weight = "normal") -> float:
    """Return the width of a text in inches: the sum of its letters, which set in pairs stand a little closer."""
    return size * sum(_advance(letter, weight) for letter in text)


@lru_cache(maxsize=4096)
def _advance(letter: str, weight: Weight) -> float:
    """Width of a letter in inches per point of its type; one that the type lacks may take a full square."""
    font = _sans(weight)
    if not font.get_char_index(ord(letter)):
        return 1.0 / 72.0
    return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536.0 / 7200.0


@lru_cache(maxsize=4)
def _sans(weight: Weight) -> Any:
    """The type that matplotlib sets, at 100 points: a copy of our own, as renderers change the size of theirs."""
    from matplotlib.font_manager import FontProperties, findfont
    from matplotlib.ft2font import FT2Font

    font = FT2Font(findfont(FontProperties(weight=weight)))
    font.set_size(100.0, 72.0)
    return font


_WORDS = re.compile(r"(?:\S|\u00a0)+")
"""What no line parts: a space that does not break is of its word."""


def whole_words(text: str) -> list[str]:
    """What of a text no line parts: words, and numbers with their units."""
    return [kept.replace(_KEPT, " ") for kept in _WORDS.findall(kept_together(text, _KEPT))]


def wrap(text: str, width: float, size: float, weight: Weight = "normal", most: int = 3) -> list[str]:
    """Break a text into lines that fit a width [in]; what is beyond `most` lines ends in an ellipsis.

    A number keeps its unit, as in 81.9 °F.
    """
    lines: list[str] = []
    for word in whole_words(text):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, weight) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return [_shorten(line, width, size, weight) for line in lines]


def colour_bar(
    sheet: PictureSheet,
    place: tuple[float, float, float, float],
    scale: Scale,
    label: str,
    colours: Colormap | None = None,
) -> Axes:
    """Draw an upright temperature scale; its label with the unit stands above it.

    Parameters
    ----------
    sheet : PictureSheet
        Where to draw.
    place : tuple
        Left, bottom, width, height [in] of the bar; ticks need about 0.5 in to its right.
    scale : Scale
        What the colours mean.
    label : str
        Name of the temperature; the unit is added.
    colours : Colormap, optional
        Default: those of all temperatures.

    Returns
    -------
    Axes
        Those of the bar, upright in the scale's units.
    """
    axes = sheet.axes(*place)
    ramp = np.linspace(scale.low, scale.high, 256)[:, None]
    extent = (0.0, 1.0, scale.low, scale.high)
    axes.imshow(
        ramp, origin="lower", aspect="auto", extent=extent, cmap=colours or temperature_colours(), norm=scale.norm
    )
    axes.set_xticks([])
    axes.yaxis.tick_right()
    axes.set_yticks(scale.ticks(), [f"{tick:.5g}" for tick in scale.ticks()])
    left, bottom, _, height = place
    sheet.text(left, bottom + height + 0.26, label, SMALL_SIZE)
    sheet.text(left, bottom + height + 0.09, scale.unit, SMALL_SIZE, weight="bold")
    return axes


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move label places apart so that neighbours keep a gap, in unchanged order, between low and high.

    Parameters
    ----------
    wanted : sequence of float
        Places that the labels would like, in any order.
    gap : float
        Least distance between two labels; reduced if the room is too small for all.
    low, high : float
        Ends of the room.

    Returns
    -------
    list of float
        Places in the order of `wanted`.
    """
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    gap = min(gap, (high - low) / max(1, len(wanted) - 1))
    places = [0.0] * len(wanted)
    level = low - gap
    for k in order:
        level = places[k] = max(wanted[k], level + gap)
    level = high + gap
    for k in reversed(order):
        level = places[k] = min(places[k], level - gap)
    return places


def display_length(metres: npt.ArrayLike, units: Units = "si") -> npt.NDArray[np.float64]:
    """Return lengths [m] in metres ("si") or inches ("ip")."""
    return np.asarray(metres, dtype=float) / (1.0 if units == "si" else 0.0254)


def length_unit(units: Units = "si") -> str:
    """Return the unit of `display_length`: m or in."""
    return "m" if units == "si" else "in"


SHORT = 1.5
"""Span [m] up to which the axes of a section are numbered in millimetres, as builders write them."""


def name_lengths(axes: Axes, across: str, upwards: str, units: Units = "si") -> None:
    """Name both axes of a section that is in `display_length`; a small one in SI is numbered in millimetres."""
    spans = [abs(end - start) for start, end in (axes.get_xlim(), axes.get_ylim())]
    unit = length_unit(units)
    if units == "si" and max(spans) <= SHORT:
        unit = "mm"
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(lambda place, _: f"{1e3 * place:.4g}".replace("-", "−"))
    axes.set_xlabel(f"{across}, {unit}", fontsize=SMALL_SIZE, color=INK)
    axes.set_ylabel(f"{upwards}, {unit}", fontsize=SMALL_SIZE, color=INK)


def caption_of(choices: Sequence[Choice], headline: str = "") -> str:
    """Return the caption of a picture: the cases that its headline does not name yet, their air, and the program."""
    cases = [case for case in dict.fromkeys(choice.case for choice in choices) if case and case not in headline]
    return " · ".join([*cases, *air_words([choice.report for choice in choices]), "joistbay"])


def headline_of(choice: Choice) -> str:
    """Return the headline of a picture of one run: case and choice."""
    return ": ".join(part for part in (choice.case, choice.name) if part)


def save_picture(figure: Figure, path: str | Path) -> Path:
    """Write a figure as a picture (the kind follows the ending: .png, .svg, .pdf); parents are made."""
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=DPI, facecolor="white")
    return path


def _shorten(line: str, width: float, size: float, weight: Weight) -> str:
    """Cut a line that does not fit and end it in an ellipsis."""
    if text_width(line, size, weight) <= width:
        return line
    fits, too_long = 0, len(line)
    while too_long - fits > 1:
        middle = (fits + too_long) // 2
        if text_width(line[:middle].rstrip() + "…", size, weight) <= width:
            fits = middle
        else:
            too_long = middle
    return line[:fits].rstrip() + "…"

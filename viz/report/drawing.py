"""Drawings of the page: marks in pixels, y downwards, written as SVG for the screen or drawn on paper.

Colours are names of the style sheet (`ink`, `soft`, `faint`, `tint`, `paper`, `warn`, …), so that a dark page has dark
drawings, or colours themselves, such as "#c2560f".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sim.results.people import Units
from viz.layout import text_width, wrap
from viz.report.png import data_address, palette_png
from viz.report.told import Told, same

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ON_PAPER = {
    "ink": "#1d2327", "soft": "#58626a", "faint": "#d5dade", "tint": "#f3f1ea", "paper": "#ffffff", "warn": "#9c3d00",
    "up": "#c2560f", "down": "#52657a", "edge": "#93a1ad", "water": "#a8264f", "good": "#2f6b3a",
}
"""What the names of colours mean on paper; the style sheet says it for the screen."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Path:
    """Straight lines through points, filled or not; of one unit system alone where `system` names it."""

    points: Sequence[Point]
    colour: str = "ink"
    width: float = 1.0
    dash: Sequence[float] = ()
    fill: str = "none"
    system: str = ""

    def svg(self) -> str:
        """As an SVG element."""
        way = " ".join(f"{'M' if k == 0 else 'L'}{x:.1f} {y:.1f}" for k, (x, y) in enumerate(self.points))
        closed = "Z" if self.fill != "none" else ""
        dash = f' stroke-dasharray="{" ".join(f"{d:g}" for d in self.dash)}"' if self.dash else ""
        edge = f'stroke="{css(self.colour)}" stroke-width="{self.width:g}"' if self.width else 'stroke="none"'
        own = f' class="{self.system}"' if self.system else ""
        return f'<path{own} d="{way}{closed}" fill="{css(self.fill)}" {edge} stroke-linejoin="round"{dash}/>'

    def draw(self, axes: Axes, units: Units, points: float) -> None:
        """On paper, where a pixel is so many points."""
        if self.system not in ("", units):
            return
        x, y = np.array(self.points, dtype=float).T
        if self.fill != "none":
            axes.fill(x, y, facecolor=ink(self.fill), linewidth=0.0)
        if self.width:
            style: Any = (0, tuple(d / max(self.width, 0.1) for d in self.dash)) if self.dash else "-"
            x, y = (np.append(v, v[0]) if self.fill != "none" else v for v in (x, y))
            axes.plot(x, y, color=ink(self.colour), linewidth=points * self.width, linestyle=style)


@dataclass(frozen=True, slots=True)
class Dot:
    """A disc, or a ring."""

    centre: Point
    radius: float
    fill: str = "ink"
    colour: str = "none"
    width: float = 1.0

    def svg(self) -> str:
        """As an SVG element."""
        edge = f' stroke="{css(self.colour)}" stroke-width="{self.width:g}"' if self.colour != "none" else ""
        x, y = self.centre
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{self.radius:.2f}" fill="{css(self.fill)}"{edge}/>'

    def draw(self, axes: Axes, units: Units, points: float) -> None:
        """On paper, where a pixel is so many points."""
        from matplotlib.patches import Circle

        edge = ink(self.colour) if self.colour != "none" else "none"
        look = {"facecolor": ink(self.fill), "edgecolor": edge, "linewidth": points * self.width}
        axes.add_patch(Circle(self.centre, self.radius, **look))


@dataclass(frozen=True, slots=True)
class TextMark:
    """A text at its baseline; `anchor` is start, middle or end; a halo keeps it legible on lines."""

    place: Point
    text: Told
    size: float = 12.0
    colour: str = "ink"
    anchor: str = "start"
    bold: bool = False
    halo: bool = False

    def svg(self) -> str:
        """As SVG elements: one, or one a unit system."""
        if self.text.si == self.text.ip:
            return self._element(self.text.si, "")
        each = (("si", self.text.si), ("ip", self.text.ip))
        return "".join(self._element(text, system) for system, text in each if text)

    def _element(self, text: str, system: str) -> str:
        look = ' font-weight="600"' if self.bold else ""
        look += f' class="{system}"' if system else ""
        look += ' stroke="var(--paper)" stroke-width="3.5" paint-order="stroke" stroke-linejoin="round"' * self.halo
        x, y = self.place
        return (
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{self.size:g}" fill="{css(self.colour)}" '
            f'text-anchor="{self.anchor}"{look}>{escape(text)}</text>'
        )

    def draw(self, axes: Axes, units: Units, points: float) -> None:
        """On paper, where a pixel is so many points."""
        side = {"start": "left", "middle": "center", "end": "right"}[self.anchor]
        look: dict[str, Any] = {"color": ink(self.colour), "ha": side, "va": "baseline", "parse_math": False}
        drawn = axes.text(
            *self.place,
            self.text.pick(units),
            fontsize=points * self.size,
            weight="bold" if self.bold else "normal",
            **look,
        )
        if self.halo:
            from matplotlib.patheffects import withStroke

            drawn.set_path_effects([withStroke(linewidth=2.5, foreground="white")])


@dataclass(frozen=True, slots=True)
class DotsMark:
    """A picture of coloured dots in a rectangle: numbers of colours (rows, columns), 255 lets the paper through."""

    corner: Point
    size: Point
    dots: npt.NDArray[np.uint8]
    colours: npt.NDArray[np.uint8]
    name: str = ""

    def svg(self) -> str:
        """As an SVG element."""
        named = f' class="{self.name}"' if self.name else ""
        (x, y), (wide, tall) = self.corner, self.size
        place = f'x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}" preserveAspectRatio="none"'
        return f'<image{named} {place} href="{data_address(palette_png(self.dots, self.colours, 255))}"/>'

    def draw(self, axes: Axes, units: Units, points: float) -> None:
        """On paper, where a pixel is so many points."""
        (x, y), (wide, tall) = self.corner, self.size
        clear = np.where(self.dots == 255, 0, 255).astype(np.uint8)
        picture = np.dstack([self.colours[self.dots], clear])
        axes.imshow(picture, extent=(x, x + wide, y + tall, y), aspect="auto", interpolation="nearest", zorder=0.5)


Mark = Path | Dot | TextMark | DotsMark


@dataclass(slots=True)
class Drawing:
    """A drawing under construction.

    Attributes
    ----------
    width, height : float [px]
    label : what it shows, for those who do not see it.
    """

    width: float
    height: float
    label: Told
    marks: list[Mark] = field(default_factory=list)

    def line(self, start: Point, end: Point, colour: str = "ink", *look: Any) -> None:
        """A straight line; `look` is its width and its dashes."""
        self.marks.append(Path((start, end), colour, *look))

    def path(self, points: Sequence[Point], colour: str = "ink", width: float = 1.0, **look: Any) -> None:
        """Straight lines through points."""
        self.marks.append(Path(points, colour, width, **look))

    def box(self, corner: Point, size: Point, fill: str = "none", colour: str = "ink", width: float = 1.0) -> None:
        """A rectangle from its upper left corner."""
        (x, y), (wide, tall) = corner, size
        points = [(x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)]
        self.marks.append(Path(points if fill != "none" else [*points, (x, y)], colour, width, (), fill))

    def dot(self, centre: Point, radius: float, fill: str = "ink", **look: Any) -> None:
        """A disc."""
        self.marks.append(Dot(centre, radius, fill, **look))

    def text(self, place: Point, text: Told | str, size: float = 12.0, colour: str = "ink", **look: Any) -> None:
        """A text at its baseline, pushed inwards where it would be cut off at the left or right."""
        words = same(text) if isinstance(text, str) else text
        wide = width_of(words, size, bold=bool(look.get("bold")))
        before = {"start": 0.0, "middle": 0.5, "end": 1.0}[look.get("anchor", "start")] * wide
        left = max(min(place[0] - before, self.width - wide), 0.0)
        self.marks.append(TextMark((left + before, place[1]), words, size, colour, **look))

    def cells(self, corner: Point, size: Point, dots: Any, colours: Any, name: str = "") -> None:
        """Coloured dots."""
        self.marks.append(DotsMark(corner, size, dots, colours, name))

    def arrow(self, tip: Point, ahead: Point, length: float, colour: str = "ink") -> None:
        """A filled arrow head; `ahead` is a unit vector."""
        (x, y), (dx, dy), half = tip, ahead, length / 3.0
        back = (x - length * dx, y - length * dy)
        corners = [tip, (back[0] - half * dy, back[1] + half * dx), (back[0] + half * dy, back[1] - half * dx)]
        self.path(corners, colour, 0.0, fill=colour)

    def svg(self) -> str:
        """The whole drawing as SVG."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:.0f} {self.height:.0f}" '
            f'width="{self.width:.0f}" role="img" aria-label="{escape(self.label.both, quote=True)}">'
            f"{''.join(mark.svg() for mark in self.marks)}</svg>"
        )

    def draw(self, axes: Axes, units: Units, points: float) -> None:
        """The whole drawing on axes that cover it; a pixel is so many points."""
        axes.set(xlim=(0.0, self.width), ylim=(self.height, 0.0))
        axes.set_axis_off()
        axes.set_autoscale_on(False)
        before = set(axes.get_children())
        for mark in self.marks:
            mark.draw(axes, units, points)
        for made in axes.get_children():
            if made not in before:
                made.set_zorder(2.0)  # all alike: later marks lie over earlier ones, as in SVG
        axes.set(xlim=(0.0, self.width), ylim=(self.height, 0.0))


def width_of(words: Told, size: float, *, bold: bool = False) -> float:
    """Width of a line of text, the wider of its two unit systems, in a type that is rather wide [px]."""
    return 72.0 * max(text_width(text, size, "bold" if bold else "normal") for text in (words.si, words.ip))


def fitting(words: Told, room: float, size: float) -> Told:
    """A line that fits into so many pixels; what is too long ends in an ellipsis."""
    return Told(*((wrap(text, room / 72.0, size, most=1) or [""])[0] for text in (words.si, words.ip)))


def css(colour: str) -> str:
    """A colour as the style sheet knows it."""
    return f"var(--{colour})" if colour in ON_PAPER else colour


def ink(colour: str) -> str:
    """A colour on paper."""
    return ON_PAPER.get(colour, colour)


def level_texts(levels: Sequence[float]) -> list[str]:
    """Round levels as texts that all have the decimals which one of them needs.

    >>> level_texts([78.0, 78.2, -0.4])
    ['78.0', '78.2', '−0.4']
    """
    needed = next((d for d in range(4) if all(abs(v - round(v, d)) < 1e-6 for v in levels)), 4)
    return [f"{value:.{needed}f}".replace("-", "−") for value in levels]

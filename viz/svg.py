"""Drawings as SVG text: a canvas in pixels, y downwards, and the few marks that the page needs."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

INK, SOFT, FAINT, PAPER = "#1d2327", "#58626a", "#d5dade", "#fffefb"
"""Colours of lines and texts."""

Point = tuple[float, float]


class Canvas:
    """A drawing under construction.

    Parameters
    ----------
    width, height : size [px].
    label : what the drawing shows, for those who do not see it.
    """

    def __init__(self, width: float, height: float, label: str) -> None:
        self.width, self.height, self.label = width, height, label
        self._parts: list[str] = []

    def add(self, part: str) -> None:
        """Put in any SVG element."""
        self._parts.append(part)

    def line(self, start: Point, end: Point, colour: str = INK, width: float = 1.0, dash: Sequence[float] = ()) -> None:
        """A straight line."""
        self.path([start, end], colour, width, dash)

    def path(
        self,
        points: Sequence[Point],
        colour: str = INK,
        width: float = 1.0,
        dash: Sequence[float] = (),
        aside: Point = (0.0, 0.0),
    ) -> None:
        """Straight lines through points, with round joints; moved aside as a whole."""
        way = " ".join(f"{'M' if k == 0 else 'L'}{x:.2f} {y:.2f}" for k, (x, y) in enumerate(points))
        dashed = f' stroke-dasharray="{" ".join(f"{step:g}" for step in dash)}"' if dash else ""
        moved = f' transform="translate({aside[0]:g} {aside[1]:g})"' if any(aside) else ""
        self.add(
            f'<path d="{way}" fill="none" stroke="{colour}" stroke-width="{width:g}" stroke-linejoin="round"'
            f' stroke-linecap="round"{dashed}{moved}/>'
        )

    def arrow(self, tip: Point, ahead: Point, length: float, colour: str) -> None:
        """A filled arrow head; `ahead` is a unit vector."""
        (x, y), (dx, dy), half = tip, ahead, length / 2.4
        back = (x - length * dx, y - length * dy)
        corners = [tip, (back[0] - half * dy, back[1] + half * dx), (back[0] + half * dy, back[1] - half * dx)]
        self.polygon(corners, colour)

    def polygon(self, corners: Sequence[Point], fill: str) -> None:
        """A filled area without an edge."""
        self.add(f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="{fill}"/>')

    def box(self, corner: Point, size: Point, fill: str = "none", colour: str = INK, width: float = 1.0) -> None:
        """A rectangle from its upper left corner."""
        edge = f' stroke="{colour}" stroke-width="{width:g}"' if width else ""
        self.add(
            f'<rect x="{corner[0]:.1f}" y="{corner[1]:.1f}" width="{max(size[0], 0):.1f}" '
            f'height="{max(size[1], 0):.1f}" fill="{fill}"{edge}/>'
        )

    def dot(self, centre: Point, radius: float, fill: str = INK, colour: str = "none") -> None:
        """A disc."""
        self.add(f'<circle cx="{centre[0]:.1f}" cy="{centre[1]:.1f}" r="{radius:g}" fill="{fill}" stroke="{colour}"/>')

    def text(
        self,
        place: Point,
        text: str,
        size: float = 12.0,
        colour: str = INK,
        anchor: str = "start",
        bold: bool = False,
        halo: bool = False,
    ) -> None:
        """A text at its baseline; `anchor` is start, middle or end; a halo of paper keeps it legible on lines."""
        weight = ' font-weight="600"' if bold else ""
        if halo:
            weight += f' stroke="{PAPER}" stroke-width="3" paint-order="stroke" stroke-linejoin="round"'
        self.add(
            f'<text x="{place[0]:.1f}" y="{place[1]:.1f}" font-size="{size:g}" fill="{colour}" '
            f'text-anchor="{anchor}"{weight}>{escape(text)}</text>'
        )

    def tag(self, centre: Point, text: str, colour: str, size: float = 11.0) -> None:
        """A small label on paper, framed in a colour."""
        wide, high = size * (0.6 * len(text) + 0.9), 1.64 * size
        self.add(
            f'<rect x="{centre[0] - wide / 2:.1f}" y="{centre[1] - high / 2:.1f}" width="{wide:.1f}" '
            f'height="{high:.1f}" rx="4" fill="{PAPER}" stroke="{colour}" stroke-width="1.6"/>'
        )
        self.text((centre[0], centre[1] + 0.36 * size), text, size, INK, "middle", bold=True)

    def markup(self) -> str:
        """The whole drawing."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:.0f} {self.height:.0f}" '
            f'width="{self.width:.0f}" role="img" aria-label="{escape(self.label, quote=True)}">'
            f"{''.join(self._parts)}</svg>"
        )

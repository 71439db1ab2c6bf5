"""Where metres of a storey's plan lie on the drawing of a page, and how large letters are there: desk, phone, paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from viz.svg import Point

MARGIN = 46.0
WIDTH, NARROW, PRINTED = 1030.0, 380.0, 690.0
"""Width of the drawing on a desk, on a phone, and on a sheet of A4 or letter between its margins [px, 1/96 in]."""

PRINTED_HEIGHT = 490.0
"""At most so high on paper, where it stands in its own size [px]: half a sheet, with its caption."""

PRINTED_LETTER = 11.0
"""No letter on paper is smaller [px]: 8.25 points."""

SMALL = 40.0
"""Below this scale [px/m] rooms are called by their short names and numbers are small."""

MOST_SCALE = 95.0
"""A small house is not drawn larger than this [px/m]."""

Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class DrawingFrame:
    """Where metres of the plan lie on the drawing: north, the high y, is up."""

    left: float
    top: float
    scale: float
    margin: float
    least: float = 0.0

    def letter(self, small: float, large: float) -> float:
        """Size of letters [px] on a plan of few pixels a metre and on another, or the least that paper wants."""
        return max(self.least, small if self.is_small else large)

    @property
    def is_small(self) -> bool:
        """Whether letters must be small."""
        return self.scale < SMALL

    @property
    def hatch(self) -> str:
        """Name of the pattern of what is in the way: its own in each size, since the others are always hidden."""
        return "hatch-paper" if self.least else "hatch" if self.margin == MARGIN else "hatch-phone"

    def at(self, x: float, y: float) -> Point:
        """A place of the plan [m] on the drawing [px]."""
        return self.margin + (x - self.left) * self.scale, self.margin + (self.top - y) * self.scale

    def box(self, x: Sequence[float], y: Sequence[float]) -> tuple[Point, Point]:
        """Upper left corner and size of a rectangle."""
        corner, opposite = self.at(x[0], y[1]), self.at(x[1], y[0])
        return corner, (opposite[0] - corner[0], opposite[1] - corner[1])


def plan_frame(record: Values, width: float) -> tuple[DrawingFrame, Point]:
    """Where metres lie on the drawing of any storey, and its size [px]."""
    x, y = (plan_span(record["storeys"], axis) for axis in "xy")
    margin = MARGIN if width > PRINTED else MARGIN / 2.0
    highest = PRINTED_HEIGHT if width == PRINTED else float("inf")
    scale = min(MOST_SCALE, (width - 2.0 * margin) / (x[1] - x[0]), (highest - 2.0 * margin) / (y[1] - y[0]))
    size = (x[1] - x[0]) * scale + 2.0 * margin, (y[1] - y[0]) * scale + 2.0 * margin
    return DrawingFrame(x[0], y[1], scale, margin, PRINTED_LETTER if width == PRINTED else 0.0), size


def plan_span(storeys: Sequence[Values], axis: str) -> tuple[float, float]:
    """From and to of all rooms and manifolds along an axis of the plan [m]."""
    key = f"{axis}_m"
    ends = [end for storey in storeys for room in storey["rooms"] for end in room[key]]
    ends += [manifold[key] for storey in storeys for manifold in storey["manifolds"]]
    return min(ends), max(ends)

"""What is drawn on a sheet: strokes, fills and words, in millimetres of paper from the lower left corner, y upwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import atan2, cos, degrees, dist, hypot, sin

Spot = tuple[float, float]

INK, SOFT, FAINT, PAPER = "#1d2327", "#58626a", "#b9c0c6", "#ffffff"

TEXT = 2.5
"""Height of capitals of the smallest type on a sheet [mm]: the least of ISO 3098 (from memory)."""

ADVANCE = 0.86
"""Mean width of a sign over the height of capitals, of the type that is used."""

TICK = 1.4
"""Half length of the slanted tick that ends a dimension line [mm]."""


@dataclass(frozen=True, slots=True)
class Pen:
    """Colour, width [mm] and dashes (drawn, left out, ... [mm]) of a line."""

    colour: str = INK
    width: float = 0.25
    dash: tuple[float, ...] = ()


THIN, NORMAL, THICK = Pen(SOFT, 0.18), Pen(INK, 0.25), Pen(INK, 0.7)


@dataclass(frozen=True, slots=True)
class Stroke:
    """Straight lines through points, on a layer."""

    points: tuple[Spot, ...]
    pen: Pen
    layer: str


@dataclass(frozen=True, slots=True)
class Fill:
    """A filled polygon; under slanted lines of `hatch` where that is a colour."""

    points: tuple[Spot, ...]
    colour: str
    layer: str
    hatch: str = ""


@dataclass(frozen=True, slots=True)
class Lettering:
    """A line of text: place of its start, middle or end on the baseline, height of capitals [mm], turn [degrees]."""

    place: Spot
    text: str
    height: float
    layer: str
    anchor: str = "start"
    turn: float = 0.0
    bold: bool = False
    colour: str = INK
    halo: bool = False


Mark = Stroke | Fill | Lettering


@dataclass(slots=True)
class Board:
    """A sheet under construction; what is put later lies on top."""

    width: float
    height: float
    layer: str = "sheet"
    marks: list[Mark] = field(default_factory=list)

    def line(self, points: Sequence[Spot], pen: Pen = NORMAL) -> None:
        """Straight lines through points."""
        self.marks.append(Stroke(tuple(points), pen, self.layer))

    def box(self, low: Spot, high: Spot, pen: Pen | None = NORMAL, fill: str = "", hatch: str = "") -> None:
        """A rectangle between two opposite corners."""
        corners = (low, (high[0], low[1]), high, (low[0], high[1]))
        if fill:
            self.marks.append(Fill(corners, fill, self.layer, hatch))
        if pen:
            self.line((*corners, low), pen)

    def disc(self, centre: Spot, radius: float, pen: Pen | None = NORMAL, fill: str = PAPER) -> None:
        """A disc, as a polygon of many corners."""
        turns = [6.283185307179586 * step / 24 for step in range(24)]
        corners = tuple((centre[0] + radius * cos(turn), centre[1] + radius * sin(turn)) for turn in turns)
        if fill:
            self.marks.append(Fill(corners, fill, self.layer))
        if pen:
            self.line((*corners, corners[0]), pen)

    def words(self, place: Spot, text: str, height: float = TEXT, **style: object) -> None:
        """A line of text; `style` as of `Lettering`."""
        self.marks.append(Lettering(place, text, height, self.layer, **style))  # type: ignore[arg-type]

    def arrow(self, tip: Spot, ahead: Spot, length: float, colour: str = INK) -> None:
        """A filled arrow head; `ahead` need not be of unit length."""
        size = hypot(*ahead)
        dx, dy = ahead[0] / size, ahead[1] / size
        back, half = (tip[0] - length * dx, tip[1] - length * dy), length / 3.0
        corners = (tip, (back[0] - half * dy, back[1] + half * dx), (back[0] + half * dy, back[1] - half * dx))
        self.marks.append(Fill(corners, colour, self.layer))

    def tag(self, centre: Spot, text: str, colour: str, height: float = TEXT) -> None:
        """A label framed in a colour."""
        wide, high = width_of(text, height) / 2.0 + 1.0, height / 2.0 + 0.9
        low, top = (centre[0] - wide, centre[1] - high), (centre[0] + wide, centre[1] + high)
        self.box(low, top, Pen(colour, 0.4), PAPER)
        self.words((centre[0], centre[1] - height / 2.0), text, height, anchor="middle", bold=True)

    def dimension(self, start: Spot, end: Spot, text: str, aside: float = 0.0, before: bool = False) -> None:
        """A dimension line moved aside (to the left of its way) by some millimetres, with lines to what it measures.

        A number too wide for its line stands behind its end, or `before` its start; beside an upright line.
        """
        length = dist(start, end)
        if not length:
            return
        first, last = self.dimension_line(start, end, aside)
        upright = abs(end[0] - start[0]) < 1e-6 * length
        if width_of(text) > length - 1.0 and upright:
            self._measure_beside(first, last, text, (start[1] - end[1]) * (aside or 1.0) < 0.0)
        else:
            self.number_on(first, last, text, before)

    def dimension_line(self, start: Spot, end: Spot, aside: float) -> tuple[Spot, Spot]:
        """A dimension line without its number: its ends."""
        length = dist(start, end)
        along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
        left = (-along[1], along[0])
        first, last = (_moved(point, left, aside) for point in (start, end))
        reach = aside + (1.2 if aside >= 0.0 else -1.2)
        for point in (start, end):
            self.line((_moved(point, left, 0.15 * aside), _moved(point, left, reach)), THIN)
        self.line((first, last), THIN)
        slant = ((along[0] + left[0]) * TICK / 1.41, (along[1] + left[1]) * TICK / 1.41)
        for x, y in (first, last):
            self.line(((x - slant[0], y - slant[1]), (x + slant[0], y + slant[1])), Pen(INK, 0.35))
        return first, last

    def _measure_beside(self, first: Spot, last: Spot, text: str, to_left: bool) -> None:
        """The number of a short upright line, level, on the side away from what it measures."""
        x, y = first[0] + (-2.0 if to_left else 2.0), (first[1] + last[1] - TEXT) / 2.0
        self.words((x, y), text, anchor="end" if to_left else "start", halo=True)

    def number_on(self, first: Spot, last: Spot, text: str, before: bool = False) -> None:
        """The number on a dimension line, read from below or from the right; beside the line where it is too short."""
        turn = degrees(atan2(last[1] - first[1], last[0] - first[0]))
        upright = (turn + 90.0) % 180.0 - 90.0 if abs(turn) != 90.0 else 90.0
        up = (-sin(upright * 0.017453292519943295), cos(upright * 0.017453292519943295))
        middle = ((first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0)
        place = _moved(middle, up, 0.8)
        if width_of(text) > dist(first, last) - 1.0 and upright == 0.0:
            away = 1.5 + width_of(text) / 2.0
            x = min(first[0], last[0]) - away if before else max(first[0], last[0]) + away
            place = (x, middle[1] - TEXT / 2.0)
        self.words(place, text, anchor="middle", turn=upright, halo=True)


def _moved(point: Spot, way: Spot, by: float) -> Spot:
    return point[0] + by * way[0], point[1] + by * way[1]


def width_of(text: str, height: float = TEXT) -> float:
    """About how wide a line of text is [mm]."""
    return ADVANCE * height * len(text)


def wrapped(text: str, width: float, height: float = TEXT) -> list[str]:
    """A text in lines no wider than so many millimetres; a word longer than that is cut."""
    from textwrap import wrap

    return wrap(text, max(1, int(width / (ADVANCE * height)))) or [""]

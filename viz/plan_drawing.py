"""The plan of a storey: rooms, joist bays with what is in their way, the tube of every circuit, the manifold.

A schematic for the site: lengths are to scale, runs of tube stand evenly in their bay, leaders go square.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from viz.scales import line_colours
from viz.svg import FAINT, INK, PAPER, SOFT, Canvas, Point

MARGIN = 46.0
WIDTH = 1030.0
"""Width of the drawing [px]."""

MOST_SCALE = 95.0
"""A small house is not drawn larger than this [px/m]."""

Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Sheet:
    """Where metres of the plan lie on the drawing: north, the high y, is up."""

    left: float
    top: float
    scale: float

    def at(self, x: float, y: float) -> Point:
        """A place of the plan [m] on the drawing [px]."""
        return MARGIN + (x - self.left) * self.scale, MARGIN + (self.top - y) * self.scale

    def box(self, x: Sequence[float], y: Sequence[float]) -> tuple[Point, Point]:
        """Upper left corner and size of a rectangle."""
        corner, opposite = self.at(x[0], y[1]), self.at(x[1], y[0])
        return corner, (opposite[0] - corner[0], opposite[1] - corner[1])


def draw_storey(record: Values, storey: Values, circuits: Sequence[Values], length: str) -> str:
    """One storey as SVG.

    Parameters
    ----------
    record : what house.json holds.
    storey : one of its storeys.
    circuits : lines of the circuit table, of all storeys; colours stay with a circuit whatever is drawn.
    length : the length of the scale bar in words, such as "2 m" or "6 ft".
    """
    rooms = [room for floor in record["storeys"] for room in floor["rooms"]]
    x, y = _extent(rooms, "x_m"), _extent(rooms, "y_m")
    scale = min(MOST_SCALE, (WIDTH - 2.0 * MARGIN) / (x[1] - x[0]))
    sheet = Sheet(x[0], y[1], scale)
    height = (y[1] - y[0]) * scale + 2.0 * MARGIN
    canvas = Canvas((x[1] - x[0]) * scale + 2.0 * MARGIN, height, f"Plan of the storey {storey['name']}")
    canvas.add(_HATCH)
    corner, size = sheet.box(x, y)
    canvas.box(corner, size, "none", FAINT, 1.5)
    bays = [bay for bay in record["bays"] if bay["storey"] == storey["name"]]
    for room in storey["rooms"]:
        canvas.box(*sheet.box(room["x_m"], room["y_m"]), "#ffffff", INK, 2.4)
    for bay in bays:
        _draw_bay(canvas, sheet, bay)
    _draw_circuits(canvas, sheet, circuits, bays, storey)
    for room in storey["rooms"]:
        _name_room(canvas, sheet, room)
    for manifold in storey["manifolds"]:
        _draw_manifold(canvas, sheet, manifold)
    _draw_scale(canvas, sheet, length, height)
    return canvas.markup()


_HATCH = (
    '<defs><pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="7" height="7" fill="#ece9e0"/><line x1="0" y1="0" x2="0" y2="7" stroke="{SOFT}" stroke-width="1.4"/>'
    "</pattern></defs>"
)


def _extent(rooms: Sequence[Values], key: str) -> tuple[float, float]:
    """From and to of all rooms [m]."""
    return min(room[key][0] for room in rooms), max(room[key][1] for room in rooms)


def _draw_bay(canvas: Canvas, sheet: Sheet, bay: Values) -> None:
    """Joists, what blocks the bay, and its number at the end away from the entry."""
    corner, size = sheet.box(bay["x_m"], bay["y_m"])
    canvas.box(corner, size, "none", FAINT, 1.0)
    for stretch in bay["blocked"]:
        x, y = _part(bay, stretch["from_m"], stretch["to_m"])
        canvas.box(*sheet.box(x, y), "url(#hatch)", FAINT, 0.6)
    along = bay["along"]
    ends = bay[f"{along}_m"]
    inside = 10.0 / sheet.scale
    far = ends[1] - inside if bay["entry"] == "low" else ends[0] + inside
    across = sum(bay["y_m" if along == "x" else "x_m"]) / 2.0
    place = sheet.at(far, across) if along == "x" else sheet.at(across, far)
    canvas.text((place[0], place[1] + 3.5), bay["name"].rpartition("-")[2], 9.5, SOFT, "middle")


def _part(bay: Values, start: float, end: float) -> tuple[list[float], list[float]]:
    """A stretch of a bay as a rectangle, between distances from its low end [m]."""
    if bay["along"] == "x":
        return [bay["x_m"][0] + start, bay["x_m"][0] + end], bay["y_m"]
    return bay["x_m"], [bay["y_m"][0] + start, bay["y_m"][0] + end]


def _draw_circuits(
    canvas: Canvas, sheet: Sheet, circuits: Sequence[Values], bays: Sequence[Values], storey: Values
) -> None:
    """The tube of each circuit on this storey: bays, then leaders, then names on top."""
    known = {bay["name"]: bay for bay in bays}
    manifolds = {manifold["name"]: manifold for manifold in storey["manifolds"]}
    styles = zip(circuits, line_colours(len(circuits)), strict=True)
    tags: list[tuple[Point, str, str]] = []
    for circuit, (colour, (_, dash)) in styles:
        passed = [known[name] for name in circuit["bays"].split() if name in known]
        if not passed:
            continue
        way = list(tube_way(passed))
        canvas.path([sheet.at(*place) for place in way], colour, 2.0)
        manifold = manifolds.get(circuit["manifold"])
        if manifold is not None:
            for end in (way[0], way[-1]):
                canvas.path([sheet.at(*place) for place in _leader(manifold, end)], colour, 1.3, dash or (5, 3))
        first, last = sheet.at(*way[0]), sheet.at(*way[-1])
        tags.append((((first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0), circuit["circuit"], colour))
    for place, name, colour in tags:
        canvas.tag(place, name, colour)


def tube_way(bays: Sequence[Values]) -> Iterator[Point]:
    """Corners of the tube through bays in the order of the water, (x, y) [m].

    Each run goes from the end where the tube is to the other one; runs stand evenly, in the direction in which the
    circuit moves on.
    """
    low_first = _across_middle(bays[-1]) >= _across_middle(bays[0])
    at_low = bays[0]["entry"] == "low"
    for bay in bays:
        along, across = bay["along"], "y" if bay["along"] == "x" else "x"
        (start, end), (side, other) = bay[f"{along}_m"], bay[f"{across}_m"]
        inside = min(0.12, 0.1 * (end - start))
        for run in range(bay["runs"]):
            share = (run + 0.5) / bay["runs"]
            place = side + (other - side) * (share if low_first else 1.0 - share)
            ends = (start + inside, end - inside) if at_low else (end - inside, start + inside)
            for position in ends:
                yield (position, place) if along == "x" else (place, position)
            at_low = not at_low


def _across_middle(bay: Values) -> float:
    """Middle of a bay across its tube [m]."""
    return float(sum(bay["y_m" if bay["along"] == "x" else "x_m"]) / 2.0)


def _leader(manifold: Values, end: Point) -> list[Point]:
    """Square from the manifold to an end of the tube."""
    start = (manifold["x_m"], manifold["y_m"])
    return [start, (end[0], start[1]), end]


def _name_room(canvas: Canvas, sheet: Sheet, room: Values) -> None:
    """The room's names on a strip of paper at its middle."""
    place = sheet.at(sum(room["x_m"]) / 2.0, sum(room["y_m"]) / 2.0)
    text = f"{room['name']}  {room['title']}".strip()
    wide = 7.4 * len(text) + 16.0
    canvas.add(
        f'<rect x="{place[0] - wide / 2:.1f}" y="{place[1] - 13:.1f}" width="{wide:.1f}" height="25" rx="3" '
        f'fill="{PAPER}" fill-opacity="0.94"/>'
    )
    canvas.text((place[0], place[1] + 4.5), text, 13.5, INK, "middle", bold=True)


def _draw_manifold(canvas: Canvas, sheet: Sheet, manifold: Values) -> None:
    """Two bars, side by side."""
    x, y = sheet.at(manifold["x_m"], manifold["y_m"])
    for shift in (-5.0, 1.0):
        canvas.box((x - 17.0, y + shift), (34.0, 4.0), INK, INK, 0.0)
    canvas.text((x, y - 9.0), f"manifold {manifold['name']}", 11.0, INK, "middle", bold=True)


def _draw_scale(canvas: Canvas, sheet: Sheet, length: str, height: float) -> None:
    """A bar of a known length, and which way is up."""
    number, unit = length.split()
    metres = float(number) * (1.0 if unit == "m" else 0.3048)
    start, y = MARGIN, height - 14.0
    end = start + metres * sheet.scale
    canvas.line((start, y), (end, y), INK, 1.6)
    for x in (start, end):
        canvas.line((x, y - 4.0), (x, y + 4.0), INK, 1.6)
    canvas.text((end + 8.0, y + 4.0), length, 11.5, SOFT)
    canvas.text((canvas.width - MARGIN, y + 4.0), "y upwards, x to the right", 11.5, SOFT, "end")

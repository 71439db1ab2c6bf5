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

NUMBERS = 0.26
"""Length of a bay that is kept free of tube for its number [m]."""

LEADER_DASH = (6.0, 3.0)

AT_THE_END = 0.06
"""A stretch so near to the end of a bay [m] begins or ends there."""

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
    x, y = (_extent(record["storeys"], axis) for axis in "xy")
    scale = min(MOST_SCALE, (WIDTH - 2.0 * MARGIN) / (x[1] - x[0]))
    sheet = Sheet(x[0], y[1], scale)
    height = (y[1] - y[0]) * scale + 2.0 * MARGIN
    canvas = Canvas((x[1] - x[0]) * scale + 2.0 * MARGIN, height, f"Plan of the storey {storey['name']}")
    canvas.add(_HATCH)
    rooms = [{"rooms": floor["rooms"], "manifolds": []} for floor in record["storeys"]]
    canvas.box(*sheet.box(_extent(rooms, "x"), _extent(rooms, "y")), "none", FAINT, 1.5)
    bays = [bay for bay in record["bays"] if bay["storey"] == storey["name"]]
    for room in storey["rooms"]:
        canvas.box(*sheet.box(room["x_m"], room["y_m"]), "#ffffff", INK, 0.0)
    for bay in bays:
        _draw_bay(canvas, sheet, bay)
    for room in storey["rooms"]:
        canvas.box(*sheet.box(room["x_m"], room["y_m"]), "none", INK, 2.4)
    _draw_circuits(canvas, sheet, circuits, bays, storey)
    for room in storey["rooms"]:
        _name_room(canvas, sheet, room, [bay for bay in bays if bay["room"] == room["name"]])
    for manifold in storey["manifolds"]:
        _draw_manifold(canvas, sheet, manifold)
    _draw_scale(canvas, sheet, length, height)
    return canvas.markup()


_HATCH = (
    '<defs><pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="7" height="7" fill="#ece9e0"/><line x1="0" y1="0" x2="0" y2="7" stroke="{SOFT}" stroke-width="1.4"/>'
    "</pattern></defs>"
)


def _extent(storeys: Sequence[Values], axis: str) -> tuple[float, float]:
    """From and to of all rooms and manifolds along an axis of the plan [m]."""
    key = f"{axis}_m"
    ends = [end for storey in storeys for room in storey["rooms"] for end in room[key]]
    ends += [manifold[key] for storey in storeys for manifold in storey["manifolds"]]
    return min(ends), max(ends)


def named(name: str, title: str) -> str:
    """A room's name with its title, once where both are one."""
    return name if title in ("", name) else f"{name}  {title}"


def _draw_bay(canvas: Canvas, sheet: Sheet, bay: Values) -> None:
    """Joists, what blocks the bay, and its number at the end away from the entry."""
    canvas.box(*sheet.box(bay["x_m"], bay["y_m"]), "none", FAINT, 1.0)
    for stretch in bay["blocked"]:
        x, y = _part(bay, stretch["from_m"], stretch["to_m"])
        canvas.box(*sheet.box(x, y), "url(#hatch)", FAINT, 0.6)
    along = bay["along"]
    ends = bay[f"{along}_m"]
    far = ends[1] - NUMBERS / 2.0 if bay["entry"] == "low" else ends[0] + NUMBERS / 2.0
    across = sum(bay["y_m" if along == "x" else "x_m"]) / 2.0
    place = sheet.at(far, across) if along == "x" else sheet.at(across, far)
    number = bay["name"].rpartition("-")[2]
    canvas.box((place[0] - 3.6 * len(number) - 2.0, place[1] - 6.5), (7.2 * len(number) + 4.0, 13.0), PAPER, PAPER, 0.0)
    canvas.text((place[0], place[1] + 3.8), number, 10.5, SOFT, "middle")


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
    styles = dict(zip((row["circuit"] for row in circuits), line_colours(len(circuits)), strict=True))
    here = [row for row in circuits if any(name in known for name in row["bays"].split())]
    tags: list[tuple[Point, str, str]] = []
    for number, circuit in enumerate(here):
        colour = styles[circuit["circuit"]][0]
        way = list(tube_way([known[name] for name in circuit["bays"].split()]))
        canvas.path([sheet.at(*place) for place in way], colour, 2.0)
        manifold = manifolds.get(circuit["manifold"])
        if manifold is not None:
            apart = 5.0 * (number - (len(here) - 1) / 2.0) / sheet.scale
            for end in (way[0], way[-1]):
                canvas.path([sheet.at(*place) for place in _leader(manifold, end, apart)], colour, 1.3, LEADER_DASH)
        tags.append((sheet.at(*way[0]), circuit["circuit"], colour))
    for place, name, colour in tags:
        canvas.tag(place, name, colour)


def tube_way(bays: Sequence[Values]) -> Iterator[Point]:
    """Corners of the tube through bays in the order of the water, (x, y) [m].

    Each run goes from the end where the tube is to the other one, as far as nothing blocks that end; runs stand
    evenly, in the direction in which the circuit moves on.
    """
    low_first = _across_middle(bays[-1]) >= _across_middle(bays[0])
    at_low = bays[0]["entry"] == "low"
    last: float | None = None
    for bay in bays:
        (side, other), ends = bay["y_m" if bay["along"] == "x" else "x_m"], tube_reach(bay)
        for run in range(bay["runs"]):
            share = (run + 0.5) / bay["runs"]
            across = side + (other - side) * (share if low_first else 1.0 - share)
            for position in ([last] if last is not None and run == 0 else []) + list(ends if at_low else ends[::-1]):
                yield (position, across) if bay["along"] == "x" else (across, position)
            at_low = not at_low
        last = ends[0] if at_low else ends[1]


def tube_reach(bay: Values) -> tuple[float, float]:
    """Where the tube turns at both ends of a bay, in the plan [m]: before what blocks an end, and off its number."""
    start, end = bay[f"{bay['along']}_m"]
    low, high = 0.0, end - start
    for stretch in sorted((s for s in bay["blocked"] if not s["passes"]), key=lambda stretch: stretch["from_m"]):
        low = stretch["to_m"] if stretch["from_m"] <= low + AT_THE_END else low
    for stretch in sorted((s for s in bay["blocked"] if not s["passes"]), key=lambda stretch: -stretch["to_m"]):
        high = stretch["from_m"] if stretch["to_m"] >= high - AT_THE_END else high
    near, far = 0.12, NUMBERS + 0.04
    first, second = (near, far) if bay["entry"] == "low" else (far, near)
    low, high = max(low + 0.06, first), min(high - 0.06, end - start - second)
    return start + low, start + max(low, high)


def _across_middle(bay: Values) -> float:
    """Middle of a bay across its tube [m]."""
    return float(sum(bay["y_m" if bay["along"] == "x" else "x_m"]) / 2.0)


def _leader(manifold: Values, end: Point, apart: float) -> list[Point]:
    """Square from the manifold to an end of the tube, `apart` from the others [m]."""
    start = (manifold["x_m"], manifold["y_m"] + apart)
    return [start, (end[0], start[1]), end]


def _name_room(canvas: Canvas, sheet: Sheet, room: Values, bays: Sequence[Values]) -> None:
    """The room's names on a strip of paper, where they cover nothing that is in the way of bays."""
    (low, high), middle = room["y_m"], sum(room["x_m"]) / 2.0
    heights = [low + (high - low) * share for share in (0.5, 0.58, 0.42, 0.66, 0.34, 0.74, 0.26)]
    place = sheet.at(middle, min(heights, key=lambda height: _covered(bays, middle, height)))
    text = named(room["name"], room["title"])
    wide = 7.4 * len(text) + 16.0
    canvas.add(
        f'<rect x="{place[0] - wide / 2:.1f}" y="{place[1] - 13:.1f}" width="{wide:.1f}" height="25" rx="3" '
        f'fill="{PAPER}" fill-opacity="0.94"/>'
    )
    canvas.text((place[0], place[1] + 4.5), text, 13.5, INK, "middle", bold=True)


def _covered(bays: Sequence[Values], middle: float, y: float) -> int:
    """How many blocked stretches a name at a place of the room would cover."""
    wide, deep = 1.1, 0.25
    parts = (_part(bay, stretch["from_m"], stretch["to_m"]) for bay in bays for stretch in bay["blocked"])
    return sum(x[0] < middle + wide and x[1] > middle - wide and v[0] < y + deep and v[1] > y - deep for x, v in parts)


def _draw_manifold(canvas: Canvas, sheet: Sheet, manifold: Values) -> None:
    """Two bars, side by side."""
    x, y = sheet.at(manifold["x_m"], manifold["y_m"])
    for shift in (-5.0, 1.0):
        canvas.box((x - 17.0, y + shift), (34.0, 4.0), INK, INK, 0.0)
    canvas.text((x, y - 14.0), f"manifold {manifold['name']}", 11.0, INK, "middle", bold=True)


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

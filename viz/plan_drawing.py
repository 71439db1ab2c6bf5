"""The plan of a storey: rooms, joist bays with what is in their way, the tube of every circuit, the manifold.

Tube is drawn to scale along the corners that its length is taken from; only leaders are moved aside as a whole, so that
those along one wall can be told apart.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import dist
from typing import Any

from sim.results.house_words import full_name
from viz.plan_frame import WIDTH, DrawingFrame, plan_frame, plan_span
from viz.plan_places import (
    Segment,
    aside_within,
    closed,
    cut,
    label_place,
    outer_corners,
    room_loops,
    tag_names,
    tag_places,
    widest_part,
)
from viz.scales import line_colours
from viz.svg import FAINT, INK, PAPER, SOFT, Canvas, Point

SHORT_NAME = 6
"""Names of so many letters stay whole on a plan, however narrow the room."""

NUMBERS = 0.24
"""A bay's number stands so far from its far end [m]."""

RETURN_DASH = (6.0, 3.0)

APART, SPREAD = 3.0, 42.0
"""Leaders of neighbouring circuits are moved aside by this much [px], those of many by less: so much in all."""

DIGIT = 0.68
"""Width of a digit by the size of its letters, with its share of a gap."""

EVERY = 5
"""On a phone the first bay of a room has its number, and every fifth."""

ARROW = 6.0
"""Length of an arrow head [px]."""

Values = Mapping[str, Any]


MOST_LINES = 3
"""A room's name that takes more lines stands without its title."""

NAMES_COUNT = 3
"""A name that would be covered counts as much as so many lines."""


def draw_storey(
    record: Values, storey: Values, circuits: Sequence[Values], length: str, width: float = WIDTH
) -> str:
    """One storey as SVG.

    Parameters
    ----------
    record : what house.json holds.
    storey : one of its storeys.
    circuits : lines of the circuit table, of all storeys; colours stay with a circuit whatever is drawn.
    length : the length of the scale bar in words, such as "2 m" or "6 ft".
    width : of the drawing [px].
    """
    sheet, (wide, height) = plan_frame(record, width)
    canvas = Canvas(wide, height, f"Plan of the storey {storey['name']}")
    canvas.add(_HATCH.replace("hatch", sheet.hatch))
    rooms = [{"rooms": floor["rooms"], "manifolds": []} for floor in record["storeys"]]
    canvas.box(*sheet.box(plan_span(rooms, "x"), plan_span(rooms, "y")), "none", FAINT, 1.5)
    bays = [bay for bay in record["bays"] if bay["storey"] == storey["name"]]
    for loop in _room_loops(sheet, storey):
        canvas.polygon(loop, "#ffffff")
    for bay in bays:
        _draw_bay(canvas, sheet, bay)
    for loop in _room_loops(sheet, storey):
        canvas.path(closed(loop), INK, 2.4)
    manifolds = [sheet.at(manifold["x_m"], manifold["y_m"]) for manifold in storey["manifolds"]]
    low, high = outer_corners(storey)
    walls = (sheet.at(*low), sheet.at(*high))
    kept_free = manifolds if sheet.is_small else [*manifolds, *(_number_place(sheet, bay) for bay in bays)]
    tags = _draw_circuits(canvas, sheet, circuits, {bay["name"] for bay in bays}, kept_free, walls)
    for bay in bays:
        _number_bay(canvas, sheet, bay, max(len(_number(other)) for other in bays if other["room"] == bay["room"]))
    for room in storey["rooms"]:
        _name_room(canvas, sheet, room, [bay for bay in bays if bay["room"] == room["name"]])
    lines = [*_walls_and_leaders(sheet, storey, circuits), *tags * NAMES_COUNT]
    for manifold in storey["manifolds"]:
        _draw_manifold(canvas, sheet, manifold, lines)
    _draw_scale(canvas, sheet, length, height, record.get("house", {}).get("north_degrees"))
    return canvas.markup()


def _room_loops(sheet: DrawingFrame, storey: Values) -> list[list[Point]]:
    """Corners of the floors of a storey's rooms on the drawing."""
    return [[sheet.at(*corner) for corner in loop] for room in storey["rooms"] for loop in room_loops(room)]


def room_places(record: Values, storey: Values) -> list[dict[str, Any]]:
    """Where each room of a storey lies on `draw_storey`'s drawing: left, top, width, height in percent of its sides.

    `under` is the middle of the lower edge of the room's name. A room that is no rectangle has its corners in `shape`,
    in percent of its own sides, as a style sheet clips it.
    """
    sheet, (wide, high) = plan_frame(record, WIDTH)
    places = []
    for room in storey["rooms"]:
        corner, size = sheet.box(room["x_m"], room["y_m"])
        _, x, top, tall = _name_strip(sheet, room, [bay for bay in record["bays"] if bay["room"] == room["name"]])
        at = _percent(corner[0] / wide, corner[1] / high, size[0] / wide, size[1] / high)
        under = _percent(x / wide, (top + tall) / high)
        places.append({"name": room["name"], "title": room["title"], "at": at, "under": under} | _shape(sheet, room))
    return places


def _shape(sheet: DrawingFrame, room: Values) -> dict[str, str]:
    """The corners of a floor of one outline that is no rectangle, within its own sides."""
    loops = room_loops(room)
    if len(loops) != 1 or len(loops[0]) == 4:
        return {}
    (left, top), (wide, high) = sheet.box(room["x_m"], room["y_m"])
    corners = (sheet.at(*corner) for corner in loops[0])
    told = (f"{100.0 * (x - left) / wide:.2f}% {100.0 * (y - top) / high:.2f}%" for x, y in corners)
    return {"shape": f"polygon({', '.join(told)})"}


def _percent(*shares: float) -> list[float]:
    return [round(100.0 * share, 3) for share in shares]


_HATCH = (
    '<defs><pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="7" height="7" fill="#ece9e0"/><line x1="0" y1="0" x2="0" y2="7" stroke="{SOFT}" stroke-width="1.4"/>'
    "</pattern></defs>"
)


def named(name: str, title: str) -> str:
    """A room's name with its title; the title alone where it says the name already."""
    return full_name(name, title, "  ")


def _draw_bay(canvas: Canvas, sheet: DrawingFrame, bay: Values) -> None:
    """Joists as they run, also where tube passes them, and what is in the way."""
    for start, end in joist_lines(bay):
        canvas.line(sheet.at(*start), sheet.at(*end), FAINT, 1.0)
    for stretch in bay["blocked"]:
        x, y = bay_part(bay, stretch["from_m"], stretch["to_m"])
        canvas.box(*sheet.box(x, y), f"url(#{sheet.hatch})", FAINT, 0.6)


def joist_lines(bay: Values) -> list[tuple[Point, Point]]:
    """Middles of the joists of a bay in the plan [m]: along its two sides, or across a strip that passes them."""
    across, along = ("y", "x") if bay["along"] == "x" else ("x", "y")
    (low, high), ends = bay[f"{across}_m"], bay[f"{along}_m"]
    if not bay.get("joists"):
        lines = [((ends[0], side), (ends[1], side)) for side in (low, high)]
    else:
        step = (ends[1] - ends[0]) / (bay["joists"] + 1)
        places = [ends[0] + step * number for number in range(bay["joists"] + 2)]
        lines = [((place, low), (place, high)) for place in places]
    return lines if along == "x" else [((v, u), (w, t)) for (u, v), (t, w) in lines]


def _number(bay: Values) -> str:
    """The end of a bay's name, that of its group included."""
    return str(bay["name"].rpartition("-")[2])


def _number_bay(canvas: Canvas, sheet: DrawingFrame, bay: Values, letters: int) -> None:
    """The bay's number at the end away from the entry, between its runs; the longest of its room has so many letters.

    Where that is wider than a bay, and on small plans, one of every fifth bay has its number.
    """
    place, number = _number_place(sheet, bay), _number(bay)
    fitting = sheet.scale * (bay["x_m"][1] - bay["x_m"][0]) / (DIGIT * letters)
    size = max(min(sheet.letter(10.0, 15.0), fitting), sheet.letter(10.0, 10.0))
    if (sheet.is_small or size > fitting) and _is_between(number):
        return
    canvas.text((place[0], place[1] + 0.35 * size), number, size, INK, "middle", halo=True)


def _is_between(number: str) -> bool:
    """Whether a bay is neither the first of its group nor one of every fifth; of a group with a name too."""
    count = re.search(r"\d+$", number)
    return count is not None and int(count[0]) > 1 and int(count[0]) % EVERY > 0


def _number_place(sheet: DrawingFrame, bay: Values) -> Point:
    """The middle of a bay's number."""
    along = bay["along"]
    ends = bay[f"{along}_m"]
    far = ends[1] - NUMBERS if bay["entry"] == "low" else ends[0] + NUMBERS
    across = sum(bay["y_m" if along == "x" else "x_m"]) / 2.0
    return sheet.at(far, across) if along == "x" else sheet.at(across, far)


def bay_part(bay: Values, start: float, end: float) -> tuple[list[float], list[float]]:
    """A stretch of a bay as a rectangle, between distances from its low end [m]."""
    if bay["along"] == "x":
        return [bay["x_m"][0] + start, bay["x_m"][0] + end], bay["y_m"]
    return bay["x_m"], [bay["y_m"][0] + start, bay["y_m"][0] + end]


def _draw_circuits(
    canvas: Canvas, sheet: DrawingFrame, circuits: Sequence[Values], bays: set[str], kept_free: Sequence[Point],
    walls: Segment,
) -> list[Segment]:  # fmt: skip
    """The tube of each circuit on this storey: bays, leaders, arrows with the flow, then names where they hide nothing.

    `walls` are two opposite corners round all rooms of the storey. Returns the diagonals of the names' boxes.
    """
    styles = dict(zip((row["circuit"] for row in circuits), line_colours(len(circuits)), strict=True))
    here = [row for row in circuits if row["way_m"] and bays.intersection(row["bays"].split())]
    for number, circuit in enumerate(here):
        colour, way = styles[circuit["circuit"]][0], circuit["way_m"]
        by = min(APART, SPREAD / len(here)) * (number - (len(here) - 1) / 2.0)
        for part, wide, dash in (("out", 1.4, ()), ("back", 1.4, RETURN_DASH)):
            spots = _places(sheet, way[part])
            canvas.path(spots, colour, wide, dash, aside=aside_within(spots, by, walls))
        inside = _places(sheet, way["bays"])
        canvas.path(inside, colour, 1.2 if sheet.is_small else 2.0)
        _draw_arrows(canvas, inside, colour)
    type_ = sheet.letter(8.5, 11.0)
    names = tag_names([circuit["circuit"] for circuit in here])
    longest = max(map(len, names.values()), default=0)
    space = (type_ * max(4.0, 0.6 * longest + 0.9), 1.8 * type_)
    tags = tag_places([_places(sheet, circuit["way_m"]["bays"]) for circuit in here], space, kept_free)
    tags = [(min(max(x, space[0] / 2.0 + 1.0), canvas.width - space[0] / 2.0 - 1.0), y) for x, y in tags]
    for circuit, place in zip(here, tags, strict=True):
        canvas.tag(place, names[circuit["circuit"]], styles[circuit["circuit"]][0], type_)
    half = (space[0] / 2.0, space[1] / 2.0)
    return [((x - half[0], y - half[1]), (x + half[0], y + half[1])) for x, y in tags]


def _places(sheet: DrawingFrame, points: Sequence[Sequence[float]]) -> list[Point]:
    """Corners of the plan on the drawing; those above one another coincide."""
    return [sheet.at(*point[:2]) for point in points]


def _draw_arrows(canvas: Canvas, places: Sequence[Point], colour: str) -> None:
    """An arrow head with the flow at a third of every long straight."""
    for start, end in pairwise(places):
        if (length := dist(start, end)) > 8.0 * ARROW:
            ahead = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
            tip = (start[0] + (end[0] - start[0]) / 3.0, start[1] + (end[1] - start[1]) / 3.0)
            canvas.arrow(tip, ahead, ARROW, colour)


def _name_room(canvas: Canvas, sheet: DrawingFrame, room: Values, bays: Sequence[Values]) -> None:
    """The room's names on a strip of paper, off the numbers of bays and what is in their way."""
    lines, x, top, high = _name_strip(sheet, room, bays)
    wide = 7.4 * max(map(len, lines)) + 16.0
    canvas.add(
        f'<rect x="{x - wide / 2:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{high:.0f}" rx="3" '
        f'fill="{PAPER}" fill-opacity="0.94"/>'
    )
    for place, line in enumerate(lines):
        canvas.text((x, top + 17.5 + 16.0 * place), line, 13.5, INK, "middle", bold=True)


def _name_strip(sheet: DrawingFrame, room: Values, bays: Sequence[Values]) -> tuple[list[str], float, float, float]:
    """Lines of a room's name; middle, top and height of the strip of paper under them [px]."""
    room = widest_part(room, bays)
    left, right = _beside_numbers(sheet, room, bays)
    y = sheet.at(0.0, name_height(room, bays))[1]
    lines = _name_lines(room, right - left - 16.0, sheet.is_small and not sheet.least)
    return lines, (left + right) / 2.0, y - 13.0 - 8.0 * (len(lines) - 1), 25.0 + 16.0 * (len(lines) - 1)


def _beside_numbers(sheet: DrawingFrame, room: Values, bays: Sequence[Values]) -> tuple[float, float]:
    """From and to of a room on the drawing [px], without the column of numbers of bays that run across it."""
    left, right = (sheet.at(x, 0.0)[0] for x in room["x_m"])
    column = 2.0 * sheet.scale * NUMBERS
    for bay in bays:
        if bay["along"] == "x" and bay["entry"] == "low":
            right = min(right, sheet.at(bay["x_m"][1], 0.0)[0] - column)
        elif bay["along"] == "x":
            left = max(left, sheet.at(bay["x_m"][0], 0.0)[0] + column)
    return left, right


def _name_lines(room: Values, wide: float, small: bool) -> list[str]:
    """A room's name and title in lines of a width [px]; the name alone where that takes too many, or letters are few.

    A long name that is wider loses its middle.
    """
    letters = max(SHORT_NAME, int(wide / 7.4))
    for words in [room["name"]] if small else [named(room["name"], room["title"]), room["name"]]:
        lines = textwrap.wrap(words, letters, break_long_words=False)
        if len(lines) <= MOST_LINES and max(map(len, lines)) <= letters:
            return lines
    return [cut(room["name"], letters)]


def name_height(room: Values, bays: Sequence[Values]) -> float:
    """Where a room's name covers least of what is in the way of its bays, the middle before others: y [m]."""
    (low, high), middle = room["y_m"], sum(room["x_m"]) / 2.0
    heights = [low + (high - low) * share for share in (0.5, 0.58, 0.42, 0.66, 0.34, 0.74, 0.26)]
    return min(heights, key=lambda height: _covered(bays, middle, height))


def _covered(bays: Sequence[Values], middle: float, y: float) -> int:
    """How many blocked stretches a name at a place of the room would cover."""
    wide, deep = 1.1, 0.25
    parts = (bay_part(bay, stretch["from_m"], stretch["to_m"]) for bay in bays for stretch in bay["blocked"])
    return sum(x[0] < middle + wide and x[1] > middle - wide and v[0] < y + deep and v[1] > y - deep for x, v in parts)


def _walls_and_leaders(sheet: DrawingFrame, storey: Values, circuits: Sequence[Values]) -> list[Segment]:
    """Lines that the name of a manifold should not cross."""
    lines: list[Segment] = []
    for loop in _room_loops(sheet, storey):
        lines += pairwise(closed(loop))
    names = {room["name"] for room in storey["rooms"]}
    for circuit in circuits:
        if circuit["way_m"] and circuit["room"] in names:
            for part in ("out", "back"):
                lines += pairwise(_places(sheet, circuit["way_m"][part]))
    return lines


def _draw_manifold(canvas: Canvas, sheet: DrawingFrame, manifold: Values, lines: Sequence[Segment]) -> None:
    """Two bars, side by side, and the name where it crosses least."""
    x, y = sheet.at(manifold["x_m"], manifold["y_m"])
    half = 9.0 if sheet.is_small else 17.0
    for shift in (-5.0, 1.0):
        canvas.box((x - half, y + shift), (2.0 * half, 4.0), INK, INK, 0.0)
    words = manifold["name"] if sheet.is_small else f"manifold {manifold['name']}"
    size = sheet.letter(10.0, 11.0)
    wide, above = 0.62 * size * len(words), 12.0 if sheet.is_small else 18.0
    beside = half + wide / 2.0 + 5.0
    levels = (-above, above, -2.0 * above, 2.0 * above)
    wanted = [(x + aside, y + up) for up in levels for aside in (0.0, -beside, beside)]
    wanted += [(x - beside, y), (x + beside, y)]
    middle = label_place((wide, size + 4.0), wanted, lines, (canvas.width, canvas.height))
    canvas.text((middle[0], middle[1] + 4.0), words, size, INK, "middle", bold=True, halo=True)


def _draw_scale(canvas: Canvas, sheet: DrawingFrame, length: str, height: float, north: float | None) -> None:
    """A bar of a known length, and which way is up, or north where the house says it."""
    number, unit = length.split()
    metres = float(number) * (1.0 if unit == "m" else 0.3048)
    start, y = sheet.margin, height - (8.0 if sheet.is_small else 14.0)
    end = start + metres * sheet.scale
    canvas.line((start, y), (end, y), INK, 1.6)
    for x in (start, end):
        canvas.line((x, y - 4.0), (x, y + 4.0), INK, 1.6)
    canvas.text((end + 8.0, y + 4.0), length, 11.5, SOFT)
    told = "y upwards, x to the right" if north is None else f"north {north:.0f}° clockwise from upwards"
    canvas.text((canvas.width - sheet.margin, y + 4.0), told, 11.5, SOFT, "end")

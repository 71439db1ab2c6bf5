"""The sheet of a storey: rooms, joists, what is in the way, the tube of every circuit, measures, and a key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import cos, dist, radians, sin
from typing import Any

from viz.drawings.board import FAINT, INK, NORMAL, PAPER, SOFT, TEXT, THICK, THIN, Board, Pen, Spot, width_of, wrapped
from viz.drawings.frame import drawing_space
from viz.drawings.free_place import free_place
from viz.drawings.measures import draw_measures, plan_extent
from viz.drawings.paper import SCALES, PaperView, centred, fitting_scale
from viz.drawings.plan_key import PlanKey, draw_key
from viz.page_parts import PageReader
from viz.plan_drawing import MOST_LINES, bay_part, joist_lines, name_height, named
from viz.plan_places import aside_within, closed, outer_corners, room_loops, tag_names, tag_places, widest_part
from viz.scales import line_colours

Values = Mapping[str, Any]

AROUND = 27.0
"""Space for measures around a plan [mm]."""

BELOW = 9.0
"""Space for the scale bar below them [mm]."""

DASHES: tuple[tuple[float, ...], ...] = ((), (5.0, 1.2), (2.0, 1.0), (6.0, 1.2, 1.0, 1.2), (1.0, 0.8))
"""Circuits differ by these too, so that a copy in grey tells them apart."""

BACK = (1.2, 1.0)
"""Dashes of a leader back to the manifold."""

APART, SPREAD = 1.1, 15.0
"""Leaders of neighbouring circuits are moved aside by this much [mm], those of many by less: so much in all."""

TAG = (12.0, 4.8)
"""Space for a circuit's name, across at the least and up [mm]."""


def plan_scale(board: Board, storey: Values, units: Any) -> int:
    """The scale at which a storey fits its sheet."""
    low, high = plan_extent(storey)
    _, room = drawing_space(board)
    size = (high[0] - low[0], high[1] - low[1])
    return fitting_scale(size, (room[0] - 2.0 * AROUND, room[1] - 2.0 * AROUND - BELOW), units)


def draw_storey_sheet(board: Board, record: Values, storey: Values, layout: Values, reader: PageReader) -> None:
    """Fill a framed sheet with the plan of a storey and its key."""
    low, high = plan_extent(storey)
    corner, room = drawing_space(board)
    free = (corner[0], corner[1] + BELOW), (room[0], room[1] - BELOW)
    view = centred(low, high, *free, plan_scale(board, storey, reader.units))
    key = storey_key(record, storey, layout, reader)
    bays, obstacles = key.bays, key.obstacles
    crowded = draw_measures(board, view, storey, bays, reader)  # first: a manifold's name keeps off them
    draw_plan(board, view, storey, bays, layout["circuits"], obstacles)
    _draw_scale_bar(board, view, corner, reader)
    _draw_north(board, (corner[0] + room[0] - 14.0, corner[1] + 14.0), record["house"].get("north_degrees"))
    lists = {"Rooms": untitled(view, storey, bays), "Measures too close to be written, in order": crowded}
    draw_key(board, key, lists, storey["name"])


def storey_key(record: Values, storey: Values, layout: Values, reader: PageReader) -> PlanKey:
    """What the key of a storey's plan tells."""
    bays = [bay for bay in record["bays"] if bay["storey"] == storey["name"]]
    return PlanKey(layout, bays, obstacle_letters(bays), circuit_pens(layout["circuits"]), reader)


def draw_plan(
    board: Board, view: PaperView, storey: Values, bays: Sequence[Values], circuits: Sequence[Values],
    obstacles: Mapping[str, str],
) -> None:  # fmt: skip
    """Rooms, joists, obstacles, tube and numbers of a storey, each on a layer of its own."""
    board.layer = "joists"
    for bay in bays:
        for start, end in joist_lines(bay):
            board.line((view.at(*start), view.at(*end)), Pen(FAINT, 0.18))
    board.layer = "obstacles"
    for bay in bays:
        _draw_blocked(board, view, bay, obstacles)
    board.layer = "rooms"
    draw_rooms(board, view, storey, THICK)
    low, high = outer_corners(storey)
    _draw_tube(board, view, bays, circuits, (view.at(*low), view.at(*high)))
    board.layer = "numbers"
    for bay in bays:
        _number_bay(board, view, bay)
    for room in storey["rooms"]:
        _name_room(board, view, room, [bay for bay in bays if bay["room"] == room["name"]])
    _draw_manifolds(board, view, storey, circuits)
    _tag_circuits(board, view, storey, bays, circuits)
    _name_manifolds(board, view, storey, circuits)
    board.layer = "sheet"


def draw_rooms(board: Board, view: PaperView, storey: Values, pen: Pen) -> None:
    """The floor of every room of a storey, round its corners."""
    for loop in (loop for room in storey["rooms"] for loop in room_loops(room)):
        board.line([view.at(*corner) for corner in closed(loop)], pen)


def obstacle_letters(bays: Sequence[Values]) -> dict[str, str]:
    """A letter for every kind of thing that is in the way of some bays."""
    whys = list(dict.fromkeys(stretch["why"] for bay in bays for stretch in bay["blocked"]))
    return {why: chr(ord("a") + place % 26) * (1 + place // 26) for place, why in enumerate(whys)}


def circuit_pens(circuits: Sequence[Values]) -> dict[str, Pen]:
    """Colour and dashes of every circuit, the same on all sheets."""
    colours = line_colours(len(circuits))
    return {
        row["circuit"]: Pen(colours[place][0], 0.5, DASHES[place % len(DASHES)]) for place, row in enumerate(circuits)
    }


def _corners(view: PaperView, room: Values) -> tuple[Spot, Spot]:
    return view.at(room["x_m"][0], room["y_m"][0]), view.at(room["x_m"][1], room["y_m"][1])


def _draw_blocked(board: Board, view: PaperView, bay: Values, obstacles: Mapping[str, str]) -> None:
    """What is in the way of a bay, hatched, with the letter that the key explains."""
    for stretch in bay["blocked"]:
        x, y = bay_part(bay, stretch["from_m"], stretch["to_m"])
        low, high = view.at(x[0], y[0]), view.at(x[1], y[1])
        board.box(low, high, THIN, PAPER, SOFT)
        middle = ((low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0 - TEXT / 2.0)
        board.words(middle, obstacles[stretch["why"]], anchor="middle", halo=True, bold=True)


def _draw_tube(
    board: Board, view: PaperView, bays: Sequence[Values], circuits: Sequence[Values], walls: tuple[Spot, Spot]
) -> None:
    """The tube of each circuit here: leaders aside of each other within the outer walls, bays, arrows."""
    pens, known = circuit_pens(circuits), {bay["name"] for bay in bays}
    here = [row for row in circuits if row["way_m"] and known.intersection(row["bays"].split())]
    board.layer = "tube"
    for number, circuit in enumerate(here):
        pen, way = pens[circuit["circuit"]], circuit["way_m"]
        by = min(APART, SPREAD / len(here)) * (number - (len(here) - 1) / 2.0)
        for part, dash in (("out", ()), ("back", BACK)):
            spots = _spots(view, way[part])
            across, up = aside_within(spots, by, walls)
            spots = [(x + across, y + up) for x, y in spots]
            board.line(spots, Pen(pen.colour, 0.35, dash))
            _draw_arrows(board, spots, pen.colour, 12.0)
        inside = _spots(view, way["bays"])
        board.line(inside, pen)
        _draw_arrows(board, inside, pen.colour, 16.0)


def _tag_circuits(
    board: Board, view: PaperView, storey: Values, bays: Sequence[Values], circuits: Sequence[Values]
) -> None:
    """The name of every circuit where its tube enters the first bay, off manifolds and the numbers of bays."""
    pens, known = circuit_pens(circuits), {bay["name"] for bay in bays}
    here = [row for row in circuits if row["way_m"] and known.intersection(row["bays"].split())]
    kept_free = [view.at(manifold["x_m"], manifold["y_m"]) for manifold in storey["manifolds"]]
    kept_free += [_number_place(view, bay) for bay in bays]
    names = tag_names([circuit["circuit"] for circuit in here])
    wide = max((width_of(name) + 2.5 for name in names.values()), default=0.0)
    space = (max(TAG[0], wide), TAG[1])
    places = tag_places([_spots(view, circuit["way_m"]["bays"]) for circuit in here], space, kept_free)
    for circuit, place in zip(here, places, strict=True):
        board.tag(place, names[circuit["circuit"]], pens[circuit["circuit"]].colour)


def _spots(view: PaperView, points: Sequence[Sequence[float]]) -> list[Spot]:
    """Corners of a way on the paper; those above one another once."""
    spots = [view.at(point[0], point[1]) for point in points]
    return [spot for place, spot in enumerate(spots) if not place or dist(spot, spots[place - 1]) > 1e-9]


def _draw_arrows(board: Board, spots: Sequence[Spot], colour: str, least: float) -> None:
    """An arrow head with the flow at two fifths of every straight longer than so many millimetres."""
    for start, end in pairwise(spots):
        if dist(start, end) > least:
            ahead = (end[0] - start[0], end[1] - start[1])
            board.arrow((start[0] + 0.4 * ahead[0], start[1] + 0.4 * ahead[1]), ahead, 2.2, colour)


def _number_bay(board: Board, view: PaperView, bay: Values) -> None:
    """The bay's number at the end away from its entry."""
    text = bay["name"].rpartition("-")[2]
    board.words(_number_place(view, bay), text, anchor="middle", bold=True, halo=True)


def _number_place(view: PaperView, bay: Values) -> Spot:
    """The lower middle of a bay's number."""
    along = bay["along"]
    low, high = bay[f"{along}_m"]
    sign = 1.0 if bay["entry"] == "low" else -1.0
    end = high if bay["entry"] == "low" else low
    across = sum(bay["y_m" if along == "x" else "x_m"]) / 2.0
    text = bay["name"].rpartition("-")[2]
    x, y = view.at(end, across) if along == "x" else view.at(across, end)
    inward = 2.0 + (width_of(text) / 2.0 if along == "x" else TEXT / 2.0)
    return (x - sign * inward, y - TEXT / 2.0) if along == "x" else (x, y - sign * inward - TEXT / 2.0)


def _name_room(board: Board, view: PaperView, room: Values, bays: Sequence[Values]) -> None:
    """The room's name on paper, where it covers no number and nothing that is in the way of bays."""
    room = widest_part(room, bays)
    (left, low), (right, high) = _corners(view, room)
    numbers = _numbers_column(bays)
    lines = _name_lines(room, max(right - left - 4.0 - numbers, 8.0))
    size = (max(width_of(line, 3.0) for line in lines) + 2.0, 4.4 * len(lines) + 0.4)
    x, y = view.at(sum(room["x_m"]) / 2.0, name_height(room, bays))
    levels = [y, *(y + up for up in (7.0, -7.0, 14.0, -14.0) if low + size[1] < y + up < high - size[1])]
    wanted = [(x + aside, level) for level in levels for aside in (0.0, numbers / 2.0, -numbers / 2.0)]
    x, y = free_place(board, size, wanted, texts_alone=True)
    board.box((x - size[0] / 2.0, y - 2.2 * len(lines)), (x + size[0] / 2.0, y + 2.2 * len(lines) + 0.4), None, PAPER)
    for place, line in enumerate(lines):
        board.words((x, y - 1.5 + 2.2 * (len(lines) - 1) - 4.4 * place), line, 3.0, anchor="middle", bold=True)


def _numbers_column(bays: Sequence[Values]) -> float:
    """Width of the column of numbers of the bays that run across a room [mm]."""
    return max((2.0 + width_of(bay["name"].rpartition("-")[2]) for bay in bays if bay["along"] == "x"), default=0.0)


def _name_lines(room: Values, wide: float) -> list[str]:
    """A room's name and title in lines of a width [mm]; the name alone where that takes too many, or cuts a word."""
    text = named(room["name"], room["title"])
    lines = wrapped(text, wide, 3.0)
    cut = max(map(width_of, text.split())) * 3.0 / TEXT > wide
    return [room["name"]] if cut or len(lines) > MOST_LINES else lines


def untitled(view: PaperView, storey: Values, bays: Sequence[Values]) -> list[str]:
    """Names with titles of the rooms whose title has no place in the plan."""
    found = []
    for room in storey["rooms"]:
        own = [bay for bay in bays if bay["room"] == room["name"]]
        (left, _), (right, _) = _corners(view, widest_part(room, own))
        numbers = _numbers_column(own)
        if _name_lines(room, max(right - left - 4.0 - numbers, 8.0)) == [room["name"]] != [room["title"]]:
            found.append(named(room["name"], room["title"]))
    return [text for text in found if text not in {room["name"] for room in storey["rooms"]}]


def _draw_manifolds(board: Board, view: PaperView, storey: Values, circuits: Sequence[Values]) -> None:
    """Two bars with a port for every circuit."""
    for manifold in storey["manifolds"]:
        x, y = view.at(manifold["x_m"], manifold["y_m"])
        half = _bar(_ports(manifold, circuits)) / 2.0
        for up in (-1.6, 0.4):
            board.box((x - half, y + up), (x + half, y + up + 1.2), NORMAL, INK)


def _bar(ports: int) -> float:
    """Length of a manifold's bars [mm]."""
    return max(7.0, 1.6 * ports + 2.0)


def _ports(manifold: Values, circuits: Sequence[Values]) -> int:
    return sum(row["manifold"] == manifold["name"] for row in circuits)


def _name_manifolds(board: Board, view: PaperView, storey: Values, circuits: Sequence[Values]) -> None:
    """Names of manifolds beside them, where they cover least of tube and of circuits' names."""
    for manifold in storey["manifolds"]:
        x, y = view.at(manifold["x_m"], manifold["y_m"])
        ports = _ports(manifold, circuits)
        texts = (f"manifold {manifold['name']}", f"{ports} + {ports} ports")
        wide, high = max(map(width_of, texts)), 7.2
        beside = (_bar(ports) + wide) / 2.0 + 1.5
        wanted = [(x, y - 6.0), (x, y + 6.8), (x - beside, y), (x + beside, y)]
        levels = (7.0, -7.0, 13.0, -13.0, 20.0, -20.0)
        wanted += [(x + 0.6 * side * wide, y + up) for up in levels for side in (0, -1, 1)]
        middle = free_place(board, (wide, high), wanted)
        for line, text in enumerate(texts):
            board.words((middle[0], middle[1] + 0.6 - 3.6 * line), text, anchor="middle", halo=True, bold=not line)


def _draw_scale_bar(board: Board, view: PaperView, corner: Spot, reader: PageReader) -> None:
    """A bar of a known length, so that a copy of another size can be read."""
    metres, text = (2.0, "2 m") if reader.units == "si" else (3.048, "10 ft")
    x, y = corner[0] + 6.0, corner[1] + 5.0
    half = view.long(metres) / 2.0
    board.box((x, y), (x + half, y + 1.4), NORMAL, INK)
    board.box((x + half, y), (x + 2.0 * half, y + 1.4), NORMAL, PAPER)
    board.words((x + 2.0 * half + 2.0, y - 0.3), f"{text}   {SCALES[reader.units][view.scale]}")


def _draw_north(board: Board, centre: Spot, degrees_from_up: float | None) -> None:
    """An arrow to the north, where the house says where it is."""
    if degrees_from_up is None:
        board.words((centre[0] + 10.0, centre[1] - 9.0), "north is not stated", anchor="end", colour=SOFT)
        return
    turn = radians(degrees_from_up)
    ahead = (sin(turn), cos(turn))
    board.disc(centre, 6.0, NORMAL)
    board.line(((centre[0] - 6.0 * ahead[0], centre[1] - 6.0 * ahead[1]), centre), NORMAL)
    board.arrow((centre[0] + 6.0 * ahead[0], centre[1] + 6.0 * ahead[1]), ahead, 8.0)
    board.words((centre[0] + 8.5 * ahead[0], centre[1] + 8.5 * ahead[1] - TEXT / 2.0), "N", anchor="middle", bold=True)

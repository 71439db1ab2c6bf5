"""The sheet of a kind of bay: a section across the joists, the plates from below, and measures for the site."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from viz.drawings.board import FAINT, INK, NORMAL, PAPER, SOFT, TEXT, THICK, THIN, Board, Pen, Spot, wrapped
from viz.drawings.frame import column_space, drawing_space
from viz.drawings.paper import SCALES, PaperView, centred, fitting_scale, measure
from viz.page_parts import PageReader

Values = Mapping[str, Any]

FILLS = {
    "joist": "#efe3cf", "sheathing": "#f3ead9", "covering": "#e3d3ba", "insulation": "#f6f1df", "ceiling": "#eceef0",
    "plate": "#44515a",
}  # fmt: skip
HATCHES = {"insulation": "#cdbf92"}
WATER = "#b3402f"

THINNEST = 0.5
"""Sheets thinner than this on the paper are drawn so thick [mm]."""

SHOWN = 2.6
"""At most so much of a bay's length is shown in the plan of the plates [m]."""

TURN = 0.06
"""Tube turns so far before the end of a bay [m]: common practice, no source."""


def draw_bay_sheet(board: Board, kind: Values, reader: PageReader) -> None:
    """Fill a framed sheet with a kind of bay."""
    corner, room = drawing_space(board)
    half = room[1] / 2.0
    _draw_section(board, kind, ((corner[0], corner[1] + half), (room[0], half)), reader)
    _draw_plates(board, kind, (corner, (room[0], half)), reader)
    _draw_notes(board, kind, reader)


def _head(board: Board, corner: Spot, title: str, scale: int, reader: PageReader) -> None:
    """What a view shows, and below it at which scale."""
    board.words(corner, title, 3.5, bold=True)
    board.words((corner[0], corner[1] - 5.0), f"scale: {SCALES[reader.units][scale]}", colour=SOFT)


def in_rooms(kind: Values) -> str:
    """The rooms of a kind of bay in words."""
    return f"room{'s' if len(kind['rooms']) > 1 else ''} {', '.join(kind['rooms'])}"


def _box(part: Values) -> tuple[Spot, Spot]:
    """Corners of a part in metres."""
    (x0, x1), (z0, z1) = part["x_mm"], part["z_mm"]
    return (x0 / 1e3, z0 / 1e3), (x1 / 1e3, z1 / 1e3)


def _draw_section(board: Board, kind: Values, space: tuple[Spot, Spot], reader: PageReader) -> None:
    """The section, one joist spacing wide, with its measures around it."""
    boxes = [_box(part) for part in kind["parts"]]
    low = (min(box[0][0] for box in boxes), min(box[0][1] for box in boxes))
    high = (max(box[1][0] for box in boxes), max(box[1][1] for box in boxes))
    (x, y), (wide, tall) = space
    scale = fitting_scale((high[0] - low[0], high[1] - low[1]), (wide - 130.0, tall - 36.0), reader.units)
    view = centred(low, high, (x, y), (wide, tall - 8.0), scale)
    title = f"Section across the joists, {in_rooms(kind)}"
    _head(board, (x + 6.0, y + tall - 8.0), title, scale, reader)
    for part in kind["parts"]:
        _draw_part(board, view, part)
    if kind["across"]:
        _draw_holes(board, view, kind)
    for tube in kind["tubes"]:
        _draw_tube(board, view, tube, (low[0], high[0]))
    _measure_section(board, view, kind, (low, high), reader)


def _draw_part(board: Board, view: PaperView, part: Values) -> None:
    (x0, z0), (x1, z1) = _box(part)
    low, high = view.at(x0, z0), view.at(x1, z1)
    if part["kind"] == "plate":
        high = (max(high[0], low[0] + THINNEST), max(high[1], low[1] + THINNEST))
    board.box(low, high, Pen(INK, 0.25), FILLS[part["kind"]], HATCHES.get(part["kind"], ""))


def _draw_holes(board: Board, view: PaperView, kind: Values) -> None:
    """The bored holes that tube across the joists runs through."""
    level, half = kind["tubes"][0]["z_mm"] / 1e3, kind["hole_mm"] / 2e3
    for part in kind["parts"]:
        (x0, z0), (x1, z1) = _box(part)
        if part["kind"] == "joist" and z0 < level < z1:
            board.box(view.at(x0, level - half), view.at(x1, level + half), THIN, PAPER)


def _draw_tube(board: Board, view: PaperView, tube: Values, sides: tuple[float, float]) -> None:
    """A tube cut across, or seen from the side where it runs across the joists."""
    radius = view.long(tube["diameter_mm"] / 2e3)
    if tube["x_mm"] is not None:
        board.disc(view.at(tube["x_mm"] / 1e3, tube["z_mm"] / 1e3), radius, Pen(WATER, 0.4), PAPER)
        return
    (left, middle), (right, _) = (view.at(side, tube["z_mm"] / 1e3) for side in sides)
    board.box((left, middle - radius), (right, middle + radius), Pen(WATER, 0.4), PAPER)


def _measure_section(
    board: Board, view: PaperView, kind: Values, extent: tuple[Spot, Spot], reader: PageReader
) -> None:
    """Joist spacing below, tube from joist to joist above, heights to the left, parts named to the right."""
    (left, bottom), (right, top) = extent
    say = reader.units
    board.dimension(view.at(left, bottom), view.at(right, bottom), measure(right - left, say), -9.0)
    tubes = [tube["x_mm"] / 1e3 for tube in kind["tubes"] if tube["x_mm"] is not None]
    for start, end in pairwise(sorted({left, *tubes, right})):
        board.dimension(view.at(start, top), view.at(end, top), measure(end - start, say), 6.0)
    bored = [tube["z_mm"] / 1e3 for tube in kind["tubes"][:1] if kind["across"]]
    tops = (end for name in ("insulation", "plate") for end in _tops(kind, name))
    heights = sorted({bottom, top, 0.0, *tops})
    for start, end in pairwise(heights):
        if end - start > 0.0015:
            board.dimension(view.at(left, start), view.at(left, end), measure(end - start, say), 9.0)
    for level in bored:  # from the joists' top, whatever else lies between
        board.dimension(view.at(left, level), view.at(left, 0.0), measure(-level, say), 18.0)
    board.dimension(view.at(left, bottom), view.at(left, top), measure(top - bottom, say), 27.0)
    _name_parts(board, view, kind, right, reader)


def _tops(kind: Values, name: str) -> Iterator[float]:
    """Upper edges of parts of a kind [m]."""
    for part in kind["parts"]:
        if part["kind"] == name:
            yield part["z_mm"][1] / 1e3


def _name_parts(board: Board, view: PaperView, kind: Values, right: float, reader: PageReader) -> None:
    """Names to the right with lines to the parts, spread so that none covers another."""
    named: dict[str, Spot] = {}
    clear = min((_box(part)[0][0] for part in kind["parts"] if part["kind"] == "joist" and part["x_mm"][0] > 0.0),
                default=right)  # fmt: skip
    for part in kind["parts"]:
        (x0, z0), (x1, z1) = _box(part)
        words = "plate" if part["kind"] == "plate" else f"{part['name']}, {measure(z1 - z0, reader.units)}"
        words = part["name"] if part["kind"] == "joist" else words
        x1 = min(x1, clear) if part["kind"] == "insulation" else x1
        share = 0.2 if part["kind"] == "joist" else 0.5
        named[words] = (x1 - min(0.004, (x1 - x0) / 2.0), z0 + share * (z1 - z0))
    if kind["tubes"]:
        tube = kind["tubes"][-1]
        named["tube"] = (right if tube["x_mm"] is None else tube["x_mm"] / 1e3, tube["z_mm"] / 1e3)
    level = float("inf")
    for words, spot in sorted(named.items(), key=lambda item: -item[1][1]):
        x, y = view.at(*spot)
        level = min(y, level - 5.0)
        end = (view.at(right, 0.0)[0] + 9.0, level)
        board.line(((x, y), end), THIN)
        board.disc((x, y), 0.5, None, INK)
        board.words((end[0] + 1.0, level - TEXT / 2.0), words)


def _draw_plates(board: Board, kind: Values, space: tuple[Spot, Spot], reader: PageReader) -> None:
    """Joists, tube and plates from below, from the end of the bay on."""
    (x, y), (wide, tall) = space
    plates, spacing = kind["plates"], kind["joist_spacing_mm"] / 1e3
    long = SHOWN if plates is None else min(SHOWN, max(3.2 * plates["spacing_mm"] / 1e3, 1.2))
    scale = fitting_scale((long, spacing), (wide - 60.0, tall - 50.0), reader.units)
    view = centred((0.0, 0.0), (long, spacing), (x, y), (wide, tall - 8.0), scale)
    what = "Tube across the joists" if kind["across"] else "Plates and tube" if plates else "Tube"
    title = f"{what} from below, from the rim joist on"
    _head(board, (x + 6.0, y + tall - 8.0), title, scale, reader)
    if kind["across"]:
        _draw_across(board, view, kind, long, reader)
    else:
        _draw_along(board, view, kind, long, reader)


def _draw_along(board: Board, view: PaperView, kind: Values, long: float, reader: PageReader) -> None:
    """Runs along the joists with their plates; the bay's end with the rim joist is to the left."""
    spacing = kind["joist_spacing_mm"] / 1e3
    for part in kind["parts"]:
        if part["kind"] == "joist":
            (side, _), (other, _) = _box(part)
            board.box(view.at(0.0, side), view.at(long, other), Pen(FAINT, 0.25), FILLS["joist"])
    board.line((view.at(0.0, 0.0), view.at(0.0, spacing)), THICK)
    plates = kind["plates"]
    rows = plates["rows_mm"] if plates else []
    for low, high in rows:
        for start in _starts(plates, long):
            end = min(start + plates["length_mm"] / 1e3, long)
            board.box(view.at(start, low / 1e3), view.at(end, high / 1e3), NORMAL, "#cfd6db")
    _draw_runs(board, view, [tube["x_mm"] / 1e3 for tube in kind["tubes"]], long)
    if rows:
        _measure_plates(board, view, plates, spacing, reader)
    board.dimension(view.at(long, spacing), view.at(long, 0.0), measure(spacing, reader.units), 8.0)


def _starts(plates: Values, long: float) -> Iterator[float]:
    """Where plates begin along a bay [m]: the first where the tube has turned."""
    start = TURN
    while start < long - 0.02:
        yield start
        start += plates["spacing_mm"] / 1e3


def _draw_runs(board: Board, view: PaperView, places: Sequence[float], long: float) -> None:
    """Runs, joined at the bay's end in pairs."""
    pen = Pen(WATER, 0.6)
    for number, place in enumerate(places):
        board.line((view.at(TURN, place), view.at(long, place)), pen)
        if number % 2:
            board.line((view.at(TURN, places[number - 1]), view.at(TURN, place)), pen)


def _measure_plates(board: Board, view: PaperView, plates: Values, spacing: float, reader: PageReader) -> None:
    """The first plate, its length, and from plate to plate."""
    length, step = plates["length_mm"] / 1e3, plates["spacing_mm"] / 1e3
    for start, end in pairwise((0.0, TURN, TURN + length)):
        number = measure(end - start, reader.units)
        board.dimension(view.at(start, 0.0), view.at(end, 0.0), number, -7.0, before=start == 0.0)
    for count in (0, 1):
        start = TURN + count * step
        text = measure(step, reader.units)
        board.dimension(view.at(start, 0.0), view.at(start + step, 0.0), text, -15.0)
    low, high = plates["rows_mm"][-1]
    wide = measure((high - low) / 1e3, reader.units)
    board.dimension(view.at(TURN, low / 1e3), view.at(TURN, high / 1e3), wide, 12.0)


def _draw_across(board: Board, view: PaperView, kind: Values, long: float, reader: PageReader) -> None:
    """Runs through bored holes of two joists; their end is to the left, the first run half a step from it."""
    spacing, step = kind["joist_spacing_mm"] / 1e3, kind["across_spacing_mm"] / 1e3
    board.box(view.at(0.0, 0.0), view.at(long, spacing), Pen(FAINT, 0.25))
    half = max(part["x_mm"][1] - part["x_mm"][0] for part in kind["parts"] if part["kind"] == "joist") / 1e3
    for place in (0.0, spacing):
        board.box(view.at(0.0, place - half), view.at(long, place + half), Pen(FAINT, 0.25), FILLS["joist"])
    board.line((view.at(0.0, -half), view.at(0.0, spacing + half)), THICK)
    start = step / 2.0
    while start < long:
        board.line((view.at(start, -0.05), view.at(start, spacing + 0.05)), Pen(WATER, 0.6))
        start += step
    for start, end in pairwise((0.0, *(place * step for place in (0.5, 1.5, 2.5) if place * step < long))):
        text = measure(end - start, reader.units)
        board.dimension(view.at(start, -half), view.at(end, -half), text, -11.0, before=start == 0.0)
    board.dimension(view.at(long, spacing), view.at(long, 0.0), measure(spacing, reader.units), 8.0)


def _draw_notes(board: Board, kind: Values, reader: PageReader) -> None:
    """What the measures leave unsaid."""
    (x, bottom), (wide, high) = column_space(board)
    y = bottom + high - 7.0
    board.words((x + 3.0, y), f"Bay type {kind['name']}", 3.0, bold=True)
    y -= 6.0
    for text in _notes(kind, reader):
        for line in wrapped(text, wide - 6.0):
            board.words((x + 3.0, y), line)
            y -= 4.0
        y -= 1.6


def _notes(kind: Values, reader: PageReader) -> Iterator[str]:
    """Plates, tube, insulation, holes in words."""
    yield _tube_note(kind, reader)
    yield from _plate_notes(kind["plates"], reader)
    gap = kind["air_gap_mm"]
    held = "" if gap is None else f", its top {measure(gap / 1e3, reader.units)} below the subfloor, held so for good"
    yield f"Insulation: {kind['insulation']}{held}." if kind["insulation"] else "No insulation between the joists."
    yield "Rim joist insulated and sealed before the ceiling closes."
    yield _hole_note(kind, reader)


def _tube_note(kind: Values, reader: PageReader) -> str:
    tube = kind["tube_size"] or measure(kind["tubes"][0]["diameter_mm"] / 1e3, reader.units)
    if kind["across"]:
        every = measure(kind["across_spacing_mm"] / 1e3, reader.units)
        told = "Plan and pulling sheets count its runs where others count bays."
        return f"Tube {tube}, every {every}, across the joists. {told}"
    return f"Tube {tube}, {kind['runs']} run{'s' if kind['runs'] > 1 else ''} in each bay, in series."


def _plate_notes(plates: Values | None, reader: PageReader) -> Iterator[str]:
    if plates is None:
        yield "No plates."
        return
    size = " x ".join(measure(plates[key] / 1e3, reader.units) for key in ("width_mm", "length_mm", "thickness_mm"))
    hung = f"hung {measure(plates['drop_mm'] / 1e3, reader.units)} below the subfloor"
    held = hung if plates["position"] == "hung" else "tight under the subfloor"
    step = measure(plates["spacing_mm"] / 1e3, reader.units)
    yield f"Plates of {plates['material']}, {size}, {plates['orientation']}, {held}, one every {step}."
    yield f"Tube {plates['placement']} the plate. First plate where the tube has turned, none over a bend."


def _hole_note(kind: Values, reader: PageReader) -> str:
    """How joists may be bored: IRC R502.8 (from memory), as `sim.rules.boring` has it."""
    if kind["joist_kind"] == "i-joist":
        return "I-joists may be bored only as their maker says; never cut a flange."
    return (
        f"Holes of {measure(kind['hole_mm'] / 1e3, reader.units)}: at most a third of the joist's depth, "
        f"{measure(0.0508, reader.units)} of wood left to its edges and to other holes, as the local code allows."
    )

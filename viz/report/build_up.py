"""The bay in section, to scale and with its dimensions; and the same section in the colours of its temperature."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from sim.results.people import format_value
from viz.air_lines import Line, section_lines
from viz.air_view import has_air
from viz.choice import Choice, Outline
from viz.fine_section import fine_section, raster
from viz.layout import spread
from viz.report.drawing import Drawing, Point, fitting, width_of
from viz.report.maps import colour_numbers, colours
from viz.report.parts import Figure
from viz.report.told import Told, millimetres, same, say, told, verbatim
from viz.scales import ZERO_CELSIUS

_FILLS = {
    "joist": "#e3cfa9", "web": "#e3cfa9", "flange": "#d5bb8a", "rim": "#e3cfa9", "sheathing": "#d9bf90",
    "covering": "#c99a62", "underlay": "#b9c0b0", "insulation": "#f4e7a8", "rim insulation": "#f4e7a8",
    "ceiling": "#cfd3d6", "facing": "#aeb6bc", "rug": "#8f7f9c", "plate": "#5f6b73", "tube": "#c8554b",
    "block": "#d8d2c6", "sheet": "#5f6b73",
}
_LAYERS = ("rug", "covering", "underlay", "sheathing", "insulation", "ceiling", "facing")
LINES_FOLLOWED = 14
"""Streamlines at most in a section of computed air."""

Place = tuple[float, float, float, float]
At = Callable[[float, float], Point]
"""From (x, z) [m] to the drawing."""
Label = tuple[Told, tuple[float, float]]
"""What a part is called, and the spot on the drawing that a line leads to."""
_LEADER = 17.0
"""From the section to the names beside it [px]."""
_SCALE_LEAST = 68.0
"""Least height of the scale of colours [px], at which its five numbers do not touch: a section may be flatter."""


def build_up_figure(choice: Choice, y: float) -> Figure:
    """The section across the joists through a plate, with dimensions."""
    what = "Section across the joists, to scale, {} along the bay." if is_bay(choice) else "Section at y {}, to scale."
    words = say(what + " Sheets thinner than a line are drawn as a line.", millimetres(y))
    return Figure(lambda width: _draw_build_up(choice, y, width, words), words)


def warmth_figure(choice: Choice, y: float) -> Figure:
    """The same section in colours, with streamlines where the flow of the air was computed."""
    air = ""
    if has_air(choice.fields):
        air = "; the air as computed, its mean flow as lines from the plates and tubes"
    elif "air_zone" in choice.fields:
        air = "; the air in one colour for each of its zones"
    words = same(f"Temperature in that section{air}. The scale is this section's own.")
    return Figure(lambda width: _draw_warmth(choice, y, width, words), words)


def is_bay(choice: Choice) -> bool:
    """Whether the run is that of a joist bay."""
    return choice.fields.attrs.get("span") in ("pitch", "bay")


def place_of_section(choice: Choice) -> float:
    """Where to cut [m].

    Through the middle of the plate nearest to the floor's warmest spot, else through that spot; blocks where the cut
    meets most of them, as near to the middle as may be.
    """
    y = choice.edges("y")
    if not is_bay(choice):
        centres = (y[1:] + y[:-1]) / 2
        return float(min(centres, key=lambda at: (-len(_cut(choice, at)), abs(at - (y[0] + y[-1]) / 2))))
    peak = choice.report.get("peak_y_mm")
    spot = float(peak) / 1000.0 if peak is not None else float(y[0] + y[-1]) / 2
    return choice.plate_by(spot)


def _cut(choice: Choice, y: float) -> list[Outline]:
    return [part for part in choice.outlines if part.box[2] - 1e-9 <= y <= part.box[3] + 1e-9]


def _frame(choice: Choice, width: float, left: float, right: float) -> tuple[Place, float]:
    """Where the section lies on the drawing, and pixels per metre."""
    x, z = choice.edges("x"), choice.edges("z")
    wide, tall = float(np.ptp(x)), float(np.ptp(z))
    per_metre = min((width - left - right) / wide, 430.0 / tall)
    return (left, 46.0, wide * per_metre, tall * per_metre), per_metre


def _draw_build_up(choice: Choice, y: float, width: float, words: Told) -> Drawing:
    desk = width > 500
    parts, size = _cut(choice, y), 12.0 if desk else 10.0
    room = _room_for_names(choice, parts, width, size)
    place, per_metre = _frame(choice, width, 62.0 if desk else 34.0, room)
    labels = _labels(choice, parts, _mapped(choice, place, per_metre))
    lowest = max(place[1] + place[3] + 6.0, place[1] + 2.0 + (len(labels) - 1) * (size + 5.0))  # of a flat section
    drawing = Drawing(width, max(place[1] + place[3] + 44.0, lowest + 12.0), words + _layers_in_words(parts))
    _draw_parts(drawing, choice, parts, place, per_metre)
    _name_layers(drawing, labels, place, size, lowest)
    _dimensions(drawing, choice, parts, place, per_metre)
    return drawing


def _layers_in_words(parts: Sequence[Outline]) -> Told:
    """The layers from above for those who do not see the drawing."""
    layers = sorted((p for p in parts if p.kind in _LAYERS), key=lambda p: -p.box[5])
    names = [say("{} {}", same(p.name), millimetres(p.box[5] - p.box[4])) for p in layers]
    text = same(" From above: ")
    for number, name in enumerate(names):
        text = text + ("" if number == 0 else ", ") + name
    return text + "."


def _mapped(choice: Choice, place: Place, per_metre: float) -> At:
    x0, top = float(choice.edges("x")[0]), float(choice.edges("z")[-1])
    return lambda x, z: (place[0] + (x - x0) * per_metre, place[1] + (top - z) * per_metre)


def _draw_parts(drawing: Drawing, choice: Choice, parts: Sequence[Outline], place: Place, per_metre: float) -> None:
    """Every part in the colour of its kind."""
    at = _mapped(choice, place, per_metre)
    for part in parts:
        x0, x1, _, _, z0, z1 = part.box
        corner, opposite = at(x0, z1), at(x1, z0)
        size = (opposite[0] - corner[0], opposite[1] - corner[1])
        fill = _FILLS.get(part.kind, "#d8d2c6")
        if _is_round(part):
            middle = at((x0 + x1) / 2, (z0 + z1) / 2)
            drawing.dot(middle, max(2.5, (x1 - x0) / 2 * per_metre), fill, colour="#1d2327", width=1.2)
        elif min(size) < 2.0:
            thick = ((corner[0], corner[1]), (opposite[0], corner[1])) if size[0] >= size[1] else (
                (corner[0], corner[1]), (corner[0], opposite[1]))  # fmt: skip
            drawing.path(thick, "#ffffff", 4.2)
            drawing.path(thick, "#39434a", 2.6)
        else:
            drawing.box(corner, size, fill, "#39434a", 0.9)
    drawing.box(place[:2], place[2:], colour="soft", width=0.6)


def _is_round(part: Outline) -> bool:
    x0, x1, y0, y1 = part.box[:4]
    return part.kind == "tube" and y1 - y0 > x1 - x0


def _labels(choice: Choice, parts: Sequence[Outline], at: At) -> list[Label]:
    """Names and thicknesses, each with the spot that it names."""
    labels: list[Label] = []
    seen: set[str] = set()
    for part in sorted(parts, key=lambda p: (-p.box[5], -p.box[1])):
        x0, x1, _, _, z0, z1 = part.box
        if part.label in seen and part.kind not in _LAYERS:
            continue
        seen.add(part.label)
        spot = at((x0 + x1) / 2, (z0 + z1) / 2) if part.kind == "tube" else at(x1 - 0.05 * (x1 - x0), (z0 + z1) / 2)
        labels.append((_label_of(part, choice), spot))
    if gap := _air_gap(parts):
        labels.append((say("air {}", millimetres(gap[1] - gap[0])), at(choice.edges("x")[-1] - 0.05, sum(gap) / 2)))
    return labels


def _name_layers(drawing: Drawing, labels: Sequence[Label], place: Place, size: float, lowest: float) -> None:
    """Names at the right, each with a line to its part."""
    right = place[0] + place[2]
    levels = spread([spot[1] for _, spot in labels], size + 5.0, place[1] + 2.0, lowest)
    for (text, spot), level in zip(labels, levels, strict=True):
        drawing.path([spot, (right + 8.0, level), (right + 14.0, level)], "soft", 0.8)
        drawing.dot(spot, 2.0, "ink", colour="#ffffff", width=0.6)
        drawing.text((right + _LEADER, level + 4.0), fitting(text, drawing.width - right - _LEADER, size), size)


def _room_for_names(choice: Choice, parts: Sequence[Outline], width: float, size: float) -> float:
    """Room at the right of the section for the longest name, at most half of the drawing [px]."""
    names = [text for text, _ in _labels(choice, parts, lambda x, z: (x, z))]
    longest = max((width_of(text, size) for text in names), default=0.0)
    return max(min(_LEADER + longest + 2.0, width / 2.0), 0.26 * width)


def _label_of(part: Outline, choice: Choice) -> Told:
    x0, x1, y0, y1, z0, z1 = part.box
    if part.kind == "tube":
        return say("tube, {} outside", millimetres(min(x1 - x0, z1 - z0)))
    if part.kind == "plate":
        return say("plate, {} thick", millimetres(min(x1 - x0, z1 - z0)))
    if part.kind in ("joist", "web", "flange"):
        return same(part.label)
    if part.kind == "wall":
        return say("{}, wall of the air", verbatim(part.label))
    if part.kind == "sheet":
        return say("{}, sheet in the air", verbatim(part.label))
    if not is_bay(choice):
        return say("{}, {} × {}", verbatim(part.label), millimetres(x1 - x0), millimetres(z1 - z0))
    return say("{} {}", same(part.label), millimetres(z1 - z0))


def _air_gap(parts: Sequence[Outline]) -> tuple[float, float] | None:
    """From and to of the air between insulation (or ceiling) and sheathing [m]."""
    above = [p.box[4] for p in parts if p.kind == "sheathing"]
    below = [p.box[5] for p in parts if p.kind in ("insulation", "ceiling", "facing")]
    if not above or not below or min(above) - max(below) < 1e-4:
        return None
    return max(below), min(above)


def _dimensions(drawing: Drawing, choice: Choice, parts: Sequence[Outline], place: Place, per_metre: float) -> None:
    """Joist spacing under the section, joist depth at its left, plates and tubes above it."""
    left, top, wide, tall = place
    x = choice.edges("x")
    at = _mapped(choice, place, per_metre)
    _level(
        drawing,
        (left, left + wide),
        top + tall + 14.0,
        say("{} between joist centres" if is_bay(choice) else "{}", millimetres(float(np.ptp(x)) - _walls(parts, x))),
        16.0,
    )
    joists = [p for p in parts if p.kind in ("joist", "web")]
    if joists:
        z0, z1 = min(p.box[4] for p in joists), max(p.box[5] for p in joists)
        _upright(drawing, left - 12.0, (at(0.0, z1)[1], at(0.0, z0)[1]), millimetres(z1 - z0))
    plates = sorted(
        {(p.box[0], p.box[1]) for p in parts if p.kind == "plate" and p.box[1] - p.box[0] > p.box[5] - p.box[4]}
    )
    tubes = sorted({(p.box[0] + p.box[1]) / 2 for p in parts if _is_round(p)})
    if plates:
        ends = (at(plates[0][0], 0.0)[0], at(plates[0][1], 0.0)[0])
        _level(drawing, ends, top - 12.0, say("plate {}", millimetres(plates[0][1] - plates[0][0])), -6.0)
    if len(tubes) > 1 and drawing.width > 500:
        ends = (at(tubes[-2], 0.0)[0], at(tubes[-1], 0.0)[0])
        _level(
            drawing,
            ends,
            top - (30.0 if plates else 12.0),
            say("{} between tubes", millimetres(tubes[-1] - tubes[-2])),
            -6.0,
        )


def _walls(parts: Sequence[Outline], x: np.ndarray) -> float:
    """What walls of the air add to a section's width, which have no thickness [m]."""
    boxes = [part.box for part in parts if part.kind == "wall"]
    upright = [b for b in boxes if b[1] - b[0] < min(b[3] - b[2], b[5] - b[4])]
    ends = {b[1]: b[1] - b[0] for b in upright if b[1] == x[-1]} | {b[0]: b[1] - b[0] for b in upright if b[0] == x[0]}
    return sum(ends.values())


def _level(drawing: Drawing, ends: tuple[float, float], level: float, text: Told, shift: float) -> None:
    """A dimension from left to right."""
    drawing.line((ends[0], level), (ends[1], level), "soft", 0.9)
    for end, way in zip(ends, (-1.0, 1.0), strict=True):
        drawing.arrow((end, level), (way, 0.0), 7.0, "soft")
    drawing.text(((ends[0] + ends[1]) / 2, level + shift), text, 11, "ink", anchor="middle", halo=True)


def _upright(drawing: Drawing, at: float, ends: tuple[float, float], text: Told) -> None:
    """A dimension from top to bottom."""
    drawing.line((at, ends[0]), (at, ends[1]), "soft", 0.9)
    for end, way in zip(ends, (-1.0, 1.0), strict=True):
        drawing.arrow((at, end), (0.0, way), 7.0, "soft")
    drawing.text(
        (at - 3.0, sum(ends) / 2), text, 11, "ink", anchor="end" if drawing.width > 500 else "middle", halo=True
    )


def _draw_warmth(choice: Choice, y: float, width: float, words: Told) -> Drawing:
    desk = width > 500
    place, per_metre = _frame(choice, width, 20.0, 110.0 if desk else 96.0)
    x, z = choice.edges("x"), choice.edges("z")
    counts = (max(1, int(1.3 * size)) for size in place[2:])  # a fin may be thinner than a point of the screen
    across, up = (raster(edges[0], edges[-1], count) for edges, count in zip((x, z), counts, strict=True))
    kelvin, _ = fine_section(choice, y, across, up)
    celsius = kelvin - ZERO_CELSIUS
    low, high = float(np.nanmin(celsius)), float(np.nanmax(celsius))
    range_told = say(" From {} to {}.", told("surface_mean_C", low), told("surface_mean_C", high))
    scale = max(min(place[3] - 20.0, 260.0), _SCALE_LEAST)
    drawing = Drawing(width, max(place[1] + place[3] + 12.0, place[1] + scale + 24.0), words + range_told)
    drawing.cells(place[:2], place[2:], colour_numbers(celsius.T[::-1], low, max(high, low + 1.0)), colours())
    at = _mapped(choice, place, per_metre)
    for line in _streams(choice, y):
        _draw_stream(drawing, line, at)
    _outlines(drawing, _cut(choice, y), at, per_metre)
    _upright_scale(drawing, (place[0] + place[2] + 14.0, place[1] + 10.0, 13.0, scale), (low, high))
    return drawing


def _streams(choice: Choice, y: float) -> list[Line]:
    return section_lines(choice, y, LINES_FOLLOWED) if has_air(choice.fields) else []


def _draw_stream(drawing: Drawing, line: Line, at: At) -> None:
    """A line of the flow with an arrow in its middle."""
    points = [at(float(x), float(z)) for x, z in line.points]
    drawing.path(points, "#ffffff", 2.6)
    drawing.path(points, "#1d2327", 1.1)
    middle = len(points) // 2
    (u0, v0), (u1, v1) = points[max(middle - 2, 0)], points[min(middle + 2, len(points) - 1)]
    length = float(np.hypot(u1 - u0, v1 - v0)) or 1.0
    drawing.arrow((u1, v1), ((u1 - u0) / length, (v1 - v0) / length), 8.0, "#1d2327")


def _outlines(drawing: Drawing, parts: Sequence[Outline], at: At, per_metre: float) -> None:
    """Thin lines round the parts, on pale rims."""
    for part in parts:
        x0, x1, _, _, z0, z1 = part.box
        if _is_round(part):
            drawing.dot(
                at((x0 + x1) / 2, (z0 + z1) / 2), (x1 - x0) / 2 * per_metre, "none", colour="#1d2327", width=1.3
            )
            continue
        corners = [at(x, z) for x, z in ((x0, z0), (x1, z0), (x1, z1), (x0, z1), (x0, z0))]
        thin = part.kind in ("plate", "sheet")
        drawing.path(corners, "#ffffff", 2.8 if thin else 1.5)
        drawing.path(corners, "#1d2327", 1.8 if thin else 0.7)


def _upright_scale(drawing: Drawing, place: Place, ends: tuple[float, float]) -> None:
    """The colours from the lowest to the highest temperature."""
    left, top, wide, tall = place
    drawing.cells((left, top), (wide, tall), np.arange(253, -1, -1, dtype=np.uint8)[:, None], colours())
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        celsius = ends[1] - share * (ends[1] - ends[0])
        level = top + share * tall
        drawing.line((left + wide, level), (left + wide + 4.0, level), "soft")
        drawing.text((left + wide + 7.0, level + 4.0), _rounded(celsius), 11)


def _rounded(celsius: float) -> Told:
    return Told(*(format_value("surface_mean_C", celsius, units).replace("-", "−") for units in ("si", "ip")))


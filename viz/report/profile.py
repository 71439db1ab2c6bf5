"""The floor's temperature across and along the bay through its warmest spot, with ripple, plates and rug."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from viz.choice import FloorPlan, seen_from_above
from viz.floor_limits import bound_spans, passed
from viz.profiles import profile
from viz.report.drawing import Drawing, level_texts
from viz.report.maps import MappedFloor, span_of
from viz.report.parts import Figure
from viz.report.told import Told, difference, say, told
from viz.scales import ZERO_CELSIUS, line_colours

_WORDS = ("across the joists", "along the joists")


def profile_figure(floors: Sequence[MappedFloor], axis: int, on_scale_of: Sequence[MappedFloor] = ()) -> Figure:
    """Lines of one floor or several along an axis, 0 across or 1 along the bay, on a scale that others fit too."""
    form = "Floor surface {} through the warmest spot{}.{}"
    words = say(form, _WORDS[axis], " of each choice" if len(floors) > 1 else "", _marks(floors, axis))
    each = [say("{}{} to {}", f"{f.name}: " if f.name else "", *_ends(f, axis)) for f in floors]
    alt = words + " " + _joined(each)
    return Figure(lambda width: _draw(floors, axis, _ends_of(on_scale_of or floors, axis), width, alt), words)


def _marks(floors: Sequence[MappedFloor], axis: int) -> str:
    """What the marks of a profile mean, those that it has."""
    kinds = {part.kind for floor in floors for part in floor.plan.outlines}
    words = {
        "plate": "bars: plates", "tube": "dots: tubes", "joist": "shaded: joists", "rug": "between striped lines: rug"
    }
    shown = [text for kind, text in words.items() if kind in kinds and (axis == 0 or kind in ("plate", "rug"))]
    return f" {', '.join(shown).capitalize()}." if shown else ""


def _joined(each: Sequence[Told]) -> Told:
    text = each[0]
    for more in each[1:]:
        text = text + "; " + more
    return text + "."


def _ends(floor: MappedFloor, axis: int) -> tuple[Told, Told]:
    kelvin = profile(floor.plan, axis)[1]
    low, high = (float(f(kelvin)) - ZERO_CELSIUS for f in (np.nanmin, np.nanmax))
    return told("surface_mean_C", low), told("surface_mean_C", high)


def _ends_of(floors: Sequence[MappedFloor], axis: int) -> tuple[float, float]:
    """From which to which temperature [°C] a figure of some floors goes, the limits that they pass included."""
    celsius = [profile(f.plan, axis)[1] - ZERO_CELSIUS for f in floors]
    over = [limit.highest for floor in floors for limit in passed(floor.plan, floor.limits)]
    low, high = min([*over, *(float(np.nanmin(c)) for c in celsius)]), max(float(np.nanmax(c)) for c in celsius)
    pad = max(0.08 * (high - low), 0.15)
    return low - pad, high + pad


def _draw(
    floors: Sequence[MappedFloor], axis: int, scale: tuple[float, float], width: float, alt: Told
) -> Drawing:
    curves = [profile(f.plan, axis) for f in floors]
    celsius = [kelvin - ZERO_CELSIUS for _, kelvin in curves]
    low, high = scale
    names = len(floors) > 1
    left, right, top, tall = 52.0, 24.0 if names else 66.0, 12.0, 210.0
    strip = 9.0 * len(floors) + 6.0
    drawing = Drawing(width, top + tall + strip + 36.0 + (_legend_height(floors, width) if names else 0.0), alt)
    longest = max(f.plan.width if axis == 0 else f.plan.length for f in floors)
    box = (left, top, width - left - right, tall)

    def at(metres: Any, value: Any) -> Any:
        return left + box[2] * metres / longest, top + tall * (high - value) / (high - low)

    _behind(drawing, floors[0].plan, axis, at, box)
    _grid(drawing, box, (low, high), longest, top + tall + strip + 19.0)
    _limits(drawing, floors, axis, at, box)
    lines = line_colours(len(floors)) if names else [("#a8264f", (0, ()))]
    for (place, _), values, (colour, (_, dash)) in zip(curves, celsius, lines, strict=True):
        u, v = at(np.asarray(place) - _first(floors[0].plan, axis), values)
        drawing.path(list(zip(u.tolist(), v.tolist(), strict=True)), colour, 2.0, dash=dash)
    for row, (floor, (colour, _)) in enumerate(zip(floors, lines, strict=True)):
        _strip(drawing, floor.plan, axis, (left, top + tall + 5.0 + 9.0 * row, box[2], longest), colour)
    if names:
        _write_names(drawing, floors, lines, top + tall + strip + 46.0)
    else:
        _ripple(drawing, celsius[0], at, left + box[2])
    drawing.text((left + box[2] / 2, top + tall + strip + 26.0), _WORDS[axis], 12, "soft", anchor="middle")
    return drawing


def _first(plan: FloorPlan, axis: int) -> float:
    return float((plan.x_edge if axis == 0 else plan.y_edge)[0])


def _behind(drawing: Drawing, plan: FloorPlan, axis: int, at: Any, box: tuple[float, float, float, float]) -> None:
    """Joists shaded, rugs tinted with striped edges."""
    for part in seen_from_above(plan, ("joist", "rim", "rug")):
        start, end = (v - _first(plan, axis) for v in part.box[2 * axis : 2 * axis + 2])
        whole = end - start > 0.98 * (plan.width if axis == 0 else plan.length)
        if whole:
            continue
        u0, u1 = float(at(start, 0.0)[0]), float(at(end, 0.0)[0])
        drawing.box((u0, box[1]), (u1 - u0, box[3]), "tint" if part.kind == "rug" else "faint", width=0.0)
        if part.kind == "rug":
            for u in (u0, u1):
                drawing.line((u, box[1]), (u, box[1] + box[3]), "soft", 1.4, (6, 2, 1.5, 2))
            drawing.text(((u0 + u1) / 2, box[1] + box[3] - 6.0), "rug", 11, "soft", anchor="middle")


def _limits(
    drawing: Drawing, floors: Sequence[MappedFloor], axis: int, at: Any, box: tuple[float, float, float, float]
) -> None:
    """A line with its name at every limit that some floor passes, as far as it binds."""
    over = {limit.words(): (floor, limit) for floor in floors for limit in passed(floor.plan, floor.limits)}
    for floor, limit in over.values():
        for start, end in bound_spans(floor.plan, limit, axis):
            ends = [tuple(map(float, at(v - _first(floor.plan, axis), limit.highest))) for v in (start, end)]
            drawing.line((ends[0][0], ends[0][1]), (ends[1][0], ends[1][1]), "ink", 1.6)
        words = say("at most {}", Told(limit.words("si"), limit.words("ip")))
        drawing.text((box[0] + 5.0, float(at(0.0, limit.highest)[1]) - 5.0), words, 11, "ink", halo=True)


def _grid(
    drawing: Drawing, box: tuple[float, float, float, float], ends: tuple[float, float], longest: float, under: float
) -> None:
    """Frame, levels of temperature in each system, places along the axis, these `under` the bars of every choice."""
    left, top, wide, tall = box
    for system, factor, offset in (("si", 1.0, 0.0), ("ip", 1.8, 32.0)):
        levels = _round_steps(*(end * factor + offset for end in ends))
        for shown, text in zip(levels, level_texts(levels), strict=True):
            level = top + tall * (ends[1] - (shown - offset) / factor) / (ends[1] - ends[0])
            drawing.path([(left, level), (left + wide, level)], "faint", 0.8, system=system)
            words = Told(text, "") if system == "si" else Told("", text)
            drawing.text((left - 6.0, level + 4.0), words, 11, anchor="end")
    drawing.text((left - 6.0, top + 5.0), Told("°C", "°F"), 11, "soft", anchor="end")
    drawing.box((left, top), (wide, tall), colour="soft", width=0.8)
    drawing.text((left + wide, under), span_of(longest), 11, "soft", anchor="middle")
    drawing.text((left, under), "0", 11, "soft", anchor="middle")


def _round_steps(low: float, high: float) -> list[float]:
    """Four to eight round levels between two temperatures."""
    span = high - low
    step = next(s for s in (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 1e3) if span / s < 8)
    first = np.ceil(low / step) * step
    return [round(float(v), 6) for v in np.arange(first, high, step) if v < high - 0.05 * span]


def _strip(drawing: Drawing, plan: FloorPlan, axis: int, place: tuple[float, float, float, float], colour: str) -> None:
    """Plates as bars and, across the bay, tubes as dots."""
    left, top, wide, longest = place
    for part in seen_from_above(plan, ("plate", "tube")):
        start, end = (left + wide * (v - _first(plan, axis)) / longest for v in part.box[2 * axis : 2 * axis + 2])
        if part.kind == "plate":
            drawing.box((start, top), (max(end - start, 1.0), 5.0), colour, width=0.0)
        elif axis == 0 and end - start < 0.5 * wide:
            drawing.dot(((start + end) / 2, top + 2.5), 3.0, "paper", colour="ink", width=1.2)


def _ripple(drawing: Drawing, celsius: Any, at: Any, edge: float) -> None:
    """A bracket from the coolest to the warmest place of the line, with the difference."""
    low, high = float(np.nanmin(celsius)), float(np.nanmax(celsius))
    (_, bottom), (_, top) = at(0.0, low), at(0.0, high)
    u = edge + 8.0
    drawing.path([(u - 4.0, top), (u, top), (u, bottom), (u - 4.0, bottom)], "ink", 1.2)
    drawing.text((u + 5.0, (top + bottom) / 2 + 4.0), difference(high - low), 11.5, bold=True)


def _per_row(width: float, floors: Sequence[MappedFloor]) -> int:
    """Names side by side under a figure: as many as the longest allows."""
    longest = max(len(floor.name) for floor in floors)
    return max(1, int((width - 60.0) / (48.0 + 6.4 * min(longest, 60))))


def _legend_height(floors: Sequence[MappedFloor], width: float) -> float:
    return 18.0 * -(-len(floors) // _per_row(width, floors)) + 6.0


def _write_names(drawing: Drawing, floors: Sequence[MappedFloor], lines: Any, top: float) -> None:
    """Which line is which, under the figure."""
    count = _per_row(drawing.width, floors)
    step = (drawing.width - 60.0) / count
    for number, (floor, (colour, (_, dash))) in enumerate(zip(floors, lines, strict=True)):
        row, column = divmod(number, count)
        start = (52.0 + step * column, top + 18.0 * row)
        drawing.line(start, (start[0] + 24.0, start[1]), colour, 2.2, dash)
        most = int((step - 40.0) / 6.0)
        drawing.text(
            (start[0] + 30.0, start[1] + 4.0),
            floor.name if len(floor.name) <= most else floor.name[: most - 1] + "…",
            11.5,
        )

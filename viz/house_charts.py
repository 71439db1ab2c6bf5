"""Charts of a house: the water that every room needs, and water by the weather."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from viz.page_parts import PageReader
from viz.plan_drawing import named
from viz.plan_places import cut
from viz.scales import line_colours
from viz.svg import FAINT, INK, SOFT, Canvas

Values = Mapping[str, Any]

_ROW, _CHART = 30.0, 760.0
_NAMES = {True: 70.0, False: 190.0}
"""Room for the rooms' names, on a phone and on a desk [px]."""
_LETTERS = {True: 9, False: 26}
"""A room's name with a title longer than this stands alone, and loses its middle where it is itself longer."""
NARROW_CHART = 360.0
"""Width of a chart for a phone [px]."""
PRINTED_CHART = 690.0
"""Width of a chart on paper, where it stands in its own size [px]: its letters of 12 pixels are 9 points."""
_LETTER = 6.9
"""Width of a letter of the names, bold [px]."""


@dataclass(frozen=True, slots=True)
class _Frame:
    """Axes [px], and whether the names of sources stand below them instead of at their right."""

    left: float = 70.0
    top: float = 20.0
    width: float = 720.0
    height: float = 300.0
    names_below: bool = False


_DESK, _PHONE = _Frame(), _Frame(36.0, 20.0, 310.0, 220.0, True)
_PAPER = _Frame(width=370.0, height=170.0)


def draw_needs(record: Values, reader: PageReader, width: float = _CHART) -> str:
    """The supply that each room needs by itself as bars, and what each heat source sends as upright lines."""
    narrow = width == NARROW_CHART
    names = _NAMES[narrow]
    needs, layouts = record["needs"], record["layouts"]
    known = [need["supply_C"] for need in needs if need["supply_C"] is not None]
    sent = [layout["summary"]["supply_C"] for layout in layouts]
    low = min(need["room_C"] for need in needs)
    high = max([*known, *sent]) + 4.0
    scale = (width - names - (6.0 if narrow else 60.0)) / (high - low)
    bottom = 14.0 + _ROW * len(needs)
    canvas = Canvas(width, bottom + 18.0 * len(layouts) + 10.0, "Supply temperature that each room needs")
    for row, need in enumerate(needs):
        _bar(canvas, need, row, (low, scale), reader, need["room"] == record["set_by"])
    styled = sorted(
        zip(layouts, line_colours(len(layouts)), strict=True), key=lambda pair: float(pair[0]["summary"]["supply_C"])
    )
    for row, (layout, (colour, (_, dash))) in enumerate(styled):
        x = names + (layout["summary"]["supply_C"] - low) * scale
        y = bottom + 14.0 + 18.0 * row
        canvas.line((x, 8.0), (x, y - 4.0), colour, 1.8, dash)
        words = f"{layout['source']}: {reader.value('supply_C', layout['summary']['supply_C'])}"
        canvas.text((max(x - 6.0, _LETTER * len(words)), y), words, 12.0, colour, "end", bold=True)
    return canvas.markup()


def _bar(
    canvas: Canvas, need: Values, row: int, axis: tuple[float, float], reader: PageReader, highest: bool
) -> None:
    """One room; the one that needs the warmest water is dark."""
    y, (low, scale), narrow = 14.0 + _ROW * row, axis, canvas.width == NARROW_CHART
    names = _NAMES[narrow]
    words = named(need["room"], need["title"])
    words = cut(need["room"], _LETTERS[narrow] - 1) if len(words) > _LETTERS[narrow] else words
    canvas.text((names - 10.0, y + 15.0), words, 12.5, INK, "end", bold=highest)
    if need["supply_C"] is None:
        why = "" if narrow else f": {_why(need, reader)}"
        canvas.text((names + 6.0, y + 15.0), f"no water is enough{why}", 12.0, INK)
        return
    wide = (need["supply_C"] - low) * scale
    canvas.box((names, y), (wide, _ROW - 9.0), "#5b6b76" if highest else "#cfd6da", INK, 0.0)
    canvas.text(
        (names + 8.0, y + 15.0), reader.value("supply_C", need["supply_C"]), 12.0, "#ffffff" if highest else INK
    )


def _why(need: Values, reader: PageReader) -> str:
    """Why no water is enough, without the room's name."""
    return reader.sentence(str(need["note"]).removeprefix(f"{need['room']}: "))


def draw_reset(layouts: Sequence[Values], reader: PageReader, width: float = _CHART) -> str:
    """Supply (full) and return (thin) against the outdoor temperature, for every heat source; empty without any."""
    points = [point for layout in layouts for point in layout["outdoor"]]
    if not points:
        return ""
    x = _widened(min(point["outdoor_C"] for point in points), max(point["outdoor_C"] for point in points))
    y = (min(point["return_C"] for point in points) - 2.0, max(point["supply_C"] for point in points) + 3.0)
    frame = {NARROW_CHART: _PHONE, PRINTED_CHART: _PAPER}.get(width, _DESK)
    canvas = _reset_canvas(frame, len(layouts))
    _axes(canvas, frame, (x, y), reader)
    taken: list[float] = []
    for layout, (colour, (_, dash)) in zip(layouts, line_colours(len(layouts)), strict=True):
        if not layout["outdoor"]:
            continue
        rows = sorted(layout["outdoor"], key=lambda point: point["outdoor_C"])
        for key, thick in (("supply_C", 2.6), ("return_C", 1.1)):
            places = [(_along(point["outdoor_C"], x, frame), _up(point[key], y, frame)) for point in rows]
            canvas.path(places, colour, thick, dash)
            if key == "supply_C":
                for place in places:
                    canvas.dot(place, 3.2, colour)
        _name_source(canvas, frame, str(layout["source"]), (_up(rows[-1]["supply_C"], y, frame), colour), taken)
    return canvas.markup()


def _reset_canvas(frame: _Frame, sources: int) -> Canvas:
    """An empty chart with room for the names of so many sources."""
    aside, below = (6.0, 18.0 * sources) if frame.names_below else (250.0, 0.0)
    wide, high = frame.left + frame.width + aside, frame.top + frame.height + 58.0 + below
    return Canvas(wide, high, "Supply and return by the weather")


def _name_source(canvas: Canvas, frame: _Frame, name: str, line: tuple[float, str], taken: list[float]) -> None:
    """A source's name in its colour: where its line of a height ends, or below the others."""
    level, colour = line
    if frame.names_below:
        taken.append(frame.top + frame.height + 60.0 + 18.0 * len(taken))
        canvas.line((frame.left, taken[-1] - 4.0), (frame.left + 22.0, taken[-1] - 4.0), colour, 2.6)
        canvas.text((frame.left + 30.0, taken[-1]), name, 12.5, colour, bold=True)
    else:
        taken.append(_free(level, taken))
        canvas.text((frame.left + frame.width + 10.0, taken[-1] + 4.0), name, 12.5, colour, bold=True)


Span = tuple[float, float]


def _axes(canvas: Canvas, frame: _Frame, spans: tuple[Span, Span], reader: PageReader) -> None:
    """Frame, guides and numbers in the reader's units."""
    (x, y), left, top, width, height = spans, frame.left, frame.top, frame.width, frame.height
    canvas.box((left, top), (width, height), "none", FAINT, 1.0)
    for value in _round_values(*y, reader):
        level = _up(_celsius(value, reader), y, frame)
        canvas.line((left, level), (left + width, level), FAINT, 0.8)
        canvas.text((left - 8.0, level + 4.0), f"{value:g}".replace("-", "−"), 12.0, SOFT, "end")
    for value in _round_values(*x, reader):
        place = _along(_celsius(value, reader), x, frame)
        canvas.line((place, top + height), (place, top + height + 5.0), SOFT, 0.8)
        canvas.text((place, top + height + 20.0), f"{value:g}".replace("-", "−"), 12.0, SOFT, "middle")
    unit = reader.name("t_C")
    canvas.text((left + width / 2.0, top + height + 42.0), f"outdoors, {unit}", 12.5, INK, "middle")
    canvas.text((left, top - 7.0), f"water, {unit}: supply thick with dots, return thin", 12.5, INK)


def _widened(low: float, high: float) -> tuple[float, float]:
    """A span of an axis [°C]; one around a single value."""
    return (low, high) if high - low > 1.0 else (low - 5.0, high + 5.0)


def _along(value: float, span: Span, frame: _Frame) -> float:
    return frame.left + (value - span[0]) / (span[1] - span[0]) * frame.width


def _up(value: float, span: Span, frame: _Frame) -> float:
    return frame.top + frame.height - (value - span[0]) / (span[1] - span[0]) * frame.height


def _celsius(value: float, reader: PageReader) -> float:
    """A number of the axis [°C or °F] in °C."""
    return value if reader.units == "si" else (value - 32.0) / 1.8


def _round_values(low: float, high: float, reader: PageReader) -> list[float]:
    """Round numbers of the reader's units between two temperatures [°C], five to eight of them."""
    unit = reader.unit("t_C")
    start, end = unit.convert(low, reader.units), unit.convert(high, reader.units)
    step = next(step for step in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0) if (end - start) / step <= 8.0)
    first = int(-(-start // step))
    return [step * number for number in range(first, int(end // step) + 1)]


def _free(level: float, taken: Sequence[float]) -> float:
    """A height near a level at which no text stands yet [px]."""
    while any(abs(level - other) < 16.0 for other in taken):
        level += 4.0
    return level

"""Charts of a house: the water that every room needs, and water by the weather."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from viz.page_parts import PageReader
from viz.plan_drawing import named
from viz.scales import line_colours
from viz.svg import FAINT, INK, SOFT, Canvas

Values = Mapping[str, Any]

_ROW, _NAMES, _CHART = 30.0, 190.0, 760.0
_LETTERS = 26
"""A room's name with a title longer than this stands alone: both would not fit beside its bar."""
_FRAME = (70.0, 20.0, 720.0, 300.0)
"""Left, top, width and height of the axes [px]."""


def draw_needs(record: Values, reader: PageReader) -> str:
    """The supply that each room needs by itself as bars, and what each heat source sends as upright lines."""
    needs, layouts = record["needs"], record["layouts"]
    known = [need["supply_C"] for need in needs if need["supply_C"] is not None]
    sent = [layout["summary"]["supply_C"] for layout in layouts]
    low = min(need["room_C"] for need in needs)
    high = max([*known, *sent]) + 4.0
    scale = (_CHART - _NAMES - 60.0) / (high - low)
    bottom = 14.0 + _ROW * len(needs)
    canvas = Canvas(_CHART, bottom + 18.0 * len(layouts) + 10.0, "Supply temperature that each room needs")
    for row, need in enumerate(needs):
        _bar(canvas, need, row, (low, scale), reader, need["room"] == record["set_by"])
    styled = sorted(
        zip(layouts, line_colours(len(layouts)), strict=True), key=lambda pair: float(pair[0]["summary"]["supply_C"])
    )
    for row, (layout, (colour, (_, dash))) in enumerate(styled):
        x = _NAMES + (layout["summary"]["supply_C"] - low) * scale
        y = bottom + 14.0 + 18.0 * row
        canvas.line((x, 8.0), (x, y - 4.0), colour, 1.8, dash)
        words = f"{layout['source']}: {reader.value('supply_C', layout['summary']['supply_C'])}"
        canvas.text((x - 6.0, y), words, 12.0, colour, "end", bold=True)
    return canvas.markup()


def _bar(
    canvas: Canvas, need: Values, row: int, axis: tuple[float, float], reader: PageReader, highest: bool
) -> None:
    """One room; the one that needs the warmest water is dark."""
    y, (low, scale) = 14.0 + _ROW * row, axis
    words = named(need["room"], need["title"])
    words = need["room"] if len(words) > _LETTERS else words
    canvas.text((_NAMES - 10.0, y + 15.0), words, 12.5, INK, "end", bold=highest)
    if need["supply_C"] is None:
        canvas.text((_NAMES + 6.0, y + 15.0), f"no water is enough: {_why(need, reader)}", 12.0, INK)
        return
    wide = (need["supply_C"] - low) * scale
    canvas.box((_NAMES, y), (wide, _ROW - 9.0), "#5b6b76" if highest else "#cfd6da", INK, 0.0)
    canvas.text(
        (_NAMES + 8.0, y + 15.0), reader.value("supply_C", need["supply_C"]), 12.0, "#ffffff" if highest else INK
    )


def _why(need: Values, reader: PageReader) -> str:
    """Why no water is enough, without the room's name."""
    return reader.sentence(str(need["note"]).removeprefix(f"{need['room']}: "))


def draw_reset(layouts: Sequence[Values], reader: PageReader) -> str:
    """Supply (full) and return (thin) against the outdoor temperature, for every heat source; empty without any."""
    points = [point for layout in layouts for point in layout["outdoor"]]
    if not points:
        return ""
    x = _widened(min(point["outdoor_C"] for point in points), max(point["outdoor_C"] for point in points))
    y = (min(point["return_C"] for point in points) - 2.0, max(point["supply_C"] for point in points) + 3.0)
    left, top, width, height = _FRAME
    canvas = Canvas(left + width + 250.0, top + height + 58.0, "Supply and return by the weather")
    _axes(canvas, x, y, reader)
    taken: list[float] = []
    for layout, (colour, (_, dash)) in zip(layouts, line_colours(len(layouts)), strict=True):
        if not layout["outdoor"]:
            continue
        rows = sorted(layout["outdoor"], key=lambda point: point["outdoor_C"])
        for key, thick in (("supply_C", 2.6), ("return_C", 1.1)):
            places = [(_along(point["outdoor_C"], x, left, width), _up(point[key], y)) for point in rows]
            canvas.path(places, colour, thick, dash)
            if key == "supply_C":
                for place in places:
                    canvas.dot(place, 3.2, colour)
        warmest = _up(rows[-1]["supply_C"], y)
        taken.append(_free(warmest, taken))
        canvas.text((left + width + 10.0, taken[-1] + 4.0), str(layout["source"]), 12.5, colour, bold=True)
    return canvas.markup()


def _axes(canvas: Canvas, x: tuple[float, float], y: tuple[float, float], reader: PageReader) -> None:
    """Frame, guides and numbers in the reader's units."""
    left, top, width, height = _FRAME
    canvas.box((left, top), (width, height), "none", FAINT, 1.0)
    for value in _round_values(*y, reader):
        level = _up(_celsius(value, reader), y)
        canvas.line((left, level), (left + width, level), FAINT, 0.8)
        canvas.text((left - 8.0, level + 4.0), f"{value:g}".replace("-", "−"), 12.0, SOFT, "end")
    for value in _round_values(*x, reader):
        place = _along(_celsius(value, reader), x, left, width)
        canvas.line((place, top + height), (place, top + height + 5.0), SOFT, 0.8)
        canvas.text((place, top + height + 20.0), f"{value:g}".replace("-", "−"), 12.0, SOFT, "middle")
    unit = reader.name("t_C")
    canvas.text((left + width / 2.0, top + height + 42.0), f"outdoors, {unit}", 12.5, INK, "middle")
    canvas.text((left, top - 7.0), f"water, {unit}: supply thick with dots, return thin", 12.5, INK)


def _widened(low: float, high: float) -> tuple[float, float]:
    """A span of an axis [°C]; one around a single value."""
    return (low, high) if high - low > 1.0 else (low - 5.0, high + 5.0)


def _along(value: float, span: tuple[float, float], start: float, size: float) -> float:
    return start + (value - span[0]) / (span[1] - span[0]) * size


def _up(value: float, span: tuple[float, float]) -> float:
    return _FRAME[1] + _FRAME[3] - (value - span[0]) / (span[1] - span[0]) * _FRAME[3]


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

"""Tornado of a study: what each uncertain input does to one result, over the spread that all of them give together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sim.case.quantities import format_alike
from sim.results.people import Units, convert, format_span, full_name
from viz.layout import (
    FAINT,
    INK,
    MARGIN,
    SMALL_SIZE,
    SOFT,
    TEXT_SIZE,
    PictureSheet,
    head_height,
    spread,
    text_width,
    wrap,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
LOW_COLOUR, HIGH_COLOUR = "#a9bccf", "#b34a06"
"""Of bars at the low and at the high end of an input: pale and dark, so that grey paper tells them apart."""
_NAMES, _COEFFICIENTS, _ROW, _STRIP, _BELOW, _HEADING, _BETWEEN = 2.5, 1.25, 0.52, 1.15, 0.95, 0.42, 0.78

Place = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Bar:
    """What one input does to the result.

    Attributes
    ----------
    key, dimension : str
        Its key in the case, and which kind of quantity that is.
    low, high : float
        Ends of its range in SI.
    at_low, at_high : float
        The result there, as in a report; NaN where it could not be solved.
    coefficient : float
        Its standardised rank regression coefficient, NaN when unknown.
    """

    key: str
    dimension: str
    low: float
    high: float
    at_low: float
    at_high: float
    coefficient: float


@dataclass(frozen=True, slots=True)
class Tornado:
    """What a study of inputs says about one result; results as in a report, NaN where a solve failed.

    Attributes
    ----------
    case : str
        Title of the case.
    key : str
        Report key of the result.
    usual : float
        The result of the case itself.
    bars : tuple of Bar
        The inputs, the most important first.
    results : (samples,)
        The result over the samples.
    interval : tuple of float
        5 %, 50 % and 95 % points of the results.
    determination : float
        R² of the rank regression.
    """

    case: str
    key: str
    usual: float
    bars: tuple[Bar, ...]
    results: npt.NDArray[np.float64]
    interval: tuple[float, float, float]
    determination: float


@dataclass(frozen=True, slots=True)
class Mark:
    """One end of a bar: its value in the units of the picture (NaN: not solved), and what stands there."""

    value: float
    text: str


def draw_tornado(found: Tornado, *, title: str = "", units: Units = "si") -> Figure:
    """Draw what each input of a study does to one result, and how the result is spread over the samples.

    Parameters
    ----------
    found : Tornado
        What is known about the result.
    title : str, optional
        Headline; default: the case title and the result.
    units : "si" or "ip"
        Units of the result and of the inputs.

    Raises
    ------
    ValueError
        When no sample has a result.
    """
    solved = int(np.isfinite(found.results).sum())
    if not solved:
        raise ValueError(f"no sample has a {found.key} to draw")
    headline = title or ": ".join(filter(None, [found.case, full_name(found.key, units)]))
    note = (
        "Bars: each input alone at its low and its high end. Below: all inputs drawn at once, "
        f"{solved} of {len(found.results)} samples solved"
    )
    body, foot = _ROW * len(found.bars), _BELOW + _STRIP + _BETWEEN
    sheet = PictureSheet(SHEET_WIDTH, head_height(headline, note, SHEET_WIDTH) + _HEADING + body + foot)
    sheet.head(headline, note)
    left, width = MARGIN + _NAMES, SHEET_WIDTH - 2 * MARGIN - _NAMES - _COEFFICIENTS
    ends = _limits(found, units, width)
    _write_names(sheet, [bar.key for bar in found.bars], foot, body)
    _write_coefficients(sheet, found, foot, body)
    _draw_bars(sheet, (left, foot, width, body), found, ends, units)
    _write_usual(sheet, (left, foot + body, width, 0.0), found, ends, units)
    _draw_strip(sheet, (left, _BELOW, width, _STRIP), found, ends, units)
    _draw_legend(sheet, left)
    sheet.foot(" · ".join(filter(None, [found.case, "joistbay"])))
    return sheet.figure


def _marks(bar: Bar, key: str, units: Units) -> tuple[Mark, Mark]:
    """Low and high end of one bar."""
    system = "SI" if units == "si" else "IP"
    results = bar.at_low, bar.at_high
    low, high = (
        Mark(convert(key, result, units), text + ("" if isfinite(result) else ": failed"))
        for text, result in zip(format_alike((bar.low, bar.high), bar.dimension, system), results, strict=True)
    )
    return low, high


def _sides(low: Mark, high: Mark, usual: float) -> tuple[bool, bool]:
    """Whether each end's text stands at the right of it; ends that move nothing get one side each."""
    if (
        isfinite(low.value)
        and isfinite(high.value)
        and isfinite(usual)
        and (low.value - usual) * (high.value - usual) > 0
    ):
        return low.value > usual, low.value > usual
    falling = low.value > high.value or low.value > usual or high.value < usual
    return falling, not falling


def _limits(found: Tornado, units: Units, width: float) -> tuple[float, float]:
    """Ends of the axis that leave room for the texts at the bars' ends."""
    usual = convert(found.key, found.usual, units)
    bars = [_marks(bar, found.key, units) for bar in found.bars]
    results = [convert(found.key, value, units) for value in found.results]
    middle = usual if isfinite(usual) else convert(found.key, found.interval[1], units)
    values = np.array([usual, *results, *(mark.value for pair in bars for mark in pair)])
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    span = (high - low) or max(abs(high), 1.0) * 0.01
    rooms = [0.15, 0.15]
    for _ in range(3):
        per_inch = span / (width - sum(rooms))
        needed = [0.15, 0.15]
        for pair in bars:
            for mark, right in zip(pair, _sides(*pair, usual), strict=True):
                at = mark.value if isfinite(mark.value) else middle
                edge = (high - at if right else at - low) / per_inch
                needed[right] = max(needed[right], text_width(mark.text, SMALL_SIZE) + 0.2 - edge)
        rooms = needed
    per_inch = span / (width - sum(rooms))
    return low - rooms[0] * per_inch, high + rooms[1] * per_inch


def _write_names(sheet: PictureSheet, keys: Sequence[str], bottom: float, body: float) -> None:
    """Write each input beside its bar: the section small above, the key below."""
    right = MARGIN + _NAMES - 0.15
    for row, key in enumerate(keys):
        middle = bottom + body - _ROW * (row + 0.5)
        section, _, last = key.rpartition(".")
        (text, *_) = wrap(last.replace("_", " "), _NAMES - 0.15, TEXT_SIZE, most=1)
        (small, *_) = wrap(section, _NAMES - 0.15, SMALL_SIZE, most=1) or [""]
        sheet.text(right, middle - 0.12, text, TEXT_SIZE, ha="right")
        sheet.text(right, middle + 0.06, small, SMALL_SIZE, ha="right", color=SOFT)


def _write_coefficients(sheet: PictureSheet, found: Tornado, bottom: float, body: float) -> None:
    """Write the rank coefficients in a column at the right, and how much they explain."""
    right = SHEET_WIDTH - MARGIN
    for row, bar in enumerate(found.bars):
        middle = bottom + body - _ROW * (row + 0.5) - 0.05
        text = f"{bar.coefficient:+.2f}".replace("-", "−") if isfinite(bar.coefficient) else "n/a"
        sheet.text(right, middle, text, TEXT_SIZE, ha="right")
    sheet.text(right, bottom + body + 0.27, "rank", SMALL_SIZE, ha="right", color=SOFT)
    sheet.text(right, bottom + body + 0.12, "coefficient", SMALL_SIZE, ha="right", color=SOFT)
    if isfinite(found.determination):
        sheet.text(right, bottom - 0.2, f"R² {found.determination:.2f}", SMALL_SIZE, ha="right", color=SOFT)


def _draw_bars(sheet: PictureSheet, place: Place, found: Tornado, ends: tuple[float, float], units: Units) -> None:
    """Draw the bars, the first on top; where both ends lie on one side they share the height."""
    usual = convert(found.key, found.usual, units)
    bars = [_marks(bar, found.key, units) for bar in found.bars]
    axes = _bare_axes(sheet, place, ends)
    axes.set(ylim=(len(bars) - 0.5, -0.5))
    axes.tick_params(bottom=False, labelbottom=False)
    gap = 0.06 * (ends[1] - ends[0]) / place[2]
    middle = usual if isfinite(usual) else convert(found.key, found.interval[1], units)
    for row, pair in enumerate(bars):
        sides = _sides(*pair, usual)
        halves = (-0.17, 0.17) if sides[0] == sides[1] else (0.0, 0.0)
        for mark, right, shift, colour in zip(pair, sides, halves, (LOW_COLOUR, HIGH_COLOUR), strict=True):
            if isfinite(mark.value) and isfinite(usual):
                height = 0.3 if shift else 0.56
                axes.barh(row + shift, mark.value - usual, left=usual, height=height, color=colour, linewidth=0)
            at = mark.value if isfinite(mark.value) else middle
            style: dict[str, Any] = {"ha": "left" if right else "right", "va": "center_baseline", "color": INK}
            style["bbox"] = {"facecolor": "white", "linewidth": 0, "pad": 0.6}
            axes.text(at + (gap if right else -gap), row + shift, mark.text, fontsize=SMALL_SIZE, **style)
    if isfinite(usual):
        axes.axvline(usual, color=INK, linewidth=1.0)


def _write_usual(sheet: PictureSheet, place: Place, found: Tornado, ends: tuple[float, float], units: Units) -> None:
    """Write the result of the case itself above its line."""
    if not isfinite(found.usual):
        return
    (text, *_), unit = format_span(found.key, [found.usual, *found.interval], units)
    text = f"the case itself: {text} {unit}".rstrip()
    left, bottom, width, _ = place
    half = text_width(text, SMALL_SIZE) / 2
    at = left + width * (convert(found.key, found.usual, units) - ends[0]) / (ends[1] - ends[0])
    sheet.text(min(max(at, left + half), left + width - half), bottom + 0.1, text, SMALL_SIZE, ha="center")


def _draw_strip(sheet: PictureSheet, place: Place, found: Tornado, ends: tuple[float, float], units: Units) -> None:
    """Draw the histogram of the samples with their median and 5-95 % interval."""
    axes = _bare_axes(sheet, place, ends)
    results = np.array([convert(found.key, value, units) for value in found.results if isfinite(value)])
    low, median, high = (convert(found.key, value, units) for value in found.interval)
    bins = min(24, max(6, round(2 * results.size**0.5)))
    counts, edges = np.histogram(results, bins)
    axes.axvspan(low, high, color=FAINT, alpha=0.55, linewidth=0)
    axes.bar(edges[:-1], counts, np.diff(edges), align="edge", color="#8795a1", edgecolor="white", linewidth=0.6)
    axes.axvline(median, color=INK, linewidth=1.2)
    axes.set(ylim=(0.0, 1.08 * max(counts.max(), 1)))
    axes.locator_params(axis="x", nbins=7)
    axes.spines["left"].set_visible(False)
    _write_interval(sheet, place, found, ends, units)


def _write_interval(sheet: PictureSheet, place: Place, found: Tornado, ends: tuple[float, float], units: Units) -> None:
    """Write the three points of the interval above the histogram, and under it what the axis shows."""
    texts, unit = format_span(found.key, found.interval, units)
    points = [convert(found.key, value, units) for value in found.interval]
    words = [f"{word} {text}" for word, text in zip(("5 %:", "median:", "95 %:"), texts, strict=True)]
    wanted = [place[0] + place[2] * (value - ends[0]) / (ends[1] - ends[0]) for value in points]
    widths = [text_width(word, SMALL_SIZE) for word in words]
    room = (place[0] + widths[0] / 2, place[0] + place[2] - widths[2] / 2)
    for at, word in zip(spread(wanted, max(widths) + 0.15, *room), words, strict=True):
        sheet.text(at, place[1] + place[3] + 0.08, word, SMALL_SIZE, ha="center")
    axis = f"{full_name(found.key, units)}, {unit}".rstrip(", ")
    sheet.text(place[0] + place[2] / 2, place[1] - 0.42, axis, TEXT_SIZE, ha="center")
    sheet.text(MARGIN + _NAMES - 0.15, place[1] + place[3] / 2, "samples", TEXT_SIZE, ha="right")


def _bare_axes(sheet: PictureSheet, place: Place, ends: tuple[float, float]) -> Axes:
    """Axes with guides only along the values."""
    axes = sheet.axes(*place)
    axes.set(xlim=ends, yticks=[])
    axes.locator_params(axis="x", nbins=7)
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    return axes


def _draw_legend(sheet: PictureSheet, left: float) -> None:
    """Explain the two colours."""
    from matplotlib.patches import Rectangle

    level = _BELOW + _STRIP + 0.45
    for colour, word in ((LOW_COLOUR, "input at its low end"), (HIGH_COLOUR, "at its high end")):
        size = (0.16 / sheet.width, 0.13 / sheet.height)
        corner = (left / sheet.width, level / sheet.height)
        sheet.figure.add_artist(Rectangle(corner, *size, color=colour, linewidth=0))
        sheet.text(left + 0.24, level, word, SMALL_SIZE)
        left += 0.24 + text_width(word, SMALL_SIZE) + 0.35

"""Profiles of the floor-surface temperature: across the joists and along them, all choices in one figure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import UNITS, Units
from viz.choice import Choice, FloorPlan, floor_plans, seen_from_above
from viz.drawable import takes_results
from viz.findings import floors_finding
from viz.layout import (
    FAINT,
    INK,
    MARGIN,
    SMALL_SIZE,
    SOFT,
    TEXT_SIZE,
    PictureSheet,
    caption_of,
    display_length,
    head_height,
    length_unit,
    line_height,
    text_width,
    wrap,
)
from viz.limit_marks import clearest, mark_on_profile
from viz.scales import Scale, display_temperature, line_colours, shared_scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_LEFT, _GAP, _AXES_HEIGHT, _ROW = 0.85, 0.35, 3.3, 0.16

Line = tuple[str, tuple[int, tuple[float, ...]]]


@takes_results
def draw_profiles(
    choices: Sequence[Choice], *, title: str = "", units: Units = "si", scale: Scale | None = None
) -> Figure:
    """Draw floor-surface temperature through the warmest spot of each choice, across and along the bay.

    Parameters
    ----------
    choices : sequence of Choice
        The runs; each gets a colour and a dash pattern. Strips under the curves show where its plates are.
    title : str, optional
        Headline; default: the case title.
    units : "si" or "ip"
        °C and metres, or °F and inches.
    scale : Scale, optional
        Temperatures from which to which; default: those of all floors.

    Raises
    ------
    ValueError
        When there is nothing to draw.
    """
    if not choices:
        raise ValueError("no run to draw")
    plans, lines = floor_plans(choices), line_colours(len(choices))
    headline, finding = title or choices[0].case or "Floor surface", floors_finding(choices, units)
    note = "Through the warmest spot of each choice; joists are shaded, plates are bars, tubes are dots"
    legend = _legend_rows([choice.name for choice in choices])
    strip = _ROW * len(choices) + 0.06
    below = 0.5 + len(legend) * line_height(TEXT_SIZE) + 0.55
    head = head_height(headline, note, SHEET_WIDTH, finding)
    sheet = PictureSheet(SHEET_WIDTH, head + _AXES_HEIGHT + strip + below)
    sheet.head(headline, note, finding)
    room = SHEET_WIDTH - _LEFT - MARGIN - _GAP
    across = 0.4 * room
    places = ((_LEFT, below, across, strip), (_LEFT + across + _GAP, below, room - across, strip))
    for axis, place in enumerate(places):
        _draw_direction(sheet, place, axis, (choices, plans, lines), scale or shared_scale(_floors(plans), units))
    _draw_legend(sheet, legend, lines, below - 0.62)
    sheet.foot(caption_of(choices, headline))
    return sheet.figure


def profile(plan: FloorPlan, axis: int) -> tuple[Any, Any]:
    """Return places [m] and temperatures [K] through the warmest spot, along axis 0 (across) or 1 (along)."""
    peak = np.unravel_index(np.nanargmax(plan.temperature), plan.temperature.shape)
    return (plan.x, plan.temperature[:, peak[1]]) if axis == 0 else (plan.y, plan.temperature[peak[0], :])


def _floors(plans: Sequence[FloorPlan]) -> list[Any]:
    return [plan.temperature for plan in plans]


def _draw_direction(
    sheet: PictureSheet,
    place: tuple[float, float, float, float],
    axis: int,
    shown: tuple[Sequence[Choice], Sequence[FloorPlan], Sequence[Line]],
    scale: Scale,
) -> None:
    """Draw the curves in one direction and the strip of parts under them."""
    (choices, plans, lines), units = shown, scale.units
    left, bottom, width, strip = place
    axes = sheet.axes(left, bottom + strip, width, _AXES_HEIGHT)
    rows = sheet.axes(left, bottom, width, strip)
    curves = [profile(plan, axis) for plan in plans]
    for (at, kelvin), (colour, dash) in zip(curves, lines, strict=True):
        axes.plot(
            display_length(at, units), display_temperature(kelvin, units), color=colour, ls=dash, lw=1.8
        )
    slack = 0.06 * (scale.high - scale.low)
    ends = display_length([0.0, max(p.width if axis == 0 else p.length for p in plans)], units)
    axes.set(xlim=ends, ylim=(scale.low - slack, scale.high + slack))
    _shade_rugs(axes, plans[0], axis, units)
    mark_on_profile(axes, choices, plans, axis, units)
    if len(plans) == 1:
        _mark_ripple(axes, curves[0][1], float(ends[1]), units)
    elif nearly_equal(curves):
        _draw_differences(axes, curves, lines, units)
    axes.grid(color=FAINT, linewidth=0.6)
    axes.tick_params(labelbottom=False, bottom=False, labelleft=axis == 0)
    if axis == 0:
        axes.set_ylabel(f"floor surface, {scale.unit}", fontsize=TEXT_SIZE, color=INK)
        _shade_joists(axes, plans[0], units)
    _draw_strip(rows, axis, plans, lines, units)
    rows.set(xlim=ends)
    name = ("across the joists", "along the joists")[axis]
    rows.set_xlabel(f"{name}, {length_unit(units)}", fontsize=TEXT_SIZE, color=INK)


NEAR = 0.08
"""Lines closer to each other than this share of what they span are drawn again as differences."""


def nearly_equal(curves: Sequence[tuple[Any, Any]]) -> bool:
    """Whether several lines lie so close together that they would read as one."""
    parts = _differences(curves)
    span = max(float(np.nanmax(kelvin)) for _, kelvin in curves) - min(float(np.nanmin(kelvin)) for _, kelvin in curves)
    return span > 0.0 and max(float(np.nanmax(np.abs(part))) for _, part in parts) < NEAR * span


def _differences(curves: Sequence[tuple[Any, Any]]) -> list[tuple[Any, Any]]:
    """Places and differences to the first line [K], of all others."""
    first = curves[0]
    return [(at, kelvin - np.interp(at, *first)) for at, kelvin in curves[1:]]


def _draw_differences(axes: Axes, curves: Sequence[tuple[Any, Any]], lines: Sequence[Line], units: Units) -> None:
    """A small frame with the differences to the first line, in an upper corner."""
    inner = axes.inset_axes((0.52, 0.05, 0.46, 0.3))
    for (at, kelvin), (colour, dash) in zip(_differences(curves), lines[1:], strict=True):
        shown = np.asarray(kelvin) * (1.0 if units == "si" else 1.8)
        inner.plot(display_length(at, units), shown, color=colour, ls=dash, lw=1.4)
    inner.axhline(0.0, color=lines[0][0], lw=1.0)
    inner.tick_params(labelsize=SMALL_SIZE - 1.5, colors=INK, labelbottom=False, bottom=False)
    unit = UNITS["K"].name(units)
    inner.set_title(f"less the first, {unit}", fontsize=SMALL_SIZE - 1.0, color=INK, loc="left", pad=2.0)


def _mark_ripple(axes: Axes, kelvin: Any, end: float, units: Units) -> None:
    """An upright arrow from the coolest to the warmest place of the line, with the difference."""
    low, high = (float(f(kelvin)) for f in (np.nanmin, np.nanmax))
    shown = display_temperature([low, high], units)
    style = {"arrowstyle": "<->", "color": INK, "linewidth": 1.0, "shrinkA": 0.0, "shrinkB": 0.0}
    axes.annotate("", (0.975 * end, shown[0]), (0.975 * end, shown[1]), arrowprops=style)
    text = UNITS["K"].write(high - low, units)
    levels = [shown[0] + share * (shown[1] - shown[0]) for share in (0.5, 0.3, 0.7, 0.1, 0.9)]
    levels.append(shown[0] - 0.06 * float(np.ptp(axes.get_ylim())))
    place = clearest(axes, [(0.96 * end, float(level)) for level in levels], text, "right")
    box = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5}
    axes.text(*place, text, fontsize=SMALL_SIZE, color=INK, ha="right", bbox=box)


def _shade_rugs(axes: Axes, plan: FloorPlan, axis: int, units: Units) -> None:
    """Tint where a rug lies, with its edges marked and its name."""
    for outline in seen_from_above(plan, ("rug",)):
        low, high = display_length(outline.box[2 * axis : 2 * axis + 2], units)
        if outline.box[2 * axis + 1] - outline.box[2 * axis] > 0.98 * (plan.width if axis == 0 else plan.length):
            continue
        axes.axvspan(low, high, color="#8f7f9c", alpha=0.14, linewidth=0)
        for edge in (low, high):
            axes.axvline(edge, color=SOFT, linewidth=1.2, linestyle=(0, (4, 1.5, 1, 1.5)))
        bottom = axes.get_ylim()[0]
        axes.text((low + high) / 2, bottom, "rug", fontsize=SMALL_SIZE, color=INK, ha="center", va="bottom")


def _shade_joists(axes: Axes, plan: FloorPlan, units: Units) -> None:
    """Shade the joists behind the curves across the bay."""
    for outline in seen_from_above(plan, ("joist",)):
        low, high = display_length(outline.box[:2], units)
        axes.axvspan(low, high, color=SOFT, alpha=0.16, linewidth=0)


def _draw_strip(axes: Axes, axis: int, plans: Sequence[FloorPlan], lines: Sequence[Line], units: Units) -> None:
    """Draw one row per choice with its plates as bars and, across the bay, its tubes as dots."""
    for row, (plan, (colour, _)) in enumerate(zip(plans, lines, strict=True)):
        at = len(plans) - 1 - row
        for outline in plan.outlines:
            low, high = display_length(outline.box[2 * axis : 2 * axis + 2], units)
            if outline.kind == "plate":
                axes.barh(at, high - low, left=low, height=0.45, color=colour, linewidth=0)
            elif outline.kind == "tube" and axis == 0:
                axes.plot((low + high) / 2, at, "o", markersize=5, mfc="white", mec=INK, mew=1.0, zorder=3)
    axes.set(ylim=(-0.6, len(plans) - 0.4), yticks=[])


def _legend_rows(names: Sequence[str]) -> list[list[tuple[float, str]]]:
    """Arrange legend entries in rows: (place from the left [in], name); long names are shortened."""
    rows: list[list[tuple[float, str]]] = [[]]
    at, room = 0.0, SHEET_WIDTH - _LEFT - MARGIN
    for name in names:
        (text, *_) = wrap(name, room - 0.6, TEXT_SIZE, most=1) or [""]
        width = 0.5 + text_width(text, TEXT_SIZE) + 0.35
        if rows[-1] and at + width - 0.35 > room:
            rows.append([])
            at = 0.0
        rows[-1].append((at, text))
        at += width
    return rows


def _draw_legend(
    sheet: PictureSheet, rows: Sequence[Sequence[tuple[float, str]]], lines: Sequence[Line], top: float
) -> None:
    """Draw the legend under the axes."""
    from matplotlib.lines import Line2D

    left, pending = _LEFT, iter(lines)
    for number, row in enumerate(rows):
        level = top - (number + 1) * line_height(TEXT_SIZE) + 0.06
        for at, text in row:
            colour, dash = next(pending)
            x = [(left + at) / sheet.width, (left + at + 0.4) / sheet.width]
            y = [(level + 0.05) / sheet.height] * 2
            sheet.figure.add_artist(Line2D(x, y, color=colour, linestyle=dash, linewidth=2.0))
            sheet.text(left + at + 0.5, level, text, TEXT_SIZE)

"""A warm-up over time: water, floor surface, room and heat flows of one case, or several cases side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import Units, convert, format_value
from viz.choice import Choice
from viz.drawable import takes_results
from viz.floor_limits import passed_by
from viz.layout import (
    FAINT,
    INK,
    MARGIN,
    SMALL_SIZE,
    SOFT,
    TEXT_SIZE,
    PictureSheet,
    caption_of,
    head_height,
    headline_of,
    line_height,
    text_width,
    wrap,
)
from viz.scales import ZERO_CELSIUS, display_temperature, line_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_LEFT, _PANEL, _GAP, _BELOW = 0.85, 2.5, 0.45, 0.9

Line = tuple[str, tuple[int, tuple[float, ...]]]

TEMPERATURES = {
    "water_supply": "water in",
    "surface_peak": "floor, warmest spot",
    "surface_mean": "floor, mean",
    "surface_trough": "floor, coolest spot",
    "room": "room",
    "floor_sensor": "floor sensor",
}
FLOWS = {
    "heat_in": "given by the water",
    "heat_up": "up into the room",
    "heat_down": "down",
    "heat_edge": "out through the edges",
}
"""Series that the two panels of one case show, and what they are called."""

TRACES = {
    "surface_mean": "floor surface, mean",
    "surface_peak": "floor surface, warmest spot",
    "heat_up": "heat up into the room",
    "heat_in": "heat given by the water",
    "water_supply": "water in",
    "room": "room",
}
"""Series that panels of several cases show, one panel each; one that never moves in any case is left out, as is the
warmest spot where it passes no limit."""


@takes_results
def draw_time_series(choices: Sequence[Choice], *, title: str = "", units: Units = "si") -> Figure:
    """Draw warm-ups over time.

    Parameters
    ----------
    choices : sequence of Choice
        Each with the series of a warm-up as fields. One choice is drawn with its temperatures above its heat flows,
        several with one panel a quantity and a line for each.
    title : str, optional
        Headline; default: the case title.
    units : "si" or "ip"
        °C and W/m², or °F and Btu/h·ft².

    Raises
    ------
    ValueError
        When there is nothing to draw, or a choice was not followed in time.
    """
    if not choices:
        raise ValueError("no warm-up to draw")
    if still := next((choice for choice in choices if "heat_in" not in choice.fields), None):
        raise ValueError(f"{still.name}: was not followed in time; warm_up(case) gives what can be drawn over time")
    panels = _panels_of_one(choices[0]) if len(choices) == 1 else _panels_of_several(choices)
    headline = title or (headline_of(choices[0]) if len(choices) == 1 else choices[0].case) or "Warm-up"
    note = _note(choices, units)
    legends = [_legend_rows([name for _, _, name in lines]) for _, lines in panels]
    if len(choices) > 1:  # all panels have the same lines: one legend, under the last
        legends = [*([] for _ in panels[1:]), legends[-1]]
    heights = [_PANEL + _GAP + len(rows) * line_height(TEXT_SIZE) for rows in legends]
    sheet = PictureSheet(SHEET_WIDTH, head_height(headline, note, SHEET_WIDTH) + sum(heights) + _BELOW - _GAP)
    sheet.head(headline, note)
    top = _BELOW + sum(heights) - _GAP
    for number, (panel, rows, height) in enumerate(zip(panels, legends, heights, strict=True)):
        _draw_panel(sheet, top, panel, rows, units, number == len(panels) - 1)
        top -= height
    sheet.foot(caption_of(choices, headline))
    return sheet.figure


Trace = tuple[Choice, str, str]
Panel = tuple[str, list[Trace]]
LegendRows = list[list[tuple[float, str]]]


def _panels_of_one(choice: Choice) -> list[Panel]:
    flows = [name for name in FLOWS if name != "heat_edge" or np.abs(choice.fields[name].values).max() > 0.0]
    return [
        ("temperature", [(choice, name, words) for name, words in TEMPERATURES.items() if name in choice.fields]),
        ("heat flux", [(choice, name, FLOWS[name]) for name in flows]),
    ]


def _panels_of_several(choices: Sequence[Choice]) -> list[Panel]:
    moving = [name for name in TRACES if any(np.ptp(choice.fields[name].values) > 1e-6 for choice in choices)]
    if not passed_by([(choice.name, choice.limits) for choice in choices]):
        moving = [name for name in moving if name != "surface_peak"]
    return [(TRACES[name], [(choice, name, choice.name) for choice in choices]) for name in moving]


def _after(key: str, choice: Choice, units: Units) -> str:
    """When a share was reached, if it was."""
    value = choice.report.get(key, np.nan)
    return f"after {format_value(key, value, units)}" if np.isfinite(value) else "not by the end"


def _note(choices: Sequence[Choice], units: Units) -> str:
    """When each case that was on its way to the steady state has come 63 % and 90 % of it."""
    parts = []
    for choice in choices:
        if not np.isfinite(choice.report.get("flux_63_h", np.nan)):
            continue
        some, most = (_after(key, choice, units) for key in ("flux_63_h", "flux_90_h"))
        parts.append(f"{choice.name + ': ' if len(choices) > 1 else ''}63 % {some}, 90 % {most}")
    if not parts:
        return "Temperatures and heat flows in time"
    return "Upward heat on its way to the steady state; " + "; ".join(parts)


def shown(name: str, values: Any, units: Units) -> Any:
    """Values of a series [K or W/m²] in the units of the picture."""
    if name.startswith("heat"):
        return np.array([convert("heat_flux_up_W_m2", float(value), units) for value in values])
    return display_temperature(values, units)


def _draw_panel(sheet: PictureSheet, top: float, panel: Panel, rows: LegendRows, units: Units, last: bool) -> None:
    """One panel with its top at a height [in], its legend under it."""
    label, lines = panel
    axes = sheet.axes(_LEFT, top - _PANEL, SHEET_WIDTH - _LEFT - MARGIN, _PANEL)
    colours = line_colours(len(lines))
    for (choice, name, _), (colour, dash) in zip(lines, colours, strict=True):
        hours = choice.fields["time"].values / 3600.0
        axes.plot(hours, shown(name, choice.fields[name].values, units), color=colour, ls=dash, lw=1.8)
    flow = lines[0][1].startswith("heat")
    unit = {"si": "W/m²", "ip": "Btu/h·ft²"}[units] if flow else {"si": "°C", "ip": "°F"}[units]
    axes.set_ylabel(f"{label}, {unit}", fontsize=TEXT_SIZE, color=INK)
    axes.set(xlim=(0.0, max(float(choice.fields["time"][-1]) / 3600.0 for choice, _, _ in lines)))
    axes.grid(color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    if flow:
        _keep_flows_in_sight(axes, lines, units)
    if lines[0][1] != "water_supply" and (flow or len({id(choice) for choice, *_ in lines}) == 1):
        _mark_shares(axes, lines)
    if lines[0][1] == "surface_peak" or (len(lines) > 1 and lines[1][1] == "surface_peak"):
        _mark_limits(axes, list({id(choice): choice for choice, *_ in lines}.values()), units)
    if last:
        axes.set_xlabel(_time_label([choice for choice, _, _ in lines]), fontsize=TEXT_SIZE, color=INK)
    below = top - _PANEL - (0.5 if last else 0.3)
    _draw_legend(sheet, below + 0.05, rows, colours)


def _mark_limits(axes: Axes, choices: Sequence[Choice], units: Units) -> None:
    """A line at every limit that a floor's warmest spot passes at some time, with its name and who passes it."""
    for limit, names in passed_by([(choice.name, choice.limits) for choice in choices]):
        (level,) = display_temperature([limit.highest + ZERO_CELSIUS], units)
        axes.axhline(level, color=INK, lw=1.1)
        box = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0}
        whose = f"; passed by {', '.join(names)}" if len(choices) > 1 else ""
        words = f"floor at most {limit.words(units)}{whose}"
        axes.annotate(
            words, (0.0, level), xycoords=("axes fraction", "data"), xytext=(4, 4),
            textcoords="offset points", fontsize=SMALL_SIZE, color=INK, bbox=box,
        )  # fmt: skip


def _mark_shares(axes: Axes, lines: Sequence[Trace]) -> None:
    """When the upward heat of the first case has come 63 and 90 % of its way; of several, a short tick for each."""
    choices = {id(choice): choice for choice, *_ in lines}
    colours = line_colours(len(choices))
    for choice, (colour, dash) in zip(choices.values(), colours, strict=True):
        for key, words in (("flux_63_h", "63 %"), ("flux_90_h", "90 %")):
            hours = choice.report.get(key)
            if hours is None or not np.isfinite(hours):
                continue
            alone = len(choices) == 1
            look: dict[str, Any] = {"color": SOFT, "lw": 1.0, "ls": "--"} if alone else {"color": colour, "ls": dash}
            axes.axvline(hours, ymax=1.0 if alone else 0.12, **look)
            if alone:
                axes.annotate(words, (hours, 0.03), xycoords=("data", "axes fraction"), xytext=(3, 0),
                              textcoords="offset points", fontsize=SMALL_SIZE, color=SOFT)  # fmt: skip


def _time_label(choices: Sequence[Choice]) -> str:
    """What the axis of time counts from: a time of day, where the case names one."""
    clocks = {float(choice.fields.attrs.get("clock", 0.0)) for choice in choices}
    minutes = round(clocks.pop() / 60.0) if len(clocks) == 1 else 0
    return f"hours after {minutes // 60}:{minutes % 60:02d}" if minutes else "time, h"


def _keep_flows_in_sight(axes: Axes, lines: list[Trace], units: Units) -> None:
    """Cut off the water's peaks of a few minutes after each start, which would press all else to the ground."""
    shares = [np.quantile(_evenly(choice, name, units), (0.02, 0.97)) for choice, name, _ in lines]
    low, high = min(float(ends[0]) for ends in shares), max(float(ends[1]) for ends in shares)
    axes.set_ylim(min(0.0, 1.1 * low), 1.15 * high if high > 0.0 else None)


def _evenly(choice: Choice, name: str, units: Units) -> Any:
    """A series at even times, so that its many short steps do not count for more."""
    time = choice.fields["time"].values
    return np.interp(np.linspace(time[0], time[-1], 1000), time, shown(name, choice.fields[name].values, units))


def _legend_rows(names: Sequence[str]) -> LegendRows:
    """Arrange legend entries in rows: (place from the left [in], name); long names are shortened."""
    rows: LegendRows = [[]]
    at, room = 0.0, SHEET_WIDTH - _LEFT - MARGIN
    for name in names:
        (text, *_) = wrap(name, room - 0.6, SMALL_SIZE, most=1)
        width = 0.5 + text_width(text, SMALL_SIZE) + 0.3
        if rows[-1] and at + width - 0.3 > room:
            rows.append([])
            at = 0.0
        rows[-1].append((at, text))
        at += width
    return rows


def _draw_legend(sheet: PictureSheet, top: float, rows: LegendRows, lines: Sequence[Line]) -> None:
    from matplotlib.lines import Line2D

    pending = iter(lines)
    for number, row in enumerate(rows):
        level = top - (number + 1) * line_height(TEXT_SIZE) + 0.06
        for at, text in row:
            colour, dash = next(pending)
            x = [(_LEFT + at) / sheet.width, (_LEFT + at + 0.4) / sheet.width]
            y = [(level + 0.05) / sheet.height] * 2
            sheet.figure.add_artist(Line2D(x, y, color=colour, linestyle=dash, linewidth=2.0))
            sheet.text(_LEFT + at + 0.5, level, text, SMALL_SIZE)

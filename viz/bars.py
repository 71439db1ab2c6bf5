"""Bars of a comparison: where the heat goes for each choice, and how warm its water must be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sim.results.people import UNITS, Units, convert, format_value
from viz.choice import Choice
from viz.findings import water_finding
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
    line_height,
    text_width,
    wrap,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_NAMES, _ROW, _BELOW, _HEADING = 2.3, 0.55, 1.05, 0.5

# Report key, word in the legend, colour of the bar, colour of the number on it.
_PARTS = (
    ("heat_flow_up_W", "up into the room", "#c2560f", "white"),
    ("heat_flow_down_W", "down", "#52657a", "white"),
    ("heat_flow_edge_W", "out at the edges", "#b4c0ca", INK),
)

_HATCH = {"#52657a": "////"}
"""Hatching of the bar that would be as dark as its neighbour in grey."""

_WATER = ("water_supply_C", "water_return_C")


def draw_bars(
    choices: Sequence[Choice],
    at_equal_heat: Sequence[Choice | None] = (),
    *,
    title: str = "",
    units: Units = "si",
) -> Figure:
    """Draw where the heat goes for each choice and, if given, the water temperature that each one needs.

    Parameters
    ----------
    choices : sequence of Choice
        The runs at equal water temperature. Heat flows are drawn per area of floor.
    at_equal_heat : sequence of Choice or None, optional
        The runs at equal delivered heat, in the same order; None where no water temperature delivers it.
    title : str, optional
        Headline; default: the case title.
    units : "si" or "ip"
        W/m² and °C, or Btu/h·ft² and °F.

    Raises
    ------
    ValueError
        When there is nothing to draw or the two lists differ in length.
    """
    if not choices:
        raise ValueError("no run to draw")
    if at_equal_heat and len(at_equal_heat) != len(choices):
        raise ValueError(f"{len(choices)} choices but {len(at_equal_heat)} runs at equal heat")
    headline = title or choices[0].case or "Heat flows"
    body = _ROW * len(choices) + 0.15
    finding = water_finding(at_equal_heat, units)
    head = head_height(headline, "", SHEET_WIDTH, finding)
    sheet = PictureSheet(SHEET_WIDTH, head + _HEADING + body + _BELOW)
    sheet.head(headline, "", finding)
    room = SHEET_WIDTH - MARGIN - _NAMES - 0.45
    split = 0.58 * room if at_equal_heat else room
    _write_names(sheet, [choice.name for choice in choices], body)
    _draw_flows(sheet, (MARGIN + _NAMES, _BELOW, split, body), choices, units)
    if at_equal_heat:
        left = MARGIN + _NAMES + split + 0.35
        _draw_needed(sheet, (left, _BELOW, room - split - 0.35, body), at_equal_heat, units)
    _draw_legend(sheet, choices)
    sheet.foot(caption_of(choices, headline))
    return sheet.figure


def heat_per_area(report: Mapping[str, Any], units: Units = "si") -> list[float]:
    """Return upward, downward and edge heat per area of floor [W/m² or Btu/h·ft²]; missing ones are 0."""
    area = float(report["floor_area_m2"])
    return [convert("heat_flux_up_W_m2", float(report.get(key) or 0.0) / area, units) for key, *_ in _PARTS]


def _write_names(sheet: PictureSheet, names: Sequence[str], body: float) -> None:
    """Write the names of the choices at the left, each beside its bar."""
    for row, name in enumerate(names):
        middle = _BELOW + body * (len(names) - row - 0.5) / len(names)
        lines = wrap(name, _NAMES - 0.15, TEXT_SIZE, most=2)
        for k, line in enumerate(lines):
            at = middle + (len(lines) / 2 - 1 - k) * line_height(TEXT_SIZE) + 0.05
            sheet.text(MARGIN + _NAMES - 0.12, at, line, TEXT_SIZE, ha="right")


def _draw_flows(
    sheet: PictureSheet, place: tuple[float, float, float, float], choices: Sequence[Choice], units: Units
) -> None:
    """Draw the stacked heat flows."""
    axes = _bare_axes(sheet, place, len(choices))
    flows = np.array([heat_per_area(choice.report, units) for choice in choices])
    low, high = float(flows.clip(max=0.0).sum(axis=1).min()), float(flows.clip(0.0).sum(axis=1).max())
    span = (high - low) or 1.0
    axes.set_xlim(low - (0.02 * span if low else 0.0), high + 0.13 * span)
    for row, values in enumerate(flows):
        _draw_stack(axes, row, values, place[2] / (1.15 * span))
        total = f"{values.sum():.1f}"
        at = values.clip(0.0).sum() + 0.015 * span
        axes.text(at, row, total, fontsize=SMALL_SIZE, color=SOFT, va="center_baseline")
    heading = f"Heat up, down and together, {_common_water(choices, units)}, {UNITS['W_m2'].name(units)}"
    sheet.text(place[0], place[1] + place[3] + 0.12, heading, TEXT_SIZE, weight="bold")


def _common_water(choices: Sequence[Choice], units: Units) -> str:
    """The water of all choices, where it is the same."""
    told = {format_value("water_supply_C", choice.report.get("water_supply_C"), units) for choice in choices}
    return f"with water of {told.pop()}" if len(told) == 1 else "each with its own water"


def _draw_stack(axes: Axes, row: int, values: npt.NDArray[np.float64], per_unit: float) -> None:
    """Draw one stacked bar; heat that comes in instead of going out stands left of zero."""
    ends = {True: 0.0, False: 0.0}
    for value, (_, _, colour, ink) in zip(values, _PARTS, strict=True):
        start = ends[bool(value > 0.0)]
        look: dict[str, Any] = {"color": colour, "edgecolor": "white", "linewidth": 0.8, "hatch": _HATCH.get(colour)}
        axes.barh(row, value, left=start, height=0.62, **look)
        _write_inside(axes, (start + value / 2, row), f"{value:.1f}", abs(value) * per_unit, ink, colour)
        ends[bool(value > 0.0)] = start + value


def _write_inside(axes: Axes, at: tuple[float, float], text: str, room: float, ink: str, colour: str) -> None:
    """Write a number on a bar if it fits the room [in]."""
    if text_width(text, SMALL_SIZE) + 0.08 < room:
        box = {"facecolor": colour, "edgecolor": "none", "pad": 2.5}
        axes.text(*at, text, fontsize=SMALL_SIZE, color=ink, ha="center", va="center_baseline", bbox=box)


def _draw_needed(
    sheet: PictureSheet, place: tuple[float, float, float, float], runs: Sequence[Choice | None], units: Units
) -> None:
    """Draw supply and return temperature that each choice needs for the same delivered heat."""
    axes = _bare_axes(sheet, place, len(runs))
    known = [run for run in runs if run is not None]
    pairs = [[convert("water_supply_C", float(run.report[key]), units) for key in _WATER] for run in known]
    low, high = (min(map(min, pairs)), max(map(max, pairs))) if pairs else (0.0, 1.0)
    span = max(high - low, 5.0)
    axes.set_xlim(low - 0.08 * span, high + 0.42 * span)
    for row, run in enumerate(runs):
        if run is None:
            axes.text(low, row, "not reached", fontsize=TEXT_SIZE, color=SOFT, va="center_baseline")
            continue
        supply, back = (convert("water_supply_C", float(run.report[key]), units) for key in _WATER)
        axes.plot([back, supply], [row, row], color="#b02a5b", linewidth=3.0, solid_capstyle="butt")
        axes.plot(supply, row, "o", color="#b02a5b", markersize=8)
        text = format_value("water_supply_C", run.report["water_supply_C"], units)
        axes.text(supply + 0.06 * span, row, text, fontsize=TEXT_SIZE, color=INK, va="center_baseline")
    heat = format_value("heat_flux_up_W_m2", known[0].report["heat_flux_up_W_m2"], units) if known else ""
    if any(abs(supply - back) > 0.02 * span for supply, back in pairs):
        sheet.text(place[0], 0.5, "dot: supply; bar: down to the return", SMALL_SIZE)
    heading = f"Water for {heat} up, {UNITS['C'].name(units)}" if heat else "Water needed"
    sheet.text(place[0], place[1] + place[3] + 0.12, heading, TEXT_SIZE, weight="bold")


def _bare_axes(sheet: PictureSheet, place: tuple[float, float, float, float], rows: int) -> Axes:
    """Axes for one row per choice, the first on top, with guides only along the values."""
    axes = sheet.axes(*place)
    axes.set(ylim=(rows - 0.5, -0.5), yticks=[])
    axes.locator_params(axis="x", nbins=max(3, int(place[2] / 0.8)))
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return axes


def _draw_legend(sheet: PictureSheet, choices: Sequence[Choice]) -> None:
    """Explain the colours of the bars that can be seen."""
    from matplotlib.patches import Rectangle

    left = MARGIN + _NAMES
    flows = np.abs([heat_per_area(choice.report) for choice in choices])
    visible = flows.max(axis=0) > 1e-3 * flows.max()
    for (_, word, colour, _), shown in zip(_PARTS, visible, strict=True):
        if not shown:
            continue
        corner = (left / sheet.width, 0.5 / sheet.height)
        size = (0.16 / sheet.width, 0.13 / sheet.height)
        hatch = _HATCH.get(colour)
        look: dict[str, Any] = {"facecolor": colour, "edgecolor": "white", "linewidth": 0.0, "hatch": hatch}
        sheet.figure.add_artist(Rectangle(corner, *size, **look))
        sheet.text(left + 0.24, 0.5, word, SMALL_SIZE)
        left += 0.24 + text_width(word, SMALL_SIZE) + 0.35

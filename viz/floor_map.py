"""Floor-surface temperature maps: one floor, or all choices of a comparison on one scale.

Every map is drawn to the same size per metre, with plates, tubes, joists and rugs outlined through the
floor. Long bays lie on their side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sim.results.people import Units, format_value
from sim.results.spelling import spelled
from viz.choice import Array, Choice, FloorLimit, FloorPlan, Outline, floor_plans, seen_from_above
from viz.drawable import takes_result, takes_results
from viz.findings import floors_finding
from viz.floor_limits import bound, passed
from viz.layout import (
    INK,
    MARGIN,
    SMALL_SIZE,
    TEXT_SIZE,
    PictureSheet,
    caption_of,
    colour_bar,
    display_length,
    head_height,
    length_unit,
    line_height,
    text_width,
    wrap,
)
from viz.limit_marks import hatch_above, hatchings, limit_lines, mark_limit, write_limits
from viz.scales import Scale, display_temperature, greys, shared_scale, temperature_colours, window_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
MAP_HEIGHT_LIMIT = 7.0
_LEFT, _RIGHT, _BELOW, _GAP, _ROW_GAP = 0.95, 1.35, 1.15, 0.3, 0.18

# How each kind of part is drawn: dark lines on a light base show on every colour of the map.
_LINES: dict[str, dict[str, Any]] = {
    "plate": {"linewidth": 1.4, "linestyle": "-"},
    "joist": {"linewidth": 1.1, "linestyle": (0, (7, 3))},
    "rim": {"linewidth": 1.1, "linestyle": (0, (7, 3))},
    "rug": {"linewidth": 1.4, "linestyle": (0, (4, 1.5, 1, 1.5))},
    "tube": {"linewidth": 1.6, "linestyle": (0, (1, 1.4))},
}


WIDEST_GAP = 1.1
"""Between maps that leave room on the sheet, for the words over them [in]."""

MOST_NAME_LINES = 7
"""Lines of a choice's name over its map, which may be narrow; what tells choices apart often stands last."""

MOST_BRACKETS = 5
"""Floors whose part of the scale is marked beside it, less one."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One map: a floor, its scale, its colours where they are not those of all temperatures, limits by hatching."""

    plan: FloorPlan
    scale: Scale
    colours: Colormap | None = None
    limits: tuple[tuple[FloorLimit, str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Grid:
    """How maps are arranged: columns, whether maps lie on their side, inches per metre, map size and gaps [in]."""

    columns: int
    on_side: bool
    per_metre: float
    width: float
    height: float
    gap: float = _GAP

    @property
    def title_width(self) -> float:
        """Room for the lines above a map [in]."""
        return self.width + self.gap - 0.15


@takes_result
def draw_floor_map(choice: Choice, *, units: Units = "si", scale: Scale | None = None) -> Figure:
    """Draw the floor-surface temperature of one run.

    Parameters
    ----------
    choice : Choice
        The run.
    units : "si" or "ip"
        °C and metres, or °F and inches.
    scale : Scale, optional
        Scale to use; default: the stated window round the room, see `scales.floor_window`.
    """
    return draw_floor_maps([choice], units=units, scale=scale)


@takes_results
def draw_floor_maps(
    choices: Sequence[Choice],
    *,
    title: str = "",
    units: Units = "si",
    scale: Scale | None = None,
    finding: str | None = None,
) -> Figure:
    """Draw the floor-surface temperature of all choices of a comparison on one scale.

    Parameters
    ----------
    choices : sequence of Choice
        The runs; each map is titled with the choice's name, its mean and its ripple.
    title : str, optional
        Headline; default: the case title.
    units : "si" or "ip"
        °C and metres, or °F and inches.
    scale : Scale, optional
        Scale to use; default: the stated window round the room, else the range of all maps together.
    finding : str, optional
        What the maps show, above the headline; default: which floor is evenest. Pictures of a movie have none.

    Raises
    ------
    ValueError
        When there is nothing to draw.
    """
    if not choices:
        raise ValueError("no run to draw")
    plans = floor_plans(choices)
    scale = scale or window_of([choice.room for choice in choices], units)
    scale = scale or shared_scale([plan.temperature for plan in plans], units)
    headline, note = title or choices[0].case or "Floor surface", _note(choices, units)
    finding = floors_finding(choices, units) if finding is None else finding
    hatched = hatchings(choices, plans)
    panels = [
        Panel(plan, scale, limits=tuple((limit, hatched[limit.words()]) for limit in passed(plan, choice.limits)))
        for choice, plan in zip(choices, plans, strict=True)
    ]
    alone = len(choices) == 1
    panels += [Panel(plans[0], shared_scale([plans[0].temperature], units, least_span=0.05), greys())] if alone else []
    grid = _arrange([panel.plan for panel in panels])
    titles = [_panel_title(choice, grid.title_width, units) for choice in choices]
    titles += [_pattern_title(choices[0], grid.title_width, units)] if alone else []
    above = max(map(len, titles)) * line_height(TEXT_SIZE) + 0.12
    rows = -(-len(panels) // grid.columns)
    body = rows * (grid.height + above) + (rows - 1) * _ROW_GAP
    body = max(body, 2.9) if alone else body
    told = limit_lines(choices, plans, hatched, units, SHEET_WIDTH)
    below = _BELOW + len(told) * line_height(SMALL_SIZE)
    sheet = PictureSheet(SHEET_WIDTH, head_height(headline, note, SHEET_WIDTH, finding) + body + below)
    sheet.head(headline, note, finding)
    for k, (panel, lines) in enumerate(zip(panels, titles, strict=True)):
        row, column = divmod(k, grid.columns)
        left = _LEFT + column * (grid.width + grid.gap)
        top = below + body - row * (grid.height + above + _ROW_GAP)
        _write_panel_title(sheet, left, top, lines)
        _draw_panel(
            sheet, (left, top - above), panel, grid, (column == 0, k + grid.columns >= len(panels))
        )
    _draw_scales(sheet, below + body, body, panels)
    write_limits(sheet, told)
    _draw_legend(sheet, plans, len(told) * line_height(SMALL_SIZE))
    sheet.foot(caption_of(choices, headline))
    return sheet.figure


def draw_plan(axes: Axes, panel: Panel, *, on_side: bool = False) -> None:
    """Draw one floor with its outlines, what is warmer than a limit, and its warmest and coolest spot into axes.

    Parameters
    ----------
    axes : matplotlib Axes
        Where to draw; equal scales in both directions.
    panel : Panel
        The floor, its colours, units and limits.
    on_side : bool
        Draw the length of the bay from left to right.
    """
    plan, scale, units = panel.plan, panel.scale, panel.scale.units
    values = display_temperature(_to_edges(plan.temperature), units)
    picture = _laid_out(plan, values, units, on_side)
    style: Literal["gouraud", "nearest"] = "gouraud" if np.isfinite(values).all() else "nearest"
    colours = panel.colours or temperature_colours()
    axes.pcolormesh(*picture, cmap=colours, norm=scale.norm, shading=style, rasterized=True)
    for limit, hatch in panel.limits:
        hatch_above(axes, limit, hatch, _laid_out(plan, _to_edges(bound(plan, limit)), units, on_side))
    for outline in seen_from_above(plan, tuple(_LINES)):
        _draw_outline(axes, outline, plan, units, on_side)
    _mark_extremes(axes, plan, units, on_side)
    ends = [display_length([e[0], e[-1]], units) for e in (plan.x_edge, plan.y_edge)]
    axes.set(xlim=ends[int(on_side)], ylim=ends[int(not on_side)], aspect="equal")


def _to_edges(values: Array) -> Array:
    """Values of cells with those of the outer cells repeated at the floor's edges."""
    return np.pad(values, 1, mode="edge")


def _laid_out(plan: FloorPlan, values: Array, units: Units, on_side: bool) -> tuple[Array, Array, Array]:
    """Places and values as axes take them."""
    x, y = (np.concatenate([e[:1], c, e[-1:]]) for e, c in ((plan.x_edge, plan.x), (plan.y_edge, plan.y)))
    across, along = display_length(x, units), display_length(y, units)
    return (along, across, values) if on_side else (across, along, values.T)


def _arrange(plans: Sequence[FloorPlan]) -> _Grid:
    """Choose columns and direction so that the maps come out as large as possible."""
    wide, long = max(p.width for p in plans), max(p.length for p in plans)
    room = SHEET_WIDTH - _LEFT - _RIGHT
    found = []
    for on_side in (True, False):
        across, up = (long, wide) if on_side else (wide, long)
        for columns in range(1, len(plans) + 1):
            rows = -(-len(plans) // columns)
            fit_width = (room - (columns - 1) * _GAP) / columns / across
            fit_height = (MAP_HEIGHT_LIMIT - (rows - 1) * (_ROW_GAP + 0.5)) / rows / up
            per_metre = min(fit_width, fit_height)
            found.append(_Grid(columns, on_side, per_metre, across * per_metre, up * per_metre))
    best = max(found, key=lambda grid: grid.per_metre)
    spare = (room - best.columns * best.width) / max(best.columns - 1, 1)
    return replace(best, gap=min(max(spare, _GAP), WIDEST_GAP))


def _note(choices: Sequence[Choice], units: Units) -> str:
    """Say what the maps show."""
    window = {"si": "4 K below the room to 12 K above it", "ip": "7.2 °F below the room to 21.6 °F above it"}[units]
    told = window_of([choice.room for choice in choices], units) is not None
    shown = f"Floor-surface temperature{f', colours from {window}' if told else ''}"
    together = ", all maps on one scale" if len(choices) > 1 else ""
    pitches = [any(part.kind == "plate" for part in choice.outlines) for choice in choices if choice.is_pitch]
    repeated = f"; {'one plate pitch' if any(pitches) else 'a slice'}, repeated by symmetry" if pitches else ""
    bracket = "; bracket: this floor" if len(choices) == 1 else "; brackets: the maps in order"
    return spelled(shown + together + repeated + (bracket if len(choices) < MOST_BRACKETS else ""), units)


def _panel_title(choice: Choice, width: float, units: Units) -> list[str]:
    """The lines above a map: the choice's name (wrapped), then its mean and ripple."""
    mean, ripple = (format_value(k, choice.report.get(k), units) for k in ("surface_mean_C", "ripple_K"))
    names = wrap(choice.name, width, TEXT_SIZE, "bold", most=MOST_NAME_LINES)
    return [*names, *(f"\t{line}" for line in wrap(f"mean {mean}, ripple {ripple}", width, SMALL_SIZE))]


def _pattern_title(choice: Choice, width: float, units: Units) -> list[str]:
    """The lines above the map of the pattern alone."""
    ripple = format_value("ripple_K", choice.report.get("ripple_K"), units)
    plain = wrap(f"from its coolest spot, white, to its warmest, dark: {ripple}", width, SMALL_SIZE)
    return [*wrap("The pattern alone, on its own scale", width, TEXT_SIZE, "bold"), *(f"\t{line}" for line in plain)]


def _write_panel_title(sheet: PictureSheet, left: float, top: float, lines: Sequence[str]) -> None:
    """Write the lines above a map; those that start with a tab are plain, the others bold."""
    for line in lines:
        top -= line_height(TEXT_SIZE)
        plain = line.startswith("\t")
        size, weight = (SMALL_SIZE, "normal") if plain else (TEXT_SIZE, "bold")
        sheet.text(left, top + 0.04, line.strip(), size, weight=weight)


def _draw_panel(
    sheet: PictureSheet,
    corner: tuple[float, float],
    panel: Panel,
    grid: _Grid,
    labelled: tuple[bool, bool],
) -> None:
    """Draw one map with its upper left corner at a place [in]; labels only at the outer maps."""
    plan, scale = panel.plan, panel.scale
    across, up = (plan.length, plan.width) if grid.on_side else (plan.width, plan.length)
    width, height = across * grid.per_metre, up * grid.per_metre
    axes = sheet.axes(corner[0], corner[1] - height, width, height)
    draw_plan(axes, panel, on_side=grid.on_side)
    names = ("along the joists", "across") if grid.on_side else ("across the joists", "along the joists")
    unit = length_unit(scale.units)
    axes.locator_params(axis="x", nbins=max(2, int(width / 0.6)), steps=[1, 2, 5, 10])
    axes.locator_params(axis="y", nbins=max(2, int(height / 0.6)), steps=[1, 2, 5, 10])
    axes.tick_params(labelleft=labelled[0], labelbottom=labelled[1])
    if labelled[0]:
        axes.set_ylabel(f"{names[1]}, {unit}", fontsize=SMALL_SIZE, color=INK)
    if labelled[1]:
        long, short = f"{names[0]}, {unit}", f"{names[0].partition(' ')[0]}, {unit}"
        fits = text_width(long, SMALL_SIZE) < width + grid.gap
        axes.set_xlabel(long if fits else short, fontsize=SMALL_SIZE, color=INK)


def _draw_outline(axes: Axes, outline: Outline, plan: FloorPlan, units: Units, on_side: bool) -> None:
    """Outline one part as seen from above; sides on the edge of the map are left to its frame."""
    style = _LINES[outline.kind]
    base = {"color": "white", "alpha": 0.6, "linewidth": style["linewidth"] + 1.2}
    for line in (base, {"color": INK, **style}):
        for x, y in _strokes(outline, plan):
            ends = display_length([x, y], units)
            axes.plot(*(ends[::-1] if on_side else ends), solid_joinstyle="miter", **line)


def _strokes(outline: Outline, plan: FloorPlan) -> list[tuple[list[float], list[float]]]:
    """Lines (x, y) [m] that draw a part: the centre line of a tube, the visible sides of a box."""
    x0, x1, y0, y1 = outline.box[:4]
    if outline.kind == "tube":
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        return [([x, x], [y0, y1])] if y1 - y0 >= x1 - x0 else [([x0, x1], [y, y])]
    if outline.kind == "plate":
        return [([x0, x1, x1, x0, x0], [y0, y0, y1, y1, y0])]
    upright = [([x, x], [y0, y1]) for x in (x0, x1) if not np.isclose(x, plan.x_edge[[0, -1]]).any()]
    level = [([x0, x1], [y, y]) for y in (y0, y1) if not np.isclose(y, plan.y_edge[[0, -1]]).any()]
    return upright + level


def _mark_extremes(axes: Axes, plan: FloorPlan, units: Units, on_side: bool) -> None:
    """Mark the warmest and the coolest cell of the floor."""
    for find, marker in ((np.nanargmax, "^"), (np.nanargmin, "v")):
        i, j = np.unravel_index(find(plan.temperature), plan.temperature.shape)
        at = display_length([plan.x[i], plan.y[j]], units)
        style = _marker_style(marker)
        axes.plot(*(at[::-1] if on_side else at), **style, clip_on=False, zorder=5)


def _marker_style(marker: str) -> dict[str, Any]:
    """How the warmest ("^") and the coolest ("v") spot are marked."""
    face = "white" if marker == "^" else INK
    edge = INK if marker == "^" else "white"
    return {
        "marker": marker,
        "markersize": 7,
        "markerfacecolor": face,
        "markeredgecolor": edge,
        "linestyle": "none",
    }


def _draw_scales(sheet: PictureSheet, top: float, body: float, panels: Sequence[Panel]) -> None:
    """The common scale at the right with a bracket for what each floor takes of it; that of the pattern under it."""
    warm = [panel for panel in panels if panel.colours is None]
    pattern = [panel for panel in panels if panel.colours is not None]
    room = (body - 0.2 * len(pattern)) / (1 + len(pattern))
    height = max(0.8, min(room - 0.55, 4.0))
    left, bottom = sheet.width - _RIGHT + 0.42, top - 0.4 - height
    axes = colour_bar(sheet, (left, bottom, 0.2, height), warm[0].scale, "floor surface")
    if len(warm) < MOST_BRACKETS:
        for number, panel in enumerate(warm):
            _draw_bracket(axes, panel, -0.3 - 0.45 * number)
    for limit, _ in {pair for panel in warm for pair in panel.limits}:
        mark_limit(axes, limit, warm[0].scale)
    for panel in pattern:
        place = (left, bottom - 0.75 - height, 0.2, height)
        colour_bar(sheet, place, panel.scale, "pattern alone", panel.colours)


def _draw_bracket(axes: Axes, panel: Panel, at: float) -> None:
    """What a floor takes of the scale, beside the bar."""
    own = panel.plan.temperature
    ends = display_temperature([np.nanmin(own), np.nanmax(own)], panel.scale.units)
    low, high = np.clip(ends, panel.scale.low, panel.scale.high)
    axes.plot([at + 0.2, at, at, at + 0.2], [low, low, high, high], color=INK, linewidth=1.1, clip_on=False)
    axes.set(xlim=(0.0, 1.0), ylim=(panel.scale.low, panel.scale.high))


def _draw_legend(sheet: PictureSheet, plans: Sequence[FloorPlan], raised: float) -> None:
    """Explain lines and markers in one row under the maps, above so much [in] of lines about limits."""
    from matplotlib.lines import Line2D

    kinds = {outline.kind for plan in plans for outline in plan.outlines}
    names: dict[str, str] = {kind: f"{kind} below" for kind in ("plate", "joist", "tube") if kind in kinds}
    if "rim" in kinds:
        names["joist"] = "joists and rim below"
    if "rug" in kinds:
        names["rug"] = "rug"
    handles = [Line2D([], [], color=INK, label=name, **_LINES[kind]) for kind, name in names.items()]
    handles += [
        Line2D([], [], label=f"{word} spot", **_marker_style(marker))
        for word, marker in (("warmest", "^"), ("coolest", "v"))
    ]
    sheet.figure.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(MARGIN / sheet.width, (0.32 + raised) / sheet.height),
        ncols=len(handles),
        fontsize=SMALL_SIZE,
        frameon=False,
        labelcolor=INK,
        handlelength=2.6,
        columnspacing=1.6,
        borderpad=0.0,
    )

"""An upright section through computed air: its temperature in colours, its flow as streamlines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.air_motion import motion_words
from sim.results.people import Units
from viz.air_lines import lines_from, seeds
from viz.air_view import (
    AirSection,
    PlainScale,
    air_scale,
    air_section,
    is_still,
    shown_length,
    shown_place,
    shown_speed,
    shown_temperature,
    shown_unit,
    solid_outlines,
)
from viz.choice import Array, Choice, Outline
from viz.drawable import takes_result
from viz.fine_section import fine_section, raster
from viz.layout import INK, SMALL_SIZE, PictureSheet, caption_of, colour_bar, head_height, headline_of, name_lengths
from viz.scales import NEUTRAL, Scale, temperature_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 9.5
LINES = 11
"""Streamlines between rest and the largest stream function, in a two-dimensional flow."""
FOLLOWED = 18
"""Streamlines at most in a section of a three-dimensional flow."""
DOTS = 900
"""Dots of the raster along the longer side."""
MARGIN = 0.03
"""Solids are drawn this far around the air [m]: joists, floor and the top of the insulation."""
_LEFT, _BELOW, _RIGHT, _MOST_HEIGHT = 0.85, 0.95, 1.45, 6.2


@takes_result
def draw_air_section(
    choice: Choice, *, at: float | None = None, now: bool = False, title: str = "", units: Units = "si"
) -> Figure:
    """Draw temperature and flow of the air in an upright section across the bay.

    In a two-dimensional flow equal amounts of air flow between neighbouring lines; in a section of a
    three-dimensional flow a few lines follow the velocity within the section, from plate edges and tubes first.

    Parameters
    ----------
    choice : Choice
        A run whose fields hold computed air.
    at : float, optional
        Place along the bay [m]; default: through the fastest air over a plate, where there are plates.
    now : bool
        The flow at the end instead of its mean.
    title : str, optional
        Headline; default: case title and name of the choice.
    units : "si" or "ip"
        °C and metres, or °F and inches.

    Raises
    ------
    ValueError
        When the run has no computed air.
    """
    section = air_section(choice, at, now=now)
    solids = _solid_temperatures(choice, section)
    scale = air_scale([section.temperature, *(values for *_, values in solids)], section.dimensionless, units)
    headline, note = title or headline_of(choice), _note(choice, section, scale, now)
    width, height = drawing_size(section, solids)
    sheet_width = _LEFT + width + _RIGHT
    sheet = PictureSheet(sheet_width, head_height(headline, note, sheet_width) + 0.3 + height + _BELOW)
    sheet.head(headline, note)
    axes = sheet.axes(_LEFT, _BELOW, width, height)
    draw_section_on(axes, choice, section, scale, solids)
    colour_bar(sheet, (_LEFT + width + 0.3, _BELOW, 0.2, height - 0.4), scale, "temperature")
    sheet.foot(caption_of([choice], headline))
    return sheet.figure


def draw_section_on(
    axes: Axes, choice: Choice, section: AirSection, scale: Scale, solids: Any = (), strongest: float | None = None
) -> None:
    """Draw one section on axes: solids, air, streamlines, outlines of the parts, labels of both directions.

    Parameters
    ----------
    solids : sequence of (x edges, z edges, temperatures)
    strongest : float, optional [m²/s]
        Largest stream function that the spacing of the lines is for; default: the section's own.
    """
    axes.set_facecolor(NEUTRAL)
    _raster(axes, choice, section, scale, solids)
    if is_still(choice, section.fastest, float(np.ptp(section.z_edge))):
        _say_still(axes)
    elif section.flat:
        _draw_stream_function(axes, section, scale, strongest)
    else:
        _draw_streams(axes, choice, section, scale)
    for part in solid_outlines(choice, section.y):
        _draw_part(axes, part, scale, _inside(part, solids, scale))
    x, z = (shown_length(span, scale) for span in _spans(section, solids))
    axes.set(xlim=x, ylim=z)
    axes.set_aspect("equal", adjustable="box", anchor="SW")
    if isinstance(scale, PlainScale):
        axes.set_xlabel(f"across, {shown_unit(scale)}", fontsize=SMALL_SIZE, color=INK)
        axes.set_ylabel(f"height, {shown_unit(scale)}", fontsize=SMALL_SIZE, color=INK)
    else:
        name_lengths(axes, "across", "height", scale.units)


def _say_still(axes: Axes) -> None:
    """The words in place of streamlines."""
    style: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": 12.0, "color": INK}
    text = axes.text(0.5, 0.5, "air at rest", transform=axes.transAxes, **style)
    text.set_path_effects(_halo(3.0))


def _note(choice: Choice, section: AirSection, scale: Scale, now: bool) -> str:
    where = "" if section.flat else f", {shown_place(section.y, scale)} along the bay"
    which = "at the end" if now else "mean"
    if is_still(choice, section.fastest, float(np.ptp(section.z_edge))):
        return f"Air in an upright section{where}: {which} temperature; the air is at rest"
    fastest = shown_speed(section.fastest, scale)
    weak = "; " + motion_words(choice.report) if "peclet" in choice.report else ""
    return f"Air in an upright section{where}: {which} temperature and flow, fastest {fastest}{weak}"


def _spans(section: AirSection, solids: Any = ()) -> list[Array]:
    """From and to along x and z [m] of air and solids together."""
    edges = [(section.x_edge, section.z_edge), *((x, z) for x, z, _ in solids)]
    return [np.array([min(e[0] for e in own), max(e[-1] for e in own)]) for own in zip(*edges, strict=True)]


def drawing_size(section: AirSection, solids: Any = ()) -> tuple[float, float]:
    """Width and height of the drawing [in], true to the section's shape."""
    wide, tall = (float(np.ptp(span)) for span in _spans(section, solids))
    width = SHEET_WIDTH - _LEFT - _RIGHT
    height = width * tall / wide
    shrink = min(1.0, _MOST_HEIGHT / height)
    return max(2.2, float(width * shrink)), float(height * shrink)


def _solid_temperatures(choice: Choice, section: AirSection) -> list[tuple[Array, Array, Array]]:
    """Temperatures of the solids close around the air, where the run has them: (x edges, z edges, values)."""
    if "temperature" not in choice.fields:
        return []
    j = int(np.abs(choice.fields["y"].values - section.y).argmin())
    kelvin = np.asarray(choice.fields["temperature"].values[:, j], dtype=float)
    x, z = (_close(choice.edges(axis), own) for axis, own in (("x", section.x_edge), ("z", section.z_edge)))
    return [(choice.edges("x")[x.start : x.stop + 1], choice.edges("z")[z.start : z.stop + 1], kelvin[x, z])]


def _close(edges: Array, air: Array) -> slice:
    """Cells along one axis that lie within MARGIN of the air."""
    middles = 0.5 * (edges[1:] + edges[:-1])
    near = np.flatnonzero((middles > air[0] - MARGIN) & (middles < air[-1] + MARGIN))
    return slice(int(near[0]), int(near[-1]) + 1)


def _raster(axes: Axes, choice: Choice, section: AirSection, scale: Scale, solids: Any) -> None:
    """Solids and air on a fine raster, interpolated; a section of pictures in time as its cells."""
    colours = temperature_colours().with_extremes(bad=(0, 0, 0, 0))
    if "air_y" not in choice.fields["air_temperature"].dims:
        edges = shown_length(section.x_edge, scale), shown_length(section.z_edge, scale)
        values = np.ma.masked_invalid(shown_temperature(section.temperature, scale))
        axes.pcolormesh(*edges, values.T, cmap=colours, norm=scale.norm, rasterized=True)
        return
    (x0, x1), (z0, z1) = _spans(section, solids)
    dots = DOTS / max(x1 - x0, z1 - z0)
    places = [raster(low, high, max(24, int(dots * (high - low)))) for low, high in ((x0, x1), (z0, z1))]
    kelvin, _ = fine_section(choice, section.y, *places, now=section.now)
    values = np.ma.masked_invalid(shown_temperature(kelvin, scale))
    extent = tuple(shown_length([x0, x1, z0, z1], scale))
    look: dict[str, Any] = {"origin": "lower", "extent": extent, "cmap": colours, "norm": scale.norm, "zorder": 1.0}
    axes.imshow(values.T, aspect="auto", **look)


def _inside(part: Outline, solids: Any, scale: Scale) -> Any:
    """The colour of the solid where a part is; neutral where there is none with a temperature."""
    x0, x1, _, _, z0, z1 = part.box
    for x_edge, z_edge, kelvin in solids:
        i = [np.flatnonzero((e[1:] > a) & (e[:-1] < b)) for e, a, b in ((x_edge, x0, x1), (z_edge, z0, z1))]
        own = kelvin[np.ix_(*i)]
        if np.isfinite(own).any():
            return temperature_colours()(scale.norm(float(shown_temperature(np.nanmax(own), scale))))
    return NEUTRAL


def stream_lines(section: AirSection, strongest: float | None = None) -> tuple[Array, Array]:
    """ψ (nx, nz + 1) [m²/s] at cell centres across and cell edges upwards, and the values at which lines are drawn.

    LINES of them up to the strongest |ψ|, by default that of the section.
    """
    across = np.nan_to_num(section.across) * np.diff(section.z_edge)
    psi = np.concatenate([np.zeros((len(across), 1)), np.cumsum(across, axis=1)], axis=1)
    low, high = float(psi.min()), float(psi.max())
    step = float((strongest or max(high, -low)) / (LINES + 0.5)) or 1.0
    numbers = np.arange(int(np.floor(low / step)), int(np.ceil(high / step)))
    return psi, np.asarray(step * (numbers + 0.5), dtype=float)


def _draw_stream_function(axes: Axes, section: AirSection, scale: Scale, strongest: float | None) -> None:
    """Lines of equal stream function, each piece with an arrow where it is longest."""
    psi, levels = stream_lines(section, strongest)
    levels = levels[(levels > psi.min()) & (levels < psi.max())]
    if not levels.size:
        return
    x, z = shown_length(section.x, scale), shown_length(section.z_edge, scale)
    drawn = axes.contour(x, z, psi.T, levels=levels, colors=INK, linewidths=0.8, linestyles="solid")
    drawn.set_path_effects(_halo(2.2))
    for number, line in enumerate(line for level in drawn.allsegs[::2] for line in level):
        _draw_arrow(axes, line, (0.38 + 0.618 * number) % 1.0, section, scale)


def _halo(width: float) -> list[Any]:
    """A pale rim, so that dark lines are seen on dark colours."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground="white", alpha=0.4)]


def _draw_arrow(axes: Axes, line: Array, share: float, section: AirSection, scale: Scale) -> None:
    """An arrow head on a line, a share of its length from its start; none on very short lines."""
    from matplotlib.patches import FancyArrowPatch

    size = float(shown_length(np.ptp(section.z_edge), scale))
    walked = np.append(0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T)))
    if walked[-1] < 0.3 * size:
        return
    ends = share * walked[-1] + 0.012 * size * np.array([-1.0, 1.0])
    before, after = (np.array([np.interp(at, walked, column) for column in line.T]) for at in ends)
    cell = tuple(
        int(np.abs(shown_length(places, scale) - at).argmin())
        for places, at in zip((section.x, section.z), 0.5 * (before + after), strict=True)
    )
    flow = np.nan_to_num([section.across[cell], section.up[cell]])
    start, end = (before, after) if np.dot(after - before, flow) >= 0.0 else (after, before)
    style: dict[str, Any] = {"arrowstyle": "-|>", "mutation_scale": 9.0, "color": INK, "linewidth": 0.0, "zorder": 3}
    axes.add_patch(FancyArrowPatch(tuple(start), tuple(end), shrinkA=0.0, shrinkB=0.0, **style))


def _draw_streams(axes: Axes, choice: Choice, section: AirSection, scale: Scale) -> None:
    """Lines that follow the velocity within the section, few enough to follow, each with its arrow."""
    for line in lines_from(section, seeds(section, choice.outlines), FOLLOWED):
        points = np.asarray(shown_length(line.points, scale))
        axes.plot(*points.T, color="white", alpha=0.5, linewidth=2.4, zorder=2)
        axes.plot(*points.T, color=INK, linewidth=0.7 + 1.1 * line.speed / section.fastest, zorder=2)
        _draw_arrow(axes, points, 0.5, section, scale)


def _draw_part(axes: Axes, part: Outline, scale: Scale, inside: Any = NEUTRAL) -> None:
    """The outline of a part: a circle for a tube seen from its end, a thick line for a sheet."""
    from matplotlib.patches import Circle

    x0, x1, y0, y1, z0, z1 = shown_length(part.box, scale)
    if part.kind == "tube" and y1 - y0 > x1 - x0:
        middle = ((x0 + x1) / 2, (z0 + z1) / 2)
        axes.add_patch(Circle(middle, (x1 - x0) / 2, facecolor=inside, edgecolor=INK, linewidth=1.0, zorder=3))
        return
    thin = part.kind in ("sheet", "plate")
    x, z = [x0, x1, x1, x0, x0], [z0, z0, z1, z1, z0]
    axes.plot(x, z, color="white", alpha=0.4, linewidth=4.0 if thin else 1.5, zorder=3)
    axes.plot(x, z, color=INK, linewidth=2.2 if thin else 0.7, zorder=3)

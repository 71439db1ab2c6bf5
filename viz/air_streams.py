"""Streamlines of computed air in three dimensions, around plates and tubes, coloured by temperature, off-screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import Units
from viz.air_view import air_scale, has_air, is_dimensionless, is_still, shown_speed, shown_temperature
from viz.choice import Array, Choice, Outline
from viz.drawable import takes_result
from viz.layout import INK, MARGIN, SOFT, PictureSheet, caption_of, colour_bar, head_height, headline_of
from viz.scales import Scale, temperature_colours
from viz.scene import drawn_apart, plotter_off_screen

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SHEET_WIDTH = 10.0
LINES = 44
"""Streamlines that are followed, few enough to follow each; they begin at plate edges and tubes."""
STEP_ALONG = 0.06
"""Distance of two beginnings along a plate's edge or a tube, as a share of the air's width."""
STRETCH = 3.0
"""Longest side that is shown, over the next longest: of a whole bay the stretch in its middle, or nothing is seen."""
_METAL, _OTHER = "#9aa4ab", "#b9c0c5"
_VIEW = (-0.75, -1.0, 0.42)
_SCALE, _BELOW = 1.05, 0.5
_SHOWN = ("plate", "sheet", "tube", "block")


@takes_result
def draw_air_streams(
    choice: Choice, *, now: bool = False, title: str = "", units: Units = "si", pixels: tuple[int, int] = (1500, 1000)
) -> Figure:
    """Draw streamlines of the air as tubes in temperature colours, with plates, tubes and solid blocks.

    Lines start at the edges of plates and at tubes, without those spread over the quicker half of the air; a plane
    across shows the temperature behind them. Of a long cavity its middle is shown.

    Parameters
    ----------
    choice : Choice
        A run whose fields hold computed air in three dimensions.
    now : bool
        The flow at the end instead of its mean.
    title : str, optional
        Headline; default: case title and name of the choice.
    units : "si" or "ip"
    pixels : tuple of int
        Size in which the scene is rendered.

    Raises
    ------
    ValueError
        When the run has no computed air, or a two-dimensional one.
    DisplayError
        When the machine cannot draw in three dimensions; the text says what to install.
    """
    if not has_air(choice.fields) or choice.fields.sizes["air_y"] < 2:
        raise ValueError(f"{choice.name or 'this run'}: has no air computed in three dimensions")
    ending = "_now" if now else ""
    scale = air_scale([choice.fields[f"air_temperature{ending}"].values], is_dimensionless(choice.fields), units)
    picture, speed = drawn_apart(_lines_seen, _lean(choice, ending), ending, scale, pixels)
    which = "at the end" if now else "mean"
    headline, note = title or headline_of(choice), f"Streamlines of the {which} flow of the air"
    note = f"{note}, fastest {shown_speed(speed, scale)}" if speed > 0.0 else "The air is at rest: no streamlines"
    note += ", a stretch in the middle" if any(_cut(choice)) else ""
    width = SHEET_WIDTH - _SCALE - 2 * MARGIN
    height = width * picture.shape[0] / picture.shape[1]
    sheet = PictureSheet(SHEET_WIDTH, head_height(headline, note, SHEET_WIDTH) + height + _BELOW)
    sheet.head(headline, note)
    axes = sheet.axes(MARGIN, _BELOW, width, height)
    axes.imshow(picture, interpolation="antialiased", aspect="auto")
    axes.set_axis_off()
    tall = min(3.6, height - 0.6)
    colour_bar(sheet, (SHEET_WIDTH - MARGIN - 0.72, _BELOW + (height - tall) / 2, 0.2, tall), scale, "temperature")
    sheet.foot(caption_of([choice], headline))
    return sheet.figure


def _lean(choice: Choice, ending: str) -> Choice:
    """The choice with nothing but what is drawn, in memory."""
    fields = [f"air_{name}{ending}" for name in ("temperature", "velocity_x", "velocity_y", "velocity_z")]
    kept = choice.fields[[*fields, *(f"air_{axis}_edge" for axis in "xyz")]].load()
    return replace(choice, fields=kept, report=_kept(choice))


def _kept(choice: Choice) -> dict[str, Any]:
    """What the drawing needs of the report."""
    return {key: choice.report[key] for key in ("peclet",) if key in choice.report}


def _lines_seen(choice: Choice, ending: str, scale: Scale, pixels: tuple[int, int]) -> tuple[Any, float]:
    """The picture, and the fastest air in it [m/s]."""
    grid = air_grid(choice, ending, scale)
    fastest = float(np.linalg.norm(grid["velocity"], axis=1).max())
    still = is_still(choice, fastest, float(np.ptp(choice.edges("air_z"))))
    return _trimmed(_photograph(choice, grid, scale, pixels, still)), 0.0 if still else fastest


def air_grid(choice: Choice, ending: str, scale: Scale) -> Any:
    """The air as a rectilinear grid with temperature and velocity on its points, which are cell centres.

    Solids are at rest; walls at the ends are added by repeating the last cells, so that lines fill what is shown.
    """
    import pyvista

    places, fields = [], {}
    cuts = _cut(choice)
    shown = tuple(slice(cut, -cut or None) for cut in cuts)
    for axis, cut, part in zip("xyz", cuts, shown, strict=True):
        centres, edges = choice.fields[f"air_{axis}"].values[part], choice.edges(f"air_{axis}")
        places.append(np.concatenate([edges[cut : cut + 1], centres, edges[len(edges) - 1 - cut :][:1]]))
    for name in ("temperature", "velocity_x", "velocity_y", "velocity_z"):
        values = np.asarray(choice.fields[f"air_{name}{ending}"].values, dtype=float)[shown]
        fields[name] = np.pad(values, 1, mode="edge")
    grid: Any = pyvista.RectilinearGrid(*places)
    warmth = fields["temperature"]
    colour = shown_temperature(np.where(np.isnan(warmth), np.nanmean(warmth), warmth), scale)
    grid["temperature"] = colour.ravel(order="F")
    grid["air"] = np.isfinite(warmth).astype(float).ravel(order="F")
    columns = [np.nan_to_num(fields[f"velocity_{axis}"]).ravel(order="F") for axis in "xyz"]
    grid["velocity"] = np.stack(columns, axis=1)
    return grid


def _cut(choice: Choice) -> tuple[int, int, int]:
    """Cells that are left out at both ends of each axis, so that no side is much longer than the next longest."""
    edges = [choice.edges(f"air_{axis}") for axis in "xyz"]
    spans = [float(np.ptp(own)) for own in edges]
    spare = [max(0.0, span - STRETCH * sorted(spans)[1]) / 2 for span in spans]
    x, y, z = (int(np.searchsorted(own - own[0], s + 1e-9)) - 1 for own, s in zip(edges, spare, strict=True))
    return x, y, z


def seeds(grid: Any, count: int = LINES) -> Array:
    """Points (count, 3) at which lines start: spread by a low-discrepancy sequence over the quicker half of the air."""
    from scipy.stats import qmc

    bounds = np.array(grid.bounds)
    low, high = bounds[::2], bounds[1::2]
    points = qmc.scale(qmc.Halton(3, seed=1).random(8 * count), low, high)
    import pyvista

    speed = np.linalg.norm(pyvista.PolyData(points).sample(grid)["velocity"], axis=1)
    quick = np.flatnonzero(speed >= np.median(speed))
    return np.asarray(points[quick[:count]])


def starts(grid: Any, outlines: Sequence[Outline], count: int = LINES) -> Array:
    """Points (n, 3) at plate edges and tubes within the air's box, evenly taken; `seeds` where there are none."""
    bounds = np.array(grid.bounds)
    low, high = bounds[::2], bounds[1::2]
    gap, step = 0.012 * float(high[0] - low[0]), STEP_ALONG * float(high[0] - low[0])
    found: list[tuple[float, float, float]] = []
    for part in outlines:
        x0, x1, y0, y1, z0, z1 = part.box
        along = np.arange(max(y0, low[1]) + step / 2, min(y1, high[1]), step)
        if part.kind in ("plate", "sheet"):
            found += [(x, float(y), z1 + gap) for y in along for x in (x0 - gap, x1 + gap)]
        elif part.kind == "tube" and y1 - y0 > x1 - x0:
            found += [(x, float(y), (z0 + z1) / 2) for y in along for x in (x0 - gap, x1 + gap)]
    points = np.array([p for p in found if np.all(p > low) and np.all(p < high)]).reshape(-1, 3)
    if not len(points):
        return seeds(grid, count)
    return points[np.unique(np.linspace(0, len(points) - 1, count).round().astype(int))]


def stream_lines(grid: Any, outlines: Sequence[Outline] = ()) -> Any:
    """Streamlines through the starts, in both directions, each not much longer than the cavity is wide."""
    import pyvista

    spans = np.array(grid.bounds)[1::2] - np.array(grid.bounds)[::2]
    return grid.streamlines_from_source(
        pyvista.PolyData(starts(grid, outlines)),
        vectors="velocity",
        integration_direction="both",
        max_length=0.6 * float(spans.max()),
        initial_step_length=0.2,
        max_step_length=0.5,
        terminal_speed=1e-9,
    )


def _photograph(choice: Choice, grid: Any, scale: Scale, size: tuple[int, int], still: bool) -> Any:
    """Render lines (none of air at rest), parts and the frame of the air."""
    import pyvista

    plotter = plotter_off_screen(size)
    spans = np.array(grid.bounds)[1::2] - np.array(grid.bounds)[::2]
    look = {"cmap": temperature_colours(), "clim": (scale.low, scale.high), "show_scalar_bar": False}
    if not still:
        lines = stream_lines(grid, choice.outlines).tube(radius=0.0016 * float(spans.max()), n_sides=8)
        plotter.add_mesh(lines, scalars="temperature", ambient=0.65, diffuse=0.4, specular=0.0, **look)
    behind = grid.slice(normal="y", origin=(grid.center[0], grid.bounds[3] - 1e-6, grid.center[2]))
    behind = behind.threshold(0.5, scalars="air")
    if behind.n_cells:
        plotter.add_mesh(behind, scalars="temperature", lighting=False, opacity=0.55, **look)
    plotter.add_mesh(pyvista.Box(grid.bounds).extract_all_edges(), color=SOFT, line_width=1.4, lighting=False)
    for part in choice.outlines:
        if part.kind in _SHOWN and (body := _body(part, grid.bounds)) is not None:
            plotter.add_mesh(body, color=_METAL if part.kind != "block" else _OTHER, ambient=0.6, diffuse=0.5)
            plotter.add_mesh(body.extract_feature_edges(60), color=INK, line_width=1.4, lighting=False)
    _aim(plotter, grid.bounds)
    plotter.enable_anti_aliasing("ssaa")
    picture = np.array(plotter.screenshot(return_img=True))
    plotter.close()
    return picture


def _body(part: Outline, bounds: Any) -> Any:
    """A part as far as it lies within the air's box; a round tube as a cylinder."""
    import pyvista

    low, high = np.maximum(part.box[::2], bounds[::2]), np.minimum(part.box[1::2], bounds[1::2])
    if (high < low - 1e-9).any():
        return None
    ends = [float(v) for pair in zip(low, high, strict=True) for v in pair]
    if part.kind != "tube":
        return pyvista.Box(ends)
    axis = int(np.argmax(np.diff(np.reshape(part.box, (3, 2)))[:, 0]))
    box = np.reshape(part.box, (3, 2))
    radius = 0.5 * float(np.diff(box[axis - 1])[0])
    middle, direction = box.mean(axis=1), np.eye(3)[axis]
    middle[axis] = 0.5 * (low[axis] + high[axis])
    tube = pyvista.Cylinder(
        center=middle, direction=direction, radius=radius, height=float(high[axis] - low[axis]), resolution=48
    )
    return tube.clip_box(ends, invert=False).extract_surface(algorithm=None)


def _aim(plotter: Any, bounds: Any) -> None:
    """Look at the air from its front end, slightly from above."""
    low, high = np.array(bounds[::2]), np.array(bounds[1::2])
    plotter.camera.focal_point = (low + high) / 2
    plotter.camera.position = (low + high) / 2 + 4.0 * np.array(_VIEW)
    plotter.camera.up = (0.0, 0.0, 1.0)
    plotter.camera.view_angle = 18.0
    plotter.reset_camera(bounds=list(bounds))
    plotter.camera.zoom(1.1)


def _trimmed(picture: Any) -> Any:
    """Cut the white margins off."""
    seen = (picture < 250).any(axis=2)
    rows, columns = (np.flatnonzero(seen.any(axis=axis)) for axis in (1, 0))
    window = np.s_[max(0, rows[0] - 6) : rows[-1] + 7, max(0, columns[0] - 6) : columns[-1] + 7]
    return picture[window]

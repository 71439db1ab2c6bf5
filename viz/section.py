"""A section across the bay (x-z) with the temperature of every part, and a detail around one tube."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sim.results.people import Units, format_value
from sim.results.spelling import spelled
from viz.air_view import has_air
from viz.choice import Array, Choice, Outline
from viz.drawable import takes_result
from viz.findings import way_finding
from viz.fine_section import fine_section, raster
from viz.layout import (
    INK,
    SMALL_SIZE,
    SOFT,
    PictureSheet,
    caption_of,
    colour_bar,
    display_length,
    head_height,
    headline_of,
    length_unit,
    name_lengths,
    spread,
    wrap,
)
from viz.scales import NEUTRAL, Scale, display_temperature, shared_scale, temperature_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_LEFT, _WIDTH, _LABELS, _DETAIL, _BELOW = 0.85, 4.5, 1.75, 2.45, 0.95
_LEAST_HEIGHT, _MOST_HEIGHT = 2.9, 4.6
FLAT = 0.1
"""Height of blocks over their width below which a section true to shape would show nothing."""


@takes_result
def draw_section(choice: Choice, *, at: float | None = None, title: str = "", units: Units = "si") -> Figure:
    """Draw the temperature in a section across the bay; of blocks in the plane of x and z through the warmest spot.

    Computed air is drawn as computed, other cavity air in the temperature of its zone (fields `air_zone` and
    `zone_temperature`), or in a neutral tone where the run has none.

    Parameters
    ----------
    choice : Choice
        The run.
    at : float, optional
        Place along the bay [m]; default: through the plate nearest to the floor's warmest spot, else that spot.
    title : str, optional
        Headline; default: case title and name of the choice.
    units : "si" or "ip"
        °C and metres, or °F and inches.
    """
    j = _slice_at(choice, at)
    y = float(choice.fields["y"].values[j])
    scale = _scale(choice, j, units)
    x_edge, z_edge = choice.edges("x"), choice.edges("z")
    height = (z_edge[-1] - z_edge[0]) * _WIDTH / (x_edge[-1] - x_edge[0])
    height = float(np.clip(height, _LEAST_HEIGHT, _MOST_HEIGHT))
    headline, finding = title or headline_of(choice), "" if title else way_finding(choice, units)
    bay = "floor_temperature" in choice.fields
    note = f"Temperature in a section {_where(choice, y, units)}"
    flat = not bay and z_edge[-1] - z_edge[0] < FLAT * (x_edge[-1] - x_edge[0])
    note += "; its heights are stretched" if flat else ""
    tubes = [part for part in _parts_at(choice, y) if _is_round_tube(part) and bay]
    width = SHEET_WIDTH if tubes else SHEET_WIDTH - _DETAIL - 0.3
    sheet = PictureSheet(width, head_height(headline, note, width, finding) + 0.3 + height + _BELOW)
    sheet.head(headline, note, finding)
    axes = sheet.axes(_LEFT, _BELOW, _WIDTH, height)
    _draw_slice(axes, choice, j, scale)
    _set_window(axes, (x_edge[0], x_edge[-1], z_edge[0], z_edge[-1]), units, "box")
    if flat:
        axes.set_aspect("auto")
    _label_axes(axes, units, bay)
    _label_parts(sheet, axes, choice, y, units)
    if tubes:
        _draw_detail(sheet, axes, choice, (j, tubes[-1]), scale)
    colour_bar(sheet, (width - 1.05, _BELOW, 0.2, height - 0.35), scale, "temperature")
    sheet.foot(caption_of([choice], headline))
    return sheet.figure


def _slice_at(choice: Choice, at: float | None) -> int:
    """Index along y of the section."""
    if at is not None:
        return int(np.argmin(np.abs(choice.fields["y"].values - at)))
    name = "floor_temperature" if "floor_temperature" in choice.fields else "temperature"
    kelvin = choice.fields[name].values
    warmest = int(np.unravel_index(np.nanargmax(kelvin), kelvin.shape)[1])
    return _slice_at(choice, choice.plate_by(float(choice.fields["y"].values[warmest])))


def _where(choice: Choice, y: float, units: Units) -> str:
    """Where a section lies; of a bay in the small units of the trade, and whether it meets a plate."""
    if "floor_temperature" not in choice.fields:
        return f"at y = {display_length(y, units):.3g} {length_unit(units)}"
    where = f"{1000.0 * y:.0f} mm" if units == "si" else f"{display_length(y, units):.3g} in"
    through = {True: "through a plate, ", False: "between plates, "}
    met = through[any(part.kind == "plate" for part in _parts_at(choice, y))]
    plates = any(part.kind == "plate" for part in choice.outlines)
    return f"across the joists, {met if plates else ''}{where} along the bay"


def _scale(choice: Choice, j: int, units: Units) -> Scale:
    """The scale of everything that the section shows, water included."""
    y = float(choice.fields["y"].values[j])
    tubes = sum(_is_round_tube(part) for part in _parts_at(choice, y))
    water = [_water_at(choice, run, y) for run in range(tubes)]
    return shared_scale([choice.fields["temperature"].values[:, j, :], water], units)


def _draw_slice(axes: Axes, choice: Choice, j: int, scale: Scale) -> None:
    """Draw cells, then smooth parts over them, then outlines and tubes."""
    from matplotlib.colors import ListedColormap

    units, y = scale.units, float(choice.fields["y"].values[j])
    kelvin = np.asarray(choice.fields["temperature"].values[:, j, :], dtype=float)
    edges = [display_length(choice.edges(axis), units) for axis in "xz"]
    cavity = np.where(_cavity(choice, j), 0.0, np.nan)
    axes.pcolormesh(*edges, cavity.T, cmap=ListedColormap([NEUTRAL]), rasterized=True)
    parts = _parts_at(choice, y)
    tubes = [part for part in parts if _is_round_tube(part)]
    colours = temperature_colours().with_extremes(bad=(0, 0, 0, 0))
    if has_air(choice.fields):
        _draw_computed_air(axes, choice, y, scale)
    else:
        shown = _without(_with_air(kelvin, choice, j), choice, tubes)
        values = np.ma.masked_invalid(display_temperature(shown, units))
        axes.pcolormesh(*edges, values.T, cmap=colours, norm=scale.norm, rasterized=True)
    for part in parts:
        if part not in tubes:
            _draw_smooth(axes, choice, kelvin, part, scale)
    for part in parts:
        if part not in tubes:
            x0, x1, _, _, z0, z1 = display_length(part.box, units)
            x, z = [x0, x1, x1, x0, x0], [z0, z0, z1, z1, z0]
            axes.plot(x, z, color="white", alpha=0.4, linewidth=1.5)
            axes.plot(x, z, color=INK, linewidth=0.7)
    for run, tube in enumerate(tubes):
        _draw_tube(axes, tube, _tube_temperature(choice, kelvin, (run, tube), j), scale)


def _draw_computed_air(axes: Axes, choice: Choice, y: float, scale: Scale) -> None:
    """Solids and computed air on a fine raster: no zones where the flow is known."""
    x, z = choice.edges("x"), choice.edges("z")
    across, up = raster(x[0], x[-1], 700), raster(z[0], z[-1], 500)
    values = np.ma.masked_invalid(display_temperature(fine_section(choice, y, across, up)[0], scale.units))
    extent = display_length([x[0], x[-1], z[0], z[-1]], scale.units)
    colours = temperature_colours().with_extremes(bad=(0, 0, 0, 0))
    look: dict[str, Any] = {"origin": "lower", "extent": tuple(extent), "cmap": colours, "norm": scale.norm}
    axes.imshow(values.T, aspect="auto", zorder=1.0, **look)


def _parts_at(choice: Choice, y: float) -> list[Outline]:
    """Parts that the section cuts."""
    return [part for part in choice.outlines if part.box[2] <= y <= part.box[3]]


def _is_round_tube(part: Outline) -> bool:
    """Whether a part is a tube that the section cuts across (it runs along the bay)."""
    x0, x1, y0, y1 = part.box[:4]
    return part.kind == "tube" and y1 - y0 > x1 - x0


def _cavity(choice: Choice, j: int) -> npt.NDArray[np.bool_]:
    """Cells of the section that are air of the cavity: no temperature of their own, but part of the bay."""
    empty = np.isnan(choice.fields["temperature"].values[:, j, :])
    return np.asarray(empty & (choice.fields["material"].values[:, j, :] >= 0))


def _with_air(kelvin: Array, choice: Choice, j: int) -> Array:
    """Section temperatures [K] with the air of the cavity at the temperature of its zone."""
    if "air_zone" not in choice.fields or "zone_temperature" not in choice.fields:
        return kelvin
    zone = choice.fields["air_zone"].values[:, j, :]
    air = np.asarray(choice.fields["zone_temperature"].values, dtype=float)
    return np.where(zone >= 0, air[np.maximum(zone, 0)], kelvin)


def _draw_smooth(axes: Axes, choice: Choice, kelvin: Array, part: Outline, scale: Scale) -> None:
    """Draw one part with colours blended between its cells; parts keep sharp limits against each other."""
    x0, x1, _, _, z0, z1 = part.box
    cells = _cells_in(choice, part)
    values = kelvin[cells]
    if not values.size or not np.isfinite(values).all():
        return
    x = display_length([x0, *choice.fields["x"].values[cells[0].ravel()], x1], scale.units)
    z = display_length([z0, *choice.fields["z"].values[cells[1].ravel()], z1], scale.units)
    shown = display_temperature(np.pad(values, 1, mode="edge"), scale.units)
    axes.pcolormesh(
        x, z, shown.T, cmap=temperature_colours(), norm=scale.norm, shading="gouraud", rasterized=True
    )


def _cells_in(choice: Choice, part: Outline) -> Any:
    """Index of the cells of the section whose centres lie in a part."""
    x0, x1, _, _, z0, z1 = part.box
    centres = (choice.fields["x"].values, choice.fields["z"].values)
    pairs = zip(centres, (x0, z0), (x1, z1), strict=True)
    return np.ix_(*(np.flatnonzero((c > low) & (c < high)) for c, low, high in pairs))


def _without(kelvin: Array, choice: Choice, tubes: Sequence[Outline]) -> Array:
    """Section temperatures [K] with the stepped cells of round tubes replaced by what lies beside them."""
    from scipy.ndimage import distance_transform_edt

    taken = np.zeros(kelvin.shape, dtype=bool)
    for tube in tubes:
        taken[_cells_in(choice, tube)] = True
    if not taken.any():
        return kelvin
    nearest = distance_transform_edt(taken, sampling=(0.5, 1.0), return_distances=False, return_indices=True)
    return np.asarray(kelvin[tuple(nearest)])


def _tube_temperature(choice: Choice, kelvin: Array, which: tuple[int, Outline], j: int) -> float | None:
    """Temperature inside a tube [K]: its water, else the mean of its cells, else None."""
    run, tube = which
    water = _water_at(choice, run, float(choice.fields["y"].values[j]))
    if np.isfinite(water):
        return water
    cells = kelvin[_cells_in(choice, tube)]
    known = cells[np.isfinite(cells)]
    return float(known.mean()) if known.size else None


def _water_at(choice: Choice, run: int, y: float) -> float:
    """Water temperature of a run at a place along the bay [K]; NaN where it is not known."""
    if "water_position" not in choice.fields or run >= choice.fields["water_position"].shape[0]:
        return float("nan")
    place, kelvin = (choice.fields[f"water_{name}"].values[run] for name in ("position", "temperature"))
    known = np.flatnonzero(np.isfinite(place) & np.isfinite(kelvin))
    order = known[np.argsort(place[known])]
    return float(np.interp(y, place[order], kelvin[order])) if order.size else float("nan")


def _draw_tube(axes: Axes, tube: Outline, kelvin: float | None, scale: Scale) -> None:
    """Draw a round tube filled with the colour of its temperature."""
    from matplotlib.patches import Circle

    x0, x1, _, _, z0, z1 = display_length(tube.box, scale.units)
    face: Any = NEUTRAL
    if kelvin is not None and np.isfinite(kelvin):
        face = temperature_colours()(scale.norm(float(display_temperature(kelvin, scale.units))))
    middle = ((x0 + x1) / 2, (z0 + z1) / 2)
    axes.add_patch(Circle(middle, (x1 - x0) / 2, facecolor=face, edgecolor=INK, linewidth=0.9, zorder=3))


def _set_window(axes: Axes, window: Sequence[float], units: Units, adjustable: Any) -> None:
    """Show a window (x0, x1, z0, z1) [m] with equal scales."""
    x0, x1, z0, z1 = display_length(window, units)
    axes.set(xlim=(x0, x1), ylim=(z0, z1))
    axes.set_aspect("equal", adjustable=adjustable, anchor="SW")


def _label_axes(axes: Axes, units: Units, bay: bool) -> None:
    """Name both directions, those of blocks as their case does."""
    name_lengths(axes, *(("across the joists", "height") if bay else ("x", "z")), units)


def _label_parts(sheet: PictureSheet, axes: Axes, choice: Choice, y: float, units: Units) -> None:
    """Name one part of each name at the right of the section, with a line to it."""
    anchors = _anchors(choice, y, units)
    axes.apply_aspect()
    points = display_length([anchor[1:] for anchor in anchors], units)
    on_paper = axes.transData.transform(points) / sheet.figure.dpi
    (right, top), (_, bottom) = (axes.transAxes.transform(at) / sheet.figure.dpi for at in ((1, 1), (1, 0)))
    top = max(top, bottom + 0.27 * len(anchors))  # names of a low section rise above it
    levels = spread(on_paper[:, 1].tolist(), 0.27, bottom + 0.06, top - 0.06)
    for (name, _, _), (x, z), level in zip(anchors, on_paper, levels, strict=True):
        sheet.leader((x, z), (right + 0.17, level))
        (line, *_) = wrap(spelled(name, units), _LABELS - 0.35, SMALL_SIZE, most=1)
        sheet.text(right + 0.22, level - 0.04, line, SMALL_SIZE)


def _anchors(choice: Choice, y: float, units: Units) -> list[tuple[str, float, float]]:
    """Name and point (x, z) [m] of the parts to label: of each name the rightmost, near its right end."""
    found: dict[str, tuple[float, float]] = {}
    for part in _parts_at(choice, y):
        at = _label_spot(part)
        if part.label not in found or at[0] > found[part.label][0]:
            found[part.label] = at
    labels = [(name, *at) for name, at in found.items()]
    return labels + _air_anchor(choice, y, units)


def _label_spot(part: Outline) -> tuple[float, float]:
    """Point (x, z) [m] that the label of a part points at: near its right end, or high on upright sheets."""
    x0, x1, _, _, z0, z1 = part.box
    middle = (x0 + x1) / 2, (z0 + z1) / 2
    if part.kind == "tube":
        return middle
    if part.kind == "plate" and z1 - z0 > x1 - x0:
        return middle[0], z1 - 0.12 * (z1 - z0)
    return x1 - 0.06 * (x1 - x0), middle[1]


def _air_anchor(choice: Choice, y: float, units: Units) -> list[tuple[str, float, float]]:
    """Label of the cavity air, pointing at the tallest empty space in the right part of the bay."""
    j = int(np.argmin(np.abs(choice.fields["y"].values - y)))
    x, z_edge = choice.edges("x"), choice.edges("z")
    column = int(np.searchsorted(x, x[0] + 0.84 * (x[-1] - x[0]))) - 1
    empty = _cavity(choice, j)[column]
    steps = np.flatnonzero(np.diff(np.concatenate([[False], empty, [False]]).astype(int)))
    spaces = list(zip(z_edge[steps[::2]], z_edge[steps[1::2]], strict=True))
    if not spaces:
        return []
    low, high = max(spaces, key=lambda space: space[1] - space[0])
    text = "cavity air"
    if choice.report.get("cavity_air_C") is not None:
        text += f", {format_value('cavity_air_C', choice.report['cavity_air_C'], units)}"
    return [(text, float(choice.fields["x"].values[column]), float(low + high) / 2)]


def _draw_detail(
    sheet: PictureSheet, overview: Axes, choice: Choice, where: tuple[int, Outline], scale: Scale
) -> None:
    """Draw the surroundings of one tube larger, and mark them in the overview."""
    j, tube = where
    x0, x1, _, _, z0, _ = tube.box
    top = float(choice.edges("z")[-1])
    height = overview.get_position().height * sheet.height
    tall = max(1.12 * (top - z0), 0.06)
    wide = tall * _DETAIL / height
    window = ((x0 + x1 - wide) / 2, (x0 + x1 + wide) / 2, top - tall, top)
    left = _LEFT + _WIDTH + _LABELS
    axes = sheet.axes(left, _BELOW, _DETAIL, height)
    _draw_slice(axes, choice, j, scale)
    _set_window(axes, window, scale.units, "datalim")
    axes.set(xticks=[], yticks=[])
    _draw_frame(overview, window, scale.units)
    sheet.text(left, _BELOW + height + 0.09, "around one tube (dashed frame)", SMALL_SIZE, color=SOFT)


def _draw_frame(axes: Axes, window: Sequence[float], units: Units) -> None:
    """Mark a window (x0, x1, z0, z1) [m] by a dashed frame."""
    x0, x1, z0, z1 = display_length(window, units)
    x, z = [x0, x1, x1, x0, x0], [z0, z0, z1, z1, z0]
    axes.plot(x, z, color="white", linewidth=2.2, zorder=4, clip_on=False)
    axes.plot(x, z, color=INK, linewidth=1.1, linestyle=(0, (3, 2)), zorder=5, clip_on=False)

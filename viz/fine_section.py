"""Temperature in an upright section on any raster: solids and air each interpolated by themselves."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from viz.air_view import has_air
from viz.choice import Array, Choice, Outline

Mask = npt.NDArray[np.bool_]


def fine_section(choice: Choice, y: float, x: Array, z: Array, *, now: bool = False) -> tuple[Array, Mask]:
    """Temperatures of a section across the bay at places of a raster.

    Air is what was computed of it: its flow's mean temperature, or that of its zone; NaN where a run has neither.

    Parameters
    ----------
    choice : with fields of solids, of computed air, or of both.
    y : place along the bay [m].
    x, z : (nx,), (nz,) places across and upwards [m].
    now : computed air at the end instead of its mean.

    Returns
    -------
    kelvin : (nx, nz) [K]
    solid : (nx, nz)
        Where there is a solid with a temperature of its own.
    """
    if "temperature" not in choice.fields:
        return _computed_air(choice, y, x, z, now), np.zeros((x.size, z.size), dtype=bool)
    j = int(np.abs(choice.fields["y"].values - y).argmin())
    own = np.asarray(choice.fields["temperature"].values[:, j], dtype=float)
    edges = choice.edges("x"), choice.edges("z")
    beside = _without_tubes(choice, own, y)
    round_ = _in_tubes(choice, y, x, z)
    solid = np.where(round_, True, _at_cells(np.isfinite(beside), edges, x, z))
    kelvin = np.where(round_, _between_cells(own, edges, x, z), _between_cells(beside, edges, x, z))
    air = _computed_air(choice, y, x, z, now) if has_air(choice.fields) else _zones(choice, j, edges, x, z)
    return np.where(solid, kelvin, air), np.asarray(solid, dtype=bool)


def raster(low: float, high: float, count: int) -> Array:
    """Middles of equal steps between two places."""
    return np.asarray(low + (np.arange(count) + 0.5) * (high - low) / count)


def _tubes(choice: Choice, y: float) -> list[Outline]:
    """Tubes that run along the bay through the section."""
    return [p for p in choice.outlines if p.kind == "tube" and p.box[2] <= y <= p.box[3] and _runs_along(p)]


def _runs_along(part: Outline) -> bool:
    return part.box[3] - part.box[2] > part.box[1] - part.box[0]


def _in_tubes(choice: Choice, y: float, x: Array, z: Array) -> Mask:
    """Places within the round outlines of tubes."""
    inside = np.zeros((x.size, z.size), dtype=bool)
    for part in _tubes(choice, y):
        x0, x1, _, _, z0, z1 = part.box
        away = np.hypot(x[:, None] - (x0 + x1) / 2, z[None, :] - (z0 + z1) / 2)
        inside |= away <= (x1 - x0) / 2
    return inside


def _without_tubes(choice: Choice, own: Array, y: float) -> Array:
    """Cells of a section with the stepped cells of tubes replaced by what lies beside them, solid or not."""
    from scipy.ndimage import distance_transform_edt

    x, z = choice.fields["x"].values, choice.fields["z"].values
    taken = np.zeros(own.shape, dtype=bool)
    for part in _tubes(choice, y):
        x0, x1, _, _, z0, z1 = part.box
        taken |= ((x > x0) & (x < x1))[:, None] & ((z > z0) & (z < z1))[None, :]
    if not taken.any() or taken.all():
        return own
    nearest = distance_transform_edt(taken, sampling=(0.5, 1.0), return_distances=False, return_indices=True)
    return np.asarray(own[tuple(nearest)])


def _computed_air(choice: Choice, y: float, x: Array, z: Array, now: bool) -> Array:
    """The temperature of computed air, mean or at the end; NaN outside it."""
    fields = choice.fields
    j = int(np.abs(fields["air_y"].values - y).argmin())
    own = np.asarray(fields["air_temperature_now" if now else "air_temperature"].values[:, j], dtype=float)
    edges = choice.edges("air_x"), choice.edges("air_z")
    kelvin = _between_cells(own, edges, x, z)
    inside = ((x >= edges[0][0]) & (x <= edges[0][-1]))[:, None] & ((z >= edges[1][0]) & (z <= edges[1][-1]))[None, :]
    if "temperature" in fields:  # between the air's stepped walls and a solid's face the air goes on
        return np.where(inside, kelvin, np.nan)
    return np.where(inside & _at_cells(np.isfinite(own), edges, x, z), kelvin, np.nan)


def _zones(choice: Choice, j: int, edges: tuple[Array, Array], x: Array, z: Array) -> Array:
    """Air that is known by zones; NaN elsewhere."""
    if "air_zone" not in choice.fields or "zone_temperature" not in choice.fields:
        return np.full((x.size, z.size), np.nan)
    zone = _at_cells(choice.fields["air_zone"].values[:, j], edges, x, z)
    air = np.asarray(choice.fields["zone_temperature"].values, dtype=float)
    return np.asarray(np.where(zone >= 0, air[np.maximum(zone, 0)], np.nan))


def _at_cells(values: npt.NDArray[Any], edges: tuple[Array, Array], x: Array, z: Array) -> npt.NDArray[Any]:
    """Values of the cells that places lie in."""
    cells = (np.clip(np.searchsorted(e, p, "right") - 1, 0, e.size - 2) for e, p in zip(edges, (x, z), strict=True))
    return np.asarray(values[np.ix_(*cells)])


def _between_cells(values: Array, edges: tuple[Array, Array], x: Array, z: Array) -> Array:
    """Values interpolated between cell centres, gaps filled with what lies nearest."""
    whole = filled(values, edges)
    centres = [(e[1:] + e[:-1]) / 2.0 for e in edges]
    rows = np.array([np.interp(z, centres[1], row) for row in whole])
    return np.array([np.interp(x, centres[0], column) for column in rows.T]).T


def filled(values: Array, edges: tuple[Array, Array]) -> Array:
    """Values with every NaN replaced by the nearest value there is, by cells."""
    from scipy.ndimage import distance_transform_edt

    gaps = ~np.isfinite(values)
    if not gaps.any() or gaps.all():
        return values
    steps = [float(np.median(np.diff(e))) for e in edges]
    nearest = distance_transform_edt(gaps, sampling=steps, return_distances=False, return_indices=True)
    return np.asarray(values[tuple(nearest)])

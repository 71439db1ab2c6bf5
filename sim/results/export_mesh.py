"""Cells of a run as hexahedra with values in cells and at points: the solids, and the computed air between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import xarray

Array = npt.NDArray[np.float64]

# Corners of a cell in the order of a VTK hexahedron: bottom face counter-clockwise, then the top face.
_CORNERS = ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))


@dataclass(frozen=True, slots=True)
class CellMesh:
    """Hexahedra with values.

    Attributes
    ----------
    points : (points, 3) [m]
    cells : (cells, 8) corner numbers in the order of a VTK hexahedron
    cell_values : name to (cells,) or (cells, 3)
    point_values : name to (points,) or (points, 3), each the mean of the cells around it by volume
    """

    points: Array
    cells: npt.NDArray[np.int64]
    cell_values: Mapping[str, npt.NDArray[Any]]
    point_values: Mapping[str, Array]


def solid_mesh(fields: xarray.Dataset) -> CellMesh:
    """Solid cells with `temperature_K` and `material`; temperature at points too."""
    points, cells, solid = solid_hexahedra(fields)
    kelvin = fields["temperature"].values[solid]
    values = {"temperature_K": kelvin, "material": fields["material"].values[solid].astype(np.int32)}
    return CellMesh(points, cells, values, {"temperature_K": at_points(points, cells, kelvin)})


def air_mesh(fields: xarray.Dataset) -> CellMesh:
    """Cells of the computed air with temperature and velocity, mean and at the end, in cells and at points.

    Names carry the units; in a dimensionless case they say so.
    """
    edges = [fields[f"air_{axis}_edge"].values for axis in "xyz"]
    inside = np.isfinite(fields["air_temperature"].values)
    points, cells = hexahedra(edges, inside)
    warmth, pace = ("share_of_dT", "alpha_over_L") if fields.attrs.get("dimensionless") else ("K", "m_s")
    values: dict[str, npt.NDArray[Any]] = {}
    for ending in ("", "_now"):
        if f"air_temperature{ending}" in fields:
            values[f"temperature{ending}_{warmth}"] = fields[f"air_temperature{ending}"].values[inside]
            flow = [fields[f"air_velocity_{axis}{ending}"].values[inside] for axis in "xyz"]
            values[f"velocity{ending}_{pace}"] = np.stack(flow, axis=1)
    return CellMesh(points, cells, values, {name: at_points(points, cells, own) for name, own in values.items()})


def solid_hexahedra(
    fields: xarray.Dataset,
) -> tuple[Array, npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Return the solid cells of a run as hexahedra.

    Parameters
    ----------
    fields : xarray.Dataset
        With `temperature` (x, y, z), NaN where there is no solid, and `x_edge`, `y_edge`, `z_edge` [m].

    Returns
    -------
    points : (points, 3) array
        Corners that are used [m].
    cells : (cells, 8) array
        Corner numbers of each solid cell, in the order of a VTK hexahedron.
    solid : (nx, ny, nz) array of bool
        Which cells these are; `field[solid]` gives cell values in the same order.
    """
    solid = np.isfinite(fields["temperature"].values)
    points, cells = hexahedra([fields[f"{axis}_edge"].values for axis in "xyz"], solid)
    return points, cells, solid


def hexahedra(edges: list[Array], chosen: npt.NDArray[np.bool_]) -> tuple[Array, npt.NDArray[np.int64]]:
    """Points and corner numbers of the chosen cells of a grid with these edges [m]."""
    shape = tuple(edge.size for edge in edges)
    cell = np.nonzero(chosen)
    corners = np.stack(
        [
            np.ravel_multi_index(tuple(c + d for c, d in zip(cell, corner, strict=True)), shape)
            for corner in _CORNERS
        ],
        axis=1,
    )
    used, numbers = np.unique(corners, return_inverse=True)
    at = np.unravel_index(used, shape)
    points = np.stack([edge[index] for edge, index in zip(edges, at, strict=True)], axis=1)
    return points, numbers.reshape(corners.shape)


def at_points(points: Array, cells: npt.NDArray[np.int64], values: npt.NDArray[np.generic]) -> Array:
    """Values of cells (cells,) or (cells, 3) at their points, each the mean of the cells around it by volume."""
    volume = np.prod(np.abs(points[cells[:, 6]] - points[cells[:, 0]]), axis=1)
    columns = np.asarray(values, dtype=float).reshape(len(cells), -1)
    total = np.bincount(cells.ravel(), np.repeat(volume, 8), len(points))
    sums = [np.bincount(cells.ravel(), np.repeat(volume * column, 8), len(points)) for column in columns.T]
    found = np.stack(sums, axis=1) / total[:, None]
    return np.asarray(found[:, 0] if values.ndim == 1 else found)

"""How many cells lie in the thermal layers at the walls, and how well cells hold plumes: what heat flows hang on most.

A layer is as thick as still air that would let the same heat pass from the wall to the air in front of its layer:
δ = k |T_wall − T_front| A / |Q|. In front, that is where within DEPTH cells the mean air differs most from the wall.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.flow import Flow
from sim.airflow.walls import WallFaces

Array = NDArray[np.float64]

_FLOOR, _CEILING = 4, 5
"""Sides of walls that lie below their air and above it."""

DEPTH = 6
"""Cells in front of a wall among which the end of its layer is looked for."""


def front_difference(domain: Domain, walls: WallFaces, wall: Array, temperature: Array) -> Array:
    """Largest difference between a wall face and the air in the cells in front of it (n,) [K]; 0 where adiabatic.

    Parameters
    ----------
    wall : temperature of every wall face (n,) [K], NaN where adiabatic.
    temperature : mean of the air (nx, ny, nz) [K].
    """
    cell, axis = walls.cell.copy(), walls.side // 2
    inward = np.where(walls.side % 2 == 0, 1, -1)
    rows, shape = np.arange(walls.count), np.array(domain.shape)
    largest, open_so_far = np.zeros(walls.count), np.ones(walls.count, bool)
    for _ in range(DEPTH):
        apart = np.abs(np.nan_to_num(wall - temperature[tuple(cell.T)]))
        largest = np.where(open_so_far, np.maximum(largest, apart), largest)
        open_so_far = open_so_far & _open_beyond(domain, cell, axis, inward)
        cell[rows, axis] = np.clip(cell[rows, axis] + inward * open_so_far, 0, shape[axis] - 1)
    return largest


def _open_beyond(domain: Domain, cell: NDArray[np.intp], axis: NDArray[np.intp], inward: Array) -> NDArray[np.bool_]:
    """Whether air can pass from each cell to the next one away from its wall."""
    result = np.zeros(len(cell), bool)
    for a in range(3):
        own = axis == a
        face = cell[own].copy()
        face[:, a] += (inward[own] > 0).astype(np.intp)
        result[own] = domain.openness[a][tuple(face.T)] > 0.0
    return result


def cell_shares(domain: Domain, walls: WallFaces, heat: Array, wall: Array, temperature: Array, k: float) -> Array:
    """Cell over layer thickness of every wall face (n,) [-], at most 1; 0 without heat.

    Parameters
    ----------
    heat : from every wall face into the air (n,) [W].
    k : conductivity of the air [W/(m K)].
    """
    conducted = k * walls.area * front_difference(domain, walls, wall, temperature)
    share = 2.0 * walls.distance * np.abs(heat)
    return np.minimum(np.divide(share, conducted, out=np.where(heat != 0.0, 1.0, 0.0), where=conducted > 0.0), 1.0)


def plume_share(domain: Domain, mean: Flow) -> float:
    """Share of the heat that air carries up or down which cells twice as wide would not hold [-]; 0 of air at rest.

    Over every two neighbours in a level a larger cell carries the product of their mean rise and mean warmth, and loses
    what both vary by within it. Where few cells lie across a plume that is much; it goes with the square of the cell.
    """
    rise, areas = mean.cell_velocity[2] * domain.air, domain.volumes * domain.air
    level = areas.sum(axis=(0, 1), keepdims=True)
    middle = (areas * mean.temperature).sum(axis=(0, 1), keepdims=True) / np.maximum(level, np.finfo(float).tiny)
    warmth = np.where(domain.air, mean.temperature - middle, 0.0)
    carried = float(np.abs(areas * rise * warmth).sum())
    lost = sum(_lost_in_pairs(domain, areas, (rise, warmth), axis) for axis in (0, 1))
    return lost / carried if carried > 0.0 else 0.0


def _lost_in_pairs(domain: Domain, size: Array, both: tuple[Array, Array], axis: int) -> float:
    """What all neighbours along an axis with no wall between them vary by, half of it, as a cell is in two pairs."""
    a, b = np.delete(size, -1, axis), np.delete(size, 0, axis)
    open_between = np.take(domain.openness[axis], range(1, domain.shape[axis]), axis) > 0.0
    weight = np.divide(a * b, a + b, out=np.zeros_like(a), where=open_between & (a + b > 0.0))
    rise, warmth = (np.diff(values, axis=axis) for values in both)
    return 0.5 * float((weight * np.abs(rise * warmth)).sum())


def plume_shares(domain: Domain, walls: WallFaces, heat: Array, mean: Flow) -> Array:
    """That share of wall faces that send plumes: they heat the air above them or cool that below (n,) [-]; else 0.

    Parameters
    ----------
    heat : from every wall face into the air (n,) [W].
    """
    sends = ((walls.side == _FLOOR) & (heat > 0.0)) | ((walls.side == _CEILING) & (heat < 0.0))
    return np.where(sends, plume_share(domain, mean), 0.0)


def layer_cells(shares: Array, heat: Array) -> float:
    """Cells at the walls in a thermal layer, as the mean that errors of second order follow; NaN without heat.

    1/n² is the mean of (cell/δ)² over the walls, weighted with their heat.
    """
    amount = np.abs(heat)
    return float(np.average(shares**2, weights=amount) ** -0.5) if amount.any() else float("nan")

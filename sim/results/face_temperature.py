"""Temperatures on the faces of cells, from the heat that crosses them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.solver.steady import Solution

Array = NDArray[np.float64]


def face_temperature(cells: Cells, solution: Solution, axis: int, high: bool) -> Array:
    """Temperature of every cell's low or high face normal to an axis [K] (nx, ny, nz).

    T_face = T_cell − (heat leaving through the face) (w/2) / (k A), so a contact resistance leaves two
    temperatures, one for each side. Faces at cavity air and outer surfaces carry their surface temperature.
    """
    temperature = solution.state.temperature.reshape(cells.grid.shape)
    leaving = _leaving(solution, temperature, axis, high)
    conductance = 2.0 * cells.conductivity(axis, 0.0) * cells.grid.face_areas(axis) / cells.grid.spread(axis)
    drop = np.divide(leaving, conductance, out=np.zeros_like(leaving), where=conductance > 0.0)
    face = temperature - drop
    _put_walls(cells, solution, face, 2 * axis + int(high))
    _put_surfaces(cells, solution, face, 2 * axis + int(high))
    return face


def _leaving(solution: Solution, temperature: Array, axis: int, high: bool) -> Array:
    """Conducted heat leaving through each cell's face [W]; none at the grid's own boundary."""
    flow = -solution.system.conduction.faces[axis] * np.diff(temperature, axis=axis)
    pad = [(0, 0)] * 3
    pad[axis] = (0, 1) if high else (1, 0)
    return np.pad(flow if high else -flow, pad)


def _put_walls(cells: Cells, solution: Solution, face: Array, side: int) -> None:
    cavity, walls = solution.system.cavity, solution.flows.walls
    if cavity is not None and walls is not None:
        own = cavity.side == side
        face[tuple(cavity.cell[own].T)] = walls.temperature[own]


def _put_surfaces(cells: Cells, solution: Solution, face: Array, side: int) -> None:
    for surface, heat in zip(solution.system.surfaces, solution.flows.surfaces, strict=True):
        if surface.side == side:
            face.reshape(-1)[surface.cell] = heat.temperature

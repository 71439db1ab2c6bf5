"""Temperature at a point: the cells that touch it, each extended linearly to it, weighted by conductivity."""

from __future__ import annotations

from itertools import product

import numpy as np

from sim.bay.cells import Cells
from sim.bay.geometry import Point
from sim.bay.grid import SNAP
from sim.results.face_temperature import face_temperature
from sim.solver.steady import Solution


def probe_temperatures(cells: Cells, solution: Solution, probes: tuple[tuple[str, Point], ...]) -> dict[str, float]:
    """Temperature of each probe [K]; NaN where a probe touches neither solid nor cavity air.

    Inside a cell the temperature runs linearly from the centre to each face. On an edge or corner between
    materials the better conductor counts more, as heat spreads in it more easily. A probe that touches no solid
    has the temperature of the air there: of its zone, or of its cells where air only conducts.
    """
    if not probes:
        return {}
    faces = {(axis, high): face_temperature(cells, solution, axis, bool(high)) for axis in range(3) for high in (0, 1)}
    temperature = solution.state.temperature.reshape(cells.grid.shape)
    conductivity = cells.conductivity(2, 0.0)
    found = {}
    for name, point in probes:
        touched = list(product(*(_touching(cells, axis, point[axis]) for axis in range(3))))
        solid = [cell for cell in touched if cells.solid[cell]]
        if solid:
            values = [_extended(cells, temperature, faces, cell, point) for cell in solid]
            found[name] = float(np.average(values, weights=[conductivity[cell] for cell in solid]))
        else:
            found[name] = _air(cells, solution, temperature, [cell for cell in touched if cells.air[cell]])
    return found


def _extended(cells: Cells, temperature, faces, cell, point: Point) -> float:
    """A cell's temperature carried linearly to a point of it [K]."""
    return temperature[cell] + sum(_rise(cells, temperature, faces, cell, axis, point[axis]) for axis in range(3))


def _air(cells: Cells, solution: Solution, temperature, touched) -> float:
    """Mean of the air in some cells [K]."""
    if not touched:
        return float("nan")
    if len(solution.state.air):
        return float(np.mean([solution.state.air[cells.zone[cell]] for cell in touched]))
    return float(np.mean([temperature[cell] for cell in touched]))


def _touching(cells: Cells, axis: int, at: float) -> list[int]:
    """Cells along an axis whose closed interval holds a coordinate."""
    edges = cells.grid.edges[axis]
    return [int(i) for i in np.flatnonzero((edges[:-1] <= at + SNAP) & (edges[1:] >= at - SNAP))]


def _rise(cells: Cells, temperature, faces, cell, axis: int, at: float) -> float:
    """Change from the cell's centre to a coordinate along one axis [K]."""
    index = cell[axis]
    offset = at - cells.grid.centres(axis)[index]
    half = 0.5 * cells.grid.widths(axis)[index]
    face = faces[(axis, int(offset > 0.0))][cell]
    return float((face - temperature[cell]) * min(abs(offset) / half, 1.0))

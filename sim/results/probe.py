"""Temperature at a point: the cells that touch it, each extended to it by a parabola, weighted by conductivity.

Read linearly, a curved field is off by up to h²/8 times its curvature, more or less as the point lies in its cell: as
much as the mesh costs, and another share of it on every mesh, so that three meshes tell no order, and no band that
holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations, product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Point
from sim.bay.grid import SNAP
from sim.results.face_temperature import face_temperature
from sim.solver.steady import Solution

Array = NDArray[np.float64]
Cell = tuple[int, ...]

NO_STEP = 1e-7
"""Two temperatures of a face that differ by less have nothing between them [K]."""


def probe_temperatures(cells: Cells, solution: Solution, probes: tuple[tuple[str, Point], ...]) -> dict[str, float]:
    """Temperature of each probe [K]; NaN where a probe touches neither solid nor cavity air.

    Inside a cell the temperature runs along each axis through the centres of its neighbours of the same body, where
    another begins through the face between them, and where no heat passes as in a mirror. On an edge or corner
    between materials the better conductor counts more, as heat spreads in it more easily. A probe that touches no solid
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
    """A cell's temperature carried to a point of it [K]: to second order in all axes."""
    field = _Field(cells, temperature, faces)
    offset = [at - cells.grid.centres(axis)[cell[axis]] for axis, at in enumerate(point)]
    along = sum(_rise(field, cell, axis, offset[axis]) for axis in range(3))
    across = sum(_twist(field, cell, a, b) * offset[a] * offset[b] for a, b in combinations(range(3), 2))
    return float(temperature[cell] + along + across)


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


class _Field(NamedTuple):
    """Cells with their temperatures and those of their faces by axis and side [K]."""

    cells: Cells
    temperature: Array
    faces: Mapping[tuple[int, int], Array]


def _rise(field: _Field, cell: Cell, axis: int, offset: float) -> float:
    """Change from the cell's centre along one axis [K], by the parabola through it and a node on each side."""
    (below, low), (above, high) = (_node(field, cell, axis, side) for side in (0, 1))
    left, right = low / below, high / above
    return offset * (left + (right - left) / (above - below) * (offset - below))


def _node(field: _Field, cell: Cell, axis: int, side: int) -> tuple[float, float]:
    """Distance from the cell's centre to a node on one side [m], and how much warmer it is there [K]."""
    cells, temperature, faces = field
    here, away = temperature[cell], 2 * side - 1
    half = 0.5 * away * cells.grid.widths(axis)[cell[axis]]
    if _goes_on(field, cell, axis, away):
        beside = _beside(cell, axis, away)
        centres = cells.grid.centres(axis)
        return float(centres[beside[axis]] - centres[cell[axis]]), float(temperature[beside] - here)
    rise = float(faces[axis, side][cell] - here)
    return (half, rise) if rise else (2.0 * half, 0.0)


def _twist(field: _Field, cell: Cell, a: int, b: int) -> float:
    """Mixed derivative of the temperature along two axes [K/m²], where the body goes on; else 0."""
    ends = [[step if _goes_on(field, cell, axis, step) else 0 for step in (-1, 1)] for axis in (a, b)]
    corners = [_beside(_beside(cell, a, first), b, second) for first, second in product(*ends)]
    far, wide = (field.cells.grid.centres(n)[[cell[n] + s for s in span]] for n, span in zip((a, b), ends, strict=True))
    area = float(np.ptp(far) * np.ptp(wide))
    if not area or len({int(field.cells.body[corner]) for corner in corners}) > 1:
        return 0.0
    low_low, low_high, high_low, high_high = (field.temperature[corner] for corner in corners)
    return float(high_high - high_low - low_high + low_low) / area


def _goes_on(field: _Field, cell: Cell, axis: int, step: int) -> bool:
    """Whether the same body lies beyond a face of a cell, and nothing between them that resists."""
    beside, side = _beside(cell, axis, step), (step + 1) // 2
    if not 0 <= beside[axis] < field.cells.grid.shape[axis] or field.cells.body[beside] != field.cells.body[cell]:
        return False
    return bool(abs(field.faces[axis, side][cell] - field.faces[axis, 1 - side][beside]) < NO_STEP)


def _beside(cell: Cell, axis: int, step: int) -> Cell:
    """The cell so many steps away along an axis."""
    return (*cell[:axis], cell[axis] + step, *cell[axis + 1 :])

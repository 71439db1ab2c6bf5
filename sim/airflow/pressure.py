"""The pressure that makes a velocity free of divergence, exactly.

Fast diagonalisation (`modes`) solves the empty box directly. Obstacles close faces of the grid: that changes the
operator by one rank a closed face, and the change is carried exactly by an influence matrix (`cuts`), so that
divergence is at round-off with obstacles too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.airflow.cuts import Cuts, box_to_modes, build_cuts, face_jumps, feed_box, to_box
from sim.airflow.domain import Domain
from sim.airflow.grid_tables import AxisTable, axis_tables
from sim.airflow.modes import Modes, build_modes, solve_lines, to_cells, to_modes
from sim.airflow.momentum import Fields
from sim.airflow.nested_product import multiply
from sim.airflow.rows import compiled
from sim.machine.threads import share_loop

if TYPE_CHECKING:
    from sim.airflow.row_lists import RowLists

Array = NDArray[np.float64]


class PressureTools(NamedTuple):
    """What the compiled loops need to project a velocity.

    tables: of the three axes; swapped: whether lines run along y (working arrays are then (ny, nx, nz)) instead
    of x; modes: transforms; cuts: influence of closed faces; values: working array, which holds the pressure impulse
    p Δt/ρ [m²/s] afterwards; spare: another one, where there are cuts; lists: of the three velocity components.
    """

    tables: tuple[AxisTable, AxisTable, AxisTable]
    swapped: bool
    modes: Modes
    cuts: Cuts
    values: Any
    spare: Any
    lists: tuple[Any, Any, Any]


@compiled
def gather(start, stop, velocity, tools):
    """Volume flow into every cell [m³/s] of the slabs start ≤ t < stop of the working array, and on to its modes.

    Slab by slab, so that a slab is transformed while it is near.
    """
    for t in range(start, stop):
        divergence(t, velocity, tools)
        to_modes(t, t + 1, tools.values, tools.modes)


@compiled
def divergence(t, velocity, tools):
    """Volume flow into every cell of slab t of the working array."""
    tx, ty, tz = tools.tables
    u, v, w = velocity.x, velocity.y, velocity.z
    out = tools.values[t]
    for s in range(out.shape[0]):
        i, j = (s, t) if tools.swapped else (t, s)
        row, dx, dy = out[s], tx.width[i], ty.width[j]
        u0, u1, v0, v1, w0 = u[i, j], u[i + 1, j], v[i, j], v[i, j + 1], w[i, j]
        for k in range(row.size):
            row[k] = (dy * (u0[k] - u1[k]) + dx * (v0[k] - v1[k])) * tz.width[k] + dx * dy * (w0[k] - w0[k + 1])


@compiled
def sum_to_cells(start, stop, values, other, modes):
    """values += other, and back from modes to cells, over slabs."""
    for t in range(start, stop):
        values[t] += other[t]
        to_cells(t, t + 1, values, modes)


@compiled
def hold_fixed(row, number, lists):
    """Blocked faces stay at rest."""
    for e in range(lists.fixed_start[number], lists.fixed_start[number + 1]):
        row[lists.fixed_place[e]] = 0.0


@compiled
def subtract_gradient(start, stop, velocity, pressure, tools):
    """Take a pressure's gradient from every open face of the slabs start ≤ i < stop; it lies as `values` do."""
    tx, ty, tz = tools.tables
    swapped, lists = tools.swapped, tools.lists
    u, v, w = velocity.x, velocity.y, velocity.z
    ny = u.shape[1]
    for i in range(start, stop):
        for j in range(ny):
            here = pressure[j, i] if swapped else pressure[i, j]
            if i > 0:
                beside = pressure[j, i - 1] if swapped else pressure[i - 1, j]
                pull(u[i, j], beside, here, tx.inverse_gap[i])
                hold_fixed(u[i, j], i * ny + j, lists[0])
            if j > 0:
                beside = pressure[j - 1, i] if swapped else pressure[i, j - 1]
                pull(v[i, j], beside, here, ty.inverse_gap[j])
                hold_fixed(v[i, j], i * (ny + 1) + j, lists[1])
            pull_along(w[i, j], here, tz.inverse_gap)
            hold_fixed(w[i, j], i * ny + j, lists[2])


@compiled
def add_impulse(start, stop, mean, impulse, inverse_duration):
    """mean += impulse over the step's duration, over some slabs."""
    for t in range(start, stop):
        for s in range(mean.shape[1]):
            for k in range(mean.shape[2]):
                mean[t, s, k] += inverse_duration * impulse[t, s, k]


@compiled
def pull(speed, below, above, inverse_gap):
    """speed −= the pressure gradient across a row of lateral faces."""
    for k in range(speed.size):
        speed[k] -= inverse_gap * (above[k] - below[k])


@compiled
def pull_along(speed, pressure, inverse_gap):
    """speed −= the pressure gradient along a row."""
    for k in range(1, pressure.size):
        speed[k] -= inverse_gap[k] * (pressure[k] - pressure[k - 1])


@dataclass(frozen=True, slots=True, eq=False)
class PressureSolver:
    """Makes velocities free of divergence in one domain.

    Attributes
    ----------
    tools : PressureTools
    """

    tools: PressureTools

    def project(self, velocity: Fields) -> None:
        """Take from the velocity, in place, the gradient that leaves it free of divergence to round-off."""
        tools, cells = self.tools, self.tools.values.size
        values, spare, modes, cuts = tools.values, tools.spare, tools.modes, tools.cuts
        lines, sides, _ = values.shape
        share_loop(gather, lines, cells, velocity, tools)
        share_loop(solve_lines, sides, cells, values, modes)
        if cuts.jump.size:
            share_loop(to_box, cuts.part.shape[0], cuts.part.shape[0] * values[0].size, values, cuts)
            face_jumps(cuts)
            multiply(cuts.jump, cuts.flow, cuts.inverse)
            feed_box(cuts)
            share_loop(box_to_modes, lines, cells, spare, cuts)
            share_loop(solve_lines, sides, cells, spare, modes)
            share_loop(sum_to_cells, lines, cells, values, spare, modes)
        else:
            share_loop(to_cells, lines, cells, values, modes)
        share_loop(subtract_gradient, velocity.temperature.shape[0], cells, velocity, values, tools)

    def field(self) -> Array:
        """The last solution as (nx, ny, nz)."""
        return self.tools.values.transpose(1, 0, 2) if self.tools.swapped else self.tools.values


def build_pressure(domain: Domain, lists: tuple[RowLists, RowLists, RowLists]) -> PressureSolver:
    """Solver for a domain, with the influence of its closed faces.

    Parameters
    ----------
    lists : row lists of the three velocity components
    """
    tables = axis_tables(domain)
    swapped = domain.shape[1] > domain.shape[0]
    along, side = (tables[1], tables[0]) if swapped else (tables[0], tables[1])
    modes = build_modes(along, side, tables[2])
    cuts = build_cuts(domain, swapped, modes)
    shape = (along.width.size, side.width.size, domain.shape[2])
    spare = np.zeros(shape if cuts.jump.size else (0, 0, 0))
    return PressureSolver(PressureTools(tables, swapped, modes, cuts, np.zeros(shape), spare, lists))

"""What one thread does for one cell: the heat equation of `sim.airflow.heat`, with its own limiter."""

from __future__ import annotations

from sim.airflow.device.eddies import eddy_heat
from sim.airflow.device.layout import TEMPERATURE, advance_one, amended, place, state_at
from sim.airflow.device.moves import lateral, neighbours
from sim.airflow.heat import carried
from sim.airflow.rows import compiled


@compiled
def face_flux(speed, at, stride, codes, line, tables):
    """Bounded advective flux through a face of an axis; nothing where the domain ends.

    ``at``: places of the temperature above the face, of its code and of its line in the tables; ``line``: number of
    the face and of the axis' cells.
    """
    q, t, code, g = codes[1], at[0], at[1], at[2]
    face, count = line
    if face <= 0 or face >= count:
        return 0.0
    far_below = q[t - 2 * stride] if face > 1 else q[t - stride]
    far_above = q[t + stride] if face < count - 1 else q[t]
    before = tables.inverse_gap[g - 1] if codes[0][code - stride] > 0 else 0.0
    after = tables.inverse_gap[g + 1] if codes[0][code + stride] > 0 else 0.0
    four, slopes = (far_below, q[t - stride], q[t], far_above), (before, tables.inverse_gap[g], after)
    return carried(speed, four, slopes, (0.5 * tables.width[g - 1], 0.5 * tables.width[g]))


@compiled
def bounded(at, stride, line, speeds, air):
    """What bounded advection along one axis leaves in a cell [K/s]."""
    t, code, g = at
    index, count = line
    both = (air.codes, air.state)
    low = face_flux(speeds[0], (t, code, g), stride, both, (index, count), air.tables)
    high = face_flux(
        speeds[1], (t + stride, code + stride, g + 1), stride, both, (index + 1, count), air.tables
    )
    return (low - high) * air.tables.inverse_width[g]


@compiled
def move_heat(b, i, j, k, stage, air):
    """Advance the temperature of one cell."""
    grid, clock, q, tables = air.grid, air.clock, air.state, air.tables
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    if clock.left[b] <= 0 or i >= nx or j >= ny or k >= nz:
        return
    c, state, alpha = place(b, i, j, k, grid), state_at(b, stage, air), air.properties[4 * b + 1]
    u = state + c
    v, w, t, sx, sy = u + grid.total, u + 2 * grid.total, u + 3 * grid.total, grid.plane, grid.pz
    tx, ty, tz = 3 * b * grid.lines + i, (3 * b + 1) * grid.lines + j, (3 * b + 2) * grid.lines + k
    still = (0.0, 0.0)
    along_x, along_y, along_z = (q[u], q[u + sx]), (q[v], q[v + sy]), (q[w], q[w + 1])
    rate = 0.0
    if air.central[b] == 0:
        rate += bounded((t, c, tx), sx, (i, nx), along_x, air)
        rate += bounded((t, grid.total + c, ty), sy, (j, ny), along_y, air)
        rate += bounded((t, 2 * grid.total + c, tz), 1, (k, nz), along_z, air)
        along_x, along_y, along_z = still, still, still
    rate += lateral(q[t], neighbours(q, t, sx, i, nx), along_x, tx, alpha, tables)
    rate += lateral(q[t], neighbours(q, t, sy, j, ny), along_y, ty, alpha, tables)
    rate += lateral(q[t], neighbours(q, t, 1, k, nz), along_z, tz, alpha, tables)
    rate += eddy_heat(b, (i, j, k), c, state, air)
    advance_one(amended(rate, TEMPERATURE, c, state, alpha, air), TEMPERATURE, c, b, stage, air)

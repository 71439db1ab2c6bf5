"""What one thread does for one face: the momentum equation of `momentum`, value by value instead of row by row."""

from __future__ import annotations

from sim.airflow.device.eddies import eddy_x, eddy_y, eddy_z
from sim.airflow.device.layout import X, Y, Z, advance_one, amended, place, state_at
from sim.airflow.rows import compiled


@compiled
def sideways(here, beside, carriers, factors):
    """Advection and diffusion through two opposite sides of a control volume.

    ``beside``: values there; ``carriers``: speeds through them; ``factors``: half of one over the width, and the
    diffusivity over width and gap of both sides.
    """
    low, high = beside
    half, to_low, to_high = factors
    carried = carriers[0] * (low + here) - carriers[1] * (here + high)
    return half * carried + (to_low * (low - here) + to_high * (high - here))


@compiled
def lateral(here, beside, carriers, at, diffusivity, tables):
    """`sideways` between two faces of the cell at a place of the tables."""
    width, gap = tables.inverse_width[at], tables.inverse_gap
    factors = (0.5 * width, diffusivity * width * gap[at], diffusivity * width * gap[at + 1])
    return sideways(here, beside, carriers, factors)


@compiled
def between(here, beside, at, diffusivity, tables):
    """`sideways` between the two cells beside a face, along the velocity's own axis: it carries itself."""
    low, high = beside
    gap, width = tables.inverse_gap[at], tables.inverse_width
    factors = (0.5 * gap, diffusivity * gap * width[at - 1], diffusivity * gap * width[at])
    return sideways(here, beside, (0.5 * (low + here), 0.5 * (here + high)), factors)


@compiled
def neighbours(values, c, stride, index, count):
    """The values on either side; beyond the domain the value itself."""
    low = values[c - stride] if index > 0 else values[c]
    high = values[c + stride] if index < count - 1 else values[c]
    return low, high


@compiled
def blended(values, below, above, shares):
    """Speed at the edge between two faces, by half widths."""
    return shares[0] * values[below] + shares[1] * values[above]


@compiled
def move_x(b, i, j, k, stage, air):
    """Advance the x velocity at one face."""
    grid, clock, tables, q = air.grid, air.clock, air.tables, air.state
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    if clock.left[b] <= 0 or i < 1 or i >= nx or j >= ny or k >= nz:
        return
    c, state, nu = place(b, i, j, k, grid), state_at(b, stage, air), air.properties[4 * b]
    u = state + c
    v, w, sx, sy = u + grid.total, u + 2 * grid.total, grid.plane, grid.pz
    tx, ty, tz = 3 * b * grid.lines + i, (3 * b + 1) * grid.lines + j, (3 * b + 2) * grid.lines + k
    here, shares = q[u], (tables.below[tx], tables.above[tx])
    rate = between(here, (q[u - sx], q[u + sx]), tx, nu, tables)
    carriers = (blended(q, v - sx, v, shares), blended(q, v - sx + sy, v + sy, shares))
    rate += lateral(here, neighbours(q, u, sy, j, ny), carriers, ty, nu, tables)
    carriers = (blended(q, w - sx, w, shares), blended(q, w - sx + 1, w + 1, shares))
    rate += lateral(here, neighbours(q, u, 1, k, nz), carriers, tz, nu, tables)
    rate += eddy_x(b, (i, j, k), c, state, air)
    advance_one(amended(rate, X, c, state, nu, air), X, c, b, stage, air)


@compiled
def move_y(b, i, j, k, stage, air):
    """Advance the y velocity at one face."""
    grid, clock, tables, q = air.grid, air.clock, air.tables, air.state
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    if clock.left[b] <= 0 or i >= nx or j < 1 or j >= ny or k >= nz:
        return
    c, state, nu = place(b, i, j, k, grid), state_at(b, stage, air), air.properties[4 * b]
    u = state + c
    v, w, sx, sy = u + grid.total, u + 2 * grid.total, grid.plane, grid.pz
    tx, ty, tz = 3 * b * grid.lines + i, (3 * b + 1) * grid.lines + j, (3 * b + 2) * grid.lines + k
    here, shares = q[v], (tables.below[ty], tables.above[ty])
    rate = between(here, (q[v - sy], q[v + sy]), ty, nu, tables)
    carriers = (blended(q, u - sy, u, shares), blended(q, u - sy + sx, u + sx, shares))
    rate += lateral(here, neighbours(q, v, sx, i, nx), carriers, tx, nu, tables)
    carriers = (blended(q, w - sy, w, shares), blended(q, w - sy + 1, w + 1, shares))
    rate += lateral(here, neighbours(q, v, 1, k, nz), carriers, tz, nu, tables)
    rate += eddy_y(b, (i, j, k), c, state, air)
    advance_one(amended(rate, Y, c, state, nu, air), Y, c, b, stage, air)


@compiled
def move_z(b, i, j, k, stage, air):
    """Advance the z velocity at one face, buoyancy included."""
    grid, clock, tables, q = air.grid, air.clock, air.tables, air.state
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    if clock.left[b] <= 0 or i >= nx or j >= ny or k < 1 or k >= nz:
        return
    c, state, nu = place(b, i, j, k, grid), state_at(b, stage, air), air.properties[4 * b]
    u = state + c
    v, w, sx, sy = u + grid.total, u + 2 * grid.total, grid.plane, grid.pz
    tx, ty, tz = 3 * b * grid.lines + i, (3 * b + 1) * grid.lines + j, (3 * b + 2) * grid.lines + k
    here, shares = q[w], (tables.below[tz], tables.above[tz])
    rate = between(here, (q[w - 1], q[w + 1]), tz, nu, tables)
    carriers = (blended(q, u - 1, u, shares), blended(q, u + sx - 1, u + sx, shares))
    rate += lateral(here, neighbours(q, w, sx, i, nx), carriers, tx, nu, tables)
    carriers = (blended(q, v - 1, v, shares), blended(q, v + sy - 1, v + sy, shares))
    rate += lateral(here, neighbours(q, w, sy, j, ny), carriers, ty, nu, tables)
    warmth = 0.5 * (q[w + grid.total - 1] + q[w + grid.total]) - air.level[b * grid.lines + k]
    rate += air.properties[4 * b + 2] * warmth
    rate += eddy_z(b, (i, j, k), c, state, air)
    advance_one(amended(rate, Z, c, state, nu, air), Z, c, b, stage, air)

"""What one thread does for the four values of one place: the momentum equation of `momentum`, and heat beside it.

Neighbours beyond the domain are the value itself: strides towards them are clipped to nothing, so that every place
reads the same way, faces on the domain's sides too (which keep what they had). All is read before anything is written.
"""

from __future__ import annotations

from sim.airflow.device.eddies import eddy_heat, eddy_x, eddy_y, eddy_z
from sim.airflow.device.heat import rate_of_heat
from sim.airflow.device.layout import TEMPERATURE, X, Y, Z, advance_one, amended, fetch, inside, place, state_at
from sim.airflow.device.marks import LISTED, marked
from sim.airflow.device.sides import between, clipped, lateral, line
from sim.airflow.rows import compiled


@compiled
def blended(q, below, above, shares):
    """Speed at the edge between two faces, by half widths."""
    return shares[0] * fetch(q, below) + shares[1] * fetch(q, above)


@compiled
def shares_of(at, tables):
    """Shares of the two half cells at a face."""
    return fetch(tables.below, at), fetch(tables.above, at)


@compiled
def rate_x(q, at, steps, lines, grid, nu, tables):
    """Rate of the x velocity at the cell's low face."""
    u, v, w = at[0], at[1], at[2]
    west, sx, sy = steps[0][0], grid.plane, grid.pz
    here, shares = fetch(q, u), shares_of(lines[0][1], tables)
    rate = between(here, (fetch(q, u - west), fetch(q, u + sx)), lines[0], nu, tables)
    carriers = (blended(q, v - west, v, shares), blended(q, v - west + sy, v + sy, shares))
    rate += lateral(q, u, steps[1], carriers, lines[1][1], nu, tables)
    carriers = (blended(q, w - west, w, shares), blended(q, w - west + 1, w + 1, shares))
    return rate + lateral(q, u, steps[2], carriers, lines[2][1], nu, tables)


@compiled
def rate_y(q, at, steps, lines, grid, nu, tables):
    """Rate of the y velocity at the cell's low face."""
    u, v, w = at[0], at[1], at[2]
    south, sx, sy = steps[1][0], grid.plane, grid.pz
    here, shares = fetch(q, v), shares_of(lines[1][1], tables)
    rate = between(here, (fetch(q, v - south), fetch(q, v + sy)), lines[1], nu, tables)
    carriers = (blended(q, u - south, u, shares), blended(q, u - south + sx, u + sx, shares))
    rate += lateral(q, v, steps[0], carriers, lines[0][1], nu, tables)
    carriers = (blended(q, w - south, w, shares), blended(q, w - south + 1, w + 1, shares))
    return rate + lateral(q, v, steps[2], carriers, lines[2][1], nu, tables)


@compiled
def rate_z(q, at, steps, lines, grid, nu, tables):
    """Rate of the z velocity at the cell's low face, but for buoyancy."""
    u, v, w = at[0], at[1], at[2]
    below, sx, sy = steps[2][0], grid.plane, grid.pz
    here, shares = fetch(q, w), shares_of(lines[2][1], tables)
    rate = between(here, (fetch(q, w - below), fetch(q, w + 1)), lines[2], nu, tables)
    carriers = (blended(q, u - below, u, shares), blended(q, u - below + sx, u + sx, shares))
    rate += lateral(q, w, steps[0], carriers, lines[0][1], nu, tables)
    carriers = (blended(q, v - below, v, shares), blended(q, v - below + sy, v + sy, shares))
    return rate + lateral(q, w, steps[1], carriers, lines[1][1], nu, tables)


@compiled
def lift(q, t, below, level, b, k, air):
    """Buoyancy at the cell's low face normal to z."""
    warmth = 0.5 * (fetch(q, t - below) + fetch(q, t)) - fetch(level, b * air.grid.lines + k)
    return fetch(air.properties, 4 * b + 2) * warmth


@compiled
def finish(rate, field, mark, spot, diffusivity, air):
    """Amend a rate where a list says so, and advance the value; ``spot``: place, bay, state, stage."""
    c, b, state, stage = spot
    if marked(mark, LISTED + field):
        rate = amended(rate, field, c, state, diffusivity, air)
    advance_one(rate, field, c, b, stage, air)


@compiled
def surroundings(b, i, j, k, stage, air):
    """Of one place: where its four values lie in the state, clipped strides, places in the tables."""
    grid, n = air.grid, 3 * b
    nx, ny, nz = fetch(air.sizes, n), fetch(air.sizes, n + 1), fetch(air.sizes, n + 2)
    steps = (clipped(i, nx, grid.plane), clipped(j, ny, grid.pz), clipped(k, nz, 1))
    lines = (line(n, i, grid), line(n + 1, j, grid), line(n + 2, k, grid))
    u = state_at(b, stage, air) + place(b, i, j, k, grid)
    return (u, u + grid.total, u + 2 * grid.total, u + 3 * grid.total), steps, lines


@compiled
def move_x(b, i, j, k, stage, air):
    """Advance the x velocity at one face."""
    if i == 0 or not inside(b, i, j, k, air):
        return
    c, nu = place(b, i, j, k, air.grid), fetch(air.properties, 4 * b)
    mark = fetch(air.marks, c)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_x(air.state, at, steps, lines, air.grid, nu, air.tables)
    if fetch(air.properties, 4 * b + 3) > 0.0:
        rate += eddy_x(at, c, steps, lines, mark, air)
    finish(rate, X, mark, (c, b, at[0] - c, stage), nu, air)


@compiled
def move_y(b, i, j, k, stage, air):
    """Advance the y velocity at one face."""
    if j == 0 or not inside(b, i, j, k, air):
        return
    c, nu = place(b, i, j, k, air.grid), fetch(air.properties, 4 * b)
    mark = fetch(air.marks, c)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_y(air.state, at, steps, lines, air.grid, nu, air.tables)
    if fetch(air.properties, 4 * b + 3) > 0.0:
        rate += eddy_y(at, c, steps, lines, mark, air)
    finish(rate, Y, mark, (c, b, at[0] - c, stage), nu, air)


@compiled
def move_z(b, i, j, k, stage, air):
    """Advance the z velocity at one face."""
    if k == 0 or not inside(b, i, j, k, air):
        return
    c, nu = place(b, i, j, k, air.grid), fetch(air.properties, 4 * b)
    mark = fetch(air.marks, c)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_z(air.state, at, steps, lines, air.grid, nu, air.tables)
    rate += lift(air.state, at[3], steps[2][0], air.level, b, k, air)
    if fetch(air.properties, 4 * b + 3) > 0.0:
        rate += eddy_z(at, c, steps, lines, mark, air)
    finish(rate, Z, mark, (c, b, at[0] - c, stage), nu, air)


@compiled
def move_heat(b, i, j, k, stage, air):
    """Advance the temperature of one cell."""
    if not inside(b, i, j, k, air):
        return
    c, n = place(b, i, j, k, air.grid), 3 * b
    mark = fetch(air.marks, c)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    where = (i, j, k, fetch(air.sizes, n), fetch(air.sizes, n + 1), fetch(air.sizes, n + 2))
    rate = rate_of_heat(at, steps, lines, where, mark, b, air)
    if fetch(air.properties, 4 * b + 3) > 0.0:
        rate += eddy_heat(at[3], c, steps, lines, mark, air)
    finish(rate, TEMPERATURE, mark, (c, b, at[0] - c, stage), fetch(air.properties, 4 * b + 1), air)

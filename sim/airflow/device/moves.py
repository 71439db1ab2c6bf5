"""What one thread does for the four values of one place: the momentum equation of `momentum`, and heat beside it.

Neighbours beyond the domain are the value itself: strides towards them are clipped to nothing, so that every place
reads the same way, faces on the domain's sides too (which keep what they had). All is read before anything is written.
"""

from __future__ import annotations

from sim.airflow.device.eddies import eddy_heat, eddy_x, eddy_y, eddy_z
from sim.airflow.device.heat import rate_of_heat
from sim.airflow.device.layout import (
    ABOVE,
    BELOW,
    BUOYANCY,
    CELLS,
    EDDIES,
    TEMPERATURE,
    VISCOSITY,
    X,
    Y,
    Z,
    advance_one,
    entry,
    fetch,
    inside,
    measure,
    number,
    old_rate,
    place,
    state_at,
)
from sim.airflow.device.marks import FIXED, marked
from sim.airflow.device.sides import between, clipped, lateral, line
from sim.airflow.rows import compiled


@compiled
def blended(q, below, above, shares):
    """Speed at the edge between two faces, by half widths."""
    return shares[0] * fetch(q, below) + shares[1] * fetch(q, above)


@compiled
def shares_of(at, air):
    """Shares of the two half cells at a face."""
    return entry(BELOW, at, air), entry(ABOVE, at, air)


@compiled
def rate_x(q, at, steps, lines, nu, air):
    """Rate of the x velocity at the cell's low face."""
    u, v, w = at[0], at[1], at[2]
    west, sx, sy = steps[0][0], air.grid.plane, air.grid.pz
    here, shares = fetch(q, u), shares_of(lines[0][1], air)
    rate = between(here, (fetch(q, u - west), fetch(q, u + sx)), lines[0], nu, air)
    carriers = (blended(q, v - west, v, shares), blended(q, v - west + sy, v + sy, shares))
    rate += lateral(q, u, steps[1], carriers, lines[1][1], nu, air)
    carriers = (blended(q, w - west, w, shares), blended(q, w - west + 1, w + 1, shares))
    return rate + lateral(q, u, steps[2], carriers, lines[2][1], nu, air)


@compiled
def rate_y(q, at, steps, lines, nu, air):
    """Rate of the y velocity at the cell's low face."""
    u, v, w = at[0], at[1], at[2]
    south, sx, sy = steps[1][0], air.grid.plane, air.grid.pz
    here, shares = fetch(q, v), shares_of(lines[1][1], air)
    rate = between(here, (fetch(q, v - south), fetch(q, v + sy)), lines[1], nu, air)
    carriers = (blended(q, u - south, u, shares), blended(q, u - south + sx, u + sx, shares))
    rate += lateral(q, v, steps[0], carriers, lines[0][1], nu, air)
    carriers = (blended(q, w - south, w, shares), blended(q, w - south + 1, w + 1, shares))
    return rate + lateral(q, v, steps[2], carriers, lines[2][1], nu, air)


@compiled
def rate_z(q, at, steps, lines, nu, air):
    """Rate of the z velocity at the cell's low face, but for buoyancy."""
    u, v, w = at[0], at[1], at[2]
    below, sx, sy = steps[2][0], air.grid.plane, air.grid.pz
    here, shares = fetch(q, w), shares_of(lines[2][1], air)
    rate = between(here, (fetch(q, w - below), fetch(q, w + 1)), lines[2], nu, air)
    carriers = (blended(q, u - below, u, shares), blended(q, u - below + sx, u + sx, shares))
    rate += lateral(q, w, steps[0], carriers, lines[0][1], nu, air)
    carriers = (blended(q, v - below, v, shares), blended(q, v - below + sy, v + sy, shares))
    return rate + lateral(q, w, steps[1], carriers, lines[1][1], nu, air)


@compiled
def lift(q, t, below, b, k, air):
    """Buoyancy at the cell's low face normal to z."""
    warmth = 0.5 * (fetch(q, t - below) + fetch(q, t)) - fetch(air.level, b * air.grid.lines + k)
    return measure(b, BUOYANCY, air) * warmth


@compiled
def finish(rate, before, field, mark, spot, air):
    """Advance a value that is not fixed; ``spot``: place, bay, stage."""
    c, b, stage = spot
    advance_one(0.0 if marked(mark, FIXED + field) else rate, before, field, c, b, stage, air)


@compiled
def surroundings(b, i, j, k, stage, air):
    """Of one place: where its four values lie in the state, clipped strides, places in the tables."""
    grid, n = air.grid, 3 * b
    nx, ny, nz = number(b, CELLS, air), number(b, CELLS + 1, air), number(b, CELLS + 2, air)
    steps = (clipped(i, nx, grid.plane), clipped(j, ny, grid.pz), clipped(k, nz, 1))
    lines = (line(n, i, grid), line(n + 1, j, grid), line(n + 2, k, grid))
    u = state_at(b, stage, air) + place(b, i, j, k, grid)
    return (u, u + grid.total, u + 2 * grid.total, u + 3 * grid.total), steps, lines


@compiled
def rates_of_air(at, steps, lines, b, k, air):
    """Rates of the three velocities at a cell's low faces, but for eddies and what lists add."""
    q, nu = air.values, measure(b, VISCOSITY, air)
    z = rate_z(q, at, steps, lines, nu, air) + lift(q, at[3], steps[2][0], b, k, air)
    return rate_x(q, at, steps, lines, nu, air), rate_y(q, at, steps, lines, nu, air), z


@compiled
def finish_air(rates, old, where, mark, spot, air):
    """Advance the three velocities at a cell's low faces, but for those on the domain's own sides."""
    i, j, k = where
    if i > 0:
        finish(rates[0], old[0], X, mark, spot, air)
    if j > 0:
        finish(rates[1], old[1], Y, mark, spot, air)
    if k > 0:
        finish(rates[2], old[2], Z, mark, spot, air)


@compiled
def old_rates(c, stage, air):
    """The last stage's rates of the three velocities."""
    return old_rate(X, c, stage, air), old_rate(Y, c, stage, air), old_rate(Z, c, stage, air)


@compiled
def move_air(b, i, j, k, stage, air):
    """Advance the three velocities at a cell's low faces where no bay has eddies, but for what lists add."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, old = fetch(air.marks, c), old_rates(c, stage, air)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rates = rates_of_air(at, steps, lines, b, k, air)
    finish_air(rates, old, (i, j, k), mark, (c, b, stage), air)


@compiled
def move_air_and_eddies(b, i, j, k, stage, air):
    """The same where bays have eddies: apart, as what they add takes registers even where it is left out."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, old = fetch(air.marks, c), old_rates(c, stage, air)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    x, y, z = rates_of_air(at, steps, lines, b, k, air)
    if measure(b, EDDIES, air) > 0.0:
        x += eddy_x(at, c, steps, lines, mark, air)
        y += eddy_y(at, c, steps, lines, mark, air)
        z += eddy_z(at, c, steps, lines, mark, air)
    finish_air((x, y, z), old, (i, j, k), mark, (c, b, stage), air)


@compiled
def where_of(b, i, j, k, air):
    """A cell's place along the axes, and cells along them."""
    return i, j, k, number(b, CELLS, air), number(b, CELLS + 1, air), number(b, CELLS + 2, air)


@compiled
def move_heat(b, i, j, k, stage, air):
    """Advance the temperature of one cell where no bay has eddies, but for what lists add."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, before = fetch(air.marks, c), old_rate(TEMPERATURE, c, stage, air)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_of_heat(at, steps, lines, where_of(b, i, j, k, air), mark, b, air)
    finish(rate, before, TEMPERATURE, mark, (c, b, stage), air)


@compiled
def move_heat_and_eddies(b, i, j, k, stage, air):
    """The same where bays have eddies."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, before = fetch(air.marks, c), old_rate(TEMPERATURE, c, stage, air)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_of_heat(at, steps, lines, where_of(b, i, j, k, air), mark, b, air)
    if measure(b, EDDIES, air) > 0.0:
        rate += eddy_heat(at[3], c, steps, lines, mark, air)
    finish(rate, before, TEMPERATURE, mark, (c, b, stage), air)

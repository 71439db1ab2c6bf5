"""What one thread does for the four values of one place: the momentum equation of `momentum`, and heat beside it.

Neighbours beyond the domain are the value itself: strides towards them are clipped to nothing, so that every place
reads the same way, faces on the domain's sides too (which keep what they had). All is read before anything is written.
"""

from __future__ import annotations

from sim.airflow.device.heat import rate_of_heat
from sim.airflow.device.layout import (
    ABOVE,
    BELOW,
    BUOYANCY,
    CELLS,
    FRICTION,
    HELD,
    INVERSE_GAP,
    PRESSURE,
    SHARES,
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
)
from sim.airflow.device.marks import FIXED, marked
from sim.airflow.device.sides import between, lateral, surroundings
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
def finish(rate, before, push, field, mark, spot, air):
    """Advance a value that is not fixed; ``spot``: place, bay, stage."""
    c, b, stage = spot
    still = marked(mark, FIXED + field)
    advance_one(0.0 if still else rate, before, 0.0 if still else push, field, c, b, stage, air)


@compiled
def rates_of_air(at, steps, lines, b, k, air):
    """Rates of the three velocities at a cell's low faces, but for eddies and what lists add."""
    q, nu = air.values, measure(b, VISCOSITY, air)
    z = rate_z(q, at, steps, lines, nu, air) + lift(q, at[3], steps[2][0], b, k, air)
    x, y = rate_x(q, at, steps, lines, nu, air), rate_y(q, at, steps, lines, nu, air)
    f, g, h = frictions(lines, nu, air)
    return x - (g + h) * fetch(q, at[0]), y - (f + h) * fetch(q, at[1]), z - (f + g) * fetch(q, at[2])


@compiled
def frictions(lines, nu, air):
    """Of the three axes, friction [1/s] of what moves along the domain's walls beside a cell."""
    x, y = entry(FRICTION, lines[0][1], air), entry(FRICTION, lines[1][1], air)
    return nu * x, nu * y, nu * entry(FRICTION, lines[2][1], air)


@compiled
def pushes(c, b, stage, steps, lines, air):
    """What a stage gives of the last step's pressure impulse to the three velocities at a cell's low faces."""
    q, p, share = air.values, PRESSURE * air.grid.total + c, measure(b, SHARES + stage, air)
    here = fetch(q, p)
    x = share * entry(INVERSE_GAP, lines[0][1], air) * (here - fetch(q, p - steps[0][0]))
    y = share * entry(INVERSE_GAP, lines[1][1], air) * (here - fetch(q, p - steps[1][0]))
    return x, y, share * entry(INVERSE_GAP, lines[2][1], air) * (here - fetch(q, p - steps[2][0]))


@compiled
def finish_air(rates, old, push, mark, spot, air):
    """Advance the three velocities at a cell's low faces.

    Those on the domain's own sides are fixed; to leave them out by their place would take a fifth more registers.
    """
    finish(rates[0], old[0], push[0], X, mark, spot, air)
    finish(rates[1], old[1], push[1], Y, mark, spot, air)
    finish(rates[2], old[2], push[2], Z, mark, spot, air)


@compiled
def old_rates(c, stage, air):
    """The last stage's rates of the three velocities."""
    return old_rate(X, c, stage, air), old_rate(Y, c, stage, air), old_rate(Z, c, stage, air)


@compiled
def held_rate(field, c, air):
    """What eddies add to a rate throughout a step."""
    return fetch(air.values, (HELD + field) * air.grid.total + c)


@compiled
def move_air(b, i, j, k, stage, air):
    """Advance the three velocities at one cell's low faces where no bay has eddies, but for what lists add."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, old = fetch(air.marks, c), old_rates(c, stage, air)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    rates, push = rates_of_air(at, steps, lines, b, k, air), pushes(c, b, stage, steps, lines, air)
    finish_air(rates, old, push, mark, (c, b, stage), air)


@compiled
def move_air_and_eddies(b, i, j, k, stage, air):
    """The same where bays have eddies, which do what they did when the step began."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, old = fetch(air.marks, c), old_rates(c, stage, air)
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    (x, y, z), push = rates_of_air(at, steps, lines, b, k, air), pushes(c, b, stage, steps, lines, air)
    x, y, z = x + held_rate(X, c, air), y + held_rate(Y, c, air), z + held_rate(Z, c, air)
    finish_air((x, y, z), old, push, mark, (c, b, stage), air)


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
    at, _, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_of_heat(at, lines, where_of(b, i, j, k, air), mark, b, air)
    finish(rate, before, 0.0, TEMPERATURE, mark, (c, b, stage), air)


@compiled
def move_heat_and_eddies(b, i, j, k, stage, air):
    """The same where bays have eddies."""
    if not inside(b, i, j, k, air):
        return
    c = place(b, i, j, k, air.grid)
    mark, before = fetch(air.marks, c), old_rate(TEMPERATURE, c, stage, air)
    at, _, lines = surroundings(b, i, j, k, stage, air)
    rate = rate_of_heat(at, lines, where_of(b, i, j, k, air), mark, b, air)
    rate += held_rate(TEMPERATURE, c, air)
    finish(rate, before, 0.0, TEMPERATURE, mark, (c, b, stage), air)

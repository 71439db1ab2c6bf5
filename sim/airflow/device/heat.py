"""What one thread does for one cell: the heat equation of `sim.airflow.heat`, with its own limiter."""

from __future__ import annotations

from sim.airflow.device.layout import (
    CENTRAL,
    DIFFUSIVITY,
    INVERSE_GAP,
    INVERSE_WIDTH,
    WIDTH,
    entry,
    fetch,
    measure,
    number,
)
from sim.airflow.device.marks import marked
from sim.airflow.device.sides import lateral
from sim.airflow.heat import carried
from sim.airflow.rows import compiled


@compiled
def opened(mark, bit, value):
    """A value where the face of a bit is open, else zero."""
    return value if marked(mark, bit) else 0.0


@compiled
def low_flux(speed, q, t, steps, at, air):
    """Bounded advective flux through a cell's low face; ``at``: mark, its first bit, line, place along the axis."""
    mark, bit, g, index, count = at
    if index == 0:
        return 0.0
    stride = steps[0]
    far_below = fetch(q, t - 2 * stride) if index > 1 else fetch(q, t - stride)
    before = opened(mark, bit, entry(INVERSE_GAP, g - 1, air))
    slopes = (before, entry(INVERSE_GAP, g, air), opened(mark, bit + 2, entry(INVERSE_GAP, g + 1, air)))
    four = (far_below, fetch(q, t - stride), fetch(q, t), fetch(q, t + steps[1]))
    return carried(speed, four, slopes, (0.5 * entry(WIDTH, g - 1, air), 0.5 * entry(WIDTH, g, air)))


@compiled
def high_flux(speed, q, t, steps, at, air):
    """The same through its high face."""
    mark, bit, g, index, count = at
    if index + 1 >= count:
        return 0.0
    stride = steps[1]
    far_above = fetch(q, t + 2 * stride) if index < count - 2 else fetch(q, t + stride)
    before = opened(mark, bit + 1, entry(INVERSE_GAP, g, air))
    slopes = (before, entry(INVERSE_GAP, g + 1, air), opened(mark, bit + 3, entry(INVERSE_GAP, g + 2, air)))
    four = (fetch(q, t - steps[0]), fetch(q, t), fetch(q, t + stride), far_above)
    return carried(speed, four, slopes, (0.5 * entry(WIDTH, g, air), 0.5 * entry(WIDTH, g + 1, air)))


@compiled
def along(speeds, q, t, steps, at, diffusivity, central, air):
    """What advection and conduction along one axis leave in a cell [K/s]."""
    if central:
        return lateral(q, t, steps, speeds, at[2], diffusivity, air)
    still = lateral(q, t, steps, (0.0, 0.0), at[2], diffusivity, air)
    low, high = low_flux(speeds[0], q, t, steps, at, air), high_flux(speeds[1], q, t, steps, at, air)
    return (low - high) * entry(INVERSE_WIDTH, at[2], air) + still


@compiled
def rate_of_heat(at, steps, lines, where, mark, b, air):
    """Rate of a cell's temperature, but for eddies; ``where``: its place along the axes, and cells along them."""
    q, grid = air.values, air.grid
    u, v, w, t = at
    alpha, central = measure(b, DIFFUSIVITY, air), number(b, CENTRAL, air) != 0
    i, j, k, nx, ny, nz = where
    speeds = (fetch(q, u), fetch(q, u + grid.plane))
    rate = along(speeds, q, t, steps[0], (mark, 0, lines[0][1], i, nx), alpha, central, air)
    speeds = (fetch(q, v), fetch(q, v + grid.pz))
    rate += along(speeds, q, t, steps[1], (mark, 4, lines[1][1], j, ny), alpha, central, air)
    speeds = (fetch(q, w), fetch(q, w + 1))
    return rate + along(speeds, q, t, steps[2], (mark, 8, lines[2][1], k, nz), alpha, central, air)

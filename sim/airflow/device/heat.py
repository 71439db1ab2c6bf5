"""What one thread does for one cell: the heat equation of `sim.airflow.heat`, with its own limiter.

Every cell reads the same way: values beyond the domain are the last one's, and the air is at rest on the domain's
sides, so that whatever is read there carries nothing.
"""

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
from sim.airflow.heat import carried
from sim.airflow.rows import compiled


@compiled
def opened(mark, bit, value):
    """A value where the face of a bit is open, else zero."""
    return value if marked(mark, bit) else 0.0


@compiled
def spacing(g, index, count, air):
    """Round a cell: inverse gaps at four faces, half widths of three cells, inverse width; ``g``: its line."""
    before, after = g - 1 if index > 0 else g, g + 1 if index < count - 1 else g
    outer = entry(INVERSE_GAP, before, air), entry(INVERSE_GAP, g + 2, air)
    gaps = outer[0], entry(INVERSE_GAP, g, air), entry(INVERSE_GAP, g + 1, air), outer[1]
    halves = 0.5 * entry(WIDTH, before, air), 0.5 * entry(WIDTH, g, air), 0.5 * entry(WIDTH, after, air)
    return gaps, halves, entry(INVERSE_WIDTH, g, air)


@compiled
def five_of(q, t, index, count, stride):
    """A cell's temperature between those of two cells on either side."""
    low, high = stride if index > 0 else 0, stride if index < count - 1 else 0
    lower, higher = low + (stride if index > 1 else 0), high + (stride if index < count - 2 else 0)
    return fetch(q, t - lower), fetch(q, t - low), fetch(q, t), fetch(q, t + high), fetch(q, t + higher)


@compiled
def along(speeds, five, space, mark, bit, how):
    """What advection and conduction along one axis leave in a cell [K/s].

    ``speeds``: through its faces; ``bit``: the axis' first in the mark; ``how``: diffusivity, whether central. Where
    all is as warm nothing changes, whatever the speeds (`heat.keep_uniform`).
    """
    gaps, halves, inverse = space
    lower, low, here, high, higher = five
    diffusivity, central = how
    if central:
        carry = 0.5 * (speeds[0] * (low + here) - speeds[1] * (here + high))
    else:
        slopes = (opened(mark, bit, gaps[0]), gaps[1], opened(mark, bit + 2, gaps[2]))
        carry = carried(speeds[0], (lower, low, here, high), slopes, (halves[0], halves[1]))
        slopes = (opened(mark, bit + 1, gaps[1]), gaps[2], opened(mark, bit + 3, gaps[3]))
        carry -= carried(speeds[1], (low, here, high, higher), slopes, (halves[1], halves[2]))
    carry += here * (speeds[1] - speeds[0])
    return (carry + diffusivity * (gaps[1] * (low - here) + gaps[2] * (high - here))) * inverse


@compiled
def rate_of_heat(at, lines, where, mark, b, air):
    """Rate of a cell's temperature, but for eddies; ``where``: its place along the axes, and cells along them."""
    q, plane, row = air.values, air.grid.plane, air.grid.pz
    u, v, w, t = at
    i, j, k, nx, ny, nz = where
    how = measure(b, DIFFUSIVITY, air), number(b, CENTRAL, air) != 0
    speeds, space = (fetch(q, u), fetch(q, u + plane)), spacing(lines[0][1], i, nx, air)
    rate = along(speeds, five_of(q, t, i, nx, plane), space, mark, 0, how)
    speeds, space = (fetch(q, v), fetch(q, v + row)), spacing(lines[1][1], j, ny, air)
    rate += along(speeds, five_of(q, t, j, ny, row), space, mark, 4, how)
    speeds, space = (fetch(q, w), fetch(q, w + 1)), spacing(lines[2][1], k, nz, air)
    return rate + along(speeds, five_of(q, t, k, nz, 1), space, mark, 8, how)

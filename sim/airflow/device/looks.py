"""What one thread does between steps: how quickly cells are crossed, clocks, sums for means, heat of wall faces."""

from __future__ import annotations

from sim.airflow.device.layout import (
    CEILING,
    CELLS,
    CROSSING,
    EACH,
    FIRST,
    INVERSE_WIDTH,
    LEFT,
    PARITY,
    SECOND,
    SHARES,
    SOURCE,
    TAKEN,
    TEMPERATURE,
    entry,
    fetch,
    held_share,
    inside,
    number,
    place,
    state_at,
    store,
)
from sim.airflow.device.marks import FIXED, marked
from sim.airflow.rows import compiled

PIECE = 32
"""Cells of a column along y that one thread looks at for crossing rates."""


@compiled
def find_crossing(n, which, air):
    """Largest rate [1/s] at which the flow that a stage wrote crosses cells, of one piece of a column along y.

    It is `momentum.crossing_rate`, in the first working array; ``which``: the stage, and pieces of a column.
    """
    grid, q, (stage, pieces) = air.grid, air.values, which
    row = n // grid.pz
    slab, k = row // pieces, n - row * grid.pz
    b, start, most = slab // grid.px, (row - slab * pieces) * PIECE, 0.0
    i, m = slab - b * grid.px, 3 * b
    if inside(b, i, start, k, air):
        x, z = entry(INVERSE_WIDTH, m * grid.lines + i, air), entry(INVERSE_WIDTH, (m + 2) * grid.lines + k, air)
        u = state_at(b, stage + 1, air) + place(b, i, start, k, grid)
        for j in range(start, min(start + PIECE, number(b, CELLS + 1, air))):
            v, w = u + grid.total, u + 2 * grid.total
            rate = quicker(q, u, u + grid.plane) * x + quicker(q, w, w + 1) * z
            rate += quicker(q, v, v + grid.pz) * entry(INVERSE_WIDTH, (m + 1) * grid.lines + j, air)
            most, u = max(most, rate), u + grid.pz
    store(q, FIRST * grid.total + n, most)


@compiled
def quicker(q, low, high):
    """The larger speed of two faces."""
    return max(abs(fetch(q, low)), abs(fetch(q, high)))


@compiled
def column_most(n, part, air):
    """The largest of one column along y of a part of `values`, kept where the sources were.

    ``part``: which, and rows of a slab in it.
    """
    grid, q, (which, rows) = air.grid, air.values, part
    slab = n // grid.pz
    at, most = which * grid.total + slab * rows * grid.pz + n - slab * grid.pz, 0.0
    for j in range(rows):
        most = max(most, fetch(q, at + j * grid.pz))
    store(q, SOURCE * grid.total + n, most)


@compiled
def slab_most(s, extra, air):
    """The largest of one slab's columns, in the first working array."""
    grid, q = air.grid, air.values
    at, most = SOURCE * grid.total + s * grid.pz, 0.0
    for k in range(grid.pz):
        most = max(most, fetch(q, at + k))
    store(q, FIRST * grid.total + s, most)


@compiled
def bay_most(b, air):
    """The largest of a bay's slabs."""
    at, most = FIRST * air.grid.total + b * air.grid.px, 0.0
    for i in range(air.grid.px):
        most = max(most, fetch(air.values, at + i))
    return most


@compiled
def note_crossing(b, extra, air):
    """Keep how quickly a bay's cells are crossed [1/s]."""
    store(air.real, EACH * b + CROSSING, bay_most(b, air))


@compiled
def end_step(b, extra, air):
    """Count a step of one bay, turn its states, and let it rest when the flow has become too quick for the step.

    The next step of the same length gives the usual shares of the impulse.
    """
    whole, real, own = air.whole, air.real, EACH * b
    if whole[own + LEFT] <= 0:
        return
    largest = bay_most(b, air)
    whole[own + PARITY] = 1 - whole[own + PARITY]
    whole[own + TAKEN] += 1
    real[own + CROSSING] = largest
    for stage in range(3):
        real[own + SHARES + stage] = held_share(stage)
    whole[own + LEFT] = whole[own + LEFT] - 1 if largest <= real[own + CEILING] else 0


@compiled
def sum_columns(n, extra, air):
    """Sums of one column along y of both working arrays, kept where the sources were."""
    grid, q = air.grid, air.values
    slab = n // grid.pz
    at, first, second = slab * grid.plane + n - slab * grid.pz, 0.0, 0.0
    for j in range(grid.py):
        first += fetch(q, FIRST * grid.total + at + j * grid.pz)
        second += fetch(q, SECOND * grid.total + at + j * grid.pz)
    store(q, SOURCE * grid.total + n, first)
    store(q, SOURCE * grid.total + grid.bays * grid.px * grid.pz + n, second)


@compiled
def sum_heights(n, sums, air):
    """Both sums of one bay at one height, from those of its columns; ``sums``: where they go."""
    grid, q = air.grid, air.values
    b = n // grid.pz
    at, first, second = SOURCE * grid.total + b * grid.px * grid.pz + n - b * grid.pz, 0.0, 0.0
    for i in range(grid.px):
        first += fetch(q, at + i * grid.pz)
        second += fetch(q, at + (grid.bays * grid.px + i) * grid.pz)
    store(sums[0], n, first)
    store(sums[1], n, second)


@compiled
def find_levels(b, i, j, k, stage, air):
    """Air temperature, or zero in solids, in the first working array; in the second zero, or what is no number."""
    grid, q = air.grid, air.values
    nx, ny, nz = number(b, CELLS, air), number(b, CELLS + 1, air), number(b, CELLS + 2, air)
    c, total = place(b, i, j, k, grid), grid.total
    store(q, FIRST * total + c, 0.0)
    store(q, SECOND * total + c, 0.0)
    if i >= nx or j >= ny or k >= nz:
        return
    u = state_at(b, 0, air) + c
    both = fetch(q, u) + fetch(q, u + total) + fetch(q, u + 2 * total) + fetch(q, u + 3 * total)
    store(q, SECOND * total + c, 0.0 * both)
    if not marked(fetch(air.marks, c), FIXED + TEMPERATURE):
        store(q, FIRST * total + c, fetch(q, u + 3 * total))


@compiled
def add_means(b, i, j, k, sums, air):
    """Add all fields at one place to two running sums, each for the time that it stands for in this bay."""
    grid, q = air.grid, air.values
    first, second, spans = sums
    one, two = spans[2 * b], spans[2 * b + 1]
    if one == 0.0 and two == 0.0:
        return
    c = place(b, i, j, k, grid)
    u = state_at(b, 0, air) + c
    for field in range(4):
        value = q[u + field * grid.total]
        first[field * grid.total + c] += one * value
        second[field * grid.total + c] += two * value


@compiled
def add_heat(n, walls, air):
    """Add a wall face's heat into the air, for a time; ``walls``: bay, cell, conductance, temperature, sum, spans."""
    bay, cell, conductance, temperature, heat, span = walls
    b = bay[n]
    if span[b] != 0.0:
        t = state_at(b, 0, air) + TEMPERATURE * air.grid.total + cell[n]
        heat[n] += span[b] * conductance[n] * (temperature[n] - air.values[t])


@compiled
def find_losses(n, losses, air):
    """Decay rate [1/s] at one porous face; ``losses``: bay, place in the state, factor, result."""
    bay, at, factor, result = losses
    result[n] = factor[n] * abs(air.values[state_at(bay[n], 0, air) + at[n]])

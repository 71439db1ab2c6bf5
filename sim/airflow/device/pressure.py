"""What one thread does for the pressure: volume flows, modes, jumps across closed faces, gradients.

All three axes go to modes here, as products of whole matrices are what an accelerator does best (on the processor,
`modes` leaves tridiagonal lines along one of them). Between the kernels below, `seam` rotates the axes through the
products.
"""

from __future__ import annotations

from sim.airflow.device.layout import (
    FIRST,
    INVERSE_GAP,
    LEFT,
    PRESSURE,
    SECOND,
    SOURCE,
    VALUE,
    WIDTH,
    entry,
    fetch,
    inside,
    number,
    place,
    state_at,
    store,
)
from sim.airflow.device.marks import marked
from sim.airflow.rows import compiled


@compiled
def find_sources(b, i, j, k, stage, air):
    """Volume flow into one cell [m³/s], of the state that a stage wrote; zero beyond the bay."""
    grid, q, n = air.grid, air.values, 3 * b
    c = place(b, i, j, k, grid)
    if not inside(b, i, j, k, air):
        store(q, SOURCE * grid.total + c, 0.0)
        return
    u = state_at(b, stage + 1, air) + c
    v, w = u + grid.total, u + 2 * grid.total
    dx, dy = entry(WIDTH, n * grid.lines + i, air), entry(WIDTH, (n + 1) * grid.lines + j, air)
    dz = entry(WIDTH, (n + 2) * grid.lines + k, air)
    lateral = dy * (fetch(q, u) - fetch(q, u + grid.plane)) + dx * (fetch(q, v) - fetch(q, v + grid.pz))
    store(q, SOURCE * grid.total + c, lateral * dz + dx * dy * (fetch(q, w) - fetch(q, w + 1)))


@compiled
def divided(source, b, i, j, k, air):
    """A mode by its eigenvalue; the constant mode, which moves no air, is left out."""
    grid, n = air.grid, 3 * b
    total = entry(VALUE, n * grid.lines + i, air) + entry(VALUE, (n + 1) * grid.lines + j, air)
    total += entry(VALUE, (n + 2) * grid.lines + k, air)
    return source / total if total > 0.0 else 0.0


@compiled
def divide_modes(b, i, j, k, into, air):
    """Every mode in the first working array by its eigenvalue."""
    c, total = place(b, i, j, k, air.grid), air.grid.total
    source = fetch(air.values, FIRST * total + c)
    store(air.values, into * total + c, divided(source, b, i, j, k, air))


@compiled
def feed_and_divide(b, i, j, k, few, air):
    """The same once the closed faces' flows are added: their last transform, from few planes where the sources were.

    ``few``: the eigenvectors' rows of these planes, flat, and how many there are. A product of so thin a matrix would
    take a pass over all modes of its own.
    """
    grid, (rows, planes) = air.grid, few
    c = place(b, i, j, k, grid)
    source = fetch(air.values, FIRST * grid.total + c)
    for m in range(b * planes, (b + 1) * planes):
        at = SOURCE * grid.total + (m * grid.px + i) * grid.py + j
        source += fetch(air.values, at) * fetch(rows, m * grid.pz + k)
    store(air.values, FIRST * grid.total + c, divided(source, b, i, j, k, air))


@compiled
def find_jumps(b, f, chunk, stage, air):
    """Jump across one closed face of the pressure that is sampled beside them, where the sources were."""
    faces, sampled = air.faces, SOURCE * air.grid.total
    if number(b, LEFT, air) > 0 and f < faces.count[b]:
        at = b * air.grid.most_faces + f
        high, low = fetch(air.values, sampled + faces.above[at]), fetch(air.values, sampled + faces.below[at])
        faces.jump[at] = high - low


@compiled
def sum_influence(b, f, chunk, stage, air):
    """A chunk of the product of the inverse influence matrix, which is symmetric, with the jumps."""
    faces, most, count = air.faces, air.grid.most_faces, air.faces.count[b]
    if number(b, LEFT, air) <= 0 or f >= count:
        return
    start, stop = count * chunk // air.grid.chunks, count * (chunk + 1) // air.grid.chunks
    column, total = faces.inverse_at[b] + f, 0.0
    for g in range(start, stop):
        total += faces.inverse[column + g * count] * faces.jump[b * most + g]
    faces.part[(chunk * air.grid.bays + b) * most + f] = total


@compiled
def feed_faces(n, stage, air):
    """The closed faces' flows as the source of one cell beside them."""
    faces, grid = air.faces, air.grid
    b = faces.fed_bay[n]
    if number(b, LEFT, air) <= 0:
        return
    total = 0.0
    for e in range(faces.fed_start[n], faces.fed_start[n + 1]):
        signed = faces.fed_face[e]
        face = b * grid.most_faces + abs(signed) - 1
        flow = 0.0
        for chunk in range(grid.chunks):
            flow += faces.part[chunk * grid.bays * grid.most_faces + face]
        total += flow if signed > 0 else -flow
    faces.box[faces.fed[n]] = total


@compiled
def pull_one(at, c, stride, gap, is_open, air):
    """Take the pressure's gradient from one face; a closed one is at rest."""
    here = SECOND * air.grid.total + c
    fall = gap * (fetch(air.values, here) - fetch(air.values, here - stride))
    store(air.values, at, fetch(air.values, at) - fall if is_open else 0.0)


@compiled
def subtract_gradients(b, i, j, k, stage, air):
    """Take the gradient of the pressure's impulse from the faces below one cell, and keep it for the next step.

    Kept apart, as products work on bays at rest too.
    """
    if not inside(b, i, j, k, air):
        return
    grid, n = air.grid, 3 * b
    c = place(b, i, j, k, grid)
    at, mark = state_at(b, stage + 1, air) + c, fetch(air.marks, c)
    store(air.values, PRESSURE * grid.total + c, fetch(air.values, SECOND * grid.total + c))
    if i > 0:
        pull_one(at, c, grid.plane, entry(INVERSE_GAP, n * grid.lines + i, air), marked(mark, 1), air)
    if j > 0:
        pull_one(at + grid.total, c, grid.pz, entry(INVERSE_GAP, (n + 1) * grid.lines + j, air), marked(mark, 5), air)
    if k > 0:
        pull_one(at + 2 * grid.total, c, 1, entry(INVERSE_GAP, (n + 2) * grid.lines + k, air), marked(mark, 9), air)

"""What one thread does for the pressure: volume flows, modes, jumps across closed faces, gradients.

All three axes go to modes here, as products of whole matrices are what an accelerator does best (on the processor,
`modes` leaves tridiagonal lines along one of them). Between the kernels below, `seam` rotates the axes through the
products.
"""

from __future__ import annotations

from sim.airflow.device.layout import fetch, inside, place, state_at, store
from sim.airflow.device.marks import marked
from sim.airflow.rows import compiled


@compiled
def find_sources(b, i, j, k, stage, air):
    """Volume flow into one cell [m³/s], of the state that a stage wrote; zero beyond the bay."""
    grid, q, width, n = air.grid, air.state, air.tables.width, 3 * b
    c = place(b, i, j, k, grid)
    if not inside(b, i, j, k, air):
        store(air.source, c, 0.0)
        return
    u = state_at(b, stage + 1, air) + c
    v, w = u + grid.total, u + 2 * grid.total
    dx, dy = fetch(width, n * grid.lines + i), fetch(width, (n + 1) * grid.lines + j)
    dz = fetch(width, (n + 2) * grid.lines + k)
    lateral = dy * (fetch(q, u) - fetch(q, u + grid.plane)) + dx * (fetch(q, v) - fetch(q, v + grid.pz))
    store(air.source, c, lateral * dz + dx * dy * (fetch(q, w) - fetch(q, w + 1)))


@compiled
def divide_modes(b, i, j, k, stage, air):
    """Every mode by its eigenvalue, in the first working array; the constant mode, which moves no air, is left out."""
    grid, value, n = air.grid, air.tables.value, 3 * b
    c = place(b, i, j, k, grid)
    total = fetch(value, n * grid.lines + i) + fetch(value, (n + 1) * grid.lines + j)
    total += fetch(value, (n + 2) * grid.lines + k)
    store(air.first, c, fetch(air.first, c) / total if total > 0.0 else 0.0)


@compiled
def find_jumps(b, f, chunk, stage, air):
    """Jump across one closed face of the pressure in the second working array."""
    if air.clock.left[b] > 0 and f < air.faces.count[b]:
        at = b * air.grid.most_faces + f
        air.faces.jump[at] = air.second[air.faces.above[at]] - air.second[air.faces.below[at]]


@compiled
def sum_influence(b, f, chunk, stage, air):
    """A chunk of the product of the inverse influence matrix, which is symmetric, with the jumps."""
    faces, most, count = air.faces, air.grid.most_faces, air.faces.count[b]
    if air.clock.left[b] <= 0 or f >= count:
        return
    start, stop = count * chunk // air.grid.chunks, count * (chunk + 1) // air.grid.chunks
    column, total = faces.inverse_at[b] + f, 0.0
    for g in range(start, stop):
        total += faces.inverse[column + g * count] * faces.jump[b * most + g]
    faces.part[(chunk * air.grid.bays + b) * most + f] = total


@compiled
def feed_faces(n, stage, air):
    """Add the closed faces' flows to the sources of one cell beside them."""
    faces, grid = air.faces, air.grid
    b = faces.fed_bay[n]
    if air.clock.left[b] <= 0:
        return
    total = 0.0
    for e in range(faces.fed_start[n], faces.fed_start[n + 1]):
        signed = faces.fed_face[e]
        face = b * grid.most_faces + abs(signed) - 1
        flow = 0.0
        for chunk in range(grid.chunks):
            flow += faces.part[chunk * grid.bays * grid.most_faces + face]
        total += flow if signed > 0 else -flow
    air.source[faces.fed[n]] += total


@compiled
def pull_one(at, c, stride, gap, is_open, air):
    """Take the pressure's gradient from one face; a closed one is at rest."""
    fall = gap * (fetch(air.second, c) - fetch(air.second, c - stride))
    store(air.state, at, fetch(air.state, at) - fall if is_open else 0.0)


@compiled
def subtract_gradients(b, i, j, k, stage, air):
    """Take the pressure's gradient, in the second working array, from the faces below one cell."""
    if not inside(b, i, j, k, air):
        return
    grid, gap, n = air.grid, air.tables.inverse_gap, 3 * b
    c = place(b, i, j, k, grid)
    at, mark = state_at(b, stage + 1, air) + c, fetch(air.marks, c)
    if i > 0:
        pull_one(at, c, grid.plane, fetch(gap, n * grid.lines + i), marked(mark, 1), air)
    if j > 0:
        pull_one(at + grid.total, c, grid.pz, fetch(gap, (n + 1) * grid.lines + j), marked(mark, 5), air)
    if k > 0:
        pull_one(at + 2 * grid.total, c, 1, fetch(gap, (n + 2) * grid.lines + k), marked(mark, 9), air)

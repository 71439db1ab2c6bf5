"""What eddies finer than the cells add for one face or cell: `subgrid`, gathered by faces, not spread by edges.

It is found once a step, of the flow as the step begins.
"""

from __future__ import annotations

from sim.airflow.device.layout import (
    CELLS,
    CENTRE,
    EDDIES,
    EDDY,
    HELD,
    INVERSE_GAP,
    INVERSE_WIDTH,
    TEMPERATURE,
    WIDTH,
    entry,
    fetch,
    inside,
    measure,
    number,
    place,
    state_at,
    store,
)
from sim.airflow.device.marks import EDGES, FIXED, PARTLY, marked
from sim.airflow.device.sides import clipped, surroundings
from sim.airflow.rows import compiled
from sim.airflow.subgrid import TURBULENT_PRANDTL, vreman_of

MIXING = 0.5 / TURBULENT_PRANDTL
"""Of the sum of two cells' eddy viscosities, the diffusivity of heat between them."""


@compiled
def middle(q, at, stride):
    """Velocity at a cell's centre from its two faces."""
    return 0.5 * (fetch(q, at) + fetch(q, at + stride))


@compiled
def slopes_of(q, at, own, steps, rises):
    """Slopes of one component at cell centres along all three axes; `own`: its stride."""
    (west, east), (south, north), (below, above) = steps
    return (
        (middle(q, at + east, own) - middle(q, at - west, own)) * rises[0],
        (middle(q, at + north, own) - middle(q, at - south, own)) * rises[1],
        (middle(q, at + above, own) - middle(q, at - below, own)) * rises[2],
    )


@compiled
def rise(g, index, count, air):
    """One over the distance of a cell's neighbours along an axis, one-sided at its ends; 0 where there are none."""
    if count == 1:
        return 0.0
    high, low = g + 1 if index < count - 1 else g, g - 1 if index > 0 else g
    return 1.0 / (entry(CENTRE, high, air) - entry(CENTRE, low, air))


@compiled
def find_eddies(b, i, j, k, stage, air):
    """Eddy viscosity of one cell; none in solids."""
    constant = measure(b, EDDIES, air)
    if constant == 0.0 or not inside(b, i, j, k, air):
        return
    grid, q, n = air.grid, air.values, 3 * b
    c = place(b, i, j, k, grid)
    if marked(fetch(air.marks, c), FIXED + TEMPERATURE):
        store(q, EDDY * grid.total + c, 0.0)
        return
    nx, ny, nz = number(b, CELLS, air), number(b, CELLS + 1, air), number(b, CELLS + 2, air)
    tx, ty, tz = n * grid.lines + i, (n + 1) * grid.lines + j, (n + 2) * grid.lines + k
    steps = (clipped(i, nx, grid.plane), clipped(j, ny, grid.pz), clipped(k, nz, 1))
    u = state_at(b, stage, air) + c
    rises = (rise(tx, i, nx, air), rise(ty, j, ny, air), rise(tz, k, nz, air))
    of_u = slopes_of(q, u, grid.plane, steps, rises)
    of_v = slopes_of(q, u + grid.total, grid.pz, steps, rises)
    of_w = slopes_of(q, u + 2 * grid.total, 1, steps, rises)
    squares = (entry(WIDTH, tx, air) ** 2, entry(WIDTH, ty, air) ** 2, entry(WIDTH, tz, air) ** 2)
    store(q, EDDY * grid.total + c, constant * vreman_of((of_u, of_v, of_w), squares))


@compiled
def eddy_at(c, air):
    """Eddy viscosity of a cell."""
    return fetch(air.values, EDDY * air.grid.total + c)


@compiled
def middle_eddy(cells, air):
    """Mean eddy viscosity of the four cells round an edge."""
    return 0.25 * (eddy_at(cells[0], air) + eddy_at(cells[1], air) + eddy_at(cells[2], air) + eddy_at(cells[3], air))


@compiled
def edge_stress(viscosity, q, first, second, gaps, passes):
    """Stress on an edge between two axes, zero at walls.

    ``first``, ``second``: places in the state of the faces normal to the first axis below and above the edge, and of
    those normal to the second; ``gaps``: one over the distances between the second two and the first two.
    """
    turning = (fetch(q, first[1]) - fetch(q, first[0])) * gaps[1]
    turning += (fetch(q, second[1]) - fetch(q, second[0])) * gaps[0]
    return viscosity * turning if passes else 0.0


@compiled
def shear(own, other, bits, c, mark, air):
    """What shear leaves at the cell's low face normal to one axis, through the edges on both sides along another.

    ``own``, ``other``: of both axes place of the velocity, stride, clipped strides, and place in the tables; ``bits``:
    whether air passes round those edges.
    """
    u, _, (west, _), g = own
    v, stride, (south, north), h = other
    q = air.values
    gap, viscosity = entry(INVERSE_GAP, g, air), middle_eddy((c - west - south, c - south, c - west, c), air)
    gaps = (gap, entry(INVERSE_GAP, h, air))
    low = edge_stress(viscosity, q, (u - south, u), (v - west, v), gaps, marked(mark, bits[0]))
    viscosity = middle_eddy((c - west, c, c - west + north, c + north), air)
    gaps = (gap, entry(INVERSE_GAP, h + 1, air))
    beyond = (v - west + stride, v + stride)
    high = edge_stress(viscosity, q, (u, u + north), beyond, gaps, marked(mark, bits[1]))
    return (high - low) * entry(INVERSE_WIDTH, h, air)


@compiled
def stretching(q, at, c, axis, lines, air):
    """What normal stress leaves at a face: cells on either side stretch along the axis; ``axis``: stride, clipped."""
    stride, low = axis
    high = 2.0 * eddy_at(c, air) * (fetch(q, at + stride) - fetch(q, at)) * entry(INVERSE_WIDTH, lines[1], air)
    before = 2.0 * eddy_at(c - low, air) * (fetch(q, at) - fetch(q, at - low)) * entry(INVERSE_WIDTH, lines[0], air)
    return (high - before) * entry(INVERSE_GAP, lines[1], air)


@compiled
def open_share(code, mark, bit, air):
    """Open share of a face, whose code is looked up only beside faces that are open in part."""
    if marked(mark, PARTLY):
        return fetch(air.opening, fetch(air.codes, code))
    return 1.0 if marked(mark, bit) else 0.0


@compiled
def mixed_along(t, c, axis, steps, g, mark, air):
    """What eddies leave in a cell along one axis."""
    q, code = air.values, axis * air.grid.total + c
    below, above = steps
    passing = MIXING * open_share(code, mark, 4 * axis + 1, air) * (eddy_at(c - below, air) + eddy_at(c, air))
    low = passing * (fetch(q, t) - fetch(q, t - below)) * entry(INVERSE_GAP, g, air)
    passing = MIXING * open_share(code + above, mark, 4 * axis + 2, air) * (eddy_at(c, air) + eddy_at(c + above, air))
    high = passing * (fetch(q, t + above) - fetch(q, t)) * entry(INVERSE_GAP, g + 1, air)
    return (high - low) * entry(INVERSE_WIDTH, g, air)


@compiled
def axes_of(at, steps, lines, grid):
    """What `shear` takes of the three axes."""
    return (
        (at[0], grid.plane, steps[0], lines[0][1]),
        (at[1], grid.pz, steps[1], lines[1][1]),
        (at[2], 1, steps[2], lines[2][1]),
    )


@compiled
def eddy_x(at, c, steps, lines, mark, air):
    """What eddies add to the rate of the x velocity at the cell's low face."""
    x, y, z = axes_of(at, steps, lines, air.grid)
    rate = stretching(air.values, at[0], c, (air.grid.plane, steps[0][0]), lines[0], air)
    return rate + shear(x, y, (EDGES, EDGES + 1), c, mark, air) + shear(x, z, (EDGES + 3, EDGES + 4), c, mark, air)


@compiled
def eddy_y(at, c, steps, lines, mark, air):
    """The same of the y velocity."""
    x, y, z = axes_of(at, steps, lines, air.grid)
    rate = stretching(air.values, at[1], c, (air.grid.pz, steps[1][0]), lines[1], air)
    return rate + shear(y, x, (EDGES, EDGES + 2), c, mark, air) + shear(y, z, (EDGES + 6, EDGES + 7), c, mark, air)


@compiled
def eddy_z(at, c, steps, lines, mark, air):
    """The same of the z velocity."""
    x, y, z = axes_of(at, steps, lines, air.grid)
    rate = stretching(air.values, at[2], c, (1, steps[2][0]), lines[2], air)
    return rate + shear(z, x, (EDGES + 3, EDGES + 5), c, mark, air) + shear(z, y, (EDGES + 6, EDGES + 8), c, mark, air)


@compiled
def eddy_heat(t, c, steps, lines, mark, air):
    """What eddies add to the rate of a cell's temperature."""
    rate = mixed_along(t, c, 0, steps[0], lines[0][1], mark, air)
    rate += mixed_along(t, c, 1, steps[1], lines[1][1], mark, air)
    return rate + mixed_along(t, c, 2, steps[2], lines[2][1], mark, air)


@compiled
def hold_rates(b, i, j, k, stage, air):
    """Keep what eddies add to the four rates of one place."""
    if measure(b, EDDIES, air) == 0.0 or not inside(b, i, j, k, air):
        return
    total, c = air.grid.total, place(b, i, j, k, air.grid)
    mark, held = fetch(air.marks, c), HELD * total + c
    at, steps, lines = surroundings(b, i, j, k, stage, air)
    x, y = eddy_x(at, c, steps, lines, mark, air), eddy_y(at, c, steps, lines, mark, air)
    z, heat = eddy_z(at, c, steps, lines, mark, air), eddy_heat(at[3], c, steps, lines, mark, air)
    store(air.values, held, x)
    store(air.values, held + total, y)
    store(air.values, held + 2 * total, z)
    store(air.values, held + 3 * total, heat)

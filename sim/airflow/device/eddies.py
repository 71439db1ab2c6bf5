"""What eddies finer than the cells add for one face or cell: `subgrid`, gathered by faces, not spread by edges."""

from __future__ import annotations

from sim.airflow.device.layout import FIXED, TEMPERATURE, fetch, inside, place, state_at, store
from sim.airflow.device.marks import EDGES, LISTED, PARTLY, marked
from sim.airflow.device.sides import clipped
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
def rise(g, index, count, centre):
    """One over the distance of a cell's neighbours along an axis, one-sided at its ends; 0 where there are none."""
    if count == 1:
        return 0.0
    return 1.0 / (fetch(centre, g + 1 if index < count - 1 else g) - fetch(centre, g - 1 if index > 0 else g))


@compiled
def find_eddies(b, i, j, k, stage, air):
    """Eddy viscosity of one cell; none in solids."""
    constant = air.properties[4 * b + 3]
    if constant == 0.0 or not inside(b, i, j, k, air):
        return
    grid, q, tables, n = air.grid, air.state, air.tables, 3 * b
    c = place(b, i, j, k, grid)
    if marked(fetch(air.marks, c), LISTED + TEMPERATURE) and fetch(air.lists.slot, TEMPERATURE * grid.total + c) == FIXED:
        store(air.eddy, c, 0.0)
        return
    nx, ny, nz = fetch(air.sizes, n), fetch(air.sizes, n + 1), fetch(air.sizes, n + 2)
    tx, ty, tz = n * grid.lines + i, (n + 1) * grid.lines + j, (n + 2) * grid.lines + k
    steps = (clipped(i, nx, grid.plane), clipped(j, ny, grid.pz), clipped(k, nz, 1))
    centre, width, u = tables.centre, tables.width, state_at(b, stage, air) + c
    rises = (rise(tx, i, nx, centre), rise(ty, j, ny, centre), rise(tz, k, nz, centre))
    of_u = slopes_of(q, u, grid.plane, steps, rises)
    of_v = slopes_of(q, u + grid.total, grid.pz, steps, rises)
    of_w = slopes_of(q, u + 2 * grid.total, 1, steps, rises)
    squares = (fetch(width, tx) ** 2, fetch(width, ty) ** 2, fetch(width, tz) ** 2)
    store(air.eddy, c, constant * vreman_of((of_u, of_v, of_w), squares))


@compiled
def middle_eddy(eddy, cells):
    """Mean eddy viscosity of the four cells round an edge."""
    a, b, c, d = cells
    return 0.25 * (fetch(eddy, a) + fetch(eddy, b) + fetch(eddy, c) + fetch(eddy, d))


@compiled
def edge_stress(viscosity, q, first, second, gaps, passes):
    """Stress on an edge between two axes, zero at walls.

    ``first``, ``second``: places in the state of the faces normal to the first axis below and above the edge, and of
    those normal to the second; ``gaps``: one over the distances between the second two and the first two.
    """
    turning = (fetch(q, first[1]) - fetch(q, first[0])) * gaps[1] + (fetch(q, second[1]) - fetch(q, second[0])) * gaps[0]
    return viscosity * turning if passes else 0.0


@compiled
def shear(own, other, bits, c, mark, air):
    """What shear leaves at the cell's low face normal to one axis, through the edges on both sides along another.

    ``own``, ``other``: of both axes place of the velocity, stride, clipped strides, and place in the tables; ``bits``:
    whether air passes round those edges.
    """
    u, _, (west, _), g = own
    v, stride, (south, north), h = other
    q, eddy, inverse_gap = air.state, air.eddy, air.tables.inverse_gap
    gap, viscosity = fetch(inverse_gap, g), middle_eddy(eddy, (c - west - south, c - south, c - west, c))
    gaps = (gap, fetch(inverse_gap, h))
    low = edge_stress(viscosity, q, (u - south, u), (v - west, v), gaps, marked(mark, bits[0]))
    gaps, viscosity = (gap, fetch(inverse_gap, h + 1)), middle_eddy(eddy, (c - west, c, c - west + north, c + north))
    beyond = (v - west + stride, v + stride)
    high = edge_stress(viscosity, q, (u, u + north), beyond, gaps, marked(mark, bits[1]))
    return (high - low) * fetch(air.tables.inverse_width, h)


@compiled
def stretching(q, at, c, axis, lines, air):
    """What normal stress leaves at a face: cells on either side stretch along the axis; ``axis``: stride, clipped."""
    eddy, inverse_width = air.eddy, air.tables.inverse_width
    stride, low = axis
    high = 2.0 * fetch(eddy, c) * (fetch(q, at + stride) - fetch(q, at)) * fetch(inverse_width, lines[1])
    before = 2.0 * fetch(eddy, c - low) * (fetch(q, at) - fetch(q, at - low)) * fetch(inverse_width, lines[0])
    return (high - before) * fetch(air.tables.inverse_gap, lines[1])


@compiled
def open_share(code, mark, bit, air):
    """Open share of a face, whose code is looked up only beside faces that are open in part."""
    if marked(mark, PARTLY):
        return fetch(air.opening, fetch(air.codes, code))
    return 1.0 if marked(mark, bit) else 0.0


@compiled
def mixed_along(t, c, axis, steps, g, mark, air):
    """What eddies leave in a cell along one axis."""
    q, eddy, gap, code = air.state, air.eddy, air.tables.inverse_gap, axis * air.grid.total + c
    below, above = steps
    passing = MIXING * open_share(code, mark, 4 * axis + 1, air) * (fetch(eddy, c - below) + fetch(eddy, c))
    low = passing * (fetch(q, t) - fetch(q, t - below)) * fetch(gap, g)
    passing = MIXING * open_share(code + above, mark, 4 * axis + 2, air) * (fetch(eddy, c) + fetch(eddy, c + above))
    high = passing * (fetch(q, t + above) - fetch(q, t)) * fetch(gap, g + 1)
    return (high - low) * fetch(air.tables.inverse_width, g)


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
    rate = stretching(air.state, at[0], c, (air.grid.plane, steps[0][0]), lines[0], air)
    return rate + shear(x, y, (EDGES, EDGES + 1), c, mark, air) + shear(x, z, (EDGES + 3, EDGES + 4), c, mark, air)


@compiled
def eddy_y(at, c, steps, lines, mark, air):
    """The same of the y velocity."""
    x, y, z = axes_of(at, steps, lines, air.grid)
    rate = stretching(air.state, at[1], c, (air.grid.pz, steps[1][0]), lines[1], air)
    return rate + shear(y, x, (EDGES, EDGES + 2), c, mark, air) + shear(y, z, (EDGES + 6, EDGES + 7), c, mark, air)


@compiled
def eddy_z(at, c, steps, lines, mark, air):
    """The same of the z velocity."""
    x, y, z = axes_of(at, steps, lines, air.grid)
    rate = stretching(air.state, at[2], c, (1, steps[2][0]), lines[2], air)
    return rate + shear(z, x, (EDGES + 3, EDGES + 5), c, mark, air) + shear(z, y, (EDGES + 6, EDGES + 8), c, mark, air)


@compiled
def eddy_heat(t, c, steps, lines, mark, air):
    """What eddies add to the rate of a cell's temperature."""
    rate = mixed_along(t, c, 0, steps[0], lines[0][1], mark, air)
    rate += mixed_along(t, c, 1, steps[1], lines[1][1], mark, air)
    return rate + mixed_along(t, c, 2, steps[2], lines[2][1], mark, air)

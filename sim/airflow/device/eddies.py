"""What eddies finer than the cells add for one face or cell: `subgrid`, gathered by faces, not spread by edges."""

from __future__ import annotations

from sim.airflow.device.layout import FIXED, TEMPERATURE, place, state_at
from sim.airflow.rows import compiled
from sim.airflow.subgrid import TURBULENT_PRANDTL, vreman_of

MIXING = 0.5 / TURBULENT_PRANDTL
"""Of the sum of two cells' eddy viscosities, the diffusivity of heat between them."""


@compiled
def middle(q, at, stride):
    """Velocity at a cell's centre from its two faces."""
    return 0.5 * (q[at] + q[at + stride])


@compiled
def slope(q, at, own, along, line, centre):
    """Slope at a cell of a velocity component at cell centres; `own`, `along`: strides of component and direction.

    ``line``: place of the cell along the direction, cells along it, and where its lines lie in the table.
    """
    index, count, g = line
    if count == 1:
        return 0.0
    low, high = 1 if index > 0 else 0, 1 if index < count - 1 else 0
    rise = middle(q, at + high * along, own) - middle(q, at - low * along, own)
    return rise / (centre[g + high] - centre[g - low])


@compiled
def slopes_of(q, at, own, strides, lines, centre):
    """Slopes of one component along all three axes."""
    return (
        slope(q, at, own, strides[0], lines[0], centre),
        slope(q, at, own, strides[1], lines[1], centre),
        slope(q, at, own, strides[2], lines[2], centre),
    )


@compiled
def find_eddies(b, i, j, k, stage, air):
    """Eddy viscosity of one cell; none in solids."""
    grid, q, centre, width = air.grid, air.state, air.tables.centre, air.tables.width
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    constant = air.properties[4 * b + 3]
    if constant == 0.0 or air.clock.left[b] <= 0 or i >= nx or j >= ny or k >= nz:
        return
    c = place(b, i, j, k, grid)
    if air.lists.slot[TEMPERATURE * grid.total + c] == FIXED:
        air.eddy[c] = 0.0
        return
    tx, ty, tz = 3 * b * grid.lines + i, (3 * b + 1) * grid.lines + j, (3 * b + 2) * grid.lines + k
    u = state_at(b, stage, air) + c
    strides, lines = (grid.plane, grid.pz, 1), ((i, nx, tx), (j, ny, ty), (k, nz, tz))
    of_u = slopes_of(q, u, grid.plane, strides, lines, centre)
    of_v = slopes_of(q, u + grid.total, grid.pz, strides, lines, centre)
    of_w = slopes_of(q, u + 2 * grid.total, 1, strides, lines, centre)
    squares = (width[tx] ** 2, width[ty] ** 2, width[tz] ** 2)
    air.eddy[c] = constant * vreman_of((of_u, of_v, of_w), squares)


@compiled
def edge_stress(q, faces, strides, tables, gaps, air):
    """Stress on the edge between two axes, zero at walls.

    ``faces``: places in the state of the faces beyond the edge normal to the first and to the second axis, and place of
    the cell beyond it; ``strides``: of both axes; ``gaps``: places in the tables along both; ``tables``: codes' parts.
    """
    first, second, c = faces
    along, across = strides
    codes_first, codes_second = tables
    if (
        air.codes[codes_first + c] == 0
        or air.codes[codes_first + c - across] == 0
        or air.codes[codes_second + c] == 0
        or air.codes[codes_second + c - along] == 0
    ):
        return 0.0
    eddy, inverse_gap = air.eddy, air.tables.inverse_gap
    viscosity = 0.25 * (eddy[c - along - across] + eddy[c - across] + eddy[c - along] + eddy[c])
    turning = (q[first] - q[first - across]) * inverse_gap[gaps[1]]
    return viscosity * (turning + (q[second] - q[second - along]) * inverse_gap[gaps[0]])


@compiled
def from_edges(q, own, other, c, line, air):
    """What the stresses on both edges along another axis leave at a face of a component.

    ``own``, ``other``: field, stride, and place in the tables along the component's axis and along the other one;
    ``line``: place of the face along the other axis, and cells there.
    """
    field, along, g = own
    beside, across, h = other
    index, count = line
    state, total = c[1], air.grid.total
    face, cell = state + c[0], c[0]
    low, high = 0.0, 0.0
    parts = (field * total, beside * total)
    if index > 0:
        places = (face + field * total, face + beside * total, cell)
        low = edge_stress(q, places, (along, across), parts, (g, h), air)
    if index < count - 1:
        places = (face + field * total + across, face + beside * total + across, cell + across)
        high = edge_stress(q, places, (along, across), parts, (g, h + 1), air)
    return (high - low) * air.tables.inverse_width[h]


@compiled
def stretching(q, at, c, stride, g, air):
    """What normal stress leaves at a face: cells on either side stretch along the axis."""
    eddy, inverse_width = air.eddy, air.tables.inverse_width
    high = 2.0 * eddy[c] * (q[at + stride] - q[at]) * inverse_width[g]
    low = 2.0 * eddy[c - stride] * (q[at] - q[at - stride]) * inverse_width[g - 1]
    return (high - low) * air.tables.inverse_gap[g]


@compiled
def eddy_x(b, index, c, state, air):
    """What eddies add to the rate of an x face."""
    if air.properties[4 * b + 3] == 0.0:
        return 0.0
    grid, q, n = air.grid, air.state, 3 * b
    g, h, m = n * grid.lines + index[0], (n + 1) * grid.lines + index[1], (n + 2) * grid.lines + index[2]
    own = (0, grid.plane, g)
    rate = stretching(q, state + c, c, grid.plane, g, air)
    rate += from_edges(q, own, (1, grid.pz, h), (c, state), (index[1], air.sizes[n + 1]), air)
    return rate + from_edges(q, own, (2, 1, m), (c, state), (index[2], air.sizes[n + 2]), air)


@compiled
def eddy_y(b, index, c, state, air):
    """What eddies add to the rate of a y face."""
    if air.properties[4 * b + 3] == 0.0:
        return 0.0
    grid, q, n = air.grid, air.state, 3 * b
    g, h, m = n * grid.lines + index[0], (n + 1) * grid.lines + index[1], (n + 2) * grid.lines + index[2]
    own = (1, grid.pz, h)
    rate = stretching(q, state + grid.total + c, c, grid.pz, h, air)
    rate += from_edges(q, own, (0, grid.plane, g), (c, state), (index[0], air.sizes[n]), air)
    return rate + from_edges(q, own, (2, 1, m), (c, state), (index[2], air.sizes[n + 2]), air)


@compiled
def eddy_z(b, index, c, state, air):
    """What eddies add to the rate of a z face."""
    if air.properties[4 * b + 3] == 0.0:
        return 0.0
    grid, q, n = air.grid, air.state, 3 * b
    g, h, m = n * grid.lines + index[0], (n + 1) * grid.lines + index[1], (n + 2) * grid.lines + index[2]
    own = (2, 1, m)
    rate = stretching(q, state + 2 * grid.total + c, c, 1, m, air)
    rate += from_edges(q, own, (0, grid.plane, g), (c, state), (index[0], air.sizes[n]), air)
    return rate + from_edges(q, own, (1, grid.pz, h), (c, state), (index[1], air.sizes[n + 1]), air)


@compiled
def mixing(t, c, code, stride, g, air):
    """Heat that eddies carry through a face from the cell above it to the one below."""
    passing = MIXING * air.opening[air.codes[code]] * (air.eddy[c - stride] + air.eddy[c])
    return passing * (air.state[t] - air.state[t - stride]) * air.tables.inverse_gap[g]


@compiled
def mixed_along(t, c, code, stride, line, air):
    """What eddies leave in a cell along one axis; ``line``: place, cells along it, place in the tables."""
    index, count, g = line
    low = mixing(t, c, code, stride, g, air) if index > 0 else 0.0
    high = mixing(t + stride, c + stride, code + stride, stride, g + 1, air) if index < count - 1 else 0.0
    return (high - low) * air.tables.inverse_width[g]


@compiled
def eddy_heat(b, index, c, state, air):
    """What eddies add to the rate of a cell's temperature."""
    if air.properties[4 * b + 3] == 0.0:
        return 0.0
    grid, n = air.grid, 3 * b
    g, h, m = n * grid.lines + index[0], (n + 1) * grid.lines + index[1], (n + 2) * grid.lines + index[2]
    t = state + TEMPERATURE * grid.total + c
    rate = mixed_along(t, c, c, grid.plane, (index[0], air.sizes[n], g), air)
    rate += mixed_along(t, c, grid.total + c, grid.pz, (index[1], air.sizes[n + 1], h), air)
    return rate + mixed_along(t, c, 2 * grid.total + c, 1, (index[2], air.sizes[n + 2], m), air)

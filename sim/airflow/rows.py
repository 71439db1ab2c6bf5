"""Compiled loops over one row of values along z, shared by all transported fields.

A transported field q is advected by carriers F (speeds normal to the sides of its control volume) with arithmetic
averages, F (q + q_beyond)/2 through each side. On a staggered grid this keeps Σ q² exactly wherever the carriers are
free of divergence, on graded grids too (Verstappen & Veldman 2003). Within a step they are nearly so (`step`), so
velocities leave the half of q ∇·F out, F q_beyond/2, which keeps Σ q² whatever the carriers, and temperatures leave
all of it out, F (q_beyond − q)/2: a uniform temperature stays as it is.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from sim.machine.compiling import njit

FAST = {"contract", "nsz"}
# divisions by zero give infinities, as in NumPy: a test for zero would keep loops from being vectorised
compiled = njit(cache=True, nogil=True, fastmath=FAST, error_model="numpy")


class Lateral(NamedTuple):
    """Factors of the four lateral sides of one row.

    half_x, half_y: 0.5 / width of the control volume; the others: diffusivity / (width · gap) on each side.
    """

    half_x: Any
    half_y: Any
    west: Any
    east: Any
    south: Any
    north: Any


@compiled
def across(rate, q, beside, carriers, shares, f):
    """rate = lateral advection and diffusion of a row of a lateral velocity component.

    ``beside``: rows west, east, south, north; ``carriers``: two rows a side, blended by ``shares``: (first, second)
    for west and east, then for south and north.
    """
    west, east, south, north = beside
    west_1, west_2, east_1, east_2, south_1, south_2, north_1, north_2 = carriers
    a, b, c, d = shares
    for k in range(rate.size):
        here = q[k]
        rate[k] = (
            f.half_x * ((a * west_1[k] + b * west_2[k]) * west[k] - (a * east_1[k] + b * east_2[k]) * east[k])
            + f.half_y * ((c * south_1[k] + d * south_2[k]) * south[k] - (c * north_1[k] + d * north_2[k]) * north[k])
            + (f.west * (west[k] - here) + f.east * (east[k] - here))
            + (f.south * (south[k] - here) + f.north * (north[k] - here))
        )


@compiled
def across_upright(rate, q, beside, carriers, below, above, f):
    """The same for a row of the z velocity; each carrier is blended along its row by half widths."""
    west, east, south, north = beside
    from_west, to_east, from_south, to_north = carriers
    for k in range(1, q.size - 1):
        here, a, b = q[k], below[k], above[k]
        by_west, by_east = a * from_west[k - 1] + b * from_west[k], a * to_east[k - 1] + b * to_east[k]
        by_south, by_north = a * from_south[k - 1] + b * from_south[k], a * to_north[k - 1] + b * to_north[k]
        rate[k] = (
            f.half_x * (by_west * west[k] - by_east * east[k])
            + f.half_y * (by_south * south[k] - by_north * north[k])
            + (f.west * (west[k] - here) + f.east * (east[k] - here))
            + (f.south * (south[k] - here) + f.north * (north[k] - here))
        )


@compiled
def across_cells(rate, q, beside, carriers, f):
    """The same for a row of cells, whose carriers are the velocities themselves; a uniform row stays as it is."""
    west, east, south, north = beside
    from_west, to_east, from_south, to_north = carriers
    for k in range(rate.size):
        here = q[k]
        from_here = (west[k] - here, east[k] - here, south[k] - here, north[k] - here)
        rate[k] = (
            f.half_x * (from_west[k] * from_here[0] - to_east[k] * from_here[1])
            + f.half_y * (from_south[k] * from_here[2] - to_north[k] * from_here[3])
            + (f.west * from_here[0] + f.east * from_here[1])
            + (f.south * from_here[2] + f.north * from_here[3])
        )


@compiled
def carry_along(carrier, first, second, shares):
    """Half the speed through the inner faces along a row, of two carriers blended by ``shares``."""
    a, b = 0.5 * shares[0], 0.5 * shares[1]
    for k in range(1, first.size - 1):
        carrier[k] = a * first[k] + b * second[k]


@compiled
def along(rate, q, carrier, table, diffusivity, own):
    """rate += advection and diffusion along a row; ``own``: share of the value here that advection counts from."""
    gap, inverse_width, last = table.inverse_gap, table.inverse_width, q.size - 1
    above, below = diffusivity * gap[1] * (q[1] - q[0]), diffusivity * gap[last] * (q[last - 1] - q[last])
    rate[0] += (above - carrier[1] * (q[1] - own * q[0])) * inverse_width[0]
    rate[last] += (below + carrier[last] * (q[last - 1] - own * q[last])) * inverse_width[last]
    for k in range(1, last):
        here = own * q[k]
        advected = carrier[k] * (q[k - 1] - here) - carrier[k + 1] * (q[k + 1] - here)
        spread = gap[k] * (q[k - 1] - q[k]) + gap[k + 1] * (q[k + 1] - q[k])
        rate[k] += (advected + diffusivity * spread) * inverse_width[k]


@compiled
def gain(rate, flux, inverse_width):
    """rate += what the fluxes along the row leave in each cell."""
    for k in range(rate.size):
        rate[k] += (flux[k] - flux[k + 1]) * inverse_width[k]


@compiled
def amend(rate, q, row, field, lists, diffusivity):
    """Apply a field's row lists: parted neighbours, walls, porous losses, fixed places."""
    for e in range(lists.link_start[row], lists.link_start[row + 1]):
        k = lists.link_place[e]
        rate[k] += diffusivity * lists.link_factor[e] * (field[lists.link_other[e]] - q[k])
    for e in range(lists.wall_start[row], lists.wall_start[row + 1]):
        k = lists.wall_place[e]
        rate[k] += diffusivity * lists.wall_factor[e] * (lists.wall_value[e] - q[k])
    for e in range(lists.loss_start[row], lists.loss_start[row + 1]):
        k = lists.loss_place[e]
        rate[k] -= lists.loss_factor[e] * abs(q[k]) * q[k]
    for e in range(lists.fixed_start[row], lists.fixed_start[row + 1]):
        rate[lists.fixed_place[e]] = 0.0


@compiled
def advance(after, q, rate, held, old_rate, now, before):
    """after = q + now · rate + before · old_rate, the rate with what is held; it becomes the old one."""
    for k in range(rate.size):
        whole = rate[k] + held[k]
        after[k] = q[k] + now * whole + before * old_rate[k]
        old_rate[k] = whole

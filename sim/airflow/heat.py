"""Compiled stages of the heat equation: ∂T/∂t = −∇·(u T) + T ∇·u + α ∇²T, advected by the very fluxes that fill cells.

T ∇·u is nothing where a step begins and where the flow is steady; within a step (`step`) it keeps a uniform temperature
uniform. In all cells together it adds heat from nowhere: in a bay's unsteady flow under 1 in 10 000 of what passes.

Two schemes. *Central* keeps Σ T² and follows resolved flow without damping. *Bounded* is the third-order
upwind-biased scheme κ = 1/3 with Koren's limiter (1993), written with slopes so that it stays second order on
graded grids: where a plume is thinner than the cells it neither rings nor overshoots.
"""

from __future__ import annotations

import numpy as np

from sim.airflow.rows import (
    Lateral,
    across_cells,
    advance,
    along,
    amend,
    carry_along,
    compiled,
    gain,
)


@compiled
def heat_central(start, stop, state, room, tables, stage, lists):
    """Advance the temperature over the slabs start ≤ i < stop, central advection."""
    tx, ty, tz = tables
    u, v, w, t = state.x, state.y, state.z, state.temperature
    nx, ny, nz = t.shape
    alpha = stage.diffusivity
    rate, carrier, flat = np.empty(nz), np.zeros(nz + 1), t.reshape(-1)
    for i in range(start, stop):
        wx = tx.inverse_width[i]
        for j in range(ny):
            q, left, right = t[i, j], t[max(i - 1, 0), j], t[min(i + 1, nx - 1), j]
            back, front = t[i, max(j - 1, 0)], t[i, min(j + 1, ny - 1)]
            wy = ty.inverse_width[j]
            lateral = Lateral(
                0.5 * wx, 0.5 * wy, alpha * wx * tx.inverse_gap[i], alpha * wx * tx.inverse_gap[i + 1],
                alpha * wy * ty.inverse_gap[j], alpha * wy * ty.inverse_gap[j + 1],
            )  # fmt: skip
            carriers = (u[i, j], u[i + 1, j], v[i, j], v[i, j + 1])
            across_cells(rate, q, (left, right, back, front), carriers, lateral)
            carry_along(carrier, w[i, j], w[i, j], (0.5, 0.5))
            along(rate, q, carrier, tz, alpha, 1.0)
            amend(rate, q, i * ny + j, flat, lists, alpha)
            own = room.held.temperature[i, j], room.rates.temperature[i, j]
            advance(room.after.temperature[i, j], q, rate, *own, stage.now, stage.before)


@compiled
def carried(speed, four, slopes, halves):
    """Bounded advective flux through a face: its speed times the upstream cell's value plus a limited rise.

    ``four``: values in a line across the face, two on either side; ``slopes``: one over the distances between them, 0
    where a wall or a sheet lies between (the upstream value alone then crosses: next to a wall the speed is small);
    ``halves``: half widths of the two middle cells. The rise never passes the downstream value. Everything is read
    before anything is chosen, and callers read few arrays: only then do compilers make several faces at a time.
    """
    far_below, below, above, far_above = four
    upward, step = speed >= 0.0, above - below
    size = abs(step)
    behind = (below - far_below) * slopes[0] if upward else (far_above - above) * slopes[2]
    behind = behind if step > 0.0 else -behind
    behind = behind if behind > 0.0 else 0.0
    steep, blend = 2.0 * behind, (behind + 2.0 * size * slopes[1]) * (1.0 / 3.0)
    rise = (halves[0] if upward else halves[1]) * (steep if steep < blend else blend)
    rise = rise if rise < size else size
    rise = rise if step > 0.0 else -rise
    return speed * (below + rise if upward else above - rise)


@compiled
def flux_bounded_along(flux, line, carrier, openness, table, half, diffusivity):
    """Bounded advection and conduction through the inner faces along a row.

    ``line`` holds the row's values between two spare places at each end; ``half``: half widths.
    """
    inverse_gap = table.inverse_gap
    for k in range(1, carrier.size - 1):
        before = inverse_gap[k - 1] if openness[k - 1] > 0.0 else 0.0
        after = inverse_gap[k + 1] if openness[k + 1] > 0.0 else 0.0
        values = (line[k], line[k + 1], line[k + 2], line[k + 3])
        advected = carried(carrier[k], values, (before, inverse_gap[k], after), (half[k - 1], half[k]))
        flux[k] = advected - diffusivity * inverse_gap[k] * (line[k + 2] - line[k + 1])


@compiled
def bounded_across(flux, carrier, rows, opens, inverse_gaps, halves):
    """Bounded advection through a row of lateral faces, between four rows of values and two of openness beyond."""
    row_0, row_1, row_2, row_3 = rows
    open_before, open_after = opens
    for k in range(flux.size):
        before = inverse_gaps[0] if open_before[k] > 0.0 else 0.0
        after = inverse_gaps[2] if open_after[k] > 0.0 else 0.0
        values = (row_0[k], row_1[k], row_2[k], row_3[k])
        flux[k] = carried(carrier[k], values, (before, inverse_gaps[1], after), halves)


@compiled
def around(face, count, table):
    """The four cells and two faces around a face of an axis, its inverse gaps and the half widths beside it."""
    cells = max(face - 2, 0), max(face - 1, 0), min(face, count - 1), min(face + 1, count - 1)
    faces = max(face - 1, 0), min(face + 1, count)
    gaps = (table.inverse_gap[faces[0]], table.inverse_gap[face], table.inverse_gap[faces[1]])
    return cells, faces, gaps, (0.5 * table.width[cells[1]], 0.5 * table.width[cells[2]])


@compiled
def bounded_slab(flux, face, state, openness, table):
    """Advective flux (ny·nz,) through all faces number ``face`` normal to x, in one long loop."""
    t = state.temperature
    (a, b, c, d), (before, after), gaps, halves = around(face, t.shape[0], table)
    rows = (t[a].reshape(-1), t[b].reshape(-1), t[c].reshape(-1), t[d].reshape(-1))
    opens = (openness[0][before].reshape(-1), openness[0][after].reshape(-1))
    bounded_across(flux, state.x[face].reshape(-1), rows, opens, gaps, halves)


@compiled
def bounded_row(flux, face, i, state, openness, table):
    """Advective flux (nz,) through the faces number ``face`` normal to y in slab i."""
    t, shut = state.temperature[i], openness[1][i]
    (a, b, c, d), (before, after), gaps, halves = around(face, t.shape[0], table)
    bounded_across(flux, state.y[i, face], (t[a], t[b], t[c], t[d]), (shut[before], shut[after]), gaps, halves)


@compiled
def copy_row(line, q):
    """A row of values into ``line``, which has two spare places at each end."""
    for k in range(q.size):
        line[k + 2] = q[k]


@compiled
def heat_bounded(start, stop, state, room, tables, stage, tools):
    """Advance the temperature over the slabs start ≤ i < stop, bounded advection; ``tools``: lists and openness."""
    lists, openness = tools
    tx, ty, tz = tables
    u, v, w, t = state.x, state.y, state.z, state.temperature
    nx, ny, nz = t.shape
    alpha = stage.diffusivity
    rate, line, half = np.empty(nz), np.zeros(nz + 4), 0.5 * tz.width
    flux, flat = np.zeros(nz + 1), t.reshape(-1)
    # fluxes already known: two slabs of x faces and two rows of y faces, taken in turn
    west_east, south_north = np.zeros((2, ny, nz)), np.zeros((2, nz))
    bounded_slab(west_east[start % 2].reshape(-1), start, state, openness, tx)
    for i in range(start, stop):
        wx = tx.inverse_width[i]
        west, east = west_east[i % 2], west_east[(i + 1) % 2]
        bounded_slab(east.reshape(-1), i + 1, state, openness, tx)
        bounded_row(south_north[0], 0, i, state, openness, ty)
        for j in range(ny):
            q, left, right = t[i, j], t[max(i - 1, 0), j], t[min(i + 1, nx - 1), j]
            back, front = t[i, max(j - 1, 0)], t[i, min(j + 1, ny - 1)]
            wy = ty.inverse_width[j]
            lateral = Lateral(
                wx, wy, alpha * wx * tx.inverse_gap[i], alpha * wx * tx.inverse_gap[i + 1],
                alpha * wy * ty.inverse_gap[j], alpha * wy * ty.inverse_gap[j + 1],
            )  # fmt: skip
            south, north = south_north[j % 2], south_north[(j + 1) % 2]
            bounded_row(north, j + 1, i, state, openness, ty)
            gain_across(rate, q, (left, right, back, front), (west[j], east[j], south, north), lateral)
            keep_uniform(rate, q, (u[i, j], u[i + 1, j], v[i, j], v[i, j + 1], w[i, j]), (wx, wy), tz.inverse_width)
            copy_row(line, q)
            flux_bounded_along(flux, line, state.z[i, j], openness[2][i, j], tz, half, alpha)
            gain(rate, flux, tz.inverse_width)
            amend(rate, q, i * ny + j, flat, lists, alpha)
            own = room.held.temperature[i, j], room.rates.temperature[i, j]
            advance(room.after.temperature[i, j], q, rate, *own, stage.now, stage.before)


@compiled
def gain_across(rate, q, beside, fluxes, f):
    """rate = what given lateral fluxes leave in a row, and lateral diffusion (half_x, half_y: 1 / width here)."""
    west, east, south, north = beside
    from_west, to_east, from_south, to_north = fluxes
    for k in range(rate.size):
        here = q[k]
        rate[k] = (
            (f.half_x * (from_west[k] - to_east[k]) + f.half_y * (from_south[k] - to_north[k]))
            + (f.west * (west[k] - here) + f.east * (east[k] - here))
            + (f.south * (south[k] - here) + f.north * (north[k] - here))
        )


@compiled
def keep_uniform(rate, q, carriers, inverse_widths, inverse_width):
    """rate += value here times the divergence of what carries it: a uniform temperature stays as it is."""
    west, east, south, north, up = carriers
    wx, wy = inverse_widths
    for k in range(rate.size):
        rate[k] += q[k] * (
            (wx * (east[k] - west[k]) + wy * (north[k] - south[k])) + inverse_width[k] * (up[k + 1] - up[k])
        )

"""Compiled stages of the heat equation: ∂T/∂t = −∇·(u T) + α ∇²T, advected by the very fluxes that fill the cells.

Two schemes. *Central* keeps Σ T² and follows resolved flow without damping. *Bounded* is the third-order
upwind-biased scheme κ = 1/3 with Koren's limiter (1993), written with slopes so that it stays second order on
graded grids: where a plume is thinner than the cells it neither rings nor overshoots.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sim.airflow.rows import (
    Lateral,
    across_cells,
    advance,
    amend,
    compiled,
    flux_along,
    gain,
)


@compiled
def heat_central(start, stop, state, after, rates, tables, stage, lists):
    """Advance the temperature over the slabs start ≤ i < stop, central advection."""
    tx, ty, tz = tables
    u, v, w, t = state.x, state.y, state.z, state.temperature
    nx, ny, nz = t.shape
    alpha = stage.diffusivity
    rate, flux, flat = np.empty(nz), np.zeros(nz + 1), t.reshape(-1)
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
            flux_along(flux, q, w[i, j], w[i, j], (0.5, 0.5), tz.inverse_gap, alpha)
            gain(rate, flux, tz.inverse_width)
            amend(rate, q, i * ny + j, flat, lists, alpha)
            advance(after.temperature[i, j], q, rate, rates.temperature[i, j], stage.now, stage.before)


@compiled
def bounded_row(flux, carrier, lines, slopes, halves):
    """Advective fluxes through a row of faces: carrier times the upstream cell's value plus a limited rise.

    ``lines``: rows of the four values in a line across each face, two on either side; ``slopes``: three rows of one
    over the distances between them, 0 where a wall or a sheet lies between (the upstream value alone then crosses:
    next to a wall the carrier is small); ``halves``: two rows of half widths of the middle cells. The rise never
    passes the downstream value.
    """
    row_0, row_1, row_2, row_3 = lines
    first, middle, last = slopes
    low, high = halves
    for k in range(carrier.size):
        # everything is read before anything is chosen: loops with conditional reads are not vectorised
        speed, far_below, below, above, far_above = carrier[k], row_0[k], row_1[k], row_2[k], row_3[k]
        slope_below, slope_above = (below - far_below) * first[k], (above - far_above) * last[k]
        half_below, half_above, slope = low[k], high[k], middle[k]
        upward = speed >= 0.0
        step = above - below if upward else below - above
        before = abs(slope_below if upward else slope_above)
        agree = (slope_below if upward else slope_above) * step > 0.0
        steep, blend = 2.0 * before, (before + 2.0 * abs(step) * slope) * (1.0 / 3.0)
        rise = (half_below if upward else half_above) * (steep if steep < blend else blend)
        rise = rise if rise < abs(step) else abs(step)
        rise = rise if agree else 0.0
        flux[k] = speed * ((below if upward else above) + (rise if step > 0.0 else -rise))


@compiled
def bounded_along(flux, q, carrier, openness, table, room):
    """Bounded advection through the inner faces along a row."""
    nz, gaps, half, line = q.size, table.inverse_gap, room.half_along, room.line
    line[2 : nz + 2] = q
    passing(room.first[1:nz], gaps[: nz - 1], openness[: nz - 1])
    passing(room.last[1:nz], gaps[2:], openness[2:])
    faces = slice(1, nz)
    lines = (line[1:nz], line[2 : nz + 1], line[3 : nz + 2], line[4 : nz + 3])
    slopes = (room.first[faces], gaps[faces], room.last[faces])
    bounded_row(flux[faces], carrier[faces], lines, slopes, (half[: nz - 1], half[1:]))


@compiled
def passing(out, inverse_gap, openness):
    """One over the gap where air can pass, 0 where it cannot."""
    for k in range(out.size):
        out[k] = inverse_gap[k] if openness[k] > 0.0 else 0.0


@compiled
def passing_across(out, inverse_gap, openness):
    """The same for a row of faces with a common gap."""
    for k in range(out.size):
        out[k] = inverse_gap if openness[k] > 0.0 else 0.0


class Room(NamedTuple):
    """Rows to work in. ``line`` (nz+4,) holds a row with two spare places at each end; ``half_along`` (nz,) are the
    half widths along the row."""

    first: Any
    middle: Any
    last: Any
    low: Any
    high: Any
    line: Any
    half_along: Any


@compiled
def bounded_side(flux, axis, face, at, state, openness, table, room):
    """Advective flux through the lateral faces number ``face`` of an axis at the place ``at`` on the other one."""
    t, n, nz = state.temperature, state.temperature.shape[axis], flux.size
    a, b, c, d = max(face - 2, 0), max(face - 1, 0), min(face, n - 1), min(face + 1, n - 1)
    before, after = max(face - 1, 0), min(face + 1, n)
    if axis == 0:
        lines, carrier = (t[a, at], t[b, at], t[c, at], t[d, at]), state.x[face, at]
        open_before, open_after = openness[0][before, at], openness[0][after, at]
    else:
        lines, carrier = (t[at, a], t[at, b], t[at, c], t[at, d]), state.y[at, face]
        open_before, open_after = openness[1][at, before], openness[1][at, after]
    first, middle, last = room.first[:nz], room.middle[:nz], room.last[:nz]
    passing_across(first, table.inverse_gap[before], open_before)
    passing_across(last, table.inverse_gap[after], open_after)
    middle[:] = table.inverse_gap[face]
    room.low[:] = 0.5 * table.width[b]
    room.high[:] = 0.5 * table.width[c]
    bounded_row(flux, carrier, lines, (first, middle, last), (room.low, room.high))


@compiled
def heat_bounded(start, stop, state, after, rates, tables, stage, tools):
    """Advance the temperature over the slabs start ≤ i < stop, bounded advection; ``tools``: lists and openness."""
    lists, openness = tools
    tx, ty, tz = tables
    t = state.temperature
    nx, ny, nz = t.shape
    alpha = stage.diffusivity
    rate = np.empty(nz)
    rows = np.empty((5, nz + 1))
    room = Room(rows[0], rows[1], rows[2], rows[3, :nz], rows[4, :nz], np.zeros(nz + 4), 0.5 * tz.width)
    flux, flat = np.zeros(nz + 1), t.reshape(-1)
    west, sides = np.zeros((ny, nz)), np.zeros((3, nz))
    for i in range(start, stop):
        wx = tx.inverse_width[i]
        for j in range(ny):
            q, left, right = t[i, j], t[max(i - 1, 0), j], t[min(i + 1, nx - 1), j]
            back, front = t[i, max(j - 1, 0)], t[i, min(j + 1, ny - 1)]
            wy = ty.inverse_width[j]
            lateral = Lateral(
                wx, wy, alpha * wx * tx.inverse_gap[i], alpha * wx * tx.inverse_gap[i + 1],
                alpha * wy * ty.inverse_gap[j], alpha * wy * ty.inverse_gap[j + 1],
            )  # fmt: skip
            if i == start:
                bounded_side(west[j], 0, i, j, state, openness, tx, room)
            south, north = sides[j % 2], sides[(j + 1) % 2]
            if j == 0:
                south[:] = 0.0
            bounded_side(sides[2], 0, i + 1, j, state, openness, tx, room)
            bounded_side(north, 1, j + 1, i, state, openness, ty, room)
            gain_across(rate, q, (left, right, back, front), (west[j], sides[2], south, north), lateral)
            west[j, :] = sides[2]
            bounded_along(flux, q, state.z[i, j], openness[2][i, j], tz, room)
            conduct_along(flux, q, tz.inverse_gap, alpha)
            gain(rate, flux, tz.inverse_width)
            amend(rate, q, i * ny + j, flat, lists, alpha)
            advance(after.temperature[i, j], q, rate, rates.temperature[i, j], stage.now, stage.before)


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
def conduct_along(flux, q, inverse_gap, diffusivity):
    """Take conduction from the fluxes along a row."""
    for k in range(1, q.size):
        flux[k] -= diffusivity * inverse_gap[k] * (q[k] - q[k - 1])

"""Compiled stages of the momentum equation: advection, friction and buoyancy of the three velocity components.

∂u/∂t = −∇·(u u) + ν ∇²u + g β (T − T_level) ẑ, before the pressure acts. T_level depends on height alone, so that
what it takes away is hydrostatic.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sim.airflow.rows import Lateral, across, across_upright, advance, along, amend, carry_along, compiled


class Fields(NamedTuple):
    """Velocities on faces normal to x, y, z [m/s] and temperature in cells [K], or their rates."""

    x: Any
    y: Any
    z: Any
    temperature: Any


class StageRoom(NamedTuple):
    """What a stage writes and reads beside the state, all of them `Fields`.

    after: the state that it makes; rates: its rates, and until then the last stage's; held: rates of the whole step.
    """

    after: Any
    rates: Any
    held: Any


class FlowStage(NamedTuple):
    """One stage of a step.

    now, before: weights of this stage's rates and the last one's, times the step [s]; viscosity, diffusivity
    [m²/s]; buoyancy: g β [m/(s² K)]; level (nz+1,): T_level on the faces normal to z [K].
    """

    now: Any
    before: Any
    viscosity: Any
    diffusivity: Any
    buoyancy: Any
    level: Any


@compiled
def move_x(start, stop, state, room, tables, stage, lists):
    """Advance the x velocity over the slabs start ≤ i < stop (its faces below those cells)."""
    tx, ty, tz = tables
    u, v, w = state.x, state.y, state.z
    ny, nz = u.shape[1:]
    nu, nx = stage.viscosity, u.shape[0] - 1
    rate, carrier, flat = np.empty(nz), np.zeros(nz + 1), u.reshape(-1)
    for i in range(max(start, 1), min(stop, nx)):
        a, b, gap = tx.below[i], tx.above[i], tx.inverse_gap[i]
        for j in range(ny):
            q, back, front = u[i, j], u[i, max(j - 1, 0)], u[i, min(j + 1, ny - 1)]
            carriers = (u[i - 1, j], q, q, u[i + 1, j], v[i - 1, j], v[i, j], v[i - 1, j + 1], v[i, j + 1])
            wy = ty.inverse_width[j]
            lateral = Lateral(
                0.5 * gap, 0.5 * wy, nu * gap * tx.inverse_width[i - 1], nu * gap * tx.inverse_width[i],
                nu * wy * ty.inverse_gap[j], nu * wy * ty.inverse_gap[j + 1],
            )  # fmt: skip
            across(rate, q, (u[i - 1, j], u[i + 1, j], back, front), carriers, (0.5, 0.5, a, b), lateral)
            carry_along(carrier, w[i - 1, j], w[i, j], (a, b))
            along(rate, q, carrier, tz, nu, 0.0)
            amend(rate, q, i * ny + j, flat, lists, nu)
            advance(room.after.x[i, j], q, rate, room.held.x[i, j], room.rates.x[i, j], stage.now, stage.before)


@compiled
def move_y(start, stop, state, room, tables, stage, lists):
    """Advance the y velocity over the slabs start ≤ i < stop."""
    tx, ty, tz = tables
    u, v, w = state.x, state.y, state.z
    nx, nz, ny = v.shape[0], v.shape[2], v.shape[1] - 1
    nu = stage.viscosity
    rate, carrier, flat = np.empty(nz), np.zeros(nz + 1), v.reshape(-1)
    for i in range(start, stop):
        wx = tx.inverse_width[i]
        for j in range(1, ny):
            a, b, gap = ty.below[j], ty.above[j], ty.inverse_gap[j]
            q, left, right = v[i, j], v[max(i - 1, 0), j], v[min(i + 1, nx - 1), j]
            carriers = (u[i, j - 1], u[i, j], u[i + 1, j - 1], u[i + 1, j], v[i, j - 1], q, q, v[i, j + 1])
            lateral = Lateral(
                0.5 * wx, 0.5 * gap, nu * wx * tx.inverse_gap[i], nu * wx * tx.inverse_gap[i + 1],
                nu * gap * ty.inverse_width[j - 1], nu * gap * ty.inverse_width[j],
            )  # fmt: skip
            across(rate, q, (left, right, v[i, j - 1], v[i, j + 1]), carriers, (a, b, 0.5, 0.5), lateral)
            carry_along(carrier, w[i, j - 1], w[i, j], (a, b))
            along(rate, q, carrier, tz, nu, 0.0)
            amend(rate, q, i * (ny + 1) + j, flat, lists, nu)
            advance(room.after.y[i, j], q, rate, room.held.y[i, j], room.rates.y[i, j], stage.now, stage.before)


@compiled
def upward_along(rate, q, temperature, table, stage):
    """rate += advection and friction along a row of the z velocity, and buoyancy; its end faces stay at rest."""
    nu, nz = stage.viscosity, q.size - 1
    for k in range(1, nz):
        advected = 0.25 * ((q[k - 1] + q[k]) * q[k - 1] - (q[k] + q[k + 1]) * q[k + 1])
        spread = table.inverse_width[k - 1] * (q[k - 1] - q[k]) + table.inverse_width[k] * (q[k + 1] - q[k])
        rate[k] += (advected + nu * spread) * table.inverse_gap[k]
        rate[k] += stage.buoyancy * (0.5 * (temperature[k - 1] + temperature[k]) - stage.level[k])
    rate[0] = 0.0
    rate[nz] = 0.0


@compiled
def move_z(start, stop, state, room, tables, stage, lists):
    """Advance the z velocity over the slabs start ≤ i < stop."""
    tx, ty, tz = tables
    u, v, w = state.x, state.y, state.z
    nx, ny, nz = w.shape[0], w.shape[1], w.shape[2] - 1
    nu = stage.viscosity
    rate, flat = np.zeros(nz + 1), w.reshape(-1)
    for i in range(start, stop):
        wx = tx.inverse_width[i]
        for j in range(ny):
            q, left, right = w[i, j], w[max(i - 1, 0), j], w[min(i + 1, nx - 1), j]
            back, front = w[i, max(j - 1, 0)], w[i, min(j + 1, ny - 1)]
            wy = ty.inverse_width[j]
            lateral = Lateral(
                0.5 * wx, 0.5 * wy, nu * wx * tx.inverse_gap[i], nu * wx * tx.inverse_gap[i + 1],
                nu * wy * ty.inverse_gap[j], nu * wy * ty.inverse_gap[j + 1],
            )  # fmt: skip
            carriers = (u[i, j], u[i + 1, j], v[i, j], v[i, j + 1])
            across_upright(rate, q, (left, right, back, front), carriers, tz.below, tz.above, lateral)
            upward_along(rate, q, state.temperature[i, j], tz, stage)
            amend(rate, q, i * ny + j, flat, lists, nu)
            advance(room.after.z[i, j], q, rate, room.held.z[i, j], room.rates.z[i, j], stage.now, stage.before)


@compiled
def crossing_rate(start, stop, velocity, tables):
    """Largest Σ |u| / width over the cells of some slabs [1/s]."""
    tx, ty, tz = tables
    largest = 0.0
    for i in range(start, stop):
        for j in range(ty.width.size):
            u0, u1 = velocity.x[i, j], velocity.x[i + 1, j]
            v0, v1, w = velocity.y[i, j], velocity.y[i, j + 1], velocity.z[i, j]
            for k in range(tz.width.size):
                rate = (
                    max(abs(u0[k]), abs(u1[k])) * tx.inverse_width[i]
                    + max(abs(v0[k]), abs(v1[k])) * ty.inverse_width[j]
                    + max(abs(w[k]), abs(w[k + 1])) * tz.inverse_width[k]
                )
                largest = max(largest, rate)
    return largest

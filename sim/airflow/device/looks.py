"""What one thread does between steps: how quickly cells are crossed, clocks, sums for means, heat of wall faces."""

from __future__ import annotations

from sim.airflow.device.layout import FIXED, TEMPERATURE, place, state_at
from sim.airflow.rows import compiled


@compiled
def find_crossing(b, i, j, k, stage, air):
    """Rate [1/s] at which the flow crosses one cell, in the first working array: `momentum.crossing_rate`."""
    grid, q, inverse_width = air.grid, air.state, air.tables.inverse_width
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    c = place(b, i, j, k, grid)
    if i >= nx or j >= ny or k >= nz:
        air.first[c] = 0.0
        return
    if air.clock.left[b] <= 0:
        return
    u = state_at(b, stage + 1, air) + c
    v, w = u + grid.total, u + 2 * grid.total
    air.first[c] = (
        max(abs(q[u]), abs(q[u + grid.plane])) * inverse_width[3 * b * grid.lines + i]
        + max(abs(q[v]), abs(q[v + grid.pz])) * inverse_width[(3 * b + 1) * grid.lines + j]
        + max(abs(q[w]), abs(q[w + 1])) * inverse_width[(3 * b + 2) * grid.lines + k]
    )


@compiled
def end_step(b, largest, air):
    """Count a step of one bay, turn its states, and let it rest when the flow has become too quick for the step."""
    clock = air.clock
    if clock.left[b] <= 0:
        return
    clock.parity[b] = 1 - clock.parity[b]
    clock.taken[b] += 1
    clock.crossing[b] = largest[b]
    clock.left[b] = clock.left[b] - 1 if largest[b] <= clock.ceiling[b] else 0


@compiled
def find_levels(b, i, j, k, stage, air):
    """Air temperature, or zero in solids, in the first working array; in the second zero, or what is no number."""
    grid, q = air.grid, air.state
    nx, ny, nz = air.sizes[3 * b], air.sizes[3 * b + 1], air.sizes[3 * b + 2]
    c = place(b, i, j, k, grid)
    air.first[c], air.second[c] = 0.0, 0.0
    if i >= nx or j >= ny or k >= nz:
        return
    u = state_at(b, 0, air) + c
    total = grid.total
    air.second[c] = 0.0 * (q[u] + q[u + total] + q[u + 2 * total] + q[u + 3 * total])
    if air.lists.slot[TEMPERATURE * total + c] != FIXED:
        air.first[c] = q[u + 3 * total]


@compiled
def add_means(b, i, j, k, sums, air):
    """Add all fields at one place to two running sums, each for the time that it stands for in this bay."""
    grid, q = air.grid, air.state
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
        heat[n] += span[b] * conductance[n] * (temperature[n] - air.state[t])


@compiled
def find_losses(n, losses, air):
    """Decay rate [1/s] at one porous face; ``losses``: bay, place in the state, factor, result."""
    bay, at, factor, result = losses
    result[n] = factor[n] * abs(air.state[state_at(bay[n], 0, air) + at[n]])

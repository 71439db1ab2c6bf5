"""Rounds of steps compiled into one call, for grids too small to share between threads.

The same loops as in `step`, without a return to the interpreter between them.
"""

from __future__ import annotations

from sim.airflow.cuts import add_slabs, box_to_modes, face_jumps, feed_box, to_box
from sim.airflow.modes import solve_lines, to_cells, to_modes
from sim.airflow.momentum import crossing_rate
from sim.airflow.nested_product import multiply_alone
from sim.airflow.pressure import divergence, subtract_gradient
from sim.airflow.rows import compiled
from sim.airflow.transport import move_fields


@compiled
def solve_alone(tools):
    """`PressureSolver.solve` on one thread."""
    values, spare, modes, cuts = tools.values, tools.spare, tools.modes, tools.cuts
    lines, sides = values.shape[0], values.shape[1]
    to_modes(0, lines, values, modes)
    solve_lines(0, sides, values, modes)
    if cuts.jump.size > 0:
        to_box(0, cuts.part.shape[0], values, cuts)
        face_jumps(cuts)
        multiply_alone(cuts.jump, cuts.flow, cuts.inverse)
        feed_box(cuts)
        box_to_modes(0, lines, spare, cuts)
        solve_lines(0, sides, spare, modes)
        add_slabs(0, lines, values, spare)
    to_cells(0, lines, values, modes)


@compiled
def steps_alone(rounds, state, after, rates, stages, tools, heat):
    """Take some steps; returns (state, after, steps taken): the first two may have changed places.

    ``rounds``: steps to take, and the crossing rate above which to stop early.
    """
    slabs, tables = state.temperature.shape[0], tools.tables
    count, ceiling = rounds
    for taken in range(1, count + 1):
        for stage in stages:
            move_fields(0, slabs, state, after, rates, tools, stage, heat)
            state, after = after, state
            divergence(0, slabs, state, tools)
            solve_alone(tools)
            subtract_gradient(0, slabs, state, tools)
        if crossing_rate(0, slabs, state, tables) > ceiling:
            return state, after, taken
    return state, after, count

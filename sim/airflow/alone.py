"""Rounds of steps compiled into one call, for grids too small to share between threads.

The same loops as in `step`, without a return to the interpreter between them.
"""

from __future__ import annotations

from sim.airflow.cuts import box_to_modes, face_jumps, feed_box, to_box
from sim.airflow.modes import solve_lines, to_cells
from sim.airflow.momentum import StageRoom, crossing_rate
from sim.airflow.nested_product import multiply_alone
from sim.airflow.pressure import add_impulse, gather, subtract_gradient, sum_to_cells
from sim.airflow.rows import compiled
from sim.airflow.transport import move_fields


@compiled
def project_alone(velocity, tools):
    """`PressureSolver.project` on one thread."""
    values, spare, modes, cuts = tools.values, tools.spare, tools.modes, tools.cuts
    lines, sides = values.shape[0], values.shape[1]
    gather(0, lines, velocity, tools)
    solve_lines(0, sides, values, modes)
    if cuts.jump.size > 0:
        to_box(0, cuts.part.shape[0], values, cuts)
        face_jumps(cuts)
        multiply_alone(cuts.jump, cuts.flow, cuts.inverse)
        feed_box(cuts)
        box_to_modes(0, lines, spare, cuts)
        solve_lines(0, sides, spare, modes)
        sum_to_cells(0, lines, values, spare, modes)
    else:
        to_cells(0, lines, values, modes)
    subtract_gradient(0, velocity.temperature.shape[0], velocity, values, tools)


@compiled
def steps_alone(rounds, state, room, stages, tools, heat, kept):
    """Take some steps; returns (state, after, steps taken): the first two may have changed places.

    ``rounds``: steps to take, their duration, and the crossing rate above which to stop early; ``kept``: mean pressure,
    whether a step has been taken before, and whether every stage is made free of divergence.
    """
    (after, rates, held), (mean, begun, every_stage) = room, kept
    slabs, tables, lines = state.temperature.shape[0], tools.tables, mean.shape[0]
    count, duration, ceiling = rounds
    for taken in range(1, count + 1):
        for field in held[:3]:
            field[:] = 0.0
        subtract_gradient(0, slabs, held, mean, tools)
        for number in range(len(stages)):
            move_fields(0, slabs, state, StageRoom(after, rates, held), tools, stages[number], heat)
            state, after = after, state
            if number == len(stages) - 1 or every_stage or not begun:
                project_alone(state, tools)
                add_impulse(0, lines, mean, tools.values, 1.0 / duration)
        begun = True
        if crossing_rate(0, slabs, state, tables) > ceiling:
            return state, after, taken
    return state, after, count

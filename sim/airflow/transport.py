"""All transported fields of one stage in one shared loop: velocities and temperature, before the pressure acts."""

from __future__ import annotations

from sim.airflow.heat import heat_bounded, heat_central
from sim.airflow.momentum import move_x, move_y, move_z
from sim.airflow.rows import compiled


@compiled
def move_fields(start, stop, state, room, tools, stage, heat):
    """Advance everything over the slabs start ≤ i < stop; ``heat``: whether central, row lists, openness.

    The velocities go slab by slab, so that what one has read is still near when the next one reads it.
    """
    tables = tools.tables
    x, y, z = tools.lists
    central, heat_lists, openness = heat
    for i in range(start, stop):
        move_x(i, i + 1, state, room, tables, stage, x)
        move_y(i, i + 1, state, room, tables, stage, y)
        move_z(i, i + 1, state, room, tables, stage, z)
    if central:
        heat_central(start, stop, state, room, tables, stage, heat_lists)
    else:
        heat_bounded(start, stop, state, room, tables, stage, (heat_lists, openness))

"""What one thread does for one value beside an obstacle: what lists add to its rate, as `rows.amend` has it.

Apart from the movers, as every warp of cells would hold one at a wall, and wait for its lists.
"""

from __future__ import annotations

from sim.airflow.device.layout import (
    DIFFUSIVITY,
    DURATION,
    LEFT,
    NOWHERE,
    RATES,
    TEMPERATURE,
    VISCOSITY,
    fetch,
    measure,
    number,
    stage_weights,
    state_at,
    store,
)
from sim.airflow.rows import compiled


@compiled
def amend(s, stage, air):
    """Add what lists add to the value of one slot, and to its rate."""
    lists, q, total = air.lists, air.values, air.grid.total
    b, at = fetch(lists.bay, s), fetch(lists.at, s)
    if at == NOWHERE or number(b, LEFT, air) <= 0:
        return
    read, write, old = state_at(b, stage, air), state_at(b, stage + 1, air) + at, RATES * total + at
    here = fetch(q, read + at)
    rate = 0.0
    for e in range(fetch(lists.link_start, s), fetch(lists.link_start, s + 1)):
        rate += fetch(lists.link_factor, e) * (fetch(q, read + fetch(lists.link_other, e)) - here)
    for e in range(fetch(lists.wall_start, s), fetch(lists.wall_start, s + 1)):
        rate += fetch(lists.wall_factor, e) * (fetch(lists.wall_value, e) - here)
    rate *= measure(b, DIFFUSIVITY if at >= TEMPERATURE * total else VISCOSITY, air)
    for e in range(fetch(lists.loss_start, s), fetch(lists.loss_start, s + 1)):
        rate -= fetch(lists.loss_factor, e) * abs(here) * here
    store(q, write, fetch(q, write) + measure(b, DURATION, air) * stage_weights(stage)[0] * rate)
    if stage < 2:
        store(q, old, fetch(q, old) + rate)

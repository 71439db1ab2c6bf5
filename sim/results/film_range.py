"""How much of the air's heat goes through correlations beyond the range that they were measured in."""

from __future__ import annotations

import numpy as np

from sim.physics.films import beyond_measured
from sim.solver.steady import Solution

NOTEWORTHY = 0.5
"""Share below which nothing is said [%]."""


def beyond_range(solution: Solution) -> dict[str, float]:
    """Share of the heat between walls and air that goes by correlations beyond their range [%]; empty where none does.

    All of that heat is 100 %, what goes by learned films too. Tubes are never beyond: their law is measured far past
    any tube of a floor.
    """
    cavity, heat = solution.system.cavity, solution.flows.walls
    if cavity is None or heat is None or cavity.walls.held is not None:
        return {}
    walls = cavity.walls
    plain = (walls.zone >= 0) & (True if walls.learned is None else ~walls.learned.taught)
    if not plain.any():
        return {}
    air = solution.state.air[walls.zone[plain]]
    own, flow = heat.temperature[plain], np.abs(heat.convective[plain])
    closed = np.broadcast_to(walls.closed, walls.zone.shape)[plain]
    far = beyond_measured(own - air, walls.distance[plain], walls.orientation[plain], 0.5 * (own + air), closed)
    far &= walls.diameter[plain] == 0.0
    share = 100.0 * float(flow[far].sum()) / max(float(np.abs(heat.convective).sum()), 1e-300)
    return {"air_beyond_range_percent": share} if share > NOTEWORTHY else {}

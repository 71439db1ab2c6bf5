"""Films of the bodies at cavity air: the heat that one gives to the air, over its area and how much warmer it is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.results.air_walls import LEAST_DIFFERENCE
from sim.solver.steady import Solution

BOTH = 0.02
"""Share of area times difference from the air above which walls count as warm and cool ones at once [-]."""


def body_films(
    cells: Cells, solution: Solution, air: NDArray[np.float64] | float | None = None
) -> dict[str, float]:
    """Film of every body that faces the cavity's air [W/m²K], by its name.

    Left out: a body as warm as the air, one that is warmer in one place and cooler in another, as one film would mean
    nothing there, and one to which heat goes the other way.

    Parameters
    ----------
    air : temperature of the air [K], one for all walls; left out that of every wall's zone, where there are zones.
    """
    cavity, walls = solution.system.cavity, solution.flows.walls
    if cavity is None or walls is None or (air is None and not len(solution.state.air)):
        return {}
    meets = cavity.walls.zone >= 0 if air is None else np.ones(len(cavity.body), bool)
    warmth = solution.state.air[cavity.walls.zone] if air is None else air
    excess = np.where(meets, cavity.walls.area * (walls.temperature - warmth), 0.0)
    found: dict[str, float] = {}
    for number in np.unique(cavity.body[meets]):
        own = meets & (cavity.body == number)
        heat, there = float(walls.convective[own].sum()), excess[own]
        if _one_sided(there, float(cavity.walls.area[own].sum())) and heat * there.sum() > 0.0:
            found[cells.bodies[number].name] = heat / float(there.sum())
    return found


def _one_sided(excess: NDArray[np.float64], area: float) -> bool:
    """Whether walls are all warmer or all cooler than the air, and by enough; area times difference [m² K]."""
    warm, cool = excess.clip(min=0.0).sum(), -excess.clip(max=0.0).sum()
    return bool(min(warm, cool) <= BOTH * (warm + cool) and warm + cool > LEAST_DIFFERENCE * area)

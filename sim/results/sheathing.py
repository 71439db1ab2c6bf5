"""How heat arrives at the sheathing: by radiation, by air, by contact with plates and tubes, from solids."""

from __future__ import annotations

import numpy as np

from sim.bay.cells import Cells
from sim.solver.steady import Solution


def sheathing_shares(cells: Cells, solution: Solution) -> dict[str, float]:
    """Shares of the heat that enters the sheathing's underside [%]; they sum to 100.

    Insulation has a share where it is pressed against the sheathing. A negative share means that joists or insulation
    draw heat from the sheathing. Empty where it gives more than it gets, as over a cold space with lukewarm water.
    """
    flows = _wall_parts(cells, solution) | _solid_parts(cells, solution)
    total = sum(flows.values())
    if total < 1e-9:
        return {}
    return {f"{name}_share_percent": 100.0 * flow / total for name, flow in flows.items()}


def _wall_parts(cells: Cells, solution: Solution) -> dict[str, float]:
    """Radiant and convective heat into the sheathing from the cavity [W]."""
    cavity, walls = solution.system.cavity, solution.flows.walls
    if cavity is None or walls is None:
        return {"radiant": 0.0, "convective": 0.0}
    kinds = np.array(cells.kinds())
    under = (kinds[cavity.body] == "sheathing") & (cavity.side == 4)
    i, j, k = cavity.cell[under].T
    half = 0.5 * cells.grid.widths(2)[k]
    area = cells.grid.face_areas(2)[i, j, 0]
    conductance = cells.conductivity(2, 0.0)[i, j, k] * area / half
    cell = solution.state.temperature.reshape(cells.grid.shape)[i, j, k]
    entering = float(np.sum(conductance * (walls.temperature[under] - cell)))
    radiant = float(-walls.radiant[under].sum())
    return {"radiant": radiant, "convective": entering - radiant}


def _solid_parts(cells: Cells, solution: Solution) -> dict[str, float]:
    """Heat conducted into the sheathing from touching plates and tubes, insulation, joists and the rest [W]."""
    sheathing = cells.of_kind("sheathing")
    contact = cells.of_kind("plate", "tube")
    batt = cells.of_kind("insulation")
    other = cells.solid & ~sheathing & ~contact & ~batt & ~cells.of_kind("covering", "rug")
    temperature = solution.state.temperature.reshape(cells.grid.shape)
    flow = solution.system.conduction.gz * (temperature[:, :, :-1] - temperature[:, :, 1:])
    entering = sheathing[:, :, 1:]
    kinds = {"contact": contact, "joist": other, "insulation": batt}
    faces = {name: below[:, :, :-1] & entering for name, below in kinds.items()}
    return {name: float(flow[own].sum()) for name, own in faces.items() if name != "insulation" or own.any()}

"""How much work a flow of air alone will be, told before it is followed: cells times steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.airflow.growth import diffusion_scales
from sim.airflow.pace import decay_rate, finest_cell, stable_step
from sim.problems.air_box import AirProblem

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase

SPEED = 0.3
"""Highest speed over √(g β ΔT H) [-]: 0.23 to 0.26 in squares heated from the side at Rayleigh numbers 1e4 to 1e7
(3.70, 19.6, 68.6, 221 and 699 α/L by Le Quéré 1991 and de Vahl Davis 1983)."""

A_STEP = 4000.0
"""Cells that cost as much as what a step costs whatever its cells (measured: some 0.3 ms)."""


SETTLED = 0.4
"""Time in L²/α by which flows that become steady have done so, L the shorter extent: nine of the verification folders,
at Rayleigh numbers 3e3 to 1e6, took 0.07 to 0.38."""


@dataclass(frozen=True, slots=True)
class FlowWork:
    """Cells of the last grid; cells times steps of a flow that becomes steady as soon as most do, and to the end."""

    cells: int
    usual: float
    most: float


def foretold_work(case: BlocksCase, grids: Sequence[AirProblem]) -> FlowWork:
    """What following a case of air alone on its grids (`air_box.build_grids`) will take, before it is begun."""
    longest = [0.5 * case.air.longest] * (len(grids) - 1) + [case.air.longest]
    problems = list(zip(grids, longest, strict=True))
    most = sum(_work(problem, duration) for problem, duration in problems)
    cells = grids[-1].box.domain.cells
    if case.air.steady == 0.0:
        return FlowWork(cells, most, most)
    return FlowWork(cells, sum(_work(one, min(time, SETTLED * _pace(one))) for one, time in problems), most)


def _pace(problem: AirProblem) -> float:
    """Time in which heat diffuses through the shorter extent [s]."""
    return diffusion_scales(problem.box.domain, problem.box.air.diffusivity)[0]


def _work(problem: AirProblem, duration: float) -> float:
    box = problem.box
    height = float(box.domain.edges[2][-1] - box.domain.edges[2][0])
    buoyancy = box.air.buoyancy * problem.difference
    crossing = SPEED * np.sqrt(buoyancy * height) / float(np.median(box.domain.widths[2]))
    decay = decay_rate(box.air, finest_cell(box.domain))
    step = stable_step(crossing, float(np.sqrt(buoyancy / height)), decay, box.scheme)
    return (box.domain.cells + A_STEP) * duration / step

"""What numbers of computed air still leave open: the solids' answers to other means, other rays, thinner films."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.airflow.stepping import FollowedFlow
from sim.machine.threads import side_by_side, single_threaded_blas
from sim.resolved.air import ResolvedAir
from sim.resolved.course import SOLIDS, Course, answer_of_solids, both_halves
from sim.resolved.held import cavity_of
from sim.resolved.means import Starts, batches, mean_heat
from sim.resolved.thinner import film_losses, thinner_films
from sim.solver.assemble_cavity import REPEATS, SEED, with_other_rays
from sim.solver.steady import Solution, SteadyOptions, solve_steady

Array = NDArray[np.float64]

PROBE = 0.05
"""Step of the middle's temperature that shows its effect on the air's heat, over the span of the walls' [-]."""


def with_errors(
    course: Course[FollowedFlow], air: ResolvedAir, windows: Starts, wall: Array
) -> ResolvedAir:
    """The air with the solids' answers that tell how well its numbers are known; `wall`: of the solids' faces [K]."""
    pieces, whole = batches(windows, course.settings.least_rounds), [one for window in windows for one in window]
    thinner, *answers = side_by_side([
        lambda: thinner_answer(course, air, wall, SOLIDS),
        *(partial(_other_rays, course, air.heat, wall, SEED + repeat) for repeat in range(1, REPEATS + 1)),
        *(partial(answer_of_solids, course, *both_halves(course, piece), SOLIDS) for piece in pieces),
        *((partial(answer_of_solids, course, *mean_heat(whole), SOLIDS),) if course.mirror.planes else ()),
    ])
    rays, told = answers[:REPEATS], answers[REPEATS:]
    batched, lopsided = tuple(told[: len(pieces)]), next(iter(told[len(pieces) :]), None)
    return replace(air, thinner=thinner, lopsided=lopsided, other_rays=tuple(rays), batches=batched)


def _other_rays(course: Course[FollowedFlow], heat: Array, wall: Array, seed: int) -> Solution:
    """The solids' answer with other rays behind the view factors."""
    cavity = with_other_rays(cavity_of(course.system), course.cells, seed)
    return answer_of_solids(replace(course, system=course.system.with_term(cavity)), heat, wall, SOLIDS)


def thinner_answer(course: Course[FollowedFlow], air: ResolvedAir, wall: Array, options: SteadyOptions) -> Solution:
    """The solids' steady state with films without what the air's mesh may have added.

    The middle of the air is as warm as lets it take up the heat that it did.

    Parameters
    ----------
    wall : mean temperatures of the solids' faces [K].
    """
    cavity, middle = course.system.cavity, air.mean_temperature
    assert cavity is not None
    losses = film_losses(air.cell_shares, course.settings.loss, air.plume_shares)
    held = thinner_films(course.contact, cavity.walls.area, air.heat, wall, losses, course.film, middle)

    def taken(temperature: float) -> tuple[Solution, float]:
        """The solids' state, and the heat that the air then takes up more than it did [W]."""
        zone = np.full_like(cavity.walls.zone, -1)
        system = course.system.with_term(cavity.with_walls(held=held(temperature), zone=zone))
        with single_threaded_blas():
            solution = solve_steady(system, options, None, course.state)
        assert solution.flows.walls is not None
        return solution, float(solution.flows.walls.convective.sum() - air.heat.sum())

    first, second = middle, middle + PROBE * float(np.ptp(wall))
    (_, low), (_, high) = side_by_side([partial(taken, first), partial(taken, second)])
    return taken(first - low * (second - first) / (high - low))[0] if high != low else taken(first)[0]

"""What the air's mesh costs, read off the solution: the solids' answer to films smaller by what coarse cells add.

A half cell at a wall carries heat by conduction alone. Where few cells lie in a thermal layer δ = k ΔT / q the wall
gets too much: by about 0.3 (cell/δ)² of its heat in squares of air heated from the side, with radiating or conducting
walls, Rayleigh numbers 1e5 and 1e6, with either scheme (0.16 to 0.41 in 11 runs against spectral solutions). What that
does to a number depends on what else the heat has to pass; so the solids are solved with those smaller films, and the
air in the middle as warm as balances its heat.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.machine.threads import side_by_side, single_threaded_blas
from sim.physics.cavity import HeldAir
from sim.resolved.contact import FaceOverlaps
from sim.solver.steady import Solution, SteadyOptions, solve_steady

if TYPE_CHECKING:
    from sim.airflow.stepping import FollowedFlow
    from sim.resolved.march import Course, ResolvedAir

Array = NDArray[np.float64]

LOSS = 0.42
"""Bound on the share of a film that a mesh may add, over (cell/δ)² [-]: all these runs lie below."""

LOSS_IN_BAYS = 0.14
"""The same in bays, whose unsteady layers lose less: of what LOSS said of the heat upwards, cells of 2.5 to 5 mm in
bays unlike each other took 0.16 to 0.25 times (`docs/air-mesh.md`); a third of it is allowed."""

MOST = 0.5
"""Largest such share: cells as large as a layer say no more than that."""

NEAR = 0.02
"""Faces closer to the air's mean temperature than this share of all differences have no film of their own [-]."""


PROBE = 0.05
"""Step of the middle's temperature that shows its effect on the air's heat, over the span of the walls' [-]."""


def thinner_answer(course: Course[FollowedFlow], air: ResolvedAir, wall: Array, options: SteadyOptions) -> Solution:
    """The solids' steady state with films without what the air's mesh may have added.

    The middle of the air is as warm as lets it take up the heat that it did.

    Parameters
    ----------
    wall : mean temperatures of the solids' faces [K].
    """
    cavity, middle = course.system.cavity, air.mean_temperature
    assert cavity is not None
    losses = film_losses(air.cell_shares, course.settings.loss)
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


def film_losses(shares: Array, loss: float = LOSS) -> Array:
    """Share of the film of every wall face of the air that its mesh may have added (n,) [-].

    Parameters
    ----------
    shares : cell over layer thickness, from `sim.airflow.layers.cell_shares`.
    loss : the bound over (cell/δ)².
    """
    return np.minimum(loss * shares**2, MOST)


def thinner_films(
    contact: FaceOverlaps, area: Array, heat: Array, wall: Array, losses: Array, film: Array, middle: float
) -> Callable[[float], HeldAir]:
    """Held air with smaller films, as a function of the temperature of its middle [K].

    Parameters
    ----------
    area : of the solids' faces [m²].
    heat, losses : of the air's faces [W], [-].
    wall : mean temperatures of the solids' faces [K].
    film : answer of faces that have no film against the middle: those near it, or with heat against the difference.
    """
    reached = contact.on_solid > 0.0
    flux, difference = contact.to_solid(heat) / area, wall - middle
    far = np.abs(difference) > NEAR * float(np.ptp(wall[reached]))
    own = reached & far & (flux * difference > 0.0)
    answer = np.divide(flux, difference, out=np.where(reached, film, 0.0), where=own)
    smaller = np.where(own, (1.0 - contact.mean_on_solid(losses)) * answer, answer)
    fixed = wall - np.divide(flux, answer, out=np.zeros_like(flux), where=answer > 0.0)
    return lambda air: HeldAir(smaller, np.where(own, air, fixed))

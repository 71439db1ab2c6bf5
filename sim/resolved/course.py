"""What the rounds of computed air work on, and the solids' answer to what the flow gave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Generic

import numpy as np
from numpy.typing import NDArray

from sim.airflow.frames import Frames
from sim.airflow.stepping import Followed, FollowedFlow
from sim.bay.cells import Cells
from sim.machine.threads import single_threaded_blas
from sim.resolved.contact import FaceOverlaps
from sim.resolved.held import hold_air
from sim.resolved.means import Round, mean_heat
from sim.resolved.mirror import Mirror
from sim.resolved.settings import RESIDUAL, AirSettings
from sim.resolved.window import FieldMeans
from sim.solver.multigrid import KeptHierarchy
from sim.solver.state import State
from sim.solver.steady import Solution, SteadyOptions, solve_steady
from sim.solver.system import System

Array = NDArray[np.float64]

SOLIDS = SteadyOptions(residual=RESIDUAL, imbalance=1e-4, linear_tolerance=1e-2)
"""The solids' answer within a round; the last one is solved as strictly as any steady state. What a pass more changes
lies below: in a whole bay heat flows up and down by two parts in a million, the water's by one in twenty thousand,
where standard errors are one in a thousand and more."""


@dataclass(slots=True, eq=False)
class Course(Generic[Followed]):
    """What the rounds work on. Made by `march.lay_out`; not a value.

    `kept` begins with the hierarchy of the films' solution: the same in a run that is taken up, so that it ends alike.
    """

    system: System
    cells: Cells
    settings: AirSettings
    stepper: Followed
    contact: FaceOverlaps
    film: Array
    state: State
    heat: Array
    wall: Array
    rounds: list[Round]
    means: FieldMeans
    frames: Frames
    mirror: Mirror
    kept: KeptHierarchy = field(default_factory=KeptHierarchy)


def answer_of_solids(
    course: Course[FollowedFlow],
    heat: Array,
    wall: Array,
    options: SteadyOptions | None,
    kept: KeptHierarchy | None = None,
) -> Solution:
    """The solids' steady state with what the flow gave, `heat` (air faces,) [W] at `wall` (solid faces,) [K].

    `kept`: the course's, for answers one after the other.
    """
    with single_threaded_blas():
        held = hold_air(course.system, course.contact, course.film, heat, wall)
        return solve_steady(held, options, None, course.state, kept)


def both_halves(course: Course[FollowedFlow], rounds: Sequence[Round]) -> tuple[Array, Array]:
    """Mean heat of the air's faces [W] and temperature of the solids' [K] over rounds, and over mirror images."""
    heat, wall = mean_heat(rounds)
    return course.mirror.of_air(heat), course.mirror.of_solid(wall)

"""The solids' side of a bay whose flow is followed elsewhere: in a batch on a device, beside other bays.

The flow's side (`batch`) sends the mean heat of a round; this side answers with the walls' new temperatures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device.tables import FlowProblem, flow_problem
from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.frames import Frames
from sim.airflow.momentum import Fields
from sim.airflow.walls import WallFaces, find_walls
from sim.bay.cells import Cells
from sim.resolved.air import ResolvedAir
from sim.resolved.march import AirSettings, answer_round, evidence_of, finish, lay_out_for, round_time, why_done
from sim.resolved.means import Evidence, Round
from sim.solver.steady import Solution, SteadyOptions
from sim.solver.system import System

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FlowStart:
    """What the flow's side needs to begin: the problem, the end of the first round [s], pictures to keep."""

    problem: FlowProblem
    until: float
    frames: tuple[int, float]


@dataclass(frozen=True, slots=True, eq=False)
class SolidsAnswer:
    """The solids' answer to a round.

    Attributes
    ----------
    wall : (air faces,) [K]
        The walls' new temperatures.
    until : float [s]
        End of the next round.
    reason : str
        Why there is no next round, or empty.
    round : Round
    evidence : Evidence
    seconds : float
        What the answer took.
    """

    wall: Array
    until: float
    reason: str
    round: Round
    evidence: Evidence
    seconds: float


@dataclass(slots=True, eq=False)
class DistantFlow:
    """Stands where a stepper would: the grid and the clock of a flow that is followed elsewhere."""

    domain: Domain
    air: AirProperties
    walls: WallFaces
    wall_temperature: Array
    state: Fields
    time: float
    steps: int
    begun_with: tuple[Domain, AirProperties, Array, Flow, str, float]
    now: Flow | None = None

    def set_wall_temperature(self, wall_temperature: Array) -> None:
        """Note the walls' temperatures [K], to be sent."""
        self.wall_temperature = wall_temperature

    def flow(self, stop_reason: str = "") -> Flow:
        """The last flow that was received."""
        assert self.now is not None
        x = self.now
        return Flow(x.velocity, x.temperature, x.time, x.steps, stop_reason)


def distant_flow(
    domain: Domain, air: AirProperties, wall_temperature: Array, flow: Flow, scheme: str, subgrid: float
) -> DistantFlow:
    """A flow that is followed elsewhere, from what `build_stepper` takes; `wall_temperature` is (n,) [K]."""
    u, v, w = flow.velocity
    arguments = (domain, air, wall_temperature, flow, scheme, subgrid)
    state = Fields(u, v, w, flow.temperature)
    return DistantFlow(domain, air, find_walls(domain), wall_temperature, state, flow.time, flow.steps, arguments)


class SolidSide:
    """The solids of one bay."""

    def __init__(self, system: System, cells: Cells, settings: AirSettings) -> None:
        settings = settings.with_long_rounds(math.prod(system.shape))
        self.course = lay_out_for(distant_flow, system, cells, settings)
        self._began = perf_counter()

    def start(self) -> FlowStart:
        """What the flow's side begins with."""
        course = self.course
        return FlowStart(flow_problem(*course.stepper.begun_with), round_time(course), course.settings.frames)

    def answer(self, heat: Array, time: float, steps: int) -> SolidsAnswer:
        """The answer to a round's mean heat from every wall face [W], which ended at a time [s] and step."""
        at, course = perf_counter(), self.course
        began = course.stepper.time
        course.stepper.time, course.stepper.steps = time, steps
        record = answer_round(course, heat, began)
        reason = why_done([course])
        until = time + (0.0 if reason else round_time(course))
        evidence, seconds = evidence_of([course]), perf_counter() - at
        return SolidsAnswer(course.stepper.wall_temperature, until, reason, record, evidence, seconds)

    def finish(
        self, flows: tuple[Flow, Flow], frames: Frames, reason: str, options: SteadyOptions | None = None
    ) -> tuple[Solution, ResolvedAir]:
        """Solution and air, from the mean flow and the last one."""
        course, (mean, now) = self.course, flows
        course.stepper.now, course.frames = now, frames
        course.means.duration[0] = 1.0
        course.means.sums[0] = [*mean.velocity, mean.temperature]
        return finish([course], options, reason, perf_counter() - self._began)

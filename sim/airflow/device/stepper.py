"""One flow on a device, with the face of `step.Stepper`: for marches of air alone."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.seam import Backend
from sim.airflow.device.tables import flow_problem
from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.momentum import Fields
from sim.airflow.stepping import FlowMaker
from sim.airflow.walls import heat_flow

Array = NDArray[np.float64]


class DeviceStepper:
    """A batch of one bay. Its `state` is fetched when it is asked for.

    Parameters
    ----------
    backend : the device; the others are those of `step.build_stepper`.
    """

    def __init__(
        self,
        backend: Backend,
        domain: Domain,
        air: AirProperties,
        wall_temperature: Array,
        flow: Flow,
        scheme: str = "central",
        subgrid: float = 0.0,
    ) -> None:
        problem = flow_problem(domain, air, wall_temperature, flow, scheme, subgrid)
        self.domain, self.air, self.walls = domain, air, problem.walls
        self.wall_temperature = wall_temperature
        self._batch = FlowBatch([problem], backend)
        self._state: Fields | None = None

    @property
    def time(self) -> float:
        """The clock [s]."""
        return float(self._batch.time[0])

    @property
    def steps(self) -> int:
        """Steps taken since the start."""
        return int(self._batch.steps[0])

    @property
    def level(self) -> Array:
        """Temperature (nz+1,) [K] that counts as hydrostatic, by height."""
        return self._batch.levels[0]

    @property
    def state(self) -> Fields:
        """The flow now."""
        if self._state is None:
            self._state = Fields(*self._batch.fields(0))
        return self._state

    def take_steps(self, count: int, duration: float, watchful: bool = True) -> None:
        """Advance the flow by at most so many steps; see `step.Stepper.take_steps`."""
        batch, self._state = self._batch, None
        ceiling = batch.ceiling(0, duration) if watchful else np.inf
        taken = batch.take_steps([count], np.array([duration]), np.array([ceiling]))
        batch.time += taken * duration
        batch.steps += taken

    def largest_step(self) -> float:
        """The step [s] that the flow, the grid and the stratification allow, with some safety."""
        return self._batch.largest_step(0)

    def refresh_level(self) -> None:
        """Let the mean temperature at each height count as hydrostatic."""
        self._batch.refresh_levels([0])

    def set_wall_temperature(self, wall_temperature: Array) -> None:
        """Give every wall face (n,) a new temperature [K]."""
        self._batch.walls.give(0, wall_temperature)
        self.wall_temperature = wall_temperature

    def heat_flow(self) -> Array:
        """Heat flow from every wall face into the air (n,) [W] at this moment."""
        return heat_flow(self.walls, self.wall_temperature, self.state.temperature, self.air.conductivity)

    def flow(self, stop_reason: str = "") -> Flow:
        """The present state as a value."""
        return self._batch.flow(0, stop_reason)


def make_stepper(backend: Backend) -> FlowMaker[DeviceStepper]:
    """What makes steppers on a device, in place of `step.build_stepper`."""
    return partial(DeviceStepper, backend)

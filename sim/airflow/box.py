"""A box of air: the front door of the flow solver.

    box = build_box(edges, air_of_numbers(1e5, 0.71), {"x-": 1.0, "x+": 0.0})
    flow = march(box, until=1.0, steady=1e-3)
    box.heat_flow(flow, "x-")
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain, Obstacle, Sheet, build_domain
from sim.airflow.flow import AirProperties, Flow, resting_flow
from sim.airflow.growth import EnergyWatch
from sim.airflow.step import build_stepper
from sim.airflow.stepping import FlowListener, FlowMaker, FlowStepper, Look
from sim.airflow.walls import WallFaces, find_walls, heat_flow
from sim.airflow.watch import check_pace, check_state
from sim.machine.brief import Brief
from sim.machine.threads import single_threaded_blas

Array = NDArray[np.float64]
LOOK_EVERY = 20
"""Steps between two looks at the flow: largest step, finite values, steadiness, listener."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class AirBox(Brief):
    """A flow problem.

    Attributes
    ----------
    domain : Domain
    air : AirProperties
    walls : WallFaces
    wall_temperature : (n,) [K]
        Of every wall face, NaN where adiabatic.
    scheme : "central" or "bounded"
        Advection of the temperature.
    subgrid : float [-]
        Constant of the eddy viscosity; 0 leaves the model out.
    device : "cpu", "gpu" or "auto"
        Where its flow is followed: the processor, an accelerator, or an accelerator where there is one.
    """

    domain: Domain
    air: AirProperties
    walls: WallFaces
    wall_temperature: Array
    scheme: str = "central"
    subgrid: float = 0.0
    device: str = "cpu"

    def heat_flow(self, flow: Flow, wall: str | None = None) -> float:
        """Heat flow [W] into the air from one side or part, or from all walls together."""
        flows = heat_flow(self.walls, self.wall_temperature, flow.temperature, self.air.conductivity)
        return float(flows.sum() if wall is None else flows[self.walls.select(wall)].sum())

    def start(self, temperature: object = None) -> Flow:
        """Air at rest, at a temperature [K] that broadcasts to the cells; by default halfway between the walls'."""
        if temperature is None:
            given = self.wall_temperature[~np.isnan(self.wall_temperature)]
            temperature = 0.5 * (given.min() + given.max()) if given.size else 0.0
        return resting_flow(self.domain, temperature)

    def __str__(self) -> str:
        warm = ", ".join(self._wall_line(n) for n in self.walls.names if self.walls.select(n).any())
        return f"{self.domain}\n{self.air}\nwalls {warm}"

    def _wall_line(self, name: str) -> str:
        """Name and temperatures of one wall."""
        given = self.wall_temperature[self.walls.select(name)]
        given = given[~np.isnan(given)]
        if given.size == 0:
            return f"{name} adiabatic"
        low, high = given.min(), given.max()
        return f"{name} {low:.6g} K" if low == high else f"{name} {low:.6g} to {high:.6g} K"


def build_box(
    edges: Sequence[object],
    air: AirProperties,
    temperatures: Mapping[str, object],
    *,
    blocks: Sequence[Obstacle] = (),
    sheets: Sequence[Sheet] = (),
    slip: Sequence[str] = (),
    scheme: str = "central",
    subgrid: float = 0.0,
) -> AirBox:
    """A box of air from its grid, parts and wall temperatures: the flow's own front door, by which its tests come in.

    Parameters
    ----------
    edges : three increasing arrays [m]
        One cell along y: two-dimensional.
    temperatures : by name of a side ("x-" … "z+") or part
        [K], a number or one a wall face; walls not named, or None, are adiabatic.
    slip : sides that are planes of symmetry
    scheme : "central" or "bounded"
        Advection of the temperature.
    subgrid : float
        Constant of Vreman's eddy viscosity (`subgrid.VREMAN` = 0.07); 0 leaves the model out.
    """
    domain = build_domain(edges, blocks, sheets, slip)
    walls = find_walls(domain)
    return AirBox(domain, air, walls, walls.temperatures(temperatures), scheme, subgrid)


def march(
    box: AirBox,
    start: Flow | None = None,
    *,
    until: float,
    steady: float = 0.0,
    most_steps: int = 10_000_000,
    step: float | None = None,
    listener: FlowListener | None = None,
    look_every: int = LOOK_EVERY,
) -> Flow:
    """Follow the flow in time.

    Parameters
    ----------
    start : Flow, optional
        By default air at rest.
    until : float [s]
        Time at which to stop.
    steady : float [-]
        Stop earlier once change and growth (see Look) are both below this; 0 never does.
    most_steps : int
        Stop after so many steps of this march.
    step : float, optional [s]
        A fixed step; by default the largest stable one.
    listener : callable(Look, FlowStepper), optional
        Called at every look; may change wall temperatures through the stepper.
    look_every : int
        Steps between two looks at most; a flow that quickens is looked at sooner.

    Returns
    -------
    Flow
        Free of divergence to round-off; `stop_reason` is "time", "steady" or "steps".

    Raises
    ------
    FlowError
        When a value is not a number.
    """
    with single_threaded_blas():
        start = box.start() if start is None else start
        stepper = stepper_maker(box.device)(box.domain, box.air, box.wall_temperature, start, box.scheme, box.subgrid)
        limits = Limits(until, steady, stepper.steps + most_steps, step, look_every)
        return march_on(stepper, limits, listener)


def stepper_maker(device: str) -> FlowMaker[FlowStepper]:
    """What makes the stepper of a flow on a device ("cpu", "gpu" or "auto")."""
    if device == "cpu":
        return build_stepper
    from sim.airflow.device.seam import choose_backend

    backend = choose_backend(device)
    if backend is None:
        return build_stepper
    from sim.airflow.device.stepper import make_stepper

    return make_stepper(backend)


@dataclass(frozen=True, slots=True)
class Limits:
    """When a march ends and how it steps: the arguments of `march`, `last` being a step number."""

    until: float
    steady: float
    last: int
    step: float | None
    look_every: int


def march_on(stepper: FlowStepper, limits: Limits, listener: FlowListener | None = None) -> Flow:
    """Rounds of steps with a look after each; for callers that keep the stepper, as `march` does not."""
    check_state(stepper.state, stepper.domain, stepper.steps, stepper.time)
    longest, until = 0.0, limits.until
    growth = EnergyWatch(stepper.domain, stepper.air.diffusivity)
    growth.look(stepper.time, stepper.state)
    while stepper.time < until * (1.0 - 1e-12) and stepper.steps < limits.last:
        size = stepper.largest_step() if limits.step is None else limits.step
        before, began = stepper.state.temperature.copy(), stepper.time
        whole = max(1, int(np.ceil(min((until - began) / size - 1e-9, limits.look_every))))
        count = min(whole, limits.last - stepper.steps)
        size = min(size, (until - began) / count)
        stepper.take_steps(count, size, watchful=limits.step is None)
        check_state(stepper.state, stepper.domain, stepper.steps, stepper.time)
        longest = max(longest, size)
        check_pace(size, longest, stepper)
        stepper.refresh_level()
        look = _look(stepper, size, (before, stepper.time - began), growth)
        if listener is not None:
            listener(look, stepper)
        if max(look.change, look.growth) < limits.steady:
            return stepper.flow("steady")
    return stepper.flow("time" if stepper.steps < limits.last else "steps")


def _look(stepper: FlowStepper, size: float, last: tuple[Array, float], growth: EnergyWatch) -> Look:
    """The listener's record; `last`: temperature at the look before, and the time since [s]."""
    before, elapsed = last
    now, air, walls = stepper.state.temperature, stepper.domain.air, stepper.wall_temperature
    warm = walls[~np.isnan(walls)]
    span = (float(np.ptp(warm)) if warm.size else 0.0) or 1.0
    extents = [float(e[-1] - e[0]) for e in stepper.domain.edges if e.size > 2]
    diffusing = min(extents) ** 2 / stepper.air.diffusivity if stepper.air.diffusivity > 0.0 else elapsed
    change = float(np.abs(now - before)[air].max()) / elapsed * diffusing / span
    speed = max(float(np.abs(f).max()) for f in stepper.state[:3])
    return Look(stepper.time, size, stepper.steps, speed, change, *growth.look(stepper.time, stepper.state))

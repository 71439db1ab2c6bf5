"""One step of the flow: three Runge-Kutta stages, and one pressure that makes the last one free of divergence.

Each stage feels the mean pressure of the step before (Le & Moin 1991), so that it is nearly free of divergence, and
the last one is then made so to round-off; what that takes is what the pressure has changed by. A march begins with a
step whose stages are all made so. Blocked faces are at rest in every stage. Second order in the step, for the pressure
is a step old; a steady flow does not know it. Where the course in time counts, all stages of every step are made so
(`every_stage`), which is of third order.

The low-storage scheme of Wray (in Spalart, Moser & Rogers 1991) is third order and stable up to √3 for pure advection
and 2.51 for pure diffusion, so that the largest step follows from the flow itself (`pace`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.alone import steps_alone
from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.momentum import Fields, FlowStage, StageRoom, crossing_rate
from sim.airflow.pace import (
    ADVECTION_LIMIT,
    decay_rate,
    finest_cell,
    highest_crossing,
    hydrostatic,
    stable_step,
    wave_rate,
)
from sim.airflow.pressure import PressureSolver, add_impulse, build_pressure, subtract_gradient
from sim.airflow.row_lists import RowLists, temperature_lists, velocity_lists, with_wall_temperature
from sim.airflow.subgrid import Subgrid, build_subgrid
from sim.airflow.transport import move_fields
from sim.airflow.walls import WallFaces, find_walls, heat_flow
from sim.machine.threads import BUSIER_LOOP, SMALLEST_SHARED_LOOP, share_loop

Array = NDArray[np.float64]

NOW = (8.0 / 15.0, 5.0 / 12.0, 3.0 / 4.0)
BEFORE = (0.0, -17.0 / 60.0, -5.0 / 12.0)


@dataclass(slots=True, eq=False)
class Stepper:
    """Working arrays of a march, and the coefficients that it applies. Made by `build_stepper`; not a value.

    Attributes
    ----------
    domain, air, walls : the problem
    wall_temperature : (n,) [K]
        NaN where adiabatic.
    state, after, rates : Fields
        The flow now, room for the next stage, and the last stage's rates.
    held : Fields
        Rates that hold through all stages of the present step.
    pressure : PressureSolver
    mean : like the pressure's working array [m²/s²]
        Mean of p/ρ over the last step; zero as long as not `begun`.
    begun : bool
        Whether a step has been taken.
    every_stage : bool
        Whether every stage of a step is made free of divergence, as those of a march's first step are.
    heat_lists : row lists of the temperature
    scheme : "central" or "bounded"
        Advection of the temperature.
    subgrid : Subgrid, optional
        Model of eddies finer than the grid.
    level : (nz+1,) [K]
        Temperature that counts as hydrostatic, by height.
    time, steps : the clock
    """

    domain: Domain
    air: AirProperties
    walls: WallFaces
    wall_temperature: Array
    state: Fields
    after: Fields
    rates: Fields
    held: Fields
    pressure: PressureSolver
    mean: Array
    begun: bool
    every_stage: bool
    heat_lists: RowLists
    scheme: str
    subgrid: Subgrid | None
    level: Array
    time: float
    steps: int

    def take_steps(self, count: int, duration: float, watchful: bool = True) -> None:
        """Advance the flow by at most so many steps of equal duration [s].

        Parameters
        ----------
        watchful : bool
            Whether to stop early when the flow has become too quick for steps of this duration.
        """
        ceiling = self._highest_crossing(duration) if watchful else np.inf
        alone = self.domain.cells < SMALLEST_SHARED_LOOP and self.subgrid is None
        take = self._take_steps_alone if alone else self._take_steps_shared
        taken = take(count, duration, ceiling)
        self.time += taken * duration
        self.steps += taken

    def _take_steps_shared(self, count: int, duration: float, ceiling: float) -> int:
        """Steps whose loops are shared between threads; returns how many were taken."""
        for taken in range(1, count + 1):
            self._hold(self.mean)
            for number, stage in enumerate(self._stages(duration)):
                self._move(stage)
                self.state, self.after = self.after, self.state
                if number == len(NOW) - 1 or self.every_stage or not self.begun:
                    self._project(duration)
            self.begun = True
            if self._crossing() > ceiling:
                return taken
        return count

    def _take_steps_alone(self, count: int, duration: float, ceiling: float) -> int:
        """Steps in one compiled call; returns how many were taken."""
        rounds, kept = (count, duration, ceiling), (self.mean, self.begun, self.every_stage)
        self.state, self.after, taken = steps_alone(
            rounds, self.state, self._room(), self._stages(duration), self.pressure.tools, self._heat(), kept
        )
        self.begun = True
        return int(taken)

    def _hold(self, pressure: Array | None) -> None:
        """Rates that hold for a whole step that begins here: eddies finer than the grid, and a pressure's gradient."""
        if self.subgrid is not None:
            self.subgrid.find(self.state, (*self.pressure.tools.lists, self.heat_lists))
        else:
            for field in self.held[:3]:
                field[...] = 0.0
        if pressure is not None:
            slabs, cells = self.domain.shape[0], self.domain.cells
            share_loop(subtract_gradient, slabs, cells, self.held, pressure, self.pressure.tools)

    def _project(self, duration: float) -> None:
        """Make the flow free of divergence; what that takes belongs to the mean pressure of this step."""
        self.pressure.project(self.state)
        lines, cells = self.mean.shape[0], self.domain.cells
        share_loop(add_impulse, lines, cells, self.mean, self.pressure.tools.values, 1.0 / duration)

    def _room(self) -> StageRoom:
        """What a stage writes."""
        return StageRoom(self.after, self.rates, self.held)

    def _heat(self) -> tuple[bool, RowLists, Any]:
        """What the compiled loops need to advance the temperature."""
        return self.scheme == "central", self.heat_lists, self.domain.openness

    def _stages(self, duration: float) -> tuple[FlowStage, ...]:
        """The stages of a step."""
        return tuple(self._stage(now * duration, before * duration) for now, before in zip(NOW, BEFORE, strict=True))

    def _stage(self, now: float, before: float) -> FlowStage:
        """Weights and properties of one stage."""
        air = self.air
        return FlowStage(now, before, air.viscosity, air.diffusivity, air.buoyancy, self.level)

    def _move(self, stage: FlowStage) -> None:
        """Advance all fields by one stage, before the pressure acts."""
        arguments = (self.state, self._room(), self.pressure.tools, stage, self._heat())
        share_loop(move_fields, self.domain.shape[0], self.domain.cells, *arguments, smallest=BUSIER_LOOP)

    def largest_step(self) -> float:
        """The step [s] that the flow, the grid and the stratification allow, with some safety."""
        return stable_step(self._crossing(), self._wave_rate(), self._decay_rate(), self.scheme)

    def _highest_crossing(self, duration: float) -> float:
        """Rate [1/s] at which the flow may cross cells for steps of this duration to be stable, without safety."""
        return highest_crossing(duration, self._wave_rate(), self._decay_rate(), self.scheme)

    def _crossing(self) -> float:
        """Rate [1/s] at which the flow crosses cells where it is quickest."""
        slabs, cells = self.domain.shape[0], self.domain.cells
        return max(share_loop(crossing_rate, slabs, cells, self.state, self.pressure.tools.tables))

    def _decay_rate(self) -> float:
        """Rate [1/s] at which friction, conduction and porous sheets damp what is finest, over what a step can bear."""
        eddy = float(self.subgrid.viscosity.max()) if self.subgrid is not None else 0.0
        return decay_rate(self.air, finest_cell(self.domain), eddy, self._loss_rate())

    def _loss_rate(self) -> float:
        """Fastest decay at porous sheets [1/s]."""
        rates = [
            np.max(lists.loss_factor * np.abs(field.ravel()[_flat(lists, field.shape[2])]), initial=0.0)
            for lists, field in zip(self.pressure.tools.lists, self.state, strict=False)
        ]
        return 2.0 * float(max(rates))

    def _wave_rate(self) -> float:
        """Buoyancy frequency of the steepest stratification [1/s]."""
        return wave_rate(self.domain, self.air, self.level)

    def refresh_level(self) -> None:
        """Let the mean temperature at each height count as hydrostatic.

        The mean pressure that is kept is what is left beside that, so that the part of it that carries the air's weight
        is not a step old.
        """
        total = np.where(self.domain.air, self.state.temperature, 0.0).sum(axis=(0, 1))
        self.level = hydrostatic(self.domain, total)

    def set_wall_temperature(self, wall_temperature: Array) -> None:
        """Give every wall face (n,) a new temperature [K]; faces cannot change between warm and adiabatic."""
        if not np.array_equal(np.isnan(wall_temperature), np.isnan(self.wall_temperature)):
            raise ValueError("wall faces changed between adiabatic and given temperature; make a new stepper")
        self.wall_temperature = wall_temperature
        self.heat_lists = with_wall_temperature(self.heat_lists, self.domain, self.walls, wall_temperature)

    def heat_flow(self) -> Array:
        """Heat flow from every wall face into the air (n,) [W] at this moment."""
        return heat_flow(self.walls, self.wall_temperature, self.state.temperature, self.air.conductivity)

    def rates_of(self, air: AirProperties) -> Fields:
        """Rates of all fields at this moment, before the pressure acts, as if the air had other properties."""
        own = self.air
        self.air = air
        self._hold(None)
        self._move(self._stage(1.0, 0.0))
        self.air = own
        x, y, z, temperature = (np.array(rate) for rate in self.rates)
        return Fields(x, y, z, temperature)

    def flow(self, stop_reason: str = "") -> Flow:
        """The present state as a value."""
        x, y, z, t = (field.copy() for field in self.state)
        pressure = self._as_cells(self.mean).copy() if self.begun else None
        return Flow((x, y, z), t, self.time, self.steps, stop_reason, pressure)

    def _as_cells(self, lines: Array) -> Array:
        """What lies as the pressure's working array does, as (nx, ny, nz)."""
        return lines.transpose(1, 0, 2) if self.pressure.tools.swapped else lines


def _flat(lists: RowLists, row: int) -> Any:
    """Flat places of the porous faces of one component."""
    rows = np.repeat(np.arange(lists.loss_start.size - 1), np.diff(lists.loss_start))
    return rows * row + lists.loss_place


def build_stepper(
    domain: Domain,
    air: AirProperties,
    wall_temperature: Array,
    flow: Flow,
    scheme: str = "central",
    subgrid: float = 0.0,
    every_stage: bool = False,
) -> Stepper:
    """Everything a march needs, starting from a flow whose divergence is taken out first.

    Parameters
    ----------
    wall_temperature : (n,) [K]
        Of the faces of `find_walls(domain)`, NaN where adiabatic.
    scheme : "central" or "bounded"
        Advection of the temperature.
    subgrid : float
        Constant of the eddy viscosity (`subgrid.VREMAN`); 0 leaves the model out.
    every_stage : bool
        Make every stage of a step free of divergence: third order in the step, for flows whose course in time counts.
    """
    if scheme not in ADVECTION_LIMIT:
        raise ValueError(f"scheme is {scheme!r}; must be one of {tuple(ADVECTION_LIMIT)}")
    walls = find_walls(domain)
    x, y, z = (velocity_lists(domain, component) for component in range(3))
    u, v, w, t = (np.array(f) for f in (*flow.velocity, flow.temperature))
    state = Fields(u, v, w, t)
    for field, openness in zip(state[:3], domain.openness, strict=True):
        field[openness == 0.0] = 0.0
    pressure, eddies = build_pressure(domain, (x, y, z)), build_subgrid(domain, subgrid, state)
    stepper = Stepper(
        domain=domain,
        air=air,
        walls=walls,
        wall_temperature=wall_temperature,
        state=state,
        after=Fields(*map(np.zeros_like, state)),
        rates=Fields(*map(np.zeros_like, state)),
        held=eddies.extra if eddies is not None else Fields(*map(np.zeros_like, state)),
        pressure=pressure,
        mean=np.zeros_like(pressure.tools.values),
        begun=flow.pressure is not None,
        every_stage=every_stage,
        heat_lists=temperature_lists(domain, walls, wall_temperature),
        scheme=scheme,
        subgrid=eddies,
        level=np.zeros(domain.shape[2] + 1),
        time=flow.time,
        steps=flow.steps,
    )
    if flow.pressure is not None:
        stepper._as_cells(stepper.mean)[:] = flow.pressure
    stepper.pressure.project(stepper.state)
    stepper.refresh_level()
    return stepper

"""Steady temperatures: an outer Newton-like iteration round a multigrid-preconditioned linear solve.

Each pass evaluates every flow exactly at the present temperatures, sums what is left over in each cell, zone and
patch, linearises the laws and solves for the change. Water temperatures follow from the tubes' last temperatures;
their influence back is small and runs downstream only, so the passes converge quickly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from sim.physics.cavity import WallHeat, mean_emission, opening_flow, settle_walls
from sim.solve.assemble import STILL_AIR
from sim.solve.balance import Balance
from sim.solve.coupling import Coupling, linearise_cavity
from sim.solve.linear import solve_linear
from sim.solve.multigrid import build_multigrid
from sim.solve.stencil import StencilOperator
from sim.solve.surface_heat import SurfaceHeat, settle_surface
from sim.solve.system import System
from sim.solve.unsymmetric import solve_unsymmetric
from sim.solve.water import RunWater, settle_water

Array = NDArray[np.float64]


REFRESH = 0.5
"""The cavity is linearised anew while cell temperatures change by more than this in a pass [K]."""

LEAST_GAIN = 0.2
"""And whenever a pass has left more than this share of the residual before it."""


class DivergedError(Exception):
    """Temperatures stopped being numbers; the message names field, place and pass."""


@dataclass(frozen=True, slots=True)
class SteadyOptions:
    """When to stop: Σ|residual| and |in − out| as shares of the heat supplied, and the most passes.

    `linear_tolerance` is the reduction asked of each linear solve, `linear_iterations` its limit.
    """

    residual: float = 2e-6
    imbalance: float = 1e-7
    passes: int = 40
    linear_tolerance: float = 1e-2
    linear_iterations: int = 100


@dataclass(frozen=True, slots=True)
class Pass:
    """One outer pass: what was left over before it, and the linear iterations that it took."""

    number: int
    residual: float
    imbalance: float
    largest_change: float
    linear_iterations: int
    heat_supplied: float
    seconds: float


Listener = Callable[[Pass], None]


@dataclass(frozen=True, slots=True)
class State:
    """Unknowns: flat cell temperatures, zone air [K] and patch irradiation [W/m²].

    `wall` temperatures [K] and `delivered` heat [W] are carried from the last evaluation as a start for the next.
    """

    temperature: Array
    air: Array
    irradiation: Array
    wall: Array
    delivered: float | None = None


@dataclass(frozen=True, slots=True)
class Flows:
    """Every flow evaluated at a state, and what is left over in cells [W], zones [W] and patches [W]."""

    surfaces: tuple[SurfaceHeat, ...]
    walls: WallHeat | None
    opening_slope: Array
    waters: tuple[RunWater, ...]
    cells: Array
    zones: Array
    patches: Array
    balance: Balance

    @property
    def residual(self) -> float:
        """Σ|left over| as a share of the heat supplied."""
        left = sum(float(np.abs(part).sum()) for part in (self.cells, self.zones, self.patches))
        return left / max(self.balance.heat_in, 1e-9)


@dataclass(frozen=True, slots=True)
class Solution:
    """Final temperatures and flows with the evidence of how they were reached."""

    system: System
    state: State
    flows: Flows
    history: tuple[Pass, ...]
    stop_reason: str
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def converged(self) -> bool:
        """Whether residual and imbalance both became small."""
        return self.stop_reason == "converged"

    @property
    def balance(self) -> Balance:
        """Heat in and out by path."""
        return self.flows.balance

    @property
    def temperature(self) -> Array:
        """Cell temperatures [K] (nx, ny, nz), NaN where nothing is solved."""
        active = self.system.conduction.active
        return np.where(active, self.state.temperature.reshape(active.shape), np.nan)

    def __str__(self) -> str:
        last = self.history[-1]
        return (
            f"Solution: {self.stop_reason} after {len(self.history)} passes, "
            f"{sum(p.linear_iterations for p in self.history)} linear iterations\n"
            f"├── residual {last.residual:.1e}, imbalance {last.imbalance:.1e} of the heat supplied\n"
            f"└── temperatures {np.nanmin(self.temperature) - ZERO_CELSIUS:.2f} to "
            f"{np.nanmax(self.temperature) - ZERO_CELSIUS:.2f} °C"
        )


def solve_steady(
    system: System,
    options: SteadyOptions | None = None,
    listener: Listener | None = None,
    start: State | None = None,
) -> Solution:
    """Steady temperatures of a system.

    Parameters
    ----------
    listener : called with each Pass.
    start : state to begin from, of the same system shape; None begins from a guess.

    Returns
    -------
    Solution with `stop_reason` "converged", "pass limit" or "linear solver: ...". It is returned in every case;
    the caller decides what an unconverged one is worth.

    Raises
    ------
    DivergedError : a temperature or irradiation is not a number.
    """
    options = options or SteadyOptions()
    began = perf_counter()
    state = start or first_guess(system)
    _check_finite(system, state, 0)
    history: list[Pass] = []
    preconditioner: Any = None
    coupling: Coupling | None = None
    flows, change, iterations, reason = evaluate(system, state), np.inf, 0, "pass limit"
    for number in range(options.passes + 1):
        history.append(_record(number, flows, change, iterations, perf_counter() - began))
        if listener:
            listener(history[-1])
        if flows.residual <= options.residual and flows.balance.residual <= options.imbalance:
            reason = "converged"
            break
        if number == options.passes:
            break
        if coupling is None or change > REFRESH or _slow(history):
            coupling = _linearise(system, flows)
        operator = _operator(system, flows)
        preconditioner = _precondition(operator, coupling, preconditioner)
        linear = _solve(operator, coupling, preconditioner, flows, options)
        if not linear.residual_history[-1] < 1.0:
            reason = f"linear solver: {linear.stop_reason}"
            break
        state, change = _advance(system, state, flows, coupling, linear.x), float(np.abs(linear.x).max())
        _check_finite(system, state, number + 1)
        flows, iterations = evaluate(system, state), linear.iterations
        state = _carry(state, flows)
    return Solution(system, state, flows, tuple(history), reason, {"solve": perf_counter() - began})


def _slow(history: list[Pass]) -> bool:
    """Whether the last pass gained too little for its linearisation to serve again."""
    return history[-1].residual > LEAST_GAIN * history[-2].residual


def first_guess(system: System) -> State:
    """Everything at the mean of the reservoirs, tubes at their water."""
    known = system.reservoirs()
    middle = float(np.mean(known))
    temperature = np.full(int(np.prod(system.shape)), middle)
    for run in system.runs:
        temperature[run.cell] = run.temperature if run.supply is None else run.supply.supply
    cavity = system.cavity
    faces = len(cavity.walls.area) if cavity else 0
    patches = len(cavity.patches.emitting_area) if cavity else 0
    return State(
        temperature,
        np.full(cavity.zone_count if cavity else 0, middle),
        np.full(patches, STEFAN_BOLTZMANN * middle**4),
        cavity.foot @ temperature if cavity else np.empty(faces),
    )


def evaluate(system: System, state: State) -> Flows:
    """Every flow at a state: conduction + surfaces + cavity − water is what is left over in each cell."""
    temperature = state.temperature
    waters = settle_water(system.runs, temperature, state.delivered)
    surfaces = tuple(settle_surface(s, temperature[s.cell]) for s in system.surfaces)
    walls, opening_slope, zones, patches = _cavity(system, state)
    cells = conduction_operator(system).apply(temperature.reshape(system.shape)).reshape(-1)
    cells = (
        cells
        + _surface_flow(system, surfaces)
        + _wall_flow(system, walls)
        - _water_flow(system, waters, temperature)
    )
    balance = _balance(system, surfaces, waters)
    return Flows(surfaces, walls, opening_slope, waters, cells, zones, patches, balance)


def conduction_operator(system: System) -> StencilOperator:
    """Conduction alone."""
    return StencilOperator(*system.conduction.faces, np.zeros(system.shape))


def _surface_flow(system: System, surfaces: tuple[SurfaceHeat, ...]) -> Array:
    flow = np.zeros(int(np.prod(system.shape)))
    for surface, heat in zip(system.surfaces, surfaces, strict=True):
        np.add.at(flow, surface.cell, heat.flow)
    return flow


def _wall_flow(system: System, walls: WallHeat | None) -> Array | float:
    if walls is None or system.cavity is None:
        return 0.0
    return np.asarray(system.cavity.foot.T @ (walls.convective + walls.radiant))


def _water_flow(system: System, waters: tuple[RunWater, ...], temperature: Array) -> Array:
    flow = np.zeros(len(temperature))
    for run, water in zip(system.runs, waters, strict=True):
        flow[run.cell] += water.conductance * (water.temperature[run.segment] - temperature[run.cell])
    return flow


def _cavity(system: System, state: State) -> tuple[WallHeat | None, Array, Array, Array]:
    """Wall heat, opening slopes, and what is left over in zones and patches."""
    cavity = system.cavity
    if cavity is None:
        return None, np.empty(0), np.empty(0), np.empty(0)
    walls, zones = cavity.walls, cavity.zone_count
    air = np.append(state.air, 300.0)[walls.zone]
    foot = cavity.foot @ state.temperature
    heat = settle_walls(walls, foot, air, state.irradiation[walls.patch], state.wall)
    emission = mean_emission(walls, heat.temperature, len(state.irradiation))
    patches = cavity.patches.emitting_area * (state.irradiation - cavity.patches.weights @ emission)
    left = -np.asarray(np.bincount(walls.zone + 1, heat.convective, zones + 1)[1:], np.float64)
    slope = np.empty(0)
    if zones:
        flow, slope = opening_flow(cavity.openings, state.air, STILL_AIR)
        np.add.at(left, cavity.openings.first, flow)
        np.add.at(left, cavity.openings.second, -flow)
    return heat, slope, left, patches


def _balance(system: System, surfaces: tuple[SurfaceHeat, ...], waters: tuple[RunWater, ...]) -> Balance:
    delivered: dict[str, float] = {}
    for surface, heat in zip(system.surfaces, surfaces, strict=True):
        delivered[surface.path] = delivered.get(surface.path, 0.0) + float(heat.flow.sum())
    supplied = {run.name: water.heat for run, water in zip(system.runs, waters, strict=True)}
    return Balance(supplied, delivered)


def _record(number: int, flows: Flows, change: float, iterations: int, seconds: float) -> Pass:
    return Pass(
        number, flows.residual, flows.balance.residual, change, iterations, flows.balance.heat_in, seconds
    )


def _linearise(system: System, flows: Flows) -> Coupling | None:
    if system.cavity is None or flows.walls is None:
        return None
    return linearise_cavity(system.cavity, flows.walls, flows.opening_slope)


def _operator(system: System, flows: Flows) -> StencilOperator:
    """Conduction with the slopes of surfaces and water on the diagonal; idle cells hold their value."""
    sink = np.zeros(int(np.prod(system.shape)))
    for surface, heat in zip(system.surfaces, flows.surfaces, strict=True):
        np.add.at(sink, surface.cell, heat.slope)
    for run, water in zip(system.runs, flows.waters, strict=True):
        sink[run.cell] += water.conductance
    sink[~system.conduction.active.reshape(-1)] = 1.0
    return StencilOperator(*system.conduction.faces, sink.reshape(system.shape))


def _precondition(operator: StencilOperator, coupling: Coupling | None, last: Any) -> Any:
    """Multigrid on the cells with zones and patches held; its hierarchy is kept from pass to pass."""
    sink = operator.sink
    if coupling is not None:
        sink = sink + coupling.sink().reshape(sink.shape)
    return build_multigrid(operator.with_sink(sink)) if last is None else last.with_sink(sink)


def _solve(operator: StencilOperator, coupling: Coupling | None, preconditioner: Any, flows: Flows, options):
    source = -flows.cells
    if coupling is not None:
        source = source + coupling.source(flows.zones, flows.patches)
    shape = operator.shape

    def apply(change: Array) -> Array:
        flow = operator.apply(change)
        return flow if coupling is None else flow + coupling.apply(change.reshape(-1)).reshape(shape)

    right, tolerance, most = source.reshape(shape), options.linear_tolerance, options.linear_iterations
    if coupling is None:
        return solve_linear(apply, right, None, preconditioner, tolerance, most)
    return solve_unsymmetric(apply, right, preconditioner, tolerance, most)


def _advance(system: System, state: State, flows: Flows, coupling: Coupling | None, change: Array) -> State:
    flat = change.reshape(-1)
    moved = replace(state, temperature=state.temperature + flat)
    if coupling is None or system.cavity is None:
        return moved
    nodes = coupling.nodes(flat, flows.zones, flows.patches)
    zones = system.cavity.zone_count
    return replace(
        moved,
        air=state.air + nodes[:zones],
        irradiation=state.irradiation + coupling.radiant_film * nodes[zones:],
    )


def _carry(state: State, flows: Flows) -> State:
    """Keep wall temperatures and delivered heat as the next pass's start."""
    wall = flows.walls.temperature if flows.walls is not None else state.wall
    return replace(state, wall=wall, delivered=sum(flows.balance.delivered.values()))


def _check_finite(system: System, state: State, passes: int) -> None:
    """Raise with field, place and pass as soon as a value is not a number."""
    shapes = {"temperature": system.shape, "air": state.air.shape, "irradiation": state.irradiation.shape}
    for name, shape in shapes.items():
        bad = np.flatnonzero(~np.isfinite(getattr(state, name)))
        if len(bad):
            place = ", ".join(str(i) for i in np.unravel_index(bad[0], shape))
            raise DivergedError(f"{name} is not a number at index ({place}) after {passes} passes")

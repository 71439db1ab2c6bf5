"""One step in time by TR-BDF2 (Bank and others 1985; as a Runge-Kutta pair, Hosea and Shampine 1996).

With f what flows into cells, zones and the room [W], and C their heat capacities,

    C (T₂ − T₀) = h d (f₀ + f₂)                  trapezoid to t + γ h
    C (T₃ − T₀) = h (w f₀ + w f₂ + d f₃)         second backward difference to t + h

γ = 2 − √2, d = γ / 2, w = √2 / 4: second order, L-stable, and both stages have the same matrix C/(h d) + J. Heat
stored in a step is thus exactly h (w, w, d) times the stages' flows, which the audit uses. Radiation patches store
nothing and are balanced in every stage. An embedded third-order formula gives the error, filtered by one cycle of
the multigrid that approximates the stages' matrix.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.machine.brief import Brief
from sim.solver.coupling import Coupling
from sim.solver.drive import Drivers, Now, RoomNode, driven, gives_stated_heat
from sim.solver.flows import Flows, evaluate
from sim.solver.multigrid import Multigrid
from sim.solver.newton import Tie, advance, carry, check_finite, linearise, precondition, solve_change, tangent
from sim.solver.state import State
from sim.solver.steady import Solution
from sim.solver.stencil import StencilOperator
from sim.solver.storage import Storage
from sim.solver.system import System

Array = NDArray[np.float64]

GAMMA = 2.0 - math.sqrt(2.0)
DIAGONAL = GAMMA / 2.0
OUTER = math.sqrt(2.0) / 4.0
WEIGHTS = (OUTER, OUTER, DIAGONAL)
"""Weights of the three stages' flows in the stored heat."""
THIRD_ORDER = ((1.0 - OUTER) / 3.0, (3.0 * OUTER + 1.0) / 3.0, DIAGONAL / 3.0)
"""Weights of the embedded third-order formula."""

LEAST_GAIN = 0.1
"""A linearisation is made anew when a pass has left more than this share of the residual before it."""


@dataclass(frozen=True, slots=True, repr=False)
class Moment(Brief):
    """Everything at one time: the driven system, its state and flows, the room node [K], whether water flows.

    `room_flow` is what the room node gains [W]; `on` says of each thermostat whether it wants water to flow.
    """

    time: float
    system: System
    state: State
    flows: Flows
    room: float | None
    room_flow: float
    on: tuple[bool, ...]
    heating: bool

    @property
    def solution(self) -> Solution:
        """The moment as a solution, for whatever reads steady states."""
        return Solution(self.system, self.state, self.flows, (), "in time")


@dataclass(frozen=True, slots=True)
class MarchProblem:
    """A system that stores heat, with what drives it and how exactly the stages are solved.

    `options` has `residual`, `imbalance`, `least_heat`, `passes`, `linear_tolerance` and `linear_iterations`.
    """

    system: System
    storage: Storage
    drivers: Drivers
    options: Any

    def moment(self, state: State, now: Now) -> Moment:
        """All flows at a state."""
        system = driven(self.system, self.drivers, now, state.temperature)
        flows = evaluate(system, state)
        room, heating = (now.room, self.room_flow(flows, now)), self.drivers.heat(now)
        return Moment(now.time, system, carry(state, flows), flows, *room, now.on, heating)

    def room_flow(self, flows: Flows, now: Now) -> float:
        """What the room node gains: floor + gains − loss [W]; 0 without one."""
        node = self.drivers.room
        if not isinstance(node, RoomNode):
            return 0.0
        floor = flows.balance.delivered.get(self.drivers.room_path, 0.0)
        lost = node.loss * (float(now.room) - node.outdoor.value(now.time, now.arriving))  # type: ignore[arg-type]
        return floor + node.gains.value(now.time, now.arriving) - lost


@dataclass(frozen=True, slots=True)
class Linear:
    """A linearisation kept between passes and steps, with the h d [s] that it was made for."""

    lag: float
    coupling: Coupling | None
    operator: StencilOperator
    preconditioner: Multigrid


@dataclass(frozen=True, slots=True)
class ImplicitStage:
    """One implicit stage: where it starts, its time, h d [s], and the heat flows carried from the stages before."""

    begin: Moment
    now: Now
    lag: float
    cells: Array
    zones: Array
    room: float


@dataclass(frozen=True, slots=True)
class Settled:
    """A solved stage, and what it took."""

    moment: Moment
    linear: Linear | None
    passes: int
    iterations: int
    converged: bool


@dataclass(frozen=True, slots=True)
class TriedStep:
    """A tried step: its moments at t, t + γ h and t + h, the error estimate [K], the work, and whether it solved."""

    moments: tuple[Moment, Moment, Moment]
    length: float
    error: float
    linear: Linear | None
    passes: int
    iterations: int
    solved: bool

    def average(self, what: Callable[[Moment], float]) -> float:
        """Mean over the step of something at a moment, in its own unit, with the weights with which heat is stored."""
        return sum(weight * what(moment) for weight, moment in zip(WEIGHTS, self.moments, strict=True))


def try_step(
    problem: MarchProblem, begin: Moment, length: float, before: Moment | None, linear: Linear | None
) -> TriedStep:
    """One step from a moment.

    Parameters
    ----------
    length : of the step [s].
    before : the moment one step ago, from which the first guess is extrapolated; None after a jump.
    linear : the last linearisation.
    """
    lag = DIAGONAL * length
    ratio = 0.0 if before is None else GAMMA * length / (begin.time - before.time)
    first = _stage(begin, begin.time + GAMMA * length, lag, (begin,))
    guess = extrapolated(before or begin, begin, ratio)
    middle = settle(problem, first, guess, linear)
    if not middle.converged:
        return _failed(begin, length, (middle,))
    last = _stage(begin, begin.time + length, lag, (begin, middle.moment))
    guess = extrapolated(begin, middle.moment, 1.0 / GAMMA - 1.0)
    end = settle(problem, last, guess, middle.linear)
    if not end.converged:
        return _failed(begin, length, (middle, end))
    moments = (begin, middle.moment, end.moment)
    return TriedStep(
        moments,
        length,
        _error(problem, moments, length, end.linear),
        end.linear,
        middle.passes + end.passes,
        middle.iterations + end.iterations,
        True,
    )


def _stage(begin: Moment, time: float, lag: float, known: tuple[Moment, ...]) -> ImplicitStage:
    """The stage that ends at a time, after the moments known in the step; until now f₀, then (w/d) (f₀ + f₂)."""
    share = 1.0 if len(known) == 1 else OUTER / DIAGONAL
    cells, zones = np.zeros_like(begin.flows.cells), np.zeros_like(begin.flows.zones)
    room = 0.0
    for moment in known:
        cells -= share * moment.flows.cells
        zones -= share * moment.flows.zones
        room += share * moment.room_flow
    return ImplicitStage(begin, Now(time, True, begin.room, begin.on), lag, cells, zones, room)


def _failed(begin: Moment, length: float, done: tuple[Settled, ...]) -> TriedStep:
    passes, iterations = sum(s.passes for s in done), sum(s.iterations for s in done)
    return TriedStep((begin, begin, begin), length, np.inf, None, passes, iterations, False)


def extrapolated(before: Moment, here: Moment, ratio: float) -> tuple[State, float | None]:
    """State and room [K] further along the line through two moments, by a share of their distance [-]."""
    a, b = before.state, here.state
    state = replace(
        b,
        temperature=b.temperature + ratio * (b.temperature - a.temperature),
        air=b.air + ratio * (b.air - a.air),
        irradiation=b.irradiation + ratio * (b.irradiation - a.irradiation),
    )
    room = None if here.room is None else here.room + ratio * (here.room - float(before.room))  # type: ignore[arg-type]
    return state, room


def settle(
    problem: MarchProblem, stage: ImplicitStage, guess: tuple[State, float | None], linear: Linear | None
) -> Settled:
    """Solve one stage by Newton-like passes; a linearisation serves as long as it gains enough.

    Parameters
    ----------
    problem, stage : what is marched, and the stage's time and lag [s].
    guess : the state to begin with, and the temperature of the room's node [K], None where the room has none.
    linear : a linearisation of an earlier stage, to be used while its lag is the same.

    Returns
    -------
    Settled; `converged` says whether the residual, as a share of the heat that flows, is small enough. Nothing is
    raised: the caller shortens its step.
    """
    options, (state, room) = problem.options, guess
    last, iterations = np.inf, 0
    for number in range(options.passes + 1):
        now = replace(stage.now, room=room)
        moment = problem.moment(state, now)
        left, room_left = _left_over(problem, stage, moment)
        scale = _scale(problem, stage, moment)
        residual, imbalance = left.left / scale, left.net / scale
        room_share = abs(room_left) / scale
        if residual <= options.residual and max(imbalance, room_share) <= options.imbalance:
            return Settled(moment, linear, number, iterations, True)
        if not np.isfinite(residual) or number == options.passes:
            break
        if linear is None or linear.lag != stage.lag or residual > LEAST_GAIN * last:
            linear = _linear(problem, moment, stage.lag, linear)
        last = residual
        ties, room_tie = _ties(problem, stage, moment, room_left)
        solution = solve_change(linear.operator, linear.coupling, linear.preconditioner, left, options, ties)
        iterations += solution.iterations
        if not solution.residual_history[-1] < 1.0:
            break
        state = advance(moment.system, moment.state, left, linear.coupling, solution.x)
        check_finite(moment.system, state, number + 1)
        if room_tie is not None and room is not None:
            room = room + room_tie.change(solution.x.reshape(-1))
    return Settled(moment, None, number, iterations, False)


def _left_over(problem: MarchProblem, stage: ImplicitStage, moment: Moment) -> tuple[Flows, float]:
    """What is left over in cells, zones and room with their stored heat."""
    here, base, storage = moment.state, stage.begin.state, problem.storage
    cells = moment.flows.cells + storage.cells / stage.lag * (here.temperature - base.temperature) - stage.cells
    zones = moment.flows.zones + storage.zones / stage.lag * (here.air - base.air) - stage.zones
    node, room = problem.drivers.room, 0.0
    if isinstance(node, RoomNode):
        risen = float(moment.room) - float(stage.begin.room)  # type: ignore[arg-type]
        room = node.capacity / stage.lag * risen - stage.room - moment.room_flow
    return replace(moment.flows, cells=cells, zones=zones), room


def _scale(problem: MarchProblem, stage: ImplicitStage, moment: Moment) -> float:
    """Heat that moves [W]: what comes in, or what is stored, whichever is more."""
    rise = np.abs(moment.state.temperature - stage.begin.state.temperature)
    stored = float(problem.storage.cells @ rise) / stage.lag
    return max(moment.flows.balance.heat_in, stored, problem.options.least_heat)


def _linear(problem: MarchProblem, moment: Moment, lag: float, last: Linear | None) -> Linear:
    storage = problem.storage
    coupling = linearise(moment.system, moment.flows, storage.zones / lag)
    operator = tangent(moment.system, moment.flows, storage.cells / lag)
    kept = None if last is None else last.preconditioner
    return Linear(lag, coupling, operator, precondition(operator, coupling, kept))


def _ties(
    problem: MarchProblem, stage: ImplicitStage, moment: Moment, room_left: float
) -> tuple[tuple[Tie, ...], Tie | None]:
    """The room node and a source of stated heat as lumped unknowns, and the room's tie alone."""
    drivers, ties, room = problem.drivers, [], None
    if isinstance(drivers.room, RoomNode):
        weight = np.zeros(len(moment.state.temperature))
        for surface, heat in zip(moment.system.surfaces, moment.flows.surfaces, strict=True):
            if surface.path == drivers.room_path:
                np.add.at(weight, surface.cell, heat.slope)
        own = drivers.room.capacity / stage.lag + drivers.room.loss
        room = Tie(weight, own + float(weight.sum()), room_left)
        ties.append(room)
    if gives_stated_heat(drivers, replace(stage.now, room=moment.room), moment.flows.waters):
        weight = np.zeros(len(moment.state.temperature))
        for run, water in zip(moment.system.runs, moment.flows.waters, strict=True):
            weight[run.cell] += water.conductance
        ties.append(Tie(weight, float(weight.sum()), 0.0))
    return tuple(ties), room


def _error(problem: MarchProblem, moments: tuple[Moment, ...], length: float, linear: Linear | None) -> float:
    """Estimated error of a step [K]: root mean square over the cells by their capacity, or the room's if larger."""
    factors = [b - c for b, c in zip(WEIGHTS, THIRD_ORDER, strict=True)]
    heat = -length * sum(f * m.flows.cells for f, m in zip(factors, moments, strict=True))
    capacity, lag = problem.storage.cells, DIAGONAL * length
    rate = np.where(capacity > 0.0, heat, 0.0) / lag
    if linear is None:
        wrong = rate * lag / np.maximum(capacity, 1e-300)
    else:
        wrong = linear.preconditioner.cycle(rate.reshape(problem.system.shape)).reshape(-1)
    cells = math.sqrt(float(capacity @ wrong**2) / float(capacity.sum()))
    node = problem.drivers.room
    if not isinstance(node, RoomNode):
        return cells
    room = length * sum(f * m.room_flow for f, m in zip(factors, moments, strict=True))
    return max(cells, abs(room) / (node.capacity + lag * node.loss))

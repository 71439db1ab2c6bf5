"""Steady temperatures: an outer Newton-like iteration round a multigrid-preconditioned linear solve.

Each pass evaluates every flow exactly at the present temperatures, sums what is left over in each cell, zone and
patch, linearises the laws and solves for the change. Water temperatures follow from the tubes' last temperatures;
their influence back is small and runs downstream only, so the passes converge quickly; `mixing` sees where they lead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from sim.case.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from sim.machine.brief import Brief
from sim.solver.balance import Balance
from sim.solver.coupling import Coupling
from sim.solver.flows import Flows, evaluate
from sim.solver.mixing import Mixer
from sim.solver.multigrid import KeptHierarchy
from sim.solver.newton import (
    DivergedError,
    advance,
    carry,
    check_finite,
    linearise,
    precondition,
    solve_change,
    tangent,
)
from sim.solver.state import State
from sim.solver.stencil import StencilOperator
from sim.solver.system import System

__all__ = [
    "DivergedError",
    "Flows",
    "Listener",
    "Pass",
    "Solution",
    "State",
    "SteadyOptions",
    "evaluate",
    "first_guess",
    "solve_steady",
]

Array = NDArray[np.float64]


REFRESH = 0.5
"""The cavity is linearised anew while cell temperatures change by more than this in a pass [K]."""

LEAST_GAIN = 0.2
"""And whenever a pass has left more than this share of the residual before it."""


MOST_ROUND_OFF = 1e-5
"""Residual that is never taken for round-off, however stiff the cells."""


@dataclass(frozen=True, slots=True)
class SteadyOptions:
    """When to stop: Σ|residual| and |in − out| as shares of the heat supplied, and the most passes.

    A residual that temperatures as doubles cannot make smaller counts as small, up to `MOST_ROUND_OFF`.

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


@dataclass(frozen=True, slots=True, repr=False)
class Solution(Brief):
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
    kept: KeptHierarchy | None = None,
) -> Solution:
    """Steady temperatures of a system.

    Parameters
    ----------
    listener : called with each Pass.
    start : state to begin from, of the same system shape; None begins from a guess.
    kept : what solves of the same cells and conductances pass on to each other; it does not change what is found.

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
    check_finite(system, state, 0)
    history: list[Pass] = []
    kept = kept or KeptHierarchy()
    coupling: Coupling | None = None
    mixer = Mixer()
    flows, change, iterations, reason = evaluate(system, state), np.inf, 0, "pass limit"
    least = 0.0
    for number in range(options.passes + 1):
        history.append(_record(number, flows, change, iterations, perf_counter() - began))
        if listener:
            listener(history[-1])
        if flows.residual <= max(options.residual, least) and flows.balance.residual <= options.imbalance:
            reason = "converged"
            break
        if number == options.passes:
            break
        if coupling is None or change > REFRESH or _slow(history):
            coupling = linearise(system, flows)
        operator = tangent(system, flows)
        least = min(_round_off(operator, state, flows), MOST_ROUND_OFF)
        kept.multigrid = precondition(operator, coupling, kept.multigrid)
        linear = solve_change(operator, coupling, kept.multigrid, flows, options)
        if not linear.residual_history[-1] < 1.0:
            reason = f"linear solver: {linear.stop_reason}"
            break
        state = mixer.mixed(state, advance(system, state, flows, coupling, linear.x))
        change = float(np.abs(linear.x).max())
        check_finite(system, state, number + 1)
        flows, iterations = evaluate(system, state), linear.iterations
        state = carry(state, flows)
    return Solution(system, state, flows, tuple(history), reason, {"solve": perf_counter() - began})


def _round_off(operator: StencilOperator, state: State, flows: Flows) -> float:
    """Σ|residual| that rounding of the temperatures alone may leave, as a share of the heat supplied.

    Half a unit in the last place of the warmest, through all conductances of every cell.
    """
    place = 0.5 * float(np.spacing(np.abs(state.temperature).max()))
    return place * float(operator.diagonal().sum()) / max(flows.balance.heat_in, 1e-9)


def _slow(history: list[Pass]) -> bool:
    """Whether the last pass gained too little for its linearisation to serve again."""
    return history[-1].residual > LEAST_GAIN * history[-2].residual


def first_guess(system: System) -> State:
    """Everything at the mean of the reservoirs, tubes at their water."""
    known = system.reservoirs()
    middle = float(np.mean(known))
    temperature = np.full(int(np.prod(system.shape)), middle)
    for term in system.terms:
        term.begin(temperature)
    cavity = system.cavity
    faces = len(cavity.walls.area) if cavity else 0
    patches = len(cavity.patches.emitting_area) if cavity else 0
    return State(
        temperature,
        np.full(cavity.zone_count if cavity else 0, middle),
        np.full(patches, STEFAN_BOLTZMANN * middle**4),
        cavity.feet.of(temperature) if cavity else np.empty(faces),
    )


def _record(number: int, flows: Flows, change: float, iterations: int, seconds: float) -> Pass:
    return Pass(
        number, flows.residual, flows.balance.residual, change, iterations, flows.balance.heat_in, seconds
    )

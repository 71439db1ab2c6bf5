"""One pass of a Newton-like iteration: the laws linearised at a state, and the change that they ask for.

Steady solves and steps in time share it. Cells go through multigrid-preconditioned Krylov iterations; zone air and
patch irradiation are eliminated (`coupling`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from sim.solver.coupling import Coupling, linearise_cavity
from sim.solver.flows import Flows
from sim.solver.linear import LinearSolution, solve_linear
from sim.solver.multigrid import Multigrid, build_multigrid
from sim.solver.state import State
from sim.solver.stencil import StencilOperator
from sim.solver.system import System
from sim.solver.unsymmetric import solve_unsymmetric

Array = NDArray[np.float64]


class DivergedError(Exception):
    """Temperatures stopped being numbers; the message names field, place and pass.

    `part` is "cell", "zone" or "patch", `number` which of them; `sim.solver.worst.placed` puts that into mm and words.
    """

    def __init__(self, message: str, part: str = "cell", number: int = 0) -> None:
        super().__init__(message)
        self.part, self.number = part, number


@dataclass(frozen=True, slots=True)
class Tie:
    """One lumped unknown eliminated from the cells' equations, such as a room or a source of constant heat.

    `weight` w (cells,) [W/K] ties it to cells, `stiffness` D [W/K] is its own diagonal, `left` F [W] what is left
    over in it: D δ − w·δT = −F, and the cells gain w δ.
    """

    weight: Array
    stiffness: float
    left: float

    def change(self, temperature: Array) -> float:
        """Its change [K] that belongs to a change of cell temperatures (cells,)."""
        return (float(self.weight @ temperature) - self.left) / self.stiffness

    def apply(self, temperature: Array) -> Array:
        """Heat that leaves the cells through it per change of their temperatures (cells,) [W]."""
        return -self.weight * (float(self.weight @ temperature) / self.stiffness)

    def source(self) -> Array:
        """Heat into the cells that follows from what is left over in it (cells,) [W]."""
        return -self.weight * (self.left / self.stiffness)


def linearise(system: System, flows: Flows, storage: Array | None = None) -> Coupling | None:
    """The cavity linearised at the present flows; None without a cavity.

    `storage` is what each zone's air takes up per kelvin [W/K] (zones,); None in steady state.
    """
    if system.cavity is None or flows.walls is None:
        return None
    return linearise_cavity(system.cavity, flows.walls, flows.opening_slope, storage)


def tangent(system: System, flows: Flows, storage: Array | None = None) -> StencilOperator:
    """Conduction with the slopes of the other terms on the diagonal; idle cells hold their value.

    `storage` is what each cell takes up per kelvin [W/K], flat (cells,); None in steady state.
    """
    conduction = system.conduction
    sink = np.zeros(conduction.active.size) if storage is None else storage.copy()
    for term, heat in zip(system.terms, flows.heats, strict=True):
        term.add_slope(heat, sink)
    sink[~conduction.active.reshape(-1)] = 1.0
    return conduction.operator(sink)


def precondition(operator: StencilOperator, coupling: Coupling | None, last: Multigrid | None) -> Multigrid:
    """Multigrid on the cells with zones and patches held; its hierarchy is kept from pass to pass."""
    sink = operator.sink
    if coupling is not None:
        sink = sink + coupling.sink().reshape(sink.shape)
    return build_multigrid(operator.with_sink(sink)) if last is None else last.with_sink(sink)


class LinearOptions(Protocol):
    """How closely one linear system is solved."""

    @property
    def linear_tolerance(self) -> float:
        """The reduction of the residual that is asked for [-]."""

    @property
    def linear_iterations(self) -> int:
        """Its limit."""


def solve_change(
    operator: StencilOperator,
    coupling: Coupling | None,
    preconditioner: Multigrid,
    flows: Flows,
    options: LinearOptions,
    ties: tuple[Tie, ...] = (),
) -> LinearSolution:
    """The change of cell temperatures [K] that removes what the flows leave over."""
    source = -flows.cells
    if coupling is not None:
        source = source + coupling.source(flows.zones, flows.patches)
    for tie in ties:
        source = source + tie.source()
    shape = operator.shape

    def apply(change: Array) -> Array:
        """What the flows lose [W] with a change of all cell temperatures [K] (nx, ny, nz)."""
        flow = operator.apply(change)
        if coupling is not None:
            flow = flow + coupling.apply(change.reshape(-1)).reshape(shape)
        for tie in ties:
            flow = flow + tie.apply(change.reshape(-1)).reshape(shape)
        return flow

    right, tolerance, most = source.reshape(shape), options.linear_tolerance, options.linear_iterations
    if coupling is None:
        return solve_linear(apply, right, None, preconditioner, tolerance, most)
    return solve_unsymmetric(apply, right, preconditioner, tolerance, most)


def advance(system: System, state: State, flows: Flows, coupling: Coupling | None, change: Array) -> State:
    """The state after a change of cell temperatures (cells,) [K], with the zones and patches that belong to it."""
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


def carry(state: State, flows: Flows) -> State:
    """Keep wall temperatures and delivered heat as the next pass's start."""
    wall = flows.walls.temperature if flows.walls is not None else state.wall
    return replace(state, wall=wall, delivered=sum(flows.balance.delivered.values()))


def check_finite(system: System, state: State, passes: int) -> None:
    """Raise with field, place and pass as soon as a value is not a number."""
    fields = {
        "temperature": ("cell", system.shape),
        "air": ("zone", state.air.shape),
        "irradiation": ("patch", state.irradiation.shape),
    }
    for name, (part, shape) in fields.items():
        bad = np.flatnonzero(~np.isfinite(getattr(state, name)))
        if len(bad):
            place = ", ".join(str(i) for i in np.unravel_index(bad[0], shape))
            raise DivergedError(
                f"{name} is not a number at index ({place}) after {passes} passes", part, int(bad[0])
            )

"""Cavity air and solids in time, both with true clocks: nothing is hurried, the solids store what they store.

    start               everything at one temperature, air at rest
      interval of flow    explicit steps; walls held at what they will be in its middle, their heat flows averaged
      interval of solids  implicit, with exactly that heat: what the air gives up the solids receive
    until the end

An interval is short against the time in which the quickest cell behind a wall follows the air, so that holding the
walls meanwhile does not matter. What the air holds is not in the balance of the solids; the path "cavity air settling"
is what it takes up.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import Limits, march_on
from sim.airflow.domain import Domain
from sim.airflow.flow import Flow, resting_flow
from sim.airflow.step import Stepper, build_stepper
from sim.airflow.stepping import FlowStepper, Look
from sim.airflow.subgrid import VREMAN
from sim.airflow.walls import find_walls
from sim.bay.cells import Cells
from sim.machine.threads import single_threaded_blas
from sim.resolved.contact import FaceOverlaps, find_contact
from sim.resolved.domain import build_air_domain
from sim.resolved.held import hold_air
from sim.resolved.settings import AirSettings
from sim.solver.begin import held_at_start, with_radiation
from sim.solver.drive import Drivers
from sim.solver.march import History, MarchOptions, Start, Step, Watch, march, uniform_state
from sim.solver.stages import Moment
from sim.solver.storage import Storage
from sim.solver.system import System

Array = NDArray[np.float64]

SHARE = 0.4
"""Interval over the shortest time in which a cell behind a wall follows the air in front of it [-]."""

LEAST_INTERVALS = 200
"""Intervals in a run, however slow its solids are: the walls' temperatures follow with a lag of half of one."""

ANSWER = 1e-3
"""How the heat of a held face answers to its own temperature within an interval [W/m²K]: next to nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class AirInTime:
    """The air at the end: its grid, the flow then and its mean since `average_from`, and how often both sides met.

    `interval` [s] is the longest between two meetings, `stored` [J] what the air took up since the start.
    """

    domain: Domain
    mean: Flow
    now: Flow
    meetings: int
    interval: float
    stored: float


@dataclass(slots=True, eq=False)
class _Means:
    """Sums of the flow's fields since a time [s], and the time that they hold [s]."""

    since: float
    sums: list[Array]
    duration: float = 0.0

    def add(self, end: float, span: float, state: Any) -> None:
        """Add fields that held for a span that ended at a time."""
        if end > self.since:
            self.duration += span
            for total, now in zip(self.sums, state, strict=True):
                total += span * now

    def flow(self, stepper: Stepper) -> Flow:
        """The mean, or the last flow where nothing was averaged."""
        if self.duration <= 0.0:
            return stepper.flow("time")
        u, v, w, t = (total / self.duration for total in self.sums)
        return Flow((u, v, w), t, stepper.time, stepper.steps, "mean")


@dataclass(slots=True, eq=False)
class _Course:
    """What goes on from interval to interval."""

    system: System
    storage: Storage
    stepper: Stepper
    contact: FaceOverlaps
    means: _Means
    interval: float
    steps: list[Step] = field(default_factory=list)
    watched: list[Mapping[str, Any]] = field(default_factory=list)
    rejected: int = 0
    stored: float = 0.0


@dataclass(frozen=True, slots=True)
class AirStart:
    """How air in time begins, and what is averaged: temperatures of solids and air [K], time [s]."""

    solids: float
    air: float
    average_from: float = np.inf


def march_with_air(
    parts: tuple[System, Cells, Storage],
    settings: AirSettings,
    start: AirStart,
    until: float,
    drivers: Drivers,
    options: MarchOptions,
    listener: Callable[[Moment, Step], None] | None = None,
    watch: Watch | None = None,
) -> tuple[History, AirInTime]:
    """Follow solids and the air among them from one temperature on.

    Parameters
    ----------
    parts : the solids' equations, their mesh and what they store.
    until : time of the end [s].
    options : how exactly the solids are solved, and times on which an interval ends.
    listener, watch : as `sim.solver.march.march` has them, at every interval.

    Raises
    ------
    FlowError : the flow ran into values that mean nothing.
    MarchError, BalanceError : as `sim.solver.march.march`.
    """
    system, cells, storage = parts
    began = perf_counter()
    course = _lay_out(system, cells, storage, settings, start, until)
    resting = _with(course, np.zeros(course.stepper.walls.count), None)
    state = held_at_start(uniform_state(resting, start.solids), system, drivers.ambients)
    _warm_walls(course, state.wall)
    while course.stepper.time < until * (1.0 - 1e-12):
        here = course.stepper.time
        goal = _next_meeting(here, course.interval, (*options.stops, until))
        heat = _flow(course, goal)
        piece = _solids(course, heat, Start(state, here), goal, drivers, options, watch)
        before, state = state.wall, replace(piece.end.state, delivered=None)
        _warm_walls(course, state.wall + 0.5 * (state.wall - before))
        _keep(course, piece, heat)
        if listener:
            listener(piece.end, piece.steps[-1])
    history = History(
        tuple(course.steps), tuple(course.watched), piece.end, course.rejected, perf_counter() - began
    )
    stepper = course.stepper
    air = AirInTime(
        stepper.domain, course.means.flow(stepper), stepper.flow("time"), len(course.steps), course.interval,
        course.stored,
    )  # fmt: skip
    return history, air


def _next_meeting(here: float, interval: float, stops: tuple[float, ...]) -> float:
    """When solids and air meet next [s]: after an interval, or at a stop before or hardly after that.

    Examples
    --------
    >>> _next_meeting(1.9, 0.0999999999, (2.0, 4.0)), _next_meeting(2.0, 0.1, (2.0, 4.0))
    (2.0, 2.1)
    """
    ahead = min(stop for stop in stops if stop > here * (1.0 + 1e-12))
    return ahead if here + interval > ahead - 1e-9 * max(stops) else here + interval


def _lay_out(
    system: System, cells: Cells, storage: Storage, settings: AirSettings, start: AirStart, until: float
) -> _Course:
    """The air's grid at rest, its contact with the solids, and how often they meet."""
    assert system.cavity is not None
    domain = build_air_domain(cells, settings.sizes, settings.slip)
    walls = find_walls(domain)
    contact = find_contact(cells, system.cavity, domain, walls)
    air = settings.air(0.5 * (start.solids + start.air))
    surface = contact.to_air(np.full(len(system.cavity.body), start.solids))
    eddies = VREMAN if settings.subgrid else 0.0
    at_rest = resting_flow(domain, np.full(domain.shape, start.air))
    with single_threaded_blas():
        stepper = build_stepper(domain, air, surface, at_rest, settings.scheme, eddies, every_stage=True)
    film = contact.mean_on_solid(air.conductivity / walls.distance)
    interval = min(SHARE * quickest(system, storage, contact, film), until / LEAST_INTERVALS)
    means = _Means(start.average_from, [np.zeros_like(field) for field in stepper.state])
    return _Course(system, storage, stepper, contact, means, interval)


def quickest(system: System, storage: Storage, contact: FaceOverlaps, film: Array) -> float:
    """Shortest time in which a cell behind a wall follows the air [s]: what it stores over what the film passes.

    Cells that store nothing are held at a temperature, and do not count.
    """
    cavity = system.cavity
    assert cavity is not None
    behind = np.ravel_multi_index(tuple(cavity.cell.T.astype(np.intp)), system.shape)
    passes = np.bincount(behind, film * contact.on_solid, len(storage.cells))
    moving = (passes > 0.0) & (storage.cells > 0.0)
    return float((storage.cells[moving] / passes[moving]).min()) if moving.any() else np.inf


def _with(course: _Course, heat: Array, wall: Array | None) -> System:
    """The solids with the air's heat [W] at their walls, which were at some temperatures [K]."""
    cavity = course.system.cavity
    assert cavity is not None
    faces = len(cavity.body)
    wall = np.full(faces, 300.0) if wall is None else wall
    return hold_air(course.system, course.contact, np.full(faces, ANSWER), heat, wall)


def _flow(course: _Course, goal: float) -> Array:
    """Follow the flow to a time [s] with held walls; mean heat from every wall face into the air [W].

    Faces share it as the trapezoids between steps say; its sum is exactly what the air then holds more.
    """
    stepper, given = course.stepper, np.zeros(course.stepper.walls.count)
    began = last = stepper.time
    flow, held = stepper.heat_flow(), _heat_held(stepper)

    def sample(look: Look, stepper: FlowStepper) -> None:
        nonlocal last, flow
        before, span, last, flow = flow, look.time - last, look.time, stepper.heat_flow()
        given[:] += 0.5 * span * (before + flow)
        course.means.add(look.time, span, stepper.state)

    with single_threaded_blas():
        march_on(stepper, Limits(goal, 0.0, stepper.steps + 10**9, None, 1), sample)
    stepper.time = goal
    amount = np.abs(given)
    missing = _heat_held(stepper) - held - float(given.sum())
    given += missing * amount / max(float(amount.sum()), 1e-300)
    return given / (goal - began)


def _heat_held(stepper: Stepper) -> float:
    """Heat that the air holds beyond that at 0 K [J]."""
    inside, domain = stepper.domain.air, stepper.domain
    return stepper.air.heat_capacity * float(np.sum((stepper.state.temperature * domain.volumes)[inside]))


def _solids(
    course: _Course, heat: Array, start: Start, goal: float, drivers: Drivers, options: MarchOptions,
    watch: Callable[[Moment], Mapping[str, Any]] | None,
) -> History:  # fmt: skip
    """One step of the solids with the heat of an interval."""
    system = _with(course, heat, start.state.wall)
    start = replace(start, state=with_radiation(start.state, system))
    one = replace(options, fixed_step=goal - start.time, stops=())
    return march(system, course.storage, start, goal, drivers, one, None, watch)


def _warm_walls(course: _Course, wall: Array) -> None:
    """Give the flow the temperatures [K] that its walls will have in the middle of the next interval."""
    course.stepper.set_wall_temperature(course.contact.to_air(wall))


def _keep(course: _Course, piece: History, heat: Array) -> None:
    """Note what an interval brought."""
    course.watched += piece.watched if not course.steps else piece.watched[1:]
    course.steps += piece.steps
    course.rejected += piece.rejected
    course.stored += float(heat.sum()) * sum(step.length for step in piece.steps)



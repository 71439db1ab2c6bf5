"""Temperatures in time: steps of adapted length that end exactly on every event and close their energy audit.

Events are the jumps and bends of the drivers' signals, and the moments at which a thermostat changes its mind. The
first are known beforehand; the others are found by repeating the step with the length at which the sensor just
reaches its limit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case.constants import STEFAN_BOLTZMANN
from sim.machine.brief import Brief
from sim.machine.threads import single_threaded_blas
from sim.solver.balance import TOLERANCE, BalanceError
from sim.solver.drive import Drivers, Now, RoomNode
from sim.solver.signals import earliest
from sim.solver.stages import Linear, MarchProblem, Moment, TriedStep, try_step
from sim.solver.state import State
from sim.solver.storage import Storage
from sim.solver.switching import MarchError, after_jump, changed, excesses, up_to_switch
from sim.solver.system import System

Array = NDArray[np.float64]

SHARPER, LONGER, SHORTER, SAME = 0.85, 4.0, 0.2, 1.5
"""Aim at this share of the allowed error; bounds on the growth of a step; a growth below SAME is not worth it."""

REST = 16
"""Steps between two rests of a march that can be taken up again: there it forgets what it only keeps for speed (the
last linearisation, the moment before), as a march that starts there has nothing of it."""


@dataclass(frozen=True, slots=True)
class MarchOptions:
    """How exactly to march.

    Attributes
    ----------
    tolerance : error allowed in a step, root mean square over the cells by their heat capacity [K].
    first_step, longest_step, shortest_step : [s]; the first is used after every event.
    fixed_step : step [s] instead of adapted ones; events are still hit.
    stops : times [s] on which a step ends besides events.
    residual, imbalance : Σ|left over| and |Σ left over| in a stage as shares of the heat that moves.
    least_heat : heat below which shares are taken of this instead [W].
    switch_tolerance : how closely a thermostat's limit is met [K].
    passes, linear_tolerance, linear_iterations : limits of one stage's iteration.
    keep : told every REST steps what a later march can start from, and then goes on in exactly the same way.
    """

    tolerance: float = 0.02
    first_step: float = 10.0
    longest_step: float = 3600.0
    shortest_step: float = 1e-6
    fixed_step: float | None = None
    stops: tuple[float, ...] = ()
    residual: float = 1e-6
    imbalance: float = 4e-7
    least_heat: float = 1e-3
    switch_tolerance: float = 1e-6
    passes: int = 12
    linear_tolerance: float = 1e-2
    linear_iterations: int = 100
    keep: Callable[[Start], None] | None = None


@dataclass(frozen=True, slots=True)
class Start:
    """Where a march begins: state, time [s], room node [K], and the first step [s] if known.

    `on` says of each thermostat whether it wants water to flow; by default all do.
    """

    state: State
    time: float = 0.0
    room: float | None = None
    on: tuple[bool, ...] | None = None
    step: float | None = None


@dataclass(frozen=True, slots=True, repr=False)
class Step(Brief):
    """One step: its end [s] and length [s], heat by path in it [J], and the work.

    `stored` is what cells and air took up, `room_stored` what the room node did, `residual` the audit: |in − out −
    stored| as a share of the heat that moved.
    """

    time: float
    length: float
    error: float
    supplied: Mapping[str, float]
    delivered: Mapping[str, float]
    stored: float
    room_stored: float
    residual: float
    passes: int
    iterations: int


@dataclass(frozen=True, slots=True, repr=False)
class History(Brief):
    """A march from its start to its end.

    `watched` holds what the caller watches at the start and after every step. `rejected` counts steps tried in vain.
    """

    steps: tuple[Step, ...]
    watched: tuple[Mapping[str, Any], ...]
    end: Moment
    rejected: int
    seconds: float
    begin: float = 0.0

    @property
    def time(self) -> Array:
        """Times at which things were watched [s]."""
        return np.array([self.begin, *(step.time for step in self.steps)])

    def series(self, name: str) -> Array:
        """One watched quantity at `time` (times,), in its own unit."""
        return np.array([moment[name] for moment in self.watched])

    def energy(self, kind: str, path: str) -> Array:
        """Heat "supplied" or "delivered" by a path since the start, at `time` [J]."""
        return np.cumsum([0.0, *(getattr(step, kind).get(path, 0.0) for step in self.steps)])

    def stored(self) -> Array:
        """Heat taken up by cells and air since the start, at `time` [J]."""
        return np.cumsum([0.0, *(step.stored for step in self.steps)])

    @property
    def residual(self) -> float:
        """The worst audit of all steps [-], see `Step`."""
        return max((step.residual for step in self.steps), default=0.0)

    def __str__(self) -> str:
        hours = (self.end.time - self.begin) / 3600.0
        passes = sum(step.passes for step in self.steps)
        return (
            f"History: {hours:.4g} h in {len(self.steps)} steps, {self.rejected} tried in vain\n"
            f"├── {passes} passes, {sum(s.iterations for s in self.steps)} linear iterations, {self.seconds:.2f} s\n"
            f"└── worst audit of a step {self.residual:.1e}"
        )


Listener = Callable[[Moment, Step], None]
Watch = Callable[[Moment], Mapping[str, object]]


def uniform_state(system: System, temperature: float) -> State:
    """Everything at one temperature [K]."""
    cavity = system.cavity
    faces, patches = (len(cavity.walls.area), len(cavity.patches.emitting_area)) if cavity else (0, 0)
    return State(
        np.full(int(np.prod(system.shape)), temperature),
        np.full(cavity.zone_count if cavity else 0, temperature),
        np.full(patches, STEFAN_BOLTZMANN * temperature**4),
        np.full(faces, temperature),
    )


@dataclass(slots=True)
class _Progress:
    """What changes from step to step."""

    here: Moment
    before: Moment | None
    length: float
    linear: Linear | None = None
    steps: list[Step] = field(default_factory=list)
    watched: list[Mapping[str, Any]] = field(default_factory=list)
    rejected: int = 0


@single_threaded_blas()
def march(
    system: System,
    storage: Storage,
    start: Start,
    until: float,
    drivers: Drivers | None = None,
    options: MarchOptions | None = None,
    listener: Listener | None = None,
    watch: Watch | None = None,
) -> History:
    """Follow a system in time.

    Parameters
    ----------
    system : whose water has a stated flow (`Water.with_flow`).
    until : time of the end [s].
    listener : called with the moment after each step, and the step.
    watch : called with the moment at the start and after each step; what it returns is kept.

    Returns
    -------
    History, every step of which closes its energy audit.

    Raises
    ------
    ValueError
        A run's flow would have to follow from a circuit's drop, which holds in steady state only.
    MarchError
        Not even the shortest step could be solved.
    BalanceError
        The energy audit of a step does not close to 1e-6 of the heat that moved in it.
    """
    options, drivers = options or MarchOptions(), drivers or Drivers()
    if any(run.feed is not None and run.feed.flow is None for run in system.runs):
        raise ValueError("heat flow in time needs a stated flow of water, not the drop of a circuit")
    began, problem = perf_counter(), MarchProblem(system, storage, drivers, options)
    here = _begin(problem, start)
    progress = _Progress(here, None, start.step or options.fixed_step or options.first_step)
    watch = watch or _nothing
    progress.watched.append(watch(here))
    while progress.here.time < until:
        _advance(problem, progress, until)
        progress.watched.append(watch(progress.here))
        if listener:
            listener(progress.here, progress.steps[-1])
        _after_event(problem, progress, until)
        if options.keep is not None and len(progress.steps) % REST == 0:
            options.keep(_rest(problem, progress))
    kept = tuple(progress.steps), tuple(progress.watched)
    return History(*kept, progress.here, progress.rejected, perf_counter() - began, start.time)


def _nothing(_: Moment) -> Mapping[str, Any]:
    return {}


def _begin(problem: MarchProblem, start: Start) -> Moment:
    """The moment of a start."""
    on = (True,) * len(problem.drivers.thermostats) if start.on is None else start.on
    return after_jump(problem, start.state, Now(start.time, False, start.room, on))


def _rest(problem: MarchProblem, progress: _Progress) -> Start:
    """Go on from here as from a start, which is returned."""
    here = progress.here
    start = Start(replace(here.state, delivered=None), here.time, here.room, here.on, progress.length)
    progress.here, progress.before, progress.linear = _begin(problem, start), None, None
    return start


def _advance(problem: MarchProblem, progress: _Progress, until: float) -> None:
    """One accepted step."""
    options, here = problem.options, progress.here
    goal = min([until, *(stop for stop in options.stops if stop > here.time)])
    goal = earliest(problem.drivers.signals(), here.time, goal)
    while True:
        length = _length(options, progress.length, goal - here.time)
        trial = try_step(problem, here, length, progress.before, progress.linear)
        growth = _growth(options, trial)
        if growth >= 1.0:
            break
        progress.rejected += 1
        progress.length = length * growth
        if progress.length < options.shortest_step:
            raise MarchError(f"no step could be solved at {here.time:.6g} s, the last one tried took {length:.2g} s")
    if options.fixed_step is None and (growth > SAME or length < progress.length):
        longer = length * min(growth, LONGER)
        progress.length = longer if length == progress.length else max(longer, progress.length)
    trial = up_to_switch(problem, progress.before, trial)
    _accept(problem, progress, trial, goal if trial.length == goal - here.time else None)


def _length(options: MarchOptions, wanted: float, room: float) -> float:
    """Length of the next step: not beyond the next event, and without a sliver before it."""
    length = min(wanted, options.longest_step)
    if length >= room * (1.0 - 1e-9):
        return room
    return length if options.fixed_step or length < 0.7 * room else 0.5 * room


def _growth(options: MarchOptions, trial: TriedStep) -> float:
    """By how much the next step may be longer; below 1 the step has to be tried again."""
    if not trial.solved:
        return SHORTER
    if options.fixed_step:
        return 1.0
    wanted = (options.tolerance / max(trial.error, 1e-12)) ** (1.0 / 3.0)
    return max(SHARPER * wanted, 1.0 if wanted >= 1.0 else SHORTER)


def _accept(problem: MarchProblem, progress: _Progress, trial: TriedStep, goal: float | None) -> None:
    end = trial.moments[-1] if goal is None else replace(trial.moments[-1], time=goal)
    step = _step(problem, replace(trial, moments=(*trial.moments[:2], end)))
    progress.before, progress.here, progress.linear = progress.here, end, trial.linear
    progress.steps.append(step)


def _energies(
    trial: TriedStep, paths: Iterable[str], heats: Callable[[Moment], Mapping[str, float]]
) -> dict[str, float]:
    """Energy through each path over a step [J]."""

    def energy(path: str) -> float:
        return trial.length * trial.average(lambda moment: heats(moment)[path])

    return {path: energy(path) for path in paths}


def _step(problem: MarchProblem, trial: TriedStep) -> Step:
    """The audited record of a step."""
    begin, _, end = trial.moments
    supplied = _energies(trial, begin.flows.balance.supplied, lambda moment: moment.flows.balance.supplied)
    delivered = _energies(trial, begin.flows.balance.delivered, lambda moment: moment.flows.balance.delivered)
    rise, air = end.state.temperature - begin.state.temperature, end.state.air - begin.state.air
    parts = problem.storage.cells * rise
    stored = float(parts.sum()) + float(problem.storage.zones @ air)
    moved = max(sum(map(abs, supplied.values())), sum(map(abs, delivered.values())), float(np.abs(parts).sum()))
    moved = max(moved, problem.options.least_heat * trial.length)
    room_stored, room_left = _room_audit(problem, trial)
    left = abs(sum(supplied.values()) - sum(delivered.values()) - stored)
    residual = max(left, room_left) / moved
    energy = supplied, delivered, stored, room_stored, residual
    step = Step(end.time, trial.length, trial.error, *energy, trial.passes, trial.iterations)
    if not residual <= TOLERANCE:
        raise BalanceError(f"the energy audit of the step to {end.time:.6g} s does not close: {residual:.2e}\n{step}")
    return step


def _room_audit(problem: MarchProblem, trial: TriedStep) -> tuple[float, float]:
    """Heat that the room node took up in a step, and what its balance leaves over [J]."""
    node, (begin, _, end) = problem.drivers.room, trial.moments
    if not isinstance(node, RoomNode):
        return 0.0, 0.0
    stored = node.capacity * (float(end.room) - float(begin.room))  # type: ignore[arg-type]
    return stored, abs(stored - trial.length * trial.average(lambda moment: moment.room_flow))


def _after_event(problem: MarchProblem, progress: _Progress, until: float) -> None:
    """Begin anew behind a jump or a switch; behind a bend only the first guess has to."""
    here = progress.here
    on = changed(here, excesses(problem, here, arriving=True), problem.options.switch_tolerance)
    jumped, bent = _at_break(problem, here.time)
    if here.time >= until or not (on != here.on or bent):
        return
    progress.before = None
    if jumped or on != here.on:
        progress.here = after_jump(problem, here.state, Now(here.time, False, here.room, on))
        progress.length = problem.options.fixed_step or problem.options.first_step


def _at_break(problem: MarchProblem, time: float) -> tuple[bool, bool]:
    """Whether a signal jumps at this very time, and whether one jumps or bends."""
    just_before = float(np.nextafter(time, -np.inf))
    here = [signal for signal in problem.drivers.signals() if signal.breaks(just_before, time)]
    return any(signal.value(time) != signal.value(time, arriving=True) for signal in here), bool(here)

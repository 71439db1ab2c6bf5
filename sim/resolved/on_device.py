"""One bay whose flow is followed on a device, its companion on larger cells beside it.

Both begin alike and neither from the other, so that they need not wait for each other: their flows are one batch, and
the solids of each answer in a thread of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from functools import partial
from time import perf_counter
from typing import Any, TypeAlias, TypeVar, TypeVarTuple

import numba

from sim.airflow.device.memory import check_memory, chunks_for
from sim.airflow.device.seam import Backend
from sim.airflow.device.tables import common_grid
from sim.airflow.device.warm import warm_up
from sim.airflow.domain import TooFewCellsError
from sim.bay.cells import Cells
from sim.machine.threads import single_threaded_blas
from sim.resolved.air import Companion, ResolvedAir, RoundListener
from sim.resolved.batch import BatchRun
from sim.resolved.companion import beside_companion, companion_settings, for_companion, is_coarser
from sim.resolved.remote import FlowStart, SolidsAnswer, SolidSide
from sim.resolved.settings import AirSettings
from sim.solver.steady import Solution, SteadyOptions
from sim.solver.system import System

Given = TypeVarTuple("Given")
Found = TypeVar("Found")

Bay: TypeAlias = "tuple[SolidSide, FlowStart, SteadyOptions | None]"
"""A bay's solids, its flow's start, and how its last solution is solved."""

Outcome = tuple[Solution, ResolvedAir]
"""What a bay ends in."""

Spoken: TypeAlias = "Sequence[RoundListener | None]"
"""Who hears of each bay's rounds."""


class Threads:
    """As many threads as pieces of work that go on side by side; each shares its loops between its part of the others.

    What a piece finds does not hang on what goes on beside it: its part is the same whether they are at work or not.
    """

    def __init__(self, count: int) -> None:
        self._all = numba.get_num_threads()
        self._part = max(self._all // count, 1)
        self._pool = ThreadPoolExecutor(count, thread_name_prefix="solids")

    def begin(self, with_all: bool, work: Callable[[*Given], Found], *given: *Given) -> Future[Found]:
        """Have a piece of work done, with a part of the threads or with all."""

        def done() -> Found:
            numba.set_num_threads(self._all if with_all else self._part)
            return work(*given)

        return self._pool.submit(done)

    def __enter__(self) -> Threads:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown()


class SolidsHere:
    """The solids' sides of bays in this process, each at work in a thread; the first is the one that is wanted."""

    def __init__(self, bays: Sequence[Bay], threads: Threads) -> None:
        self._bays, self._threads = bays, threads
        self._asked: dict[Future[Any], int] = {}

    def ask(self, bay: int, verb: str, *values: object) -> None:
        """Have a bay's side answer a round, or finish: then the first one has all threads."""
        given: tuple[Any, ...] = values  # whoever asks gives what that verb takes
        side, _, options = self._bays[bay]
        if verb == "answer":
            self._asked[self._threads.begin(False, side.answer, *given)] = bay
        else:
            self._asked[self._threads.begin(bay == 0, partial(side.finish, options=options), *given)] = bay

    def replies(self, wait: bool) -> list[tuple[int, object]]:
        """Replies that are ready; at least one when asked to wait. Raises what an answer ended in."""
        done = _ended(self._asked, wait)
        return [(self._asked.pop(work), work.result()) for work in done]


def _ended(asked: dict[Future[Any], int], waiting: bool) -> list[Future[Any]]:
    """Those that are done, in the order in which they were asked for."""
    if waiting and asked:
        wait(asked, return_when=FIRST_COMPLETED)
    return [work for work in asked if work.done()]


def resolve_on_device(
    backend: Backend,
    system: System,
    cells: Cells,
    settings: AirSettings,
    options: SteadyOptions | None = None,
    listener: RoundListener | None = None,
) -> Outcome:
    """`march.resolve_air` with the flow on a device, its companion on larger cells beside it.

    The listener hears of the companion's rounds only where the device does not hold both, so that it goes first.

    Raises
    ------
    FlowError : a flow ran into values that mean nothing.
    ValueError : the device does not hold the flow.
    """
    both = [settings, companion_settings(settings)] if settings.companion else [settings]
    with single_threaded_blas(), Threads(len(both)) as threads:
        sides = _lay_out(backend, system, cells, both, threads)
        bays = list(zip(sides, [side.start() for side in sides], (options, None), strict=False))
        if _fit(backend, [start for _, start, _ in bays]):
            found = _follow(backend, bays, threads, (listener, None))
        else:
            coarser = [_follow(backend, [bay], threads, (for_companion(listener),))[0] for bay in bays[1:]]
            found = [*_follow(backend, bays[:1], threads, (listener,)), *coarser]
    (solution, air), *others = found
    return solution, beside_companion(air, Companion(*others[0]) if others else None, settings)


def _lay_out(
    backend: Backend, system: System, cells: Cells, both: Sequence[AirSettings], threads: Threads
) -> list[SolidSide]:
    """The solids' sides of a bay and of its companion, where there can be one, while kernels are made ready."""
    laid = [threads.begin(False, SolidSide, system, cells, settings) for settings in both]
    warm_up(backend, both[0].subgrid)
    own = laid[0].result()
    try:
        larger = [work.result() for work in laid[1:]]
    except TooFewCellsError:
        return [own]
    domain = own.course.stepper.domain
    return [own, *(side for side in larger if is_coarser(side.course.stepper.domain, domain))]


def _fit(backend: Backend, starts: Sequence[FlowStart]) -> bool:
    """Whether the device holds all flows at once."""
    problems = [start.problem for start in starts]
    most = max(problem.influence.matrix.shape[0] for problem in problems)
    try:
        check_memory(backend, common_grid(problems, chunks_for(len(problems), most)), problems)
    except ValueError:
        return False
    return True


def _follow(backend: Backend, bays: Sequence[Bay], threads: Threads, spoken: Spoken) -> list[Outcome]:
    """What the bays of a batch end in; raises what one of them ended in instead."""
    began, found = perf_counter(), dict[int, Any]()

    def heard(bay: int, answer: SolidsAnswer) -> None:
        if listener := spoken[bay]:
            listener(answer.round, answer.evidence, perf_counter() - began)

    for bay, outcome in BatchRun([start for _, start, _ in bays], SolidsHere(bays, threads), backend, heard).follow():
        if isinstance(outcome, Exception):
            raise outcome
        found[bay] = outcome
    return [found[bay] for bay in range(len(bays))]

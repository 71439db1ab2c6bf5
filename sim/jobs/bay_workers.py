"""Processes that hold the solids of many bays and answer for them, one message after the other."""

from __future__ import annotations

import os
import pickle
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.connection import wait as ready
from multiprocessing.reduction import ForkingPickler
from typing import TYPE_CHECKING, Any, Protocol

from sim.machine.helpers import without_main

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sim.airflow.flow import Flow
    from sim.airflow.frames import Frames
    from sim.case.load import AnyCase
    from sim.resolved.batch import Solids
    from sim.resolved.remote import FlowStart, SolidsAnswer
    from sim.results.report import Report

    Array = NDArray[np.float64]

Harvest = Callable[..., object]
"""What is kept of a result, its only argument; a function of a module, so that it can be sent to a process."""


class HasReport(Protocol):
    """A solved case, of whatever kind."""

    @property
    def report(self) -> Report:
        """Its numbers."""
        ...


Solve = Callable[["AnyCase"], HasReport]
"""What solves a whole case; a function of a module."""

LOOPS = "NUMBA_NUM_THREADS"
ONE_THREAD = (LOOPS, "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


class ValueThenWork:
    """What a harvest may return: a value at once, and work that is done when nobody asks for anything."""

    def __init__(self, value: Any, work: Callable[[], object]) -> None:
        self.value, self.work = value, work


class LastReply:
    """The last reply of a bay: its result, or what was harvested of it."""

    def __init__(self, value: Any) -> None:
        self.value = value


def _solve_here(case: Any) -> Any:
    """A bay or blocks at rest."""
    from sim.run import solve

    return solve(case)


class BaySolids:
    """Solids' sides of some bays, in this process."""

    def __init__(self, harvest: Harvest | None = None, solve: Solve | None = None) -> None:
        self._harvest = harvest or (lambda result: result)
        self._solve = solve or _solve_here
        self._sides: dict[int, tuple[Any, Any]] = {}
        self._later: deque[Callable[[], object]] = deque()
        self._failed: Exception | None = None

    @property
    def busy(self) -> bool:
        """Whether there is work left that was put off."""
        return bool(self._later)

    def go_on(self) -> None:
        """Do one piece of it; what goes wrong is told when all is to be done."""
        try:
            self._later.popleft()()
        except Exception as error:
            self._failed = self._failed or error

    def settle(self, _: int) -> None:
        """Do all of it; raises what went wrong first."""
        while self.busy:
            self.go_on()
        if failed := self._failed:
            self._failed = None
            raise failed

    def _last(self, result: Any) -> LastReply:
        """What is kept of a result."""
        kept = self._harvest(result)
        if isinstance(kept, ValueThenWork):
            self._later.append(kept.work)
            return LastReply(kept.value)
        return LastReply(kept)

    def handle(self, bay: int, verb: str, *values: object) -> object:
        """The reply to a message, or the exception that it ended in."""
        try:
            return getattr(self, verb)(bay, *values)
        except Exception as error:  # a process must outlive any one bay; what went wrong is the reply
            return error

    def prepare(self, bay: int, case: AnyCase) -> FlowStart:
        """Mesh, equations, films and the flow's start of a case with resolved air."""
        from sim.resolved.remote import SolidSide
        from sim.run import air_settings, prepare

        model = prepare(case)
        model.air_domain()
        side = SolidSide(model.system, model.cells, air_settings(case, model.refinement))
        self._sides[bay] = model, side
        return side.start()

    def answer(self, bay: int, heat: Array, time: float, steps: int) -> SolidsAnswer:
        """The solids' answer to a round."""
        return self._sides[bay][1].answer(heat, time, steps)

    def finish(self, bay: int, flows: tuple[Flow, Flow], frames: Frames, reason: str) -> LastReply:
        """The result of a bay whose flow has ended."""
        from sim.run import conclude

        model, side = self._sides.pop(bay)
        return self._last(conclude(model, *side.finish(flows, frames, reason)))

    def solve(self, bay: int, case: AnyCase) -> LastReply:
        """The result of a case that is solved here as a whole."""
        return self._last(self._solve(case))

    def report(self, _: int, case: AnyCase) -> LastReply:
        """The report alone of such a case, of which nothing is kept."""
        return LastReply(dict(self._solve(case).report.values))


class OwnProcess:
    """A desk in this process: replies are ready as soon as they are asked for."""

    count = 1

    def __init__(self, harvest: Harvest | None = None, solve: Solve | None = None) -> None:
        self._desk, self._replies = BaySolids(harvest, solve), deque[tuple[int, object]]()

    def ask(self, bay: int, verb: str, *values: object) -> None:
        """Do it at once."""
        self._replies.append((bay, self._desk.handle(bay, verb, *values)))

    def replies(self, wait: bool) -> list[tuple[int, object]]:
        """All replies."""
        found = list(self._replies)
        self._replies.clear()
        return found

    def settle(self) -> None:
        """Have all work done that was put off."""
        self._desk.settle(-1)

    def close(self) -> None:
        """Nothing to end."""


class Workers:
    """Desks in processes of their own. A bay stays with the process that first hears of it, until its last reply.

    Parameters
    ----------
    count : processes
    harvest : what each keeps of a result
    solve : what solves a whole case; `sim.solve` by default
    threads : of each process
    """

    def __init__(
        self, count: int, harvest: Harvest | None = None, solve: Solve | None = None, threads: int = 1
    ) -> None:
        self.count = count
        context = get_context("spawn")
        self._pipes: list[Connection] = []
        self._processes = []
        self._home: dict[int, int] = {}
        self._load = [0] * count
        self._asked = [False] * count
        self._waiting: list[deque[tuple[int, str, tuple[object, ...]]]] = [deque() for _ in range(count)]
        with one_thread_each(threads), without_main(getattr(harvest, "func", harvest)):
            for _ in range(count):
                here, there = context.Pipe()
                process = context.Process(target=serve, args=(there, harvest, solve), daemon=True)
                process.start()
                there.close()
                self._pipes.append(here)
                self._processes.append(process)

    def ask(self, bay: int, verb: str, *values: object) -> None:
        """Send a message to the bay's process; a new bay goes where fewest went: others may yet have work put off."""
        if bay not in self._home:
            self._home[bay] = self._load.index(min(self._load))
            self._load[self._home[bay]] += 1
        self._waiting[self._home[bay]].append((bay, verb, values))
        self._send_on(self._home[bay])

    def _send_on(self, process: int) -> None:
        """Send what waits for a process unless it has yet to reply: with both sending, neither would ever read."""
        if self._waiting[process] and not self._asked[process]:
            self._pipes[process].send(self._waiting[process].popleft())
            self._asked[process] = True

    def replies(self, wait: bool) -> list[tuple[int, object]]:
        """Replies that are ready; at least one when asked to wait."""
        found = []
        for pipe in ready(self._pipes, None if wait else 0.0):
            assert isinstance(pipe, Connection)
            bay, reply = _received(pipe)
            process = self._pipes.index(pipe)
            self._asked[process] = False
            self._send_on(process)
            if isinstance(reply, LastReply | Exception):
                self._home.pop(bay)
            found.append((bay, reply))
        return found

    def settle(self) -> None:
        """Have all work done that was put off; raises what went wrong with it."""
        for pipe in self._pipes:
            pipe.send((-1, "settle", ()))
        for reply in [_received(pipe)[1] for pipe in self._pipes]:
            if isinstance(reply, Exception):
                raise reply

    def close(self) -> None:
        """End all processes."""
        for pipe in self._pipes:
            pipe.close()
        for process in self._processes:
            process.join(timeout=5.0)
            if process.is_alive():
                process.terminate()


def _received(pipe: Connection) -> tuple[int, object]:
    """A message; RuntimeError where its process has died."""
    try:
        bay, reply = pipe.recv()
    except EOFError:
        why = "a process that solved bays has died, perhaps for want of memory; use fewer workers"
        raise RuntimeError(why) from None
    return int(bay), reply


@contextmanager
def one_thread_each(loops: int = 1) -> Iterator[None]:
    """Processes started within it use one thread each, or several for loops alone."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1") | {LOOPS: str(loops)})
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name)
            else:
                os.environ[name] = value


def serve(pipe: Connection, harvest: Harvest | None, solve: Solve | None = None) -> None:
    """A worker's whole life: replies to messages until its pipe closes; between them, work that was put off."""
    desk = BaySolids(harvest, solve)
    while True:
        try:
            while desk.busy and not pipe.poll():
                desk.go_on()
            bay, verb, values = pipe.recv()
        except (EOFError, KeyboardInterrupt):
            return
        pipe.send((bay, sendable(desk.handle(bay, verb, *values))))


def sendable(reply: object) -> object:
    """The reply, or as text the exception that cannot be sent, or the one that sending it ends in."""
    try:
        ForkingPickler.dumps(reply)
        if isinstance(reply, Exception):
            pickle.loads(pickle.dumps(reply))
    except Exception as error:
        what = reply if isinstance(reply, Exception) else error
        return RuntimeError(f"{type(what).__name__}: {what}")
    return reply


def replies_of(solids: Solids, bays: Sequence[int]) -> Iterator[tuple[int, object]]:
    """One reply of each of some bays, as they come."""
    left = set(bays)
    while left:
        for bay, reply in solids.replies(wait=True):
            left.discard(bay)
            yield bay, reply

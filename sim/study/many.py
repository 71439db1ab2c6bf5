"""Many cases solved at once: those with computed air together on an accelerator, or all of them over processes."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar, Unpack, overload

from sim.case.load import AnyCase
from sim.jobs.bay_workers import Harvest, LastReply, OwnProcess, Workers, replies_of
from sim.problems.at_rest import solve_at_rest
from sim.problems.kinds import AIR_ALONE

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.blocks_case import BlocksCase
    from sim.problems.air_run import AirRun
    from sim.problems.at_rest import Solved
    from sim.resolved.batch import RoundHeard, Timeline
    from sim.run import Result

Finished = Callable[[int, object], None]
"""Hears a case's number and result (or what was harvested of it, or the exception that it ended in)."""

Kept = TypeVar("Kept")


class Hands:
    """Processes that hold solids, begun when they are first wanted and kept from one `solve_many` to the next.

    Parameters
    ----------
    harvest : function of a module
        What to keep of each result, taken where it was solved; by default the whole Result.
    """

    def __init__(self, harvest: Harvest | None = None) -> None:
        self._harvest = harvest
        self._solids: Workers | OwnProcess | None = None

    def wanted(self, count: int, threads: int) -> Workers | OwnProcess:
        """Processes, at least so many, of so many threads; this one where one is enough."""
        if self._solids is None or (self._solids.count < count and count > 1):
            self.close()
            self._solids = (
                Workers(count, self._harvest, solve_at_rest, threads) if count > 1
                else OwnProcess(self._harvest, solve_at_rest)
            )  # fmt: skip
        return self._solids

    def settle(self) -> None:
        """Have all work done that a harvest put off; raises what went wrong with it."""
        if self._solids:
            self._solids.settle()

    def close(self) -> None:
        """End them."""
        if self._solids:
            self._solids.close()
        self._solids = None

    def __enter__(self) -> Hands:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class Batching(TypedDict, total=False):
    """What `solve_many` may be told beside the cases, and what to keep of them."""

    device: str | None
    workers: int | None
    listener: Finished | None
    heard: RoundHeard | None
    timeline: list[Timeline] | None
    hands: Hands | None


@overload
def solve_many(cases: Sequence[Case], **how: Unpack[Batching]) -> list[Result[Case] | Exception]: ...
@overload
def solve_many(
    cases: Sequence[BlocksCase], **how: Unpack[Batching]
) -> list[Result[BlocksCase] | AirRun | Exception]: ...
@overload
def solve_many(cases: Sequence[AnyCase], **how: Unpack[Batching]) -> list[Solved | Exception]: ...
@overload
def solve_many(
    cases: Sequence[AnyCase], *, harvest: Callable[[Solved], Kept], **how: Unpack[Batching]
) -> list[Kept | Exception]: ...


def solve_many(
    cases: Sequence[AnyCase],
    *,
    device: str | None = None,
    workers: int | None = None,
    harvest: Harvest | None = None,
    listener: Finished | None = None,
    heard: RoundHeard | None = None,
    timeline: list[Timeline] | None = None,
    hands: Hands | None = None,
) -> Sequence[object]:
    """Solve many cases in steady state.

    In a batch on a device no companion on larger cells is computed: what its mesh leaves open is then told by the
    cells at its walls alone (`resolved.thinner`).

    Parameters
    ----------
    cases : Case or BlocksCase, air alone too
    device : "cpu", "gpu" or "auto"
        Where the flows of cases with `air.model = "resolved"` are followed: on "gpu" all of them together. By default
        where the first of these cases says (`air.device`).
    workers : processes, one thread each, that hold solids (and solve whole cases on "cpu"); 1 works in this process.
        By default 1 on "cpu", where a case has all threads to itself; with a device one a case, as long as there are
        cores, which they share.
    harvest : function of a module
        What to keep of each result, taken where it was solved; by default the whole Result.
    listener : called with a case's number and outcome as soon as it is there.
    heard : called with a case's number and each answer of its solids, on a device.
    timeline : list
        Gets a Timeline for every batch on a device.
    hands : processes that an earlier call began, with what they harvest; the caller ends them.

    Returns
    -------
    list
        Results in the order of the cases; what went wrong with a case stands in its place as an exception.

    Raises
    ------
    NoDeviceError
        "gpu" where there is no accelerator.
    """
    from sim.airflow.device.seam import choose_backend

    _check_cases(cases)
    resolved = [case for case in cases if case.air.is_resolved]
    backend = choose_backend(device or next((case.air.device for case in resolved), "cpu"))
    if backend is None:
        cases = [_on_processor(case) for case in cases]
    cores = os.cpu_count() or 1
    size = min(workers or (cores if backend else 1), len(cases))
    own = hands or Hands(harvest)
    solids = own.wanted(size, max(cores // size, 1) if backend and not workers and size else 1)
    outcomes: list[Any] = [None] * len(cases)
    try:
        together = [n for n, case in enumerate(cases) if backend and goes_in_batches(case)]
        apart = [n for n in range(len(cases)) if n not in set(together)]
        found = _all(cases, together, apart, (solids, backend), (heard, timeline))
        for number, outcome in found:
            outcomes[number] = outcome.value if isinstance(outcome, LastReply) else outcome
            if listener:
                listener(number, outcomes[number])
    except BaseException:
        own.close()  # what they were asked would be answered to whoever asks next
        raise
    if hands is None:
        own.close()
    return outcomes


def reports_by_films(cases: Sequence[Case], hands: Hands) -> list[Mapping[str, float] | Exception]:
    """What films tell of cases with computed air."""
    told: dict[int, Mapping[str, float] | Exception] = {}
    solids = hands.wanted(1, 1)
    for number, reply in _each([_by_films(case) for case in cases], list(range(len(cases))), solids, "report"):
        told[number] = reply.value if isinstance(reply, LastReply) else reply
    return [told[number] for number in range(len(cases))]


def _by_films(case: Case) -> Case:
    """The case with films for its air."""
    return case.model_copy(update={"air": case.air.model_copy(update={"model": "films"})})


def _check_cases(cases: Sequence[object]) -> None:
    """Refuse what is no case before anything is solved."""
    for number, case in enumerate(cases):
        if not hasattr(case, "air"):
            found = type(case).__name__
            raise TypeError(f"cases[{number}]: a case is wanted, not {found}; load_case(path) reads one from its file")


def goes_in_batches(case: AnyCase) -> bool:
    """Whether a case's air is followed together with that of others, among solids."""
    return bool(case.air.is_resolved and not AIR_ALONE.holds(case))


def _on_processor(case: AnyCase) -> AnyCase:
    """The case with its air on the processor."""
    if not case.air.is_resolved or case.air.device == "cpu":
        return case
    return case.model_copy(update={"air": case.air.model_copy(update={"device": "cpu"})})


def _all(
    cases: Sequence[AnyCase], together: list[int], apart: list[int], means: tuple[Any, Any], ears: tuple[Any, Any]
) -> Iterator[tuple[int, Any]]:
    """Outcomes as they come: first of the cases that are solved as a whole, then batch after batch.

    What follows flows is imported while the processes begin.
    """
    solids, backend = means
    yield from _each(cases, apart, solids, "solve")
    starts = {}
    for number in together:
        solids.ask(number, "prepare", cases[number])
    if not together:
        return
    from sim.airflow.device.batches import find_batches
    from sim.airflow.device.warm import warm_up
    from sim.resolved.remote import FlowStart

    warm_up(backend, any(cases[number].air.subgrid for number in together))
    for number, start in replies_of(solids, together):
        if isinstance(start, Exception):
            yield number, start
        else:
            assert isinstance(start, FlowStart)
            starts[number] = start
    for batch in find_batches({number: start.problem for number, start in starts.items()}):
        yield from _batch(batch, starts, means, ears)


def _each(cases: Sequence[AnyCase], numbers: list[int], solids: Any, verb: str) -> Iterator[tuple[int, Any]]:
    """Every case's reply as it comes; each is asked for when there is somebody to ask."""
    for number in numbers:
        solids.ask(number, verb, cases[number])
        if isinstance(solids, OwnProcess):
            yield from solids.replies(wait=True)
    if not isinstance(solids, OwnProcess):
        yield from replies_of(solids, numbers)


def _batch(
    numbers: list[int], starts: dict[int, Any], means: tuple[Any, Any], ears: tuple[Any, Any]
) -> Iterator[tuple[int, Any]]:
    """Outcomes of the bays of one batch."""
    from sim.resolved.batch import BatchRun

    (solids, backend), (heard, timeline) = means, ears
    renumbered = _Renumbered(solids, numbers)
    listen = (lambda bay, answer: heard(numbers[bay], answer)) if heard else None
    try:
        run = BatchRun([starts[n] for n in numbers], renumbered, backend, listen)
    except ValueError as error:
        yield from ((number, error) for number in numbers)
        return
    if timeline is not None:
        timeline.append(run.timeline)
    for bay, outcome in run.follow():
        yield numbers[bay], outcome


class _Renumbered:
    """Solids of some of all cases, by their number in a batch."""

    def __init__(self, solids: Any, numbers: list[int]) -> None:
        self._solids, self._numbers = solids, numbers
        self._bays = {number: bay for bay, number in enumerate(numbers)}

    def ask(self, bay: int, verb: str, *values: Any) -> None:
        """Ask by the case's number."""
        self._solids.ask(self._numbers[bay], verb, *values)

    def replies(self, wait: bool) -> list[tuple[int, Any]]:
        """Replies by the batch's number."""
        return [(self._bays[number], reply) for number, reply in self._solids.replies(wait)]

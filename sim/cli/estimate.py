"""About how long a command will take and how much memory, said before it begins, and learned when it has ended."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING

from sim.machine.pace import Pace, known_pace, learn_pace

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.cli.progress import Progress
    from sim.jobs.jobs import Outcome

WORTH_SAYING = 10.0
"""A command that is thought to take less is not announced [s]."""

LEAST_GAIN = 0.8
"""A coarser mesh is proposed where it has at most this share of the cells."""


def about(seconds: float) -> str:
    """A time as one says it.

    >>> about(42.3), about(310.0), about(9000.0)
    ('42 s', '5 min', '2.5 h')
    """
    if seconds < 90.0:
        return f"{max(seconds, 1.0):.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


USUAL = {
    "run": Pace(2e-5, 5e8),
    "compare": Pace(4e-5, 5e8),
    "study": Pace(2e-5, 5e8),
    "water": Pace(1.2e-4, 5e8),
    "spacing": Pace(1.6e-4, 5e8),
    "warmup": Pace(5e-5, 5e8),
    "house": Pace(5e-5, 4e8),
    "air": Pace(6e-7, 1e9),
}
"""Seconds a unit of work on a usual machine, and bytes, until a kind of work was done here once: rough.

A unit is a cell of each case; of warm-ups a cell followed for an hour, of computed air a cell to the power of 4/3
(finer cells want shorter steps) followed for a second.
"""


def announce(progress: Progress, work: str, cases: Sequence[AnyCase], repeats: int = 1, workers: int = 1) -> None:
    """Say about how long some solves will take and what memory, where it is worth saying, and what would be shorter.

    Parameters
    ----------
    work : kind of work, as in `USUAL` and `learning`.
    cases : to be solved, each `repeats` times.
    workers : that share them.
    """
    airy = any(case.air.is_resolved for case in cases)
    learned = known_pace("air" if airy else work)
    known = learned or USUAL.get("air" if airy else work)
    if known is None:
        return
    cells = [size_of(case) for case in cases]
    seconds = known.seconds * sum(units_of(work, case, size) for case, size in zip(cases, cells, strict=True))
    seconds *= repeats / workers
    progress.expect(seconds)
    if seconds < WORTH_SAYING:
        return
    count = len(cases) * repeats
    what = f"{count} solve{'s' * (count > 1)}" if count > 1 or airy else "a bay"
    basis = "earlier runs here" if learned else "a usual machine, not yet by this one"
    most = "At most about" if airy else "About"
    way = "; air.longest, air.error or a coarse mesh shorten it" if airy else _shorter(cases, sum(cells))
    progress.note(
        f"{most} {about(seconds)} and {known.memory * workers / 1e9:.1f} GB for {what} of {max(cells):,} cells"
        f"{' with computed air' if airy else ''}, going by {basis}{way}."
    )


def units_of(work: str, case: AnyCase, cells: int) -> float:
    """How many units of a kind of work a case of so many cells is."""
    if case.air.is_resolved:
        return float(cells ** (4.0 / 3.0) * case.air.longest)
    return cells * float(case.time.duration) / 3600.0 if work == "warmup" and case.time is not None else float(cells)


@contextmanager
def announced(progress: Progress, work: str, cases: Sequence[AnyCase]) -> Iterator[None]:
    """Round a whole piece of work: how long it will take is said before, and learned from unless kernels were compiled.

    Work with computed air ends when it is known well enough, so its pace is learned by who hears its rounds.
    """
    announce(progress, work, cases)
    began, compiled = monotonic(), progress.compiled
    yield
    progress.expect(None)
    if progress.compiled == compiled and not any(case.air.is_resolved for case in cases):
        learn_pace(work, (monotonic() - began) / sum(units_of(work, case, size_of(case)) for case in cases))


def learn_air(case: AnyCase, followed: float, seconds: float) -> None:
    """Keep how long computed air took that was followed for a time [s]."""
    if followed > 0.0:
        learn_pace("air", seconds / (size_of(case) ** (4.0 / 3.0) * followed))


def size_of(case: AnyCase) -> int:
    """Cells of a case's mesh."""
    from sim.bay.grid import build_grid
    from sim.run import build_geometry, mesh_fineness

    return int(build_grid(build_geometry(case), mesh_fineness(case)).size)


def learning(work: str, cases: Sequence[AnyCase], tell: Callable[[Outcome], None]) -> Callable[[Outcome], None]:
    """A listener for jobs, each of one of some cases, that learns from how long they took; `tell` hears of all.

    The first job teaches nothing: kernels may have been compiled meanwhile.
    """
    usual = sum(map(size_of, cases)) / len(cases)
    first = True

    def heard(outcome: Outcome) -> None:
        nonlocal first
        warm, first = not first, False
        if warm and not outcome.failure and not outcome.reused and not any(case.air.is_resolved for case in cases):
            learn_pace(work, outcome.seconds / usual)
        tell(outcome)

    return heard


def _shorter(cases: Sequence[AnyCase], cells: int) -> str:
    """What would make it shorter: a coarse mesh, where that has far fewer cells, and more workers."""
    coarse = [case.model_copy(update={"mesh": case.mesh.model_copy(update={"fineness": "coarse"})}) for case in cases]
    share = sum(map(size_of, coarse)) / cells
    return f"; --fineness coarse takes about {100.0 * share:.0f} % of that" if share <= LEAST_GAIN else ""

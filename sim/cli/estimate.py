"""About how long a command will take and how much memory, said before it begins, and learned when it has ended."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from sim.machine.pace import known_pace, learn_pace

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


def announce(progress: Progress, work: str, cases: Sequence[AnyCase], repeats: int = 1, workers: int = 1) -> None:
    """Say about how long some solves will take, where such work was done here before and it is worth saying.

    Parameters
    ----------
    work : kind of work, as in `learning`.
    cases : to be solved, each `repeats` times.
    workers : that share them.
    """
    if any(case.air.is_resolved for case in cases):
        progress.note("The air is computed: minutes to hours for each bay; what is left is told as it goes.")
        return
    known = known_pace(work)
    if known is None:
        return
    cells = [size_of(case) for case in cases]
    seconds = known.seconds * sum(cells) * repeats / workers
    if seconds >= WORTH_SAYING:
        count = len(cases) * repeats
        way = _shorter(cases, sum(cells))
        progress.note(
            f"About {about(seconds)} and {known.memory * workers / 1e9:.1f} GB for {count} "
            f"solve{'s' * (count > 1)} of {max(cells):,} cells, going by earlier runs here{way}."
        )


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

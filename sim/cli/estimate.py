"""About how long a command will take and how much memory, said before it begins, and learned when it has ended."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from time import monotonic, thread_time
from typing import TYPE_CHECKING

from sim.cli.durations import about, between
from sim.machine.pace import MOST_BUSY, Pace, busyness, known_pace, learn_pace
from sim.study.on_device import goes_together

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase
    from sim.case.load import AnyCase
    from sim.cli.progress import Progress
    from sim.jobs.job import Outcome
    from sim.problems.air_box import AirProblem

WORTH_SAYING = 10.0
"""A command that is thought to take less is not announced [s]."""

LEAST_GAIN = 0.8
"""A coarser mesh is proposed where it has at most this share of the cells."""

SPREAD, SPREAD_UNKNOWN = (0.7, 1.4), (0.5, 2.5)
"""How far an estimate may be off on an idle machine: by what this machine did before, and by a usual machine."""

USUAL = {
    "run": Pace(2e-5, 5e8),
    "compare": Pace(4e-5, 5e8),
    "study": Pace(2e-5, 5e8),
    "water": Pace(1.2e-4, 5e8),
    "spacing": Pace(1.6e-4, 5e8),
    "grids": Pace(2.4e-4, 4e9),
    "house": Pace(2.5e-5, 4e8),
    "march": Pace(1e-5, 5e8),
    "blocks march": Pace(4e-6, 5e8),
    "air": Pace(6e-7, 1e9),
    "air alone": Pace(8e-8, 5e8),
}
"""Seconds a unit of work on a usual machine, and bytes, until a kind of work was done here once: rough.

A unit is a cell of each case as it stands; of a march in time a cell and a step, of computed air a cell to the power of
4/3 (finer cells want shorter steps) followed for a second, of air alone a cell and a step.
"""


STEPS_AT_FIRST, STEPS_AN_HOUR = 25.0, 3.0
"""About how many short steps a march begins with, and how many it takes later in an hour."""

LEAST_TAUGHT = 20_000
"""Cells below which a solve teaches nothing: most of its time is the same whatever its size."""

SOON_KNOWN = (25.0, 200.0)
"""How long both starts of the air of most bays are followed until its means are known [s]: nine in ten of the 606 bays
of `tests/data/air_set.npz` were done after 43 to 300 s of one start, half of them known to 0.3 % then, and two starts
take 0.5 to 0.8 times as long (`docs/air-mesh.md`)."""

KNOWN = 0.01
"""Standard error to which those times belong."""

SOLVES = {"water": 6.0, "spacing": 8.0}
"""Work of a search over that of its first solve, by which what is left is told again when that has ended."""


def announce(
    progress: Progress, work: str, cases: Sequence[AnyCase], repeats: float = 1, workers: int = 1
) -> None:
    """Say about how long some solves will take and what memory, where it is worth saying, and what would be shorter.

    From what it takes on an idle machine to what it takes where others leave this process as little as so far. Paces
    are the processor's: nothing is said of air that an accelerator follows, some fifty to a thousand times as fast.

    Parameters
    ----------
    work : kind of work, as in `USUAL` and `learning`.
    cases : to be solved, each `repeats` times.
    workers : that share them.
    """
    if any(goes_together(case) for case in cases):
        return  # an accelerator's pace is another one, and its first rounds tell soon
    airy = any(case.air.is_resolved for case in cases)
    learned, known = bounded_pace("air" if airy else work)
    if known is None:
        return
    cells = [size_of(case) for case in cases]
    quiet = known.seconds * sum(units_of(work, case, size) for case, size in zip(cases, cells, strict=True))
    quiet *= repeats / workers
    seconds = quiet * busyness()
    progress.expect(seconds, SOLVES.get(work, 1.0))
    if seconds < WORTH_SAYING:
        return
    count = len(cases) * round(repeats)
    what = f"{count} solve{'s' * (count > 1)}" if count > 1 or airy else _kind(cases)
    if work == "grids":
        what = f"three grids, {'its own the finest' if airy else 'the finest with eight times the cells'}, of a bay"
    basis = "earlier runs here" if learned else "a usual machine, not yet by this one"
    low, high = SPREAD if learned else SPREAD_UNKNOWN
    told = until_known(cases, quiet, seconds) if airy else between(low * quiet, high * seconds)
    way = "; air.longest, air.error or a coarse mesh shorten it" if airy else _shorter(cases, sum(cells))
    progress.note(
        f"About {told} and {known.memory * workers / 1e9:.1f} GB for {what} of {max(cells):,} cells"
        f"{' with computed air' if airy else ''}, going by {basis}{way}."
    )


def announce_flow(progress: Progress, case: BlocksCase, grids: Sequence[AirProblem]) -> None:
    """Say about how long a flow of air alone will take on its grids, if it is long, and what would be shorter."""
    from sim.problems.air_work import foretold_work

    if case.air.device != "cpu":
        return
    work, known, busy = foretold_work(case, grids), USUAL["air alone"], busyness()
    usual, most = (known.seconds * units * busy for units in (work.usual, work.most))
    if most < WORTH_SAYING:
        return
    soon = f"About {about(usual)} where it becomes steady as soon as most do, at most" if usual < most else "About"
    progress.note(
        f"{soon} {about(most)}, and {known.memory / 1e9:.1f} GB, for a flow of {work.cells:,} cells, going by a "
        "usual machine; air.longest or larger cells shorten it."
    )


def time_with_air(case: AnyCase) -> str:
    """About how long most bays of the size take here, with nothing beside it, when their air is computed; in words."""
    computed = case.with_text("air.model", "resolved")
    _, known = bounded_pace("air")
    longest = known.seconds * units_of("air", computed, size_of(computed)) if known else 0.0
    soon, late = (_share(computed, time) * longest for time in SOON_KNOWN)
    return f"about {between(soon, late)} on this machine when idle"


def until_known(cases: Sequence[AnyCase], quiet: float, busy: float) -> str:
    """Times of computed air: what most bays take until their means are known, and at most, to `air.longest`.

    Parameters
    ----------
    quiet, busy : what it takes to `air.longest` on an idle machine, and on one as busy as this [s].
    """
    shares = [[_share(case, time) for time in SOON_KNOWN] for case in cases if case.air.is_resolved]
    soon, late = min(first for first, _ in shares) * quiet, max(last for _, last in shares) * busy
    return f"{between(soon, late)}, at most {about(busy)}," if late < busy else between(soon, busy)


def _share(case: AnyCase, time: float) -> float:
    """Which part of `air.longest` air is followed until its means are known, where that is `time` at a usual error."""
    return min(time * (KNOWN / case.air.error) ** 2 / case.air.longest, 1.0)


def _kind(cases: Sequence[AnyCase]) -> str:
    """What is solved, in a word."""
    return "a bay" if all(case.joist_bay for case in cases) else "a build-up"


MOST_UNUSUAL = 10.0
"""How many times slower or faster than a usual machine this one is believed to be by what it did before."""


def bounded_pace(work: str) -> tuple[Pace | None, Pace | None]:
    """What this machine has done before, if anything; what is gone by, within reason of a usual machine's."""
    learned, usual = known_pace(work), USUAL.get(work)
    if learned is None or usual is None:
        return learned, learned or usual
    seconds = min(max(learned.seconds, usual.seconds / MOST_UNUSUAL), usual.seconds * MOST_UNUSUAL)
    return learned, Pace(seconds, learned.memory)


def units_of(work: str, case: AnyCase, cells: int) -> float:
    """How many units of a kind of work a case of so many cells is."""
    if case.air.is_resolved:
        return float(cells ** (4.0 / 3.0) * case.air.longest)
    if work in ("march", "blocks march") and case.time is not None:
        return cells * (STEPS_AT_FIRST + STEPS_AN_HOUR * float(case.time.duration) / 3600.0)
    return float(cells)


@contextmanager
def announced(progress: Progress, work: str, cases: Sequence[AnyCase]) -> Iterator[None]:
    """Round a whole piece of work: how long it will take is said before, and learned from unless kernels were compiled.

    Work with computed air ends when it is known well enough, so its pace is learned by who hears its rounds.
    """
    announce(progress, work, cases)
    began, compiled = (monotonic(), thread_time()), progress.compiled
    yield
    progress.expect(None)
    sizes = [size_of(case) for case in cases]
    if progress.compiled == compiled and max(sizes) >= LEAST_TAUGHT and not any(c.air.is_resolved for c in cases):
        spent, worked = monotonic() - began[0], thread_time() - began[1]
        quiet = max(worked, spent / MOST_BUSY)  # what others took of the processor teaches nothing
        learn_pace(work, quiet / sum(units_of(work, case, size) for case, size in zip(cases, sizes, strict=True)))


def learn_air(case: AnyCase, followed: float, seconds: float) -> None:
    """Keep how long computed air took that the processor followed for a time [s]; of few cells it teaches nothing."""
    cells = size_of(case)
    if followed > 0.0 and cells >= LEAST_TAUGHT and not goes_together(case):
        learn_pace("air", seconds / busyness() / (cells ** (4.0 / 3.0) * followed))


def size_of(case: AnyCase) -> int:
    """Cells of a case's mesh."""
    from sim.bay.grid import build_grid
    from sim.build_up import build_geometry, mesh_fineness

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
        done = not outcome.failure and not outcome.reused and usual >= LEAST_TAUGHT
        if warm and done and not any(case.air.is_resolved for case in cases):
            learn_pace(work, outcome.seconds / busyness() / usual)
        tell(outcome)

    return heard


def _shorter(cases: Sequence[AnyCase], cells: int) -> str:
    """What would make it shorter: a coarse mesh, where that has far fewer cells, and more workers."""
    coarse = [case.model_copy(update={"mesh": case.mesh.model_copy(update={"fineness": "coarse"})}) for case in cases]
    share = sum(map(size_of, coarse)) / cells
    return f"; --fineness coarse takes about {100.0 * share:.0f} % of that" if share <= LEAST_GAIN else ""

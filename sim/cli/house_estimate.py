"""About how long a house will take, said before its first bay is solved and learned when it has ended."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from os import times
from time import process_time
from typing import TYPE_CHECKING

from sim.cli.durations import between
from sim.cli.estimate import (
    LEAST_TAUGHT,
    SPREAD,
    SPREAD_UNKNOWN,
    WORTH_SAYING,
    bounded_pace,
    size_of,
    units_of,
    until_known,
)
from sim.machine.pace import busyness, learn_pace
from sim.study.on_device import goes_together

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.cli.progress import Progress

WORK = "house"
"""Its name among the paces: all solves that a house takes, over the cells of the bays whose curves are solved."""

BESIDES = 30_000
"""What a bay costs whatever its mesh, in cells."""


@contextmanager
def house_foretold(
    progress: Progress, workers: int, houses: int = 1
) -> Iterator[Callable[[Sequence[Case], int], None]]:
    """Within it, what is yielded hears which bays are to be solved, and of how many, and says how long it will take.

    Parameters
    ----------
    progress : who says it, and what is left of it meanwhile.
    workers : that share the solves.
    houses : so many variants come one after the other; nothing is learned from more than one.
    """
    began, compiled = worked(), progress.compiled
    busy, cells = busyness(), list[int]()  # as long as this process works itself: it rests while its workers solve

    def foretell(fresh: Sequence[Case], count: int) -> None:
        if cells or not fresh or any(goes_together(case) for case in fresh):
            return
        if any(case.air.is_resolved for case in fresh):
            _announce_air(progress, fresh, houses / workers, busy)
            return
        cells.extend(size_of(case) for case in fresh)
        learned, known = bounded_pace(WORK)
        assert known is not None
        quiet = known.seconds * _work(cells) * houses / workers
        progress.expect(busy * quiet)
        if busy * quiet >= WORTH_SAYING:
            low, high = SPREAD if learned else SPREAD_UNKNOWN
            basis = "earlier runs here" if learned else "a usual machine, not yet by this one"
            coarse = all(case.mesh.fineness == "coarse" for case in fresh)
            progress.note(
                f"About {between(low * quiet, high * busy * quiet)} and {known.memory * (workers + 1) / 1e9:.1f} GB "
                f"for {len(fresh)} of {_bays(count)} of up to {max(cells):,} cells, going by {basis}; what is solved "
                f"is kept{'.' if coarse else ', and --fineness coarse shortens it.'}"
            )

    yield foretell
    progress.expect(None)
    if cells and houses == 1 and progress.compiled == compiled and sum(cells) >= LEAST_TAUGHT * len(cells):
        learn_pace(WORK, (worked() - began) / _work(cells))


def worked() -> float:
    """What this process and its helpers that have ended have worked so far [s of a processor].

    Waiting counts nothing: what others took of the machine meanwhile would teach that it is slow.
    """
    ended = times()
    return process_time() + ended.children_user + ended.children_system


def _announce_air(progress: Progress, fresh: Sequence[Case], share: float, busy: float) -> None:
    """Say about how long bays with computed air take for their curves, and that as much follows; it teaches nothing."""
    from sim.house.curve import EXCESSES

    _, known = bounded_pace("air")
    assert known is not None
    units = [units_of("air", case, size_of(case)) for case in fresh]
    quiet = known.seconds * sum(units) * len(EXCESSES) * share
    progress.note(
        f"About {until_known(fresh, quiet, busy * quiet)} for up to {len(fresh) * len(EXCESSES)} solves with computed "
        f"air, {len(EXCESSES)} temperatures of the water of {_bays(len(fresh))}; what the house then asks of them takes "
        "as long again, or twice where many rooms fall short. Every finished solve is kept, so it can be stopped and "
        'taken up; air.longest, air.error or --fineness coarse shorten it, and air.model = "films" takes minutes.'
    )


def _bays(count: int) -> str:
    return f"{count} bay{'s' * (count > 1)}"


def _work(cells: Sequence[int]) -> int:
    """Cells of bays, and what they cost besides."""
    return sum(cells) + BESIDES * len(cells)

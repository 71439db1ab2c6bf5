"""Bays of a house whose air is computed on an accelerator: what their jobs want, solved together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sim.house.bay_jobs import ANSWERED_CLOSELY, BayAnswer, leave_answer
from sim.jobs.job import Job, Outcome, Perform, Pool, Tried, attempt, call, outcome_of
from sim.store.whole_folder import write_folder
from sim.study.together import Search, pursue, supply_cases
from sim.study.water import Target, UnreachableError

if TYPE_CHECKING:
    from sim.case.bay_case import Case


def together() -> Perform:
    """Does jobs of one device at once; what a disk did not take need not be solved again for another one."""
    known: dict[str, BayAnswer | Exception] = {}

    def perform(jobs: list[Job], store: Path, _: Pool) -> Iterator[tuple[str, Outcome]]:
        if fresh := [job for job in jobs if job.key not in known]:
            known.update(zip((job.key for job in fresh), answers_together(fresh), strict=True))
        for job in jobs:
            yield job.key, outcome_of(job, store / job.key, _left(job, known[job.key], store / job.key))

    return perform


def _left(job: Job, answer: BayAnswer | Exception, folder: Path) -> Tried:
    """Leave an answer in a job's folder."""
    if isinstance(answer, Exception):
        return Tried(str(answer))
    given = replace(job, function=leave_answer, arguments=(answer,))
    return attempt(partial(write_folder, folder, partial(call, given), owned=()))


def answers_together(jobs: Sequence[Job]) -> list[BayAnswer | Exception]:
    """The BayAnswer of every job, or the exception that it ended in; all of one device."""
    searches = [SEARCHES[job.function.__name__](*job.arguments) for job in jobs]
    return pursue(searches, jobs[0].arguments[0].air.device)


def _fed(case: Case, excess: float) -> Case:
    """A bay with its supply at a temperature above its room [K]."""
    return case.with_(**{"water.supply": float(case.room.temperature) + excess})


def points(case: Case, excesses: tuple[float, ...]) -> Search[BayAnswer]:
    """`bay_jobs.solve_points`: all supplies at once, above the room [K]."""
    results = yield [_fed(case, excess) for excess in excesses]
    return BayAnswer(tuple(result.report.as_dict() for result in results), len(results))


def mean(case: Case, wanted: tuple[float, float]) -> Search[BayAnswer]:
    """`bay_jobs.solve_mean` above the room [K]: once, and again where its water fell otherwise than foreseen."""
    from sim.case.constants import ZERO_CELSIUS

    excess, fall = wanted
    (first,) = yield [_fed(case, excess + fall)]
    short = float(case.room.temperature) + excess - (first.report["water_mean_C"] + ZERO_CELSIUS)
    if abs(short) <= ANSWERED_CLOSELY * excess:
        return BayAnswer((first.report.as_dict(),), 1)
    (second,) = yield [_fed(case, excess + fall + short)]
    return BayAnswer((second.report.as_dict(),), 2)


def flux(case: Case, wanted: tuple[float, float]) -> Search[BayAnswer]:
    """`bay_jobs.solve_flux` [W/m²], as closely as the means of the air are known."""
    fed = _fed(case, wanted[1])
    (first,) = yield [fed]
    try:
        found = yield from supply_cases(fed, first, Target("heat_flux_up_W_m2", wanted[0]), case.air.error)
    except UnreachableError as error:
        return BayAnswer((), 1, str(error))
    return BayAnswer((found.result.report.as_dict(),), found.solves + 1)


SEARCHES: dict[str, Callable[..., Search[BayAnswer]]] = {"solve_points": points, "solve_mean": mean, "solve_flux": flux}
"""What each function of `bay_jobs` is as a search."""

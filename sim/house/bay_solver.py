"""The bays of a house solved with the bay model, each different one once.

A bay is known by its resolved case without its names: rooms that share a bay share its solves, and so do the layouts
for several heat sources. What was solved lies in a store of folders, and is taken up by the next run.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.house.bay_jobs import BayAnswer, read_answer, solve_flux, solve_mean, solve_points
from sim.house.curve import EXCESSES, FLUX, Curve, curve_of
from sim.house.kept_bays import code_identity
from sim.jobs.job import Job, Outcome, Perform, Pool, drop_damaged
from sim.jobs.jobs import run_jobs

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.jobs.crew import StandingCrew

Batch = Callable[[str, int], Callable[[Outcome], None] | None]
"""Told what a batch of jobs is about and how many there are; gives who listens to them."""

FEW = 5
"""So few bays are solved here: to start workers takes as long."""

_FALL = 4
"""Decimals of a fall that is thought of [K]: bays that differ in less of it are alike."""

_NAMES = ("title", "compare", "time", "control", "weather")
"""Sections of a case that change nothing of its steady state."""


class HouseError(Exception):
    """A bay of the house could not be solved; the message names it and says why."""


@dataclass(slots=True)
class BaySolver:
    """Solves bays, and remembers.

    Attributes
    ----------
    store : folder for what was solved; what lies in it already is not solved again.
    pool : who does the work.
    batch : told about every batch of jobs.
    begin : called before bays are solved that no earlier run has solved, each time.
    foretell : told, before curves are solved, the bays that no earlier run has solved, and of how many.
    asked, made, taken_up : bay solves that were wanted, that were made, and that an earlier run had made.
    """

    store: Path
    pool: Pool = field(default_factory=Pool)
    batch: Batch | None = None
    foretell: Callable[[Sequence[Case], int], None] | None = None
    begin: Callable[[], object] | None = None
    asked: int = 0
    made: int = 0
    taken_up: int = 0
    _known: dict[str, BayAnswer] = field(default_factory=dict)
    _crew: StandingCrew | None = None

    @contextmanager
    def workers_kept(self) -> Iterator[None]:
        """Within it the workers of one batch of bays stay for the next, with what they have at hand."""
        from sim.jobs.crew import StandingCrew

        with StandingCrew() as self._crew:
            yield
        self._crew = None

    def curves(self, cases: Sequence[Case], what: str = "curves of bays") -> list[Curve]:
        """The curve of every bay, from a few solves each."""
        jobs = [_curve_jobs(case) for case in cases]
        if self.foretell:
            unlike = {own[0].key: (case, own) for own, case in zip(jobs, cases, strict=True)}
            fresh = [case for case, own in unlike.values() if not all((self.store / job.key).is_dir() for job in own)]
            self.foretell(fresh, len(unlike))
        asked = [job for own in jobs for job in own]
        found = dict(zip((job.key for job in asked), self._answers(asked, what), strict=True))
        reports = [[report for job in own for report in found[job.key].reports] for own in jobs]
        return [curve_of(case.name, case.room.temperature, own) for case, own in zip(cases, reports, strict=True)]

    def needed(self, wanted: Sequence[tuple[Case, float, float]], what: str = "water needed") -> list[BayAnswer]:
        """The report of every bay at the water that gives a flux [W/m²], by safeguarded root finding.

        Parameters
        ----------
        wanted : (bay, flux, supply above the room to begin with [K]).

        Returns
        -------
        One BayAnswer a bay; without a report, and with a note, where no water up to 95 °C gives the flux.
        """
        return self._answers([_job(case, solve_flux, (flux, first)) for case, flux, first in wanted], what)

    def at(
        self, wanted: Sequence[tuple[Case, float, float]], what: str = "bays at their water"
    ) -> list[Mapping[str, float]]:
        """The report of every bay at a mean water above its room [K], thought to lie so far below its supply [K]."""
        jobs = [_job(case, solve_mean, (excess, round(fall, _FALL))) for case, excess, fall in wanted]
        return [answer.reports[0] for answer in self._answers(jobs, what)]

    def _answers(self, jobs: Sequence[Job], what: str) -> list[BayAnswer]:
        """Answers of jobs, known ones first; those whose bays go together on an accelerator are found at once."""
        from sim.study.on_device import goes_together

        missing = {job.key: job for job in jobs if job.key not in self._known}
        if at_once := [job for job in missing.values() if goes_together(job.arguments[0])]:
            from sim.house.bays_together import together

            self._find(at_once, what, together())
        if alone := [job for job in missing.values() if job.key not in self._known]:
            self._find(alone, what)
        answers = [self._known[job.key] for job in jobs]
        self.asked += sum(answer.solves for answer in answers)
        return answers

    def _find(self, missing: Sequence[Job], what: str, perform: Perform | None = None) -> None:
        """Answers of jobs that are not known yet: out of the store, or solved."""
        for job in missing:
            drop_damaged(self.store / job.key)
        fresh = [job for job in missing if not (self.store / job.key).is_dir()]
        if fresh and self.begin:
            self.begin()
        listener = self.batch(what, len(missing)) if self.batch else None
        outcomes = run_jobs(missing, self.store, self._who(len(fresh)), listener, perform)
        for job, outcome in zip(missing, outcomes, strict=True):
            if outcome.folder is None:
                raise HouseError(f"{job.name}: {outcome.failure}")
            answer = self._known[job.key] = read_answer(outcome.folder)
            self.taken_up += answer.solves if outcome.reused else 0
            self.made += 0 if outcome.reused else answer.solves

    def _who(self, count: int) -> Pool:
        """Who solves so many bays: few of them are solved here, unless workers are there already."""
        if self.pool.scheduler is not None or self.pool.workers < 2:
            return self.pool
        there = self._crew is not None and bool(self._crew.resting)
        return replace(self.pool, crew=self._crew) if there or count > FEW else Pool()

    @property
    def used(self) -> tuple[str, ...]:
        """Names of the folders in the store that were used."""
        return tuple(self._known)


def _curve_jobs(case: Case) -> list[Job]:
    """What the curve of a bay is made of: one job, each of whose solves begins where the one before it points to.

    Computed air on the processor takes minutes a solve: each is a job of its own, so that a stopped house keeps it and
    workers share them.
    """
    from sim.study.on_device import goes_together

    if case.air.is_resolved and not goes_together(case):
        return [_job(case, solve_points, (excess,)) for excess in EXCESSES]
    return [_job(case, solve_points, EXCESSES)]


def _job(case: Case, function: Callable[..., None], numbers: tuple[float, ...]) -> Job:
    """A job about a bay, whatever supply its case names."""
    case = case.with_(**{"water.supply": case.room.temperature + EXCESSES[2]})
    return Job(case.name, function, (case, numbers), _identity(case, numbers))


def _identity(case: Case, numbers: tuple[float, ...]) -> str:
    """All that an answer follows from."""
    return "\n".join((bay_identity(case), repr(numbers), code_identity()))


def bay_identity(case: Case) -> str:
    """A text that is the same for bays that behave alike in steady state."""
    from sim.jobs.identity import program_identity, side_files

    data: dict[str, Any] = {name: value for name, value in case.resolved().items() if name not in _NAMES}
    return "\n".join([json.dumps(data, sort_keys=True), *side_files(case), program_identity()])


def flux_of(report: Mapping[str, float]) -> float:
    """Upward heat flux of a report [W/m²]."""
    return float(report[FLUX])

"""Studies whose solves are jobs: stored as they finish, shared between workers, taken up again."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING

from sim.case.errors import CaseError
from sim.jobs.identity import case_identity
from sim.jobs.job import Job, Outcome, Pool
from sim.jobs.jobs import run_jobs
from sim.store.texts import json_text
from sim.study.sampling import Draw, TrialResult, reason, solve_values, varied

if TYPE_CHECKING:
    from sim.case.load import AnyCase

VALUES_FILE = "values.json"


@dataclass(frozen=True, slots=True)
class TrialJobs:
    """Does trials as jobs; a `sim.study.sampling.Performer`.

    `store` keeps finished trials, and those in it are not solved again; `pool` does the work; `listener` is called
    with each Outcome.
    """

    store: Path
    pool: Pool | None = None
    listener: Callable[[Outcome], None] | None = None

    def __call__(self, case: AnyCase, trials: Sequence[Draw]) -> Iterator[TrialResult]:
        """Yield every trial when all jobs have ended, first those whose values do not even fit the case."""
        jobs: list[Job] = []
        fitting: list[Draw] = []
        for trial in trials:
            try:
                jobs.append(_job(trial.name, varied(case, trial)))
                fitting.append(trial)
            except CaseError as error:
                yield TrialResult(trial, failure=reason(error))
        outcomes = run_jobs(jobs, self.store, self.pool, self.listener)
        for trial, outcome in zip(fitting, outcomes, strict=True):
            yield _done(trial, outcome)


def solve_trial(case: AnyCase, folder: Path) -> None:
    """Solve a case and write its report values into a folder."""
    (folder / VALUES_FILE).write_text(json_text(solve_values(case)), encoding="utf-8")


def _job(name: str, case: AnyCase) -> Job:
    return Job(name, solve_trial, (case,), case_identity(case))


def _done(trial: Draw, outcome: Outcome) -> TrialResult:
    if outcome.folder is None:
        return TrialResult(trial, failure=" ".join(outcome.failure.split()))
    values: Mapping[str, float | None] = json.loads((outcome.folder / VALUES_FILE).read_text(encoding="utf-8"))
    return TrialResult(trial, {key: nan if value is None else value for key, value in values.items()})

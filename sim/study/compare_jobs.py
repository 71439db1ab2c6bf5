"""A comparison whose choices are jobs: stored as they finish, shared between workers, taken up again."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.jobs.identity import case_identity
from sim.jobs.job import Job, Outcome, Pool
from sim.jobs.jobs import run_jobs
from sim.problems.save_result import save_result
from sim.results.stored import StoredResult
from sim.study.compare import AskedChoice, ComparedChoice, solve_twice
from sim.study.water import NeededWater

if TYPE_CHECKING:
    from sim.case.bay_case import Case

NEEDED_FILE = "needed.json"


@dataclass(frozen=True, slots=True)
class ChoiceJobs:
    """Solves choices as jobs; a `sim.study.compare.Performer`. One that fails is named; the others stand.

    `store` keeps finished choices, and those in it are not solved again; `pool` does the work; `listener` is called
    with each Outcome.
    """

    store: Path
    pool: Pool | None = None
    listener: Callable[[Outcome], None] | None = None

    def __call__(self, asked: Sequence[AskedChoice], flux: float | None) -> list[ComparedChoice]:
        """The choices in their order, when all jobs have ended."""
        jobs = [_job(choice, flux) for choice in asked]
        outcomes = run_jobs(jobs, self.store, self.pool, self.listener)
        return [_choice(choice, outcome) for choice, outcome in zip(asked, outcomes, strict=True)]


def solve_choice(case: Case, flux: float | None, twin: str, folder: Path) -> None:
    """Solve a case at its own water temperature and, without a twin, at the one that gives a flux [W/m²]."""
    choice = solve_twice(AskedChoice(case.name, case, twin=twin), flux)
    water, need = choice.at_water, choice.at_heat
    assert water is not None
    save_result(water, folder / "water")
    if need is not None and need.result is not water:
        save_result(need.result, folder / "heat")
    needed: dict[str, Any] = {"supply_K": None, "solves": 0, "shortfall": choice.shortfall}
    if need is not None:
        needed |= {"supply_K": need.supply, "solves": need.solves}
    (folder / NEEDED_FILE).write_text(json.dumps(needed), encoding="utf-8")


def _job(choice: AskedChoice, flux: float | None) -> Job:
    identity = f"{case_identity(choice.case)}\n{flux!r}\n{'once' if choice.twin else 'twice'}"
    return Job(choice.name, solve_choice, (choice.case, flux, choice.twin), identity)


def _choice(asked: AskedChoice, outcome: Outcome) -> ComparedChoice:
    if outcome.folder is None:
        return ComparedChoice(asked, None, None, failure=outcome.failure)
    needed = json.loads((outcome.folder / NEEDED_FILE).read_text(encoding="utf-8"))
    at_water = StoredResult(outcome.folder / "water")
    if needed["supply_K"] is None:
        return ComparedChoice(asked, at_water, None, needed["shortfall"])
    heat = outcome.folder / "heat"
    at_heat = NeededWater(needed["supply_K"], StoredResult(heat) if heat.is_dir() else at_water, needed["solves"])
    return ComparedChoice(asked, at_water, at_heat)

"""A comparison whose choices are jobs: stored as they finish, shared between workers, taken up again."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sim.run import prepare, solve_model
from sim.study.compare import ComparedChoice, Comparison, vary_case
from sim.study.identity import case_identity
from sim.study.jobs import Job, Outcome, Pool, run_jobs
from sim.study.save import save_result
from sim.study.stored import StoredResult
from sim.study.water import NeededWater, UnreachableError, required_supply

NEEDED_FILE = "needed.json"


def compare_in_jobs(
    case: Any,
    key: str,
    values: Sequence[Any],
    *,
    names: Sequence[str],
    flux: float | None,
    store: Path,
    pool: Pool | None = None,
    listener: Callable[[Outcome], None] | None = None,
) -> Comparison:
    """Solve a case for several values of one key, twice each; see `sim.study.compare.compare`.

    Parameters
    ----------
    store : folder for finished choices; those already in it are not solved again.
    pool : who does the work.
    listener : called with the Outcome of each choice.

    Notes
    -----
    Without a stated flux the first choice is solved before the others, as it sets the flux of the second comparison.
    A choice that fails is named with its reason; the others stand.
    """
    variants = [vary_case(case, key, value) for value in values]
    jobs = [_job(name, variant, flux) for name, variant in zip(names, variants, strict=True)]
    outcomes: list[Outcome] = []
    while flux is None and len(outcomes) < len(jobs):
        outcomes += run_jobs([jobs[len(outcomes)]], store, pool, listener)
        flux = _flux_of(outcomes[-1])
    rest = [
        _job(name, variant, flux)
        for name, variant in zip(names[len(outcomes) :], variants[len(outcomes) :], strict=True)
    ]
    outcomes += run_jobs(rest, store, pool, listener)
    choices = [_choice(name, value, outcome) for name, value, outcome in zip(names, values, outcomes, strict=True)]
    return Comparison(case, key, tuple(choices), float("nan") if flux is None else flux)


def solve_choice(case: Any, flux: float | None, folder: Path) -> None:
    """Solve a case at its own water temperature and at the one that gives a flux; write both into a folder."""
    model = prepare(case)
    result = solve_model(model)
    save_result(result, folder / "water")
    needed: dict[str, Any] = {"supply_K": float(case.water.supply), "solves": 0, "shortfall": ""}
    if flux is not None:
        try:
            water = required_supply(model, result, flux)
        except UnreachableError as error:
            needed |= {"supply_K": None, "shortfall": str(error)}
        else:
            needed |= {"supply_K": water.supply, "solves": water.solves}
            save_result(water.result, folder / "heat")
    (folder / NEEDED_FILE).write_text(json.dumps(needed), encoding="utf-8")


def _job(name: str, case: Any, flux: float | None) -> Job:
    identity = f"{case_identity(case)}\n{flux!r}"
    return Job(name, solve_choice, (case, flux), identity)


def _flux_of(outcome: Outcome) -> float | None:
    return None if outcome.folder is None else StoredResult(outcome.folder / "water").report["heat_flux_up_W_m2"]


def _choice(name: str, value: Any, outcome: Outcome) -> ComparedChoice:
    if outcome.folder is None:
        return ComparedChoice(name, value, None, None, failure=outcome.failure)
    needed = json.loads((outcome.folder / NEEDED_FILE).read_text(encoding="utf-8"))
    at_water = StoredResult(outcome.folder / "water")
    if needed["supply_K"] is None:
        return ComparedChoice(name, value, at_water, None, needed["shortfall"])
    heat = outcome.folder / "heat"
    at_heat = StoredResult(heat) if heat.is_dir() else at_water
    return ComparedChoice(name, value, at_water, NeededWater(needed["supply_K"], at_heat, needed["solves"]))

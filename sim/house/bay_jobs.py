"""What a job does with a bay of a house: solve it for what is asked, and write the answer into the job's folder."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sim.house.curve import lagrange_shares

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.run import Model, Result
    from sim.solver.state import State

ANSWER = "answer.json"

_TOLERANCE = 1e-4
_RESIDUAL, _IMBALANCE = 2e-5, 5e-7
"""What a bay's solve may leave over, as a share of its heat: a fifth of what its water is found to, and in all
half of what the audit lets pass."""

_OUTPUT = 0.4
"""Heat of a metre of tube for each kelvin of its water above the room, to begin with [W/(m K)]: bays of the
demonstrations give 0.3 to 0.6. A circuit's flow follows from it; with that of another water passes are lost."""
ANSWERED_CLOSELY = 1e-4
"""How far the mean water may be from the one that was asked for, as a share of what that is above the room."""


@dataclass(frozen=True, slots=True)
class BayAnswer:
    """What a job found: reports in the order asked, how many solves it took, and why nothing was found."""

    reports: tuple[Mapping[str, float], ...]
    solves: int
    note: str = ""


def solve_points(case: Case, excesses: tuple[float, ...], folder: Path) -> None:
    """Solve a bay with its supply at several temperatures above the room [K]; write the reports."""
    from sim.run import prepare

    reports = _reports(prepare(case), excesses)
    _write(folder, reports, len(reports))


def solve_mean(case: Case, wanted: tuple[float, float], folder: Path) -> None:
    """Solve a bay at a mean water above the room [K]: once, and again where its water fell otherwise than foreseen.

    `wanted` is the mean water above the room, and how far below its supply it is thought to lie [K].
    """
    from sim.case.constants import ZERO_CELSIUS
    from sim.run import prepare

    (excess, fall), model = wanted, prepare(case)
    first = _solved(model, excess + fall)
    report = first.report.as_dict()
    short = float(case.room.temperature) + excess - (report["water_mean_C"] + ZERO_CELSIUS)
    if abs(short) <= ANSWERED_CLOSELY * excess:
        return _write(folder, [report], 1)
    second = _solved(model, excess + fall + short, first.solution.state)
    return _write(folder, [second.report.as_dict()], 2)


def solve_flux(case: Case, wanted: tuple[float, float], folder: Path) -> None:
    """Find the water that gives an upward flux [W/m²], beginning with a supply above the room [K]."""
    from sim.run import prepare
    from sim.study.water import UnreachableError, required_supply

    flux, first = wanted
    model = prepare(case).with_supply(float(case.room.temperature) + first)
    try:
        found = required_supply(model, _solved(model, first), flux, tolerance=_TOLERANCE)
    except UnreachableError as error:
        return _write(folder, [], 1, str(error))
    return _write(folder, [found.result.report.as_dict()], found.solves + 1)


def _reports(model: Model, excesses: Sequence[float]) -> list[dict[str, float]]:
    """Reports at several supplies above the room [K], each solve beginning where those before it point to."""
    from sim.solver.state import blended

    reports = list[dict[str, float]]()
    states: list[State] = []
    for excess in excesses:
        start = blended(states, lagrange_shares(excesses[: len(states)], excess)) if states else None
        if start is not None and len(states) == 1:
            start = _with_heat(model, start, excess)
        result = _solved(model, excess, start)
        states.append(result.solution.state)
        reports.append(result.report.as_dict())
    return reports


def _solved(model: Model, excess: float, start: State | None = None) -> Result[Case]:
    """A bay at a supply above the room [K]."""
    from sim.run import solve_model
    from sim.solver.steady import SteadyOptions, first_guess

    fed = model.with_supply(float(model.case.room.temperature) + excess)
    options = SteadyOptions(residual=_RESIDUAL, imbalance=_IMBALANCE)
    return solve_model(fed, options=options, start=start or _with_heat(fed, first_guess(fed.system), excess))


def _with_heat(model: Model, state: State, excess: float) -> State:
    """A state to begin from, with the heat that a bay may give to begin with."""
    tube = sum(float(run.length.sum()) for run in model.system.water.runs)
    return replace(state, delivered=_OUTPUT * tube * excess)


def _write(folder: Path, reports: Sequence[Mapping[str, float]], solves: int, note: str = "") -> None:
    values = {"reports": list(reports), "solves": solves, "note": note}
    (folder / ANSWER).write_text(json.dumps(values), encoding="utf-8")


def leave_answer(answer: BayAnswer, folder: Path) -> None:
    """What a job leaves that was answered elsewhere."""
    _write(folder, answer.reports, answer.solves, answer.note)


def read_answer(folder: Path) -> BayAnswer:
    """The answer that a job left in its folder."""
    values = json.loads((folder / ANSWER).read_text(encoding="utf-8"))
    return BayAnswer(tuple(values["reports"]), values["solves"], values["note"])

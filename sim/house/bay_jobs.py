"""What a job does with a bay of a house: solve it for what is asked, and write the answer into the job's folder."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sim.house.curve import lagrange_shares

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.run import Model
    from sim.solver.state import State
    from sim.solver.steady import SteadyOptions

ANSWER = "answer.json"

_TOLERANCE = 1e-4
_RESIDUAL = 2e-5
"""What a bay's solve may leave over, as a share of its heat: a fifth of what its water is found to."""
ANSWERED_CLOSELY = 1e-3
"""How far the mean water may be from the one that was asked for [K]."""


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


def solve_mean(case: Case, excess: tuple[float], folder: Path) -> None:
    """Solve a bay at a mean water above the room [K]: once, and again where its water fell on the way."""
    from sim.case.constants import ZERO_CELSIUS
    from sim.run import prepare, solve_model

    model, room = prepare(case), float(case.room.temperature)
    first = solve_model(model.with_supply(room + excess[0]), options=_closely())
    report = first.report.as_dict()
    short = room + excess[0] - (report["water_mean_C"] + ZERO_CELSIUS)
    if abs(short) <= ANSWERED_CLOSELY:
        return _write(folder, [report], 1)
    second = solve_model(model.with_supply(room + excess[0] + short), options=_closely(), start=first.solution.state)
    return _write(folder, [second.report.as_dict()], 2)


def solve_flux(case: Case, wanted: tuple[float, float], folder: Path) -> None:
    """Find the water that gives an upward flux [W/m²], beginning with a supply above the room [K]."""
    from sim.run import prepare, solve_model
    from sim.study.water import UnreachableError, required_supply

    flux, first = wanted
    model = prepare(case).with_supply(float(case.room.temperature) + first)
    try:
        found = required_supply(model, solve_model(model, options=_closely()), flux, tolerance=_TOLERANCE)
    except UnreachableError as error:
        return _write(folder, [], 1, str(error))
    return _write(folder, [found.result.report.as_dict()], found.solves + 1)


def _reports(model: Model, excesses: Sequence[float]) -> list[dict[str, float]]:
    """Reports at several supplies above the room [K], each solve beginning where those before it point to."""
    from sim.run import solve_model
    from sim.solver.state import blended

    room, reports = float(model.case.room.temperature), list[dict[str, float]]()
    states: list[State] = []
    for excess in excesses:
        start = blended(states, lagrange_shares(excesses[: len(states)], excess)) if states else None
        result = solve_model(model.with_supply(room + excess), options=_closely(), start=start)
        states.append(result.solution.state)
        reports.append(result.report.as_dict())
    return reports


def _closely() -> SteadyOptions:
    """How closely bays of a house are solved."""
    from sim.solver.steady import SteadyOptions

    return SteadyOptions(residual=_RESIDUAL)


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

"""Choices side by side, at equal water temperature and at equal delivered heat."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.vary import vary_case
from sim.results.stored import StoredResult
from sim.run import Result, prepare, solve_model
from sim.study.water import NeededWater, UnreachableError, required_supply

if TYPE_CHECKING:
    from sim.case.bay_case import Case

FLUX = "heat_flux_up_W_m2"
"""Report key of the flux at which choices are compared a second time."""


@dataclass(frozen=True, slots=True)
class StudyStep:
    """Progress of a comparison: what is being done, as step `number` of `total`."""

    text: str
    number: int
    total: int


@dataclass(frozen=True, slots=True)
class ComparedChoice:
    """One choice: its name, the value that sets it apart, and its results.

    `at_water` is solved with the case's own supply temperature (None, with `failure` saying why, when the solve
    failed), `at_heat` at the supply temperature that gives the comparison's flux (None, with `shortfall` saying
    why, when no water can).
    """

    name: str
    value: Any
    at_water: Result[Case] | StoredResult | None
    at_heat: NeededWater | None
    shortfall: str = ""
    failure: str = ""

    def result(self, equal: str) -> Result[Case] | StoredResult | None:
        """The result at equal "water" or "heat"; None when there is none."""
        if equal == "water":
            return self.at_water
        return self.at_heat.result if self.at_heat else None


@dataclass(frozen=True, slots=True)
class Comparison:
    """All choices and the flux at which they are compared a second time [W/m²]."""

    case: Case
    key: str
    choices: tuple[ComparedChoice, ...]
    flux: float

    def rows(self, equal: str) -> list[dict[str, object]]:
        """One row of report values a choice, at equal "water" or equal "heat"."""
        rows = []
        for choice in self.choices:
            result = choice.result(equal)
            values = result.report.as_dict() if result else {}
            rows.append({"choice": choice.name, "value": choice.value} | values)
        return rows

    def as_dict(self) -> dict[str, object]:
        """Everything as plain values, ready for JSON."""
        return {
            "case": self.case.name,
            "key": self.key,
            "flux_compared_W_m2": self.flux,
            "equal_water": self.rows("water"),
            "equal_heat": self.rows("heat"),
            "shortfalls": {choice.name: choice.shortfall for choice in self.choices if choice.shortfall},
            "failures": {choice.name: choice.failure for choice in self.choices if choice.failure},
        }

    def __str__(self) -> str:
        lines = [f"Comparison of {self.key} for {self.case.name}, second time at {self.flux:.1f} W/m²"]
        for choice in self.choices:
            if choice.at_water is None:
                lines.append(f"├── {choice.name}: failed, {choice.failure}")
                continue
            report, need = choice.at_water.report, choice.at_heat
            needs = f"needs {need.supply - ZERO_CELSIUS:.1f} °C" if need else choice.shortfall
            lines.append(
                f"├── {choice.name}: {report[FLUX]:.1f} W/m², ripple {report['ripple_K']:.2f} K, {needs}"
            )
        return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class AskedChoice:
    """One choice to solve: its name, the value that sets it apart, and its case."""

    name: str
    value: Any
    case: Case


Performer = Callable[[Sequence[AskedChoice], float | None], Sequence[ComparedChoice]]
"""Solves choices, as `solve_twice` does each; hands them back in their order."""


def compare(
    case: Case,
    key: str,
    values: Sequence[object],
    *,
    names: Sequence[str] | None = None,
    flux: float | None = None,
    listener: Callable[[StudyStep], None] | None = None,
    performer: Performer | None = None,
) -> Comparison:
    """Solve a case for several values of one key, twice each.

    Parameters
    ----------
    case : Case of a joist bay.
    key : dotted key to vary, such as "plates.spacing".
    values : its values, in SI or as a user would type them; None or "none" takes plates away.
    names : what to call the choices; the values themselves by default.
    flux : upward heat flux of the second comparison [W/m²]; by default what the first choice delivers.
    listener : called with each StudyStep of work in this process.
    performer : who solves the choices; by default this process, one after the other, and a failure ends all.
        `sim.study.compare_jobs.ChoiceJobs` stores them, shares them and lets the others stand.

    Raises
    ------
    CaseError : a value does not fit the case; nothing is solved.

    Notes
    -----
    Without a stated flux the first choice is solved before the others, as it sets the flux of the second comparison.
    """
    shown = names or [str(value) for value in values]
    asked = [AskedChoice(name, value, vary_case(case, key, value)) for name, value in zip(shown, values, strict=True)]
    perform = performer or partial(_perform_here, tell=_teller(listener, 2 * len(asked)))
    done: list[ComparedChoice] = []
    while flux is None and len(done) < len(asked):
        done += perform(asked[len(done) : len(done) + 1], None)
        flux = _flux_of(done[-1])
    done += perform(asked[len(done) :], flux)
    return Comparison(case, key, tuple(done), math.nan if flux is None else flux)


def solve_twice(asked: AskedChoice, flux: float | None, tell: Callable[[str], None] | None = None) -> ComparedChoice:
    """Solve a choice at its own water temperature and at the one that gives a flux [W/m²].

    Without a flux its own water is what it needs. `tell` hears of each step.
    """
    tell, name = tell or _say_nothing, asked.name
    tell(f"{name}: at the case's water temperature")
    model = prepare(asked.case)
    result = solve_model(model)
    wanted = float(result.report[FLUX]) if flux is None else flux
    tell(f"{name}: water for {wanted:.1f} W/m²")
    try:
        return ComparedChoice(name, asked.value, result, required_supply(model, result, wanted))
    except UnreachableError as error:
        return ComparedChoice(name, asked.value, result, None, str(error))


def _perform_here(
    asked: Sequence[AskedChoice], flux: float | None, tell: Callable[[str], None]
) -> list[ComparedChoice]:
    return [solve_twice(choice, flux, tell) for choice in asked]


def _flux_of(choice: ComparedChoice) -> float | None:
    return None if choice.at_water is None else choice.at_water.report[FLUX]


def _say_nothing(text: str) -> None:
    """Nobody wants to know."""


def _teller(listener: Callable[[StudyStep], None] | None, total: int) -> Callable[[str], None]:
    """A function that numbers the steps it is told about."""
    done = iter(range(1, total + 1))

    def tell(text: str) -> None:
        step = StudyStep(text, next(done), total)
        if listener:
            listener(step)

    return tell

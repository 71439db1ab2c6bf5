"""Choices side by side, at equal water temperature and at equal delivered heat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from sim.case.constants import ZERO_CELSIUS
from sim.run import Model, Result, prepare, solve_model
from sim.study.stored import StoredResult
from sim.study.water import NeededWater, UnreachableError, required_supply


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
    at_water: Result | StoredResult | None
    at_heat: NeededWater | None
    shortfall: str = ""
    failure: str = ""

    def result(self, equal: str) -> Result | StoredResult | None:
        """The result at equal "water" or "heat"; None when there is none."""
        if equal == "water":
            return self.at_water
        return self.at_heat.result if self.at_heat else None


@dataclass(frozen=True, slots=True)
class Comparison:
    """All choices and the flux at which they are compared a second time [W/m²]."""

    case: Any
    key: str
    choices: tuple[ComparedChoice, ...]
    flux: float

    def rows(self, equal: str) -> list[dict[str, Any]]:
        """One row of report values a choice, at equal "water" or equal "heat"."""
        rows = []
        for choice in self.choices:
            result = choice.result(equal)
            values = result.report.as_dict() if result else {}
            rows.append({"choice": choice.name, "value": choice.value} | values)
        return rows

    def as_dict(self) -> dict[str, Any]:
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
                f"├── {choice.name}: {report['heat_flux_up_W_m2']:.1f} W/m², ripple {report['ripple_K']:.2f} K, {needs}"
            )
        return "\n".join(lines)


def compare(
    case: Any,
    key: str,
    values: Sequence[Any],
    *,
    names: Sequence[str] | None = None,
    flux: float | None = None,
    listener: Callable[[StudyStep], None] | None = None,
) -> Comparison:
    """Solve a case for several values of one key, twice each.

    Parameters
    ----------
    case : Case of a joist bay.
    key : dotted key to vary, such as "plates.spacing".
    values : its values, in SI or as a user would type them; None or "none" takes plates away.
    names : what to call the choices; the values themselves by default.
    flux : upward heat flux of the second comparison [W/m²]; by default what the first choice delivers.
    listener : called with each StudyStep.

    Raises
    ------
    CaseError : a value does not fit the case; nothing is solved.
    """
    variants = [vary_case(case, key, value) for value in values]
    names = list(names or (str(value) for value in values))
    say = _teller(listener, 2 * len(variants))
    solved = []
    for name, variant in zip(names, variants, strict=True):
        say(f"{name}: at the case's water temperature")
        model = prepare(variant)
        solved.append((model, solve_model(model)))
    wanted = flux if flux is not None else solved[0][1].report["heat_flux_up_W_m2"]
    choices = []
    for name, value, (model, result) in zip(names, values, solved, strict=True):
        say(f"{name}: water for {wanted:.1f} W/m²")
        choices.append(_choice(name, value, model, result, wanted))
    return Comparison(case, key, tuple(choices), wanted)


def vary_case(case: Any, key: str, value: Any) -> Any:
    """The case with one value, in SI or as typed; CaseError when it does not fit."""
    return case.with_text(key, value) if isinstance(value, str) else case.with_(**{key: value})


def _choice(name: str, value: Any, model: Model, result: Result, flux: float) -> ComparedChoice:
    try:
        return ComparedChoice(name, value, result, required_supply(model, result, flux))
    except UnreachableError as error:
        return ComparedChoice(name, value, result, None, str(error))


def _teller(listener: Callable[[StudyStep], None] | None, total: int) -> Callable[[str], None]:
    """A function that numbers the steps it is told about."""
    done = iter(range(1, total + 1))

    def tell(text: str) -> None:
        step = StudyStep(text, next(done), total)
        if listener:
            listener(step)

    return tell

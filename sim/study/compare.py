"""Choices side by side, at equal water temperature and at equal delivered heat."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError
from sim.case.vary import vary_case
from sim.machine.brief import Brief, small_tree, whole_tree
from sim.machine.notebook import card, frame, table
from sim.results.people import format_value
from sim.results.stored import StoredResult
from sim.run import Result, prepare, solve_model
from sim.study.water import NeededWater, UnreachableError, required_supply

if TYPE_CHECKING:
    import pandas

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
class AskedChoice:
    """One choice to solve.

    Attributes
    ----------
    name : str
        What it is called.
    case : Case
    changes : mapping of str to object
        What sets it apart, by dotted key; empty where whole cases are compared.
    bay : str
        What it is called where all get other water than their own; its name where that says nothing of the water.
    twin : str
        The choice before it that differs in its supply temperature alone: with equal heat it is the same bay, and is
        not solved a second time.
    """

    name: str
    case: Case
    changes: Mapping[str, Any] = field(default_factory=dict)
    bay: str = ""
    twin: str = ""

    @property
    def value(self) -> object:
        """The value of the one key that sets it apart; its name where there is not one."""
        return next(iter(self.changes.values())) if len(self.changes) == 1 else self.name


@dataclass(frozen=True, slots=True, repr=False)
class ComparedChoice(Brief):
    """One choice and its results.

    `at_water` is solved with the case's own supply temperature (None, with `failure` saying why, when the solve
    failed), `at_heat` at the supply temperature that gives the comparison's flux (None, with `shortfall` saying
    why, when no water can, or where the choice has a twin).
    """

    asked: AskedChoice
    at_water: Result[Case] | StoredResult | None
    at_heat: NeededWater | None
    shortfall: str = ""
    failure: str = ""

    def in_short(self) -> str:
        """The choice in a line."""
        if self.at_water is None:
            return f"failed, {self.failure}"
        report, need = self.at_water.report, self.at_heat
        same = f"at equal heat the same as {self.asked.twin}" if self.asked.twin else self.shortfall
        needs = f"needs {need.supply - ZERO_CELSIUS:.1f} °C" if need else same
        return f"{report[FLUX]:.1f} W/m², ripple {report['ripple_K']:.2f} K, {needs}"

    @property
    def name(self) -> str:
        """What it is called."""
        return self.asked.name

    @property
    def case(self) -> Case:
        """Its case, with its own water."""
        return self.asked.case

    def named(self, equal: str) -> str:
        """What it is called at equal "water" or "heat", where its own water is no part of it."""
        return self.name if equal == "water" else self.asked.bay or self.name

    def result(self, equal: str) -> Result[Case] | StoredResult | None:
        """The result at equal "water" or "heat"; None when there is none."""
        if equal == "water":
            return self.at_water
        return self.at_heat.result if self.at_heat else None


@dataclass(frozen=True, slots=True, repr=False)
class Comparison:
    """All choices and the flux at which they are compared a second time [W/m²]; `case` is the one they start from."""

    case: Case
    choices: tuple[ComparedChoice, ...]
    flux: float

    @property
    def keys(self) -> tuple[str, ...]:
        """Dotted keys that any choice changes."""
        return tuple(dict.fromkeys(key for choice in self.choices for key in choice.asked.changes))

    @property
    def key(self) -> str:
        """The one key that sets all choices apart; empty where there is not one."""
        return self.keys[0] if len(self.keys) == 1 else ""

    @property
    def about(self) -> str:
        """What is compared where no one key sets the choices apart."""
        return "changes" if self.keys else "cases"

    @property
    def title(self) -> str:
        """The case's title; the names of all where whole cases are compared."""
        if not self.keys and len(self.choices) > 1:
            return " beside ".join(choice.name for choice in self.choices)
        return self.case.title or self.case.name

    @property
    def supplies(self) -> tuple[float, ...]:
        """The choices' own supply temperatures [K], each once, rising."""
        return tuple(sorted({float(choice.case.water.supply) for choice in self.choices}))

    @property
    def equal_water(self) -> bool:
        """Whether all choices have the same water in the first comparison."""
        return len(self.supplies) == 1

    @property
    def equal_heat(self) -> bool:
        """Whether equal heat says more than the first comparison: not where only the water differs."""
        return len(self.of("heat")) > min(1, len(self.choices) - 1)

    def of(self, equal: str) -> list[ComparedChoice]:
        """The choices of the comparison at equal "water" (all) or equal "heat" (each bay once)."""
        return [choice for choice in self.choices if equal == "water" or not choice.asked.twin]

    def reports(self, equal: str) -> list[dict[str, float]]:
        """The report values of every choice at equal "water" or "heat"; empty where it has none."""
        found = (choice.result(equal) for choice in self.of(equal))
        return [result.report.as_dict() if result else {} for result in found]

    def rows(self, equal: str) -> list[dict[str, object]]:
        """One row of report values a choice, at equal "water" or equal "heat"; none where that makes no sense."""
        if equal != "water" and not self.equal_heat:
            return []
        pairs = zip(self.of(equal), self.reports(equal), strict=True)
        return [{"choice": choice.named(equal), "value": choice.asked.value, **report} for choice, report in pairs]

    def as_dict(self) -> dict[str, object]:
        """Everything as plain values, ready for JSON."""
        return {
            "case": self.case.name,
            "key": self.key,
            "changes": {choice.name: dict(choice.asked.changes) for choice in self.choices},
            "supplies_C": [supply - ZERO_CELSIUS for supply in self.supplies],
            "flux_compared_W_m2": self.flux,
            "equal_water": self.rows("water"),
            "equal_heat": self.rows("heat"),
            "shortfalls": {choice.name: choice.shortfall for choice in self.choices if choice.shortfall},
            "failures": {choice.name: choice.failure for choice in self.choices if choice.failure},
        }

    def to_pandas(self, equal: str = "water") -> pandas.DataFrame:
        """A line a choice with every number of its report, at equal "water" or equal "heat"; keys end in units."""
        if equal not in ("water", "heat"):
            raise ValueError(f'equal is "{equal}"; it is "water" or "heat"')
        return frame(self.rows(equal), "choice")

    def __repr__(self) -> str:
        rows = [(choice.name, choice.in_short()) for choice in self.choices]
        return small_tree(f"Comparison {self.case.name}, {self.key or self.about}", rows)

    def _repr_html_(self) -> str:
        heads = ("choice", "heat up", "warmest spot", "ripple", "heat down", f"water for {self.flux:.1f} W/m²")
        return card(f"Comparison {self.case.name}, {self.key or self.about}", table(map(_cells, self.choices), heads))

    def __str__(self) -> str:
        head = f"Comparison of {self.key or self.about} for {self.case.name}, second time at {self.flux:.1f} W/m²"
        return whole_tree(head, (f"{choice.name}: {choice.in_short()}" for choice in self.choices))


_SHOWN = (FLUX, "surface_peak_C", "ripple_K", "share_down_percent")


def _cells(choice: ComparedChoice) -> tuple[str, ...]:
    """A choice as a line of a table."""
    if choice.at_water is None:
        return choice.name, *[""] * len(_SHOWN), choice.failure
    need = f"{choice.at_heat.supply - ZERO_CELSIUS:.1f} °C" if choice.at_heat else choice.shortfall
    return choice.name, *(format_value(key, choice.at_water.report[key]) for key in _SHOWN), need


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
    """Solve a case for several values of one key, twice each; see `compare_choices`.

    Parameters
    ----------
    case : Case of a joist bay.
    key : dotted key to vary, such as "plates.spacing".
    values : its values, in SI or as a user would type them; None or "none" takes plates away.
    names : what to call the choices; the values themselves by default.
    flux : upward heat flux of the second comparison [W/m²]; by default what the first choice delivers.
    listener, performer : as in `compare_choices`.

    Raises
    ------
    CaseError : a value does not fit the case; nothing is solved.
    """
    shown = names or [str(value) for value in values]
    pairs = zip(shown, values, strict=True)
    asked = [AskedChoice(name, vary_case(case, key, value), {key: value}) for name, value in pairs]
    return compare_choices(case, asked, flux=flux, listener=listener, performer=performer)


def compare_choices(
    case: Case,
    choices: Sequence[AskedChoice],
    *,
    flux: float | None = None,
    listener: Callable[[StudyStep], None] | None = None,
    performer: Performer | None = None,
) -> Comparison:
    """Solve choices twice each: with their own water, and with the water that gives all of them one flux.

    Parameters
    ----------
    case : that they start from, for the record.
    choices : their cases.
    flux : upward heat flux of the second comparison [W/m²]; by default what the first choice delivers.
    listener : called with each StudyStep of work in this process.
    performer : who solves the choices; by default this process, one after the other, and a failure ends all.
        `sim.study.compare_jobs.ChoiceJobs` stores them, shares them and lets the others stand.

    Notes
    -----
    Without a stated flux the first choice is solved before the others, as it sets the flux of the second comparison.
    Choices that differ in their water alone are one bay at equal heat, which is solved once.
    """
    asked = with_twins(choices)
    steps = sum(1 if choice.twin else 2 for choice in asked)
    perform = performer or partial(_perform_here, tell=_teller(listener, steps))
    done: list[ComparedChoice] = []
    while flux is None and len(done) < len(asked):
        done += perform(asked[len(done) : len(done) + 1], None)
        flux = _flux_of(done[-1])
    done += perform(asked[len(done) :], flux)
    return Comparison(case, tuple(done), math.nan if flux is None else flux)


def with_twins(choices: Sequence[AskedChoice]) -> list[AskedChoice]:
    """The choices, each with the first one before it that differs in its supply temperature alone."""
    first: dict[str, str] = {}
    found = []
    for choice in choices:
        same = _with_water_of(choices[0].case, choice.case)
        found.append(replace(choice, twin=first.get(same, "")))
        first.setdefault(same, choice.name)
    return found


def _with_water_of(first: Case, case: Case) -> str:
    """Everything that a solve reads of a case with the supply of another one, as a text to compare."""
    try:
        bay = case.with_(**{"water.supply": first.water.supply}).resolved()
    except CaseError:
        bay = case.resolved()  # it does not take such water, so it is nobody's twin
    return repr({section: keys for section, keys in bay.items() if section not in ("title", "compare")})


def solve_twice(asked: AskedChoice, flux: float | None, tell: Callable[[str], None] | None = None) -> ComparedChoice:
    """Solve a choice at its own water temperature and at the one that gives a flux [W/m²].

    Without a flux its own water is what it needs. `tell` hears of each step.
    """
    tell, name = tell or _say_nothing, asked.name
    tell(f"{name}: at the case's water temperature")
    model = prepare(asked.case)
    result = solve_model(model)
    if asked.twin:
        return ComparedChoice(asked, result, None)
    wanted = float(result.report[FLUX]) if flux is None else flux
    tell(f"{name}: water for {wanted:.1f} W/m²")
    try:
        return ComparedChoice(asked, result, required_supply(model, result, wanted))
    except UnreachableError as error:
        return ComparedChoice(asked, result, None, str(error))


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

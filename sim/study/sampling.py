"""Input uncertainty: a case solved for many values of its uncertain inputs, and what moves its results most.

Samples come from a Latin hypercube (M. McKay, R. Beckman and W. Conover 1979, Technometrics 21, 239): each input's
range is cut into as many equally likely parts as there are samples, and each part is drawn from once. Two measures
say how much an input matters:

- its swing, the result with the input at either end of its range and the others at the case's own values;
- its standardised rank regression coefficient over the samples (`ranks.py`), with all inputs varied at once.

Intervals also hold how far a report says that its numbers may be off, by learned films or by cells and swings of air
alone: every sample is moved by a share drawn from a normal law with the band as its 95 % half width, apart from the
inputs. What moves a result most is told without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.airflow.watch import FlowError
from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError
from sim.problems.at_rest import solve_at_rest
from sim.results.air_motion import air_headline
from sim.results.law_errors import air_band, told_shares
from sim.results.people import BAND, Units, format_span, quantity
from sim.run import NotConvergedError
from sim.solver.balance import BalanceError
from sim.solver.steady import DivergedError
from sim.study.compare import StudyStep
from sim.study.grid_convergence import HEADLINE
from sim.study.inputs import Input, drawn
from sim.study.ranks import Array, Interval, interval_of, rank_regression
from sim.study.sampled_air import held_words, outside_words

if TYPE_CHECKING:
    from sim.case.load import AnyCase

ROUNDING = 1e-6  # share of a number below which its changes are those of the iteration

PER_PART = {"heat_flow_down_W": "share_down_percent"}
"""What is told instead of the heat of the modelled part where that is not of one size."""

FAILURES = (
    CaseError, NotConvergedError, DivergedError, BalanceError, FlowError, ValueError, ArithmeticError, MemoryError
)  # fmt: skip
"""What a single solve may fail with; anything else is a fault of the program and stops the study."""


class StudyError(Exception):
    """No sample could be solved; the message gives the first reason."""


@dataclass(frozen=True, slots=True)
class Draw:
    """One solve to do: its name and the values of the inputs in SI, by key (none: the case as it is)."""

    name: str
    values: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TrialResult:
    """A trial with its report values, or with the reason why there are none."""

    trial: Draw
    report: Mapping[str, float] = field(default_factory=dict)
    failure: str = ""

    def get(self, key: str) -> float:
        """A report value; NaN when the trial failed."""
        return float(self.report.get(key, nan))


Performer = Callable[["AnyCase", Sequence[Draw]], Iterable[TrialResult]]
"""Does trials on a case and hands each over as it is done, in any order."""


@dataclass(frozen=True, slots=True)
class InputInfluence:
    """How an input moves a result: the result at the low and the high end, and the rank coefficient."""

    input: Input
    at_low: float
    at_high: float
    coefficient: float

    def swing(self, usual: float) -> float:
        """Lowest to highest of both ends and the usual value, in its unit; 0 when nothing is known."""
        known = [value for value in (self.at_low, self.at_high, usual) if isfinite(value)]
        return max(known) - min(known) if known else 0.0


@dataclass(frozen=True, slots=True)
class Study:
    """Everything that a study of inputs solved: the case itself, the samples, each input at its ends."""

    case: AnyCase
    inputs: tuple[Input, ...]
    seed: int
    usual: TrialResult
    samples: tuple[TrialResult, ...]
    ends: tuple[tuple[TrialResult, TrialResult], ...]

    @property
    def everything(self) -> tuple[TrialResult, ...]:
        """The case itself, then the samples, then the ends."""
        return (self.usual, *self.samples, *(done for pair in self.ends for done in pair))

    @property
    def failed(self) -> tuple[TrialResult, ...]:
        """The trials that could not be solved."""
        return tuple(done for done in self.everything if done.failure)

    @property
    def keys(self) -> tuple[str, ...]:
        """Report keys that get an interval: the headline numbers; of blocks all that an input moves."""
        report = next((done.report for done in self.samples if not done.failure), {})
        named = HEADLINE if not self._moves("floor_area_m2") else tuple(PER_PART.get(key, key) for key in HEADLINE)
        headline = tuple(key for key in named if key in report) or tuple(air_headline(report))
        every = tuple(key for key in report if quantity(key).group != "Run")
        return headline or tuple(key for key in every if self._moves(key)) or every

    @property
    def apart(self) -> tuple[str, ...]:
        """The same without those that repeat another one, as the heat into blocks does the heat out of them."""
        told: dict[tuple[str, ...], str] = {}
        for key in self.keys:
            told.setdefault(tuple(f"{abs(done.get(key)):.5g}" for done in self.everything), key)
        return tuple(told.values())

    def _moves(self, key: str) -> bool:
        """Whether a report value differs by more than rounding between any solves."""
        values = [done.get(key) for done in self.everything if not done.failure]
        return bool(np.ptp(values) > ROUNDING * np.max(np.abs(values)))

    def results(self, key: str) -> Array:
        """A report value over the samples (n,), NaN where one failed."""
        return np.array([done.get(key) for done in self.samples])

    def interval(self, key: str) -> Interval:
        """Mean, median and 5-95 % interval of a report value, the error of learned films in it."""
        return interval_of(self.results(key) + self._off(key))

    def law_percent(self, key: str) -> float:
        """How far learned films, or computed air, may be off in a report value [%]; 0 where nothing is said of it."""
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = 100.0 * self._bands(key) / np.abs(self.results(key))
        return float(np.nanmax(shares, initial=0.0))

    def _bands(self, key: str) -> Array:
        """Of every sample how far its number may be off by its air (n,), in its unit; 0 where nothing is said."""
        return np.array([self._band(key, done.report) for done in self.samples])

    def _band(self, key: str, report: Mapping[str, float]) -> float:
        if (bay := self.case.joist_bay) is None or not any(shares := told_shares(report)):
            return report.get(key + BAND, 0.0)
        return air_band(key, report, shares, bay.room.temperature - ZERO_CELSIUS)

    def _off(self, key: str) -> Array:
        """Of every sample how far it is taken to be off (n,): quantiles of a normal law, shuffled."""
        count, band = len(self.samples), self._bands(key)
        middles = (np.random.default_rng(self.seed).permutation(count) + 0.5) / count
        from scipy import stats  # it takes a second, which others that import this module need not wait for
        return np.asarray(stats.norm.ppf(middles) * band / stats.norm.ppf(0.975))

    def determination(self, key: str) -> float:
        """R² of the rank regression behind the coefficients."""
        return rank_regression(self._drawn(), self.results(key))[1]

    def influences(self, key: str) -> tuple[InputInfluence, ...]:
        """What each input does to a report value, the largest swing first."""
        coefficients, _ = rank_regression(self._drawn(), self.results(key))
        found = [
            InputInfluence(each, low.get(key), high.get(key), float(coefficient))
            for each, (low, high), coefficient in zip(self.inputs, self.ends, coefficients, strict=True)
        ]
        usual = self.usual.get(key)
        return tuple(sorted(found, key=lambda influence: -influence.swing(usual)))

    def _drawn(self) -> Array:
        """Values of the inputs (samples, inputs) in SI."""
        return np.array([[done.trial.values[each.key] for each in self.inputs] for done in self.samples])

    def as_dict(self) -> dict[str, object]:
        """Intervals, influences and failures as plain values in the units of the keys, ready for JSON."""
        return {
            "case": self.case.name,
            "inputs": {each.key: str(each) for each in self.inputs},
            "ends": {each.key: {"si": each.ends("SI"), "ip": each.ends("IP")} for each in self.inputs},
            "samples": len(self.samples),
            "seed": self.seed,
            "numbers": {key: self._number(key) for key in self.keys},
            "air": self.of_the_law(),
            "failures": {done.trial.name: done.failure for done in self.failed},
        }

    def _number(self, key: str) -> dict[str, Any]:
        found = self.interval(key)
        return {
            "case": self.usual.get(key),
            **{name: getattr(found, name) for name in ("mean", "median", "low", "high", "count")},
            "air_band": float(np.max(self._bands(key), initial=0.0)),
            "determination": self.determination(key),
            "inputs": {
                each.input.key: {"at_low": each.at_low, "at_high": each.at_high, "coefficient": each.coefficient}
                for each in self.influences(key)
            },
        }

    def text(self, units: Units = "si") -> str:
        """Intervals and influences as a small tree."""
        lost = f", {len(self.failed)} solves failed" if self.failed else ""
        lines = [f"Study of {self.case.name}: {len(self.samples)} samples of {len(self.inputs)} inputs{lost}"]
        for key in self.keys:
            lines += self._told(key, units)
        lines += [f"├── {line}" for line in self.of_the_law()]
        lines += [f"└── {done.trial.name} failed: {done.failure}" for done in self.failed]
        return "\n".join(lines)

    def of_the_law(self) -> list[str]:
        """What the intervals hold of the air's own error, in words; nothing where none is told."""
        flows = [self.law_percent(key) for key in self.keys if key.startswith("nusselt_")]
        held = held_words(flows, self.law_percent("heat_flux_up_W_m2"), self.law_percent("ripple_K"))
        return held + outside_words(self.case, [(done.trial.values, done.report) for done in self.everything])

    def _told(self, key: str, units: Units) -> Iterator[str]:
        """The lines about one report value."""
        found, influences = self.interval(key), self.influences(key)
        ends = [value for each in influences for value in (each.at_low, each.at_high)]
        texts, unit = format_span(key, [found.low, found.high, found.median, self.usual.get(key), *ends], units)
        low, high, median, usual, *rest = texts
        yield f"├── {key}: {low} to {high} {unit} (5-95 %), median {median}, the case itself {usual}"
        for each, at_low, at_high in zip(influences, rest[::2], rest[1::2], strict=True):
            yield f"│   ├── {each.input.key}: {at_low} to {at_high}, rank coefficient {each.coefficient:+.2f}"

    def __str__(self) -> str:
        return self.text("si")


def study(
    case: AnyCase,
    inputs: Sequence[Input],
    samples: int = 40,
    seed: int = 0,
    listener: Callable[[StudyStep], None] | None = None,
    *,
    perform: Performer | None = None,
) -> Study:
    """Solve a case for drawn values of its inputs, and with each input at its ends.

    Parameters
    ----------
    case : AnyCase
    inputs : from `sim.study.inputs.parse_inputs`.
    samples : solves with drawn values, at least 2; the coefficients need two more than there are inputs.
    seed : of the draw; the same seed draws the same values.
    listener : called with a StudyStep after each solve.
    perform : who does the solves; by default this process, one after the other.

    Returns
    -------
    Study. Trials that fail are in it with their reasons, and the statistics are over the others.

    Raises
    ------
    StudyError : no sample could be solved.
    ValueError : there are fewer than two samples.
    """
    drawn, pairs = draw_samples(inputs, samples, seed), end_trials(inputs)
    trials = [Draw("the case itself"), *drawn, *(trial for pair in pairs for trial in pair)]
    done: dict[str, TrialResult] = {}
    for each in (perform or perform_trials_here)(case, trials):
        done[each.trial.name] = each
        if listener:
            listener(StudyStep(each.trial.name, len(done), len(trials)))
    if all(done[trial.name].failure for trial in drawn):
        raise StudyError(f"{case.name}: no sample could be solved. {done[drawn[0].name].failure}")
    found = tuple(done[trial.name] for trial in drawn)
    ends = tuple((done[low.name], done[high.name]) for low, high in pairs)
    return Study(case, tuple(inputs), seed, done[trials[0].name], found, ends)


def draw_samples(inputs: Sequence[Input], samples: int, seed: int) -> list[Draw]:
    """Samples of a Latin hypercube over the inputs' spreads, shuffled towards an even filling.

    Raises
    ------
    ValueError : there are fewer than two samples.
    """
    if samples < 2:
        raise ValueError(f"{samples} samples; an interval needs at least 2")
    from scipy.stats import qmc
    shares = qmc.LatinHypercube(len(inputs), optimization="random-cd", seed=seed).random(samples)
    columns = {each.key: each.values(shares[:, place]).tolist() for place, each in enumerate(inputs)}
    return [Draw(f"sample {row + 1}", {key: column[row] for key, column in columns.items()}) for row in range(samples)]


def end_trials(inputs: Sequence[Input]) -> list[tuple[Draw, Draw]]:
    """Each input at its low and its high end, the others as in the case."""
    return [
        (Draw(f"{each.key} low", {each.key: each.low}), Draw(f"{each.key} high", {each.key: each.high}))
        for each in inputs
    ]


def perform_trials_here(
    case: AnyCase, trials: Sequence[Draw], solver: Callable[[AnyCase], Mapping[str, float]] | None = None
) -> Iterator[TrialResult]:
    """Do trials one after the other; one that fails is handed over with its reason.

    Parameters
    ----------
    solver : from a case to its report values; by default `solve_at_rest`.
    """
    for trial in trials:
        try:
            report = dict((solver or solve_values)(varied(case, trial)))
        except FAILURES as error:
            yield TrialResult(trial, failure=reason(error))
        else:
            yield TrialResult(trial, report)


def varied(case: AnyCase, trial: Draw) -> AnyCase:
    """The case with the values of a trial; CaseError when they do not fit it."""
    return drawn(case, trial.values) if trial.values else case


def reason(error: BaseException) -> str:
    """Why a solve failed, in one line."""
    return " ".join(f"{type(error).__name__}: {error}".split())


def solve_values(case: AnyCase) -> Mapping[str, float]:
    """Report values of a solved case."""
    return solve_at_rest(case).report.values

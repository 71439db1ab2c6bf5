"""The widest plate spacing that delivers a flux at a given supply temperature, within limits on peak and ripple."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sim.bay.geometry import needed
from sim.case.errors import CaseError, Problem
from sim.case.taught import uses_learned_films
from sim.machine.brief import Brief, whole_tree
from sim.machine.notebook import frame
from sim.results.people import format_against, format_value
from sim.rules.ways_out import more_tube
from sim.run import Result, prepare, solve_model
from sim.study.widest import widest_kept

if TYPE_CHECKING:
    import pandas

    from sim.case.bay_case import Case
    from sim.results.report import Report

LEAST_GAP = 0.010
"""Between neighbouring plates, for their growth and for fasteners [m]: common practice, no source."""

_NO_PLATES = "the case has no [plates], and the spacing of plates is what is sought"
_ADD_PLATES = 'add e.g. [plates] with length = "200 mm", spacing = "225 mm"'

EDGE_STEP = 1e-3
"""From the last spacing of one law of the air to the first of the next that is solved [m]."""

_EDGE_SETS = "as wide as the learned films hold; by the correlations that follow, wider ones would not do"

MOST_LENGTHS = 4.0
"""Widest spacing that is tried, in plate lengths; without plates comes after it."""

FLUX, PEAK, RIPPLE = "heat_flux_up_W_m2", "surface_peak_C", "ripple_K"

_SETS = {FLUX: "the heat", RIPPLE: "the ripple"}
_WORDS = {FLUX: "upward heat", PEAK: "warmest spot of the floor", RIPPLE: "ripple"}
ROUNDING = 1e-6
"""A wish missed by less is met: rounding of its digits."""

MOST_STEPS = 3
"""Buildable spacings that are tried below the exact one."""

ShownUnits = Literal["si", "ip", "both"]
Solve = Callable[["Case"], "Result[Case]"]
Listener = Callable[[int, "float | None"], None]
"""Told the number of a solve and its spacing [m], None for a bay without plates."""


class NoSpacingError(Exception):
    """No spacing keeps everything that was asked for; the message says what is possible and what binds."""


@dataclass(frozen=True, slots=True)
class SpacingWish:
    """What the spacing shall keep.

    Attributes
    ----------
    flux : float [W/m²]
        Least upward heat flux.
    peak : float or None [°C]
        Highest floor surface.
    ripple : float or None [K]
        Largest ripple.
    """

    flux: float
    peak: float | None = None
    ripple: float | None = None

    def margins(self, report: Mapping[str, float] | Report) -> dict[str, float]:
        """What is left of each wish, by report key, as a share of it (the peak in kelvin); negative where broken."""
        found = {FLUX: report[FLUX] / self.flux - 1.0}
        if self.peak is not None:
            found[PEAK] = self.peak - report[PEAK]
        if self.ripple is not None:
            found[RIPPLE] = 1.0 - report[RIPPLE] / self.ripple
        return found

    def limit(self, key: str) -> float:
        """The value that was wished for a report key."""
        return float({FLUX: self.flux, PEAK: self.peak, RIPPLE: self.ripple}[key] or 0.0)


@dataclass(frozen=True, slots=True, repr=False)
class TriedSpacing(Brief):
    """One bay that was solved: its spacing [m] (None without plates), its result and its margins by report key."""

    spacing: float | None
    result: Result[Case]
    margins: dict[str, float]

    @property
    def kept(self) -> bool:
        """Whether every wish is kept."""
        return min(self.margins.values()) >= -ROUNDING

    @property
    def closing(self) -> float:
        """The smaller margin of flux and ripple: what closer plates mend."""
        return min(margin for key, margin in self.margins.items() if key != PEAK)

    @property
    def end(self) -> tuple[float, float]:
        """Its spacing [m] and that margin: an end of a bracket."""
        return float(self.spacing or 0.0), self.closing

    @property
    def binding(self) -> str:
        """Report key of the wish with the smaller margin among flux and ripple."""
        return min((key for key in self.margins if key != PEAK), key=lambda key: self.margins[key])

    def as_dict(self) -> dict[str, float | None]:
        """The numbers that decide."""
        return {"spacing_mm": None if self.spacing is None else 1e3 * self.spacing, "kept": self.kept} | {
            key: self.result.report[key] for key in (FLUX, PEAK, RIPPLE)
        }


@dataclass(frozen=True, slots=True, repr=False)
class WidestSpacing(Brief):
    """The answer.

    Attributes
    ----------
    wish : SpacingWish
    found : TriedSpacing
        The widest spacing of those solved that keeps everything; without plates where they are not needed.
    trials : tuple of TriedSpacing
        All bays that were solved, in their order.
    note : str
        What sets the spacing, in a sentence.
    exact : TriedSpacing or None
        Where `found` was brought to a buildable step: the widest spacing before that.
    """

    wish: SpacingWish
    found: TriedSpacing
    trials: tuple[TriedSpacing, ...]
    note: str
    exact: TriedSpacing | None = None

    @property
    def solves(self) -> int:
        """Bay solves that it took."""
        return len(self.trials)

    def as_dict(self) -> dict[str, object]:
        """Plain values."""
        return {
            "flux_wanted_W_m2": self.wish.flux,
            "peak_limit_C": self.wish.peak,
            "ripple_limit_K": self.wish.ripple,
            "found": self.found.as_dict(),
            "exact": self.exact.as_dict() if self.exact else None,
            "note": self.note,
            "solves": self.solves,
            "trials": [trial.as_dict() for trial in self.trials],
            "report": self.found.result.report.as_dict(),
        }

    def to_pandas(self) -> pandas.DataFrame:
        """A line a bay that was solved, with the numbers that decide; every column names its unit."""
        return frame([trial.as_dict() for trial in self.trials])

    def __str__(self) -> str:
        head = f"{spacing_text(self.found.spacing)}: {self.note}; {self.solves} solves"
        return whole_tree(head, map(_told, self.trials))


def widest_spacing(
    case: Case,
    wish: SpacingWish,
    *,
    step: float | None = None,
    solve: Solve | None = None,
    listener: Listener | None = None,
    units: ShownUnits = "si",
) -> WidestSpacing:
    """Find the widest plate spacing at which a bay keeps a wish, at the case's own supply temperature.

    Flux falls and ripple grows as plates move apart, so these two bound the spacing from above and are sought; a peak
    over its limit is not mended by moving plates, only by cooler water. Where the air's law changes on the way
    (`law_edge`), both leap: each side is sought by itself, the wider one only where the nearer is kept to its end.

    Parameters
    ----------
    case : Case of a joist bay with plates, one pitch long, tube along the joists.
    wish : what to keep.
    step : what a buildable spacing is a multiple of [m]: the widest of them that keeps the wish is found and solved;
        None leaves the spacing as it comes out.
    solve : how a bay is solved; the model itself by default.
    listener : told before each solve.
    units : of the message where no spacing keeps the wish.

    Raises
    ------
    CaseError : the case has no plates to space, or its spacing does not vary by itself.
    NoSpacingError : no spacing keeps the wish.
    """
    check_spaced(case)
    bench = _Bench(case, wish, solve or _solve, listener, units)
    far, edge = reach(case)[1], law_edge(case)
    closest, widest = bench.trial(reach(case)[0]), bench.trial(edge or far)
    if (widest.closing >= 0.0 or widest.margins[FLUX] >= 0.0 or closest.closing < 0.0) and bench.trial(None).kept:
        return WidestSpacing(wish, bench.trials[-1], tuple(bench.trials), "the bare tube gives enough")
    if edge and widest.closing >= 0.0:
        beyond = bench.trial(edge + EDGE_STEP)
        if beyond.closing < 0.0:
            return bench.answer(widest, _EDGE_SETS, step)
        closest, widest = beyond, bench.trial(far)
    if widest.closing >= 0.0:
        return bench.answer(widest, "as wide as was tried", step)
    if closest.closing < 0.0:
        raise NoSpacingError(bench.why_not(closest, "even plates as close as they go"))
    found = bench.at(widest_kept(lambda spacing: bench.trial(spacing).closing, closest.end, widest.end))
    return bench.answer(found, f"{_SETS[found.binding]} sets it", step)


def reach(case: Case) -> tuple[float, float]:
    """Closest and widest spacing that is tried [m]."""
    length = float(needed(case.plates).length)
    return length + LEAST_GAP, MOST_LENGTHS * length


def law_edge(case: Case) -> float | None:
    """Widest spacing [m] at which a bay's air follows the law that it has with the closest plates.

    None where it follows that law at all spacings that are tried. Beyond it correlations take over from learned films,
    which were not taught plates so far apart.
    """
    low, high = reach(case)
    law = _learned_at(case, low)
    if _learned_at(case, high) == law:
        return None
    while high - low > 0.1 * EDGE_STEP:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _learned_at(case, middle) == law else (low, middle)
    return low


def _learned_at(case: Case, spacing: float) -> bool:
    return uses_learned_films(case.with_(**{"plates.spacing": spacing}))


def check_spaced(case: Case) -> None:
    """Raise CaseError where a case's plate spacing cannot be sought."""
    problems = []
    if case.plates is None:
        problems.append(Problem("plates", "", _NO_PLATES, _ADD_PLATES))
    elif case.tube.direction == "across":
        problems.append(Problem("tube.direction", '"across"', "plates across the joists lie one in each bay"))
    if case.span != "pitch":
        problems.append(
            Problem("span", f'"{case.span}"', "the spacing is sought on one plate pitch", 'set span = "pitch"')
        )
    if problems:
        raise CaseError(case.path or case.name, problems)


class _Bench:
    """Solves trials, keeps them, and says what they show."""

    def __init__(
        self, case: Case, wish: SpacingWish, solve: Solve, listener: Listener | None, units: ShownUnits
    ) -> None:
        self.case, self.wish, self.solve, self.listener, self.units = case, wish, solve, listener, units
        self.trials: list[TriedSpacing] = []

    def trial(self, spacing: float | None) -> TriedSpacing:
        """Solve the bay with plates this far apart [m]."""
        if self.listener:
            self.listener(len(self.trials) + 1, spacing)
        result = self.solve(self.case.with_(**{"plates.spacing": spacing}))
        self.trials.append(TriedSpacing(spacing, result, self.wish.margins(result.report)))
        return self.trials[-1]

    def at(self, spacing: float) -> TriedSpacing:
        """The trial at a spacing that was solved already."""
        return next(trial for trial in self.trials if trial.spacing == spacing)

    def answer(self, found: TriedSpacing, note: str, step: float | None) -> WidestSpacing:
        """The answer, at a buildable step where there is one, unless the peak stands against it."""
        if not found.kept:
            raise NoSpacingError(self.why_not(found, "the widest spacing that would do otherwise"))
        built = self.buildable(found, step) if step else found
        if built is None:
            note += "; no multiple of the step below it keeps everything, so it stays as it is"
        changed = built is not None and built is not found
        return WidestSpacing(self.wish, built or found, tuple(self.trials), note, found if changed else None)

    def buildable(self, found: TriedSpacing, step: float) -> TriedSpacing | None:
        """The widest multiple of a step [m], not above a spacing that was found, at which the wish is kept."""
        closest, exact = reach(self.case)[0], float(found.spacing or 0.0)
        count = math.floor(exact / step + ROUNDING)
        for multiple in range(count, max(0, count - MOST_STEPS), -1):
            spacing = float(f"{multiple * step:.12g}")
            if abs(spacing - exact) < ROUNDING:
                return found
            if spacing < closest - ROUNDING:
                return None
            if (trial := self.trial(spacing)).kept:
                return trial
        return None

    def why_not(self, trial: TriedSpacing, beginning: str) -> str:
        """What is possible, and what binds."""
        broken = [key for key, margin in trial.margins.items() if margin < -ROUNDING]
        given = "; ".join(self._against(trial, key) for key in broken)
        flux = "" if FLUX in broken else f" with {format_value(FLUX, trial.result.report[FLUX], self.units)} upwards"
        what = f"{beginning} ({spacing_text(trial.spacing, self.units)})"
        return f"{self.case.name}: {what}{flux}: {given}; {_ways(self.case, broken[0])}"

    def _against(self, trial: TriedSpacing, key: str) -> str:
        """A value beside what was wanted of it."""
        bound = "at least" if key == FLUX else "at most"
        found, limit = format_against(key, trial.result.report[key], self.wish.limit(key), self.units)
        return f"{_WORDS[key]} {found}, {bound} {limit} wanted"


def _ways(case: Case, key: str) -> str:
    """What helps when a wish is broken; nothing that the case has already."""
    run = more_tube(case)
    thinner = ["a thinner covering"] if case.floor.coverings else []
    if key == FLUX:
        return f"{_either(['warmer water', *run, *thinner])} would give more"
    if key == PEAK:
        return f"only cooler water keeps it, which needs {_either([*run, 'wider plates'])} for the same heat"
    return f"{_either([*run, 'wider plates', 'cooler water'])} would even it out"


def _either(ways: list[str]) -> str:
    return " or ".join(filter(None, [", ".join(ways[:-1]), ways[-1]]))


def _solve(case: Case) -> Result[Case]:
    return solve_model(prepare(case))


def spacing_text(spacing: float | None, units: ShownUnits = "si") -> str:
    """A spacing [m] in the wanted units; None is a bay without plates."""
    return "no plates" if spacing is None else f"plates every {format_value('spacing_mm', 1e3 * spacing, units)}"


def _told(trial: TriedSpacing) -> str:
    """One trial in a line."""
    values = ", ".join(
        format_value(key, trial.result.report[key]) for key in (FLUX, PEAK, RIPPLE)
    )
    return f"{spacing_text(trial.spacing)}: {values}, {'kept' if trial.kept else 'broken'}"

"""A run with resolved air teaches the films model: factors are fitted until films give every class its heat.

    targets       heat of every class of faces, by the computed flow
    fit           solve the films model with the factors so far; move each factor by target over found; repeat

The result is kept as `air_films.json` in the run folder; `air.calibration = "RUN"` uses it for sweeps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.machine.threads import single_threaded_blas
from sim.physics.cavity import WallHeat
from sim.resolved.calibration import Calibration, FilmRow, Words, apply_factors, face_classes
from sim.run import Model, Result, prepare
from sim.solver.multigrid import KeptHierarchy
from sim.solver.state import State
from sim.solver.steady import Solution, SteadyOptions, solve_steady
from sim.solver.terms.cavity import Cavity

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Array = NDArray[np.float64]

PLAIN_FILMS = {"air.model": "correlations", "air.film_factor": 1.0, "air.calibration": None}
"""Changes of a case with resolved air that leave films as the correlations give them: factors are on these."""

ROUNDS = 12
"""Solves of the films model that a fit takes."""

RANGE = (0.02, 50.0)
"""Factors stay within; what would need more is heat that goes against the temperature difference."""

OPTIONS = SteadyOptions(residual=1e-5, imbalance=1e-6)
LOOSE = SteadyOptions(residual=1e-3, imbalance=1e-3)
"""Trials on the way, whose factors move by more than that; the best one is solved again by `OPTIONS`."""


@dataclass(frozen=True, slots=True)
class _Trial:
    """Factors, what films gave with them, heat by class [W] and how far off it is in all, over the whole heat."""

    factors: Mapping[Words, float]
    solution: Solution
    heat: Mapping[Words, float]
    misfit: float


def calibrate(result: Result[Case]) -> Calibration:
    """Factors with which the films model follows a run with resolved air.

    Raises
    ------
    ValueError : the result was not made with resolved air.
    """
    given = result.solution.flows.walls
    if result.air is None or given is None:
        raise ValueError(f"{result.case.name}: was not run with resolved air, so it has no films to teach")
    model = prepare(result.case.with_(**PLAIN_FILMS))
    cavity = model.system.cavity
    assert cavity is not None
    return fit(model, _sums(face_classes(model.cells, cavity), given.convective), result.solution.state)


def fit(model: Model[Case], target: Mapping[Words, float], start: State | None = None) -> Calibration:
    """Film factors that give every class its heat: the best of ROUNDS trials.

    Parameters
    ----------
    model : of the case with films.
    target : heat of every class of faces into the air [W].
    start : where the first trial begins; None: at a guess.
    """
    cavity = model.system.cavity
    assert cavity is not None
    classes = face_classes(model.cells, cavity)
    whole = max(sum(map(abs, target.values())), 1e-9)
    factors, state, tried = dict.fromkeys(target, 1.0), start, list[_Trial]()
    kept = KeptHierarchy()

    def trial(factors: Mapping[Words, float], start: State | None, options: SteadyOptions) -> _Trial:
        with single_threaded_blas():
            solution = solve_steady(apply_factors(model.system, classes, factors), options, None, start, kept)
        found = _sums(classes, _heat(solution).convective)
        misfit = sum(abs(found[words] - target[words]) for words in target) / whole
        return _Trial(factors, solution, found, misfit)

    for _ in range(ROUNDS):
        tried.append(last := trial(factors, state, LOOSE))
        state = last.solution.state
        factors = {words: _moved(factors[words], target[words], last.heat[words]) for words in factors}
    best = min(tried, key=lambda trial: trial.misfit)
    best = trial(best.factors, best.solution.state, OPTIONS)
    rows = _rows(classes, cavity, target, best.factors, best.solution)
    return Calibration(model.case.name, rows, best.misfit)


def _moved(factor: float, target: float, found: float) -> float:
    """A factor after one round of the fit: half-way, in the logarithm, towards what would give the target."""
    if found * target <= 0.0:
        return float(np.clip(0.7 * factor, *RANGE))
    return float(np.clip(factor * np.clip(target / found, 0.25, 4.0) ** 0.7, *RANGE))


def _heat(solution: Solution) -> WallHeat:
    """What the cavity's walls gave, of a solution that has them."""
    assert solution.flows.walls is not None
    return solution.flows.walls


def _sums(classes: list[Words], values: Array) -> dict[Words, float]:
    """Sum of the faces' values by class."""
    sums: dict[Words, float] = {}
    for words, value in zip(classes, values, strict=True):
        sums[words] = sums.get(words, 0.0) + float(value)
    return sums


def _rows(
    classes: list[Words],
    cavity: Cavity,
    target: Mapping[Words, float],
    factors: Mapping[Words, float],
    solution: Solution,
) -> tuple[FilmRow, ...]:
    """The classes as rows, with the films that the solution shows."""
    heat, air = _heat(solution), solution.state.air[cavity.walls.zone]
    area, lost = _sums(classes, cavity.walls.area), _sums(classes, heat.convective)
    driven = _sums(classes, cavity.walls.area * (heat.temperature - air))
    film = {words: lost[words] / driven[words] if abs(driven[words]) > 1e-6 else 0.0 for words in area}
    return tuple(FilmRow(words, area[words], target[words], film[words], factors[words]) for words in sorted(area))

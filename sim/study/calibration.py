"""A run with resolved air teaches the films model: factors are fitted until films give every class its heat.

    targets       heat of every class of faces, by the computed flow
    fit           solve the films model with the factors so far; move each factor by target over found; repeat

The result is kept as `air_films.json` in the run folder; `air.calibration = "RUN"` uses it for sweeps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.case.conditions import films_instead
from sim.resolved.calibration import Calibration, FilmRow, Words, apply_calibration, face_classes
from sim.run import Model, Result, prepare
from sim.solve.flows import Flows, State
from sim.solve.steady import SteadyOptions, solve_steady
from sim.solve.system import Cavity
from sim.solve.threads import one_blas_thread

Array = NDArray[np.float64]

ROUNDS = 12
"""Solves of the films model that a fit takes."""

RANGE = (0.02, 50.0)
"""Factors stay within; what would need more is heat that goes against the temperature difference."""

OPTIONS = SteadyOptions(residual=1e-5, imbalance=1e-6)


def calibrate(result: Result) -> Calibration:
    """Factors with which the films model follows a run with resolved air.

    Raises
    ------
    ValueError : the result was not made with resolved air.
    """
    given = result.solution.flows.walls
    if result.air is None or given is None:
        raise ValueError(f"{result.case.name}: was not run with resolved air, so it has no films to teach")
    model = prepare(result.case.with_(**films_instead()))
    cavity = model.system.cavity
    assert cavity is not None
    return fit(model, _sums(face_classes(model.cells, cavity), given.convective))


def fit(model: Model, target: Mapping[Words, float]) -> Calibration:
    """Film factors that give every class its heat: the best of ROUNDS trials.

    Parameters
    ----------
    model : of the case with films.
    target : heat of every class of faces into the air [W].
    """
    cavity = model.system.cavity
    assert cavity is not None
    classes = face_classes(model.cells, cavity)
    factors, state, tried = dict.fromkeys(target, 1.0), None, []
    for _ in range(ROUNDS):
        trial = Calibration(model.case.name, _rows(classes, cavity, target, factors, None, None), 0.0)
        with one_blas_thread():
            solution = solve_steady(apply_calibration(model.system, model.cells, trial), OPTIONS, None, state)
        state = solution.state
        found = _sums(classes, _convective(solution.flows))
        wrong = sum(abs(found[w] - target[w]) for w in target) / max(sum(map(abs, target.values())), 1e-9)
        rows = _rows(classes, cavity, target, factors, solution.flows, state)
        tried.append(replace(trial, rows=rows, misfit=wrong))
        factors = {words: _moved(factors[words], target[words], found[words]) for words in factors}
    return min(tried, key=lambda trial: trial.misfit)


def _moved(factor: float, target: float, found: float) -> float:
    """A factor after one round of the fit: half-way, in the logarithm, towards what would give the target."""
    if found * target <= 0.0:
        return float(np.clip(0.7 * factor, *RANGE))
    return float(np.clip(factor * np.clip(target / found, 0.25, 4.0) ** 0.7, *RANGE))


def _convective(flows: Flows) -> Array:
    assert flows.walls is not None
    return flows.walls.convective


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
    flows: Flows | None,
    state: State | None,
) -> tuple[FilmRow, ...]:
    """The classes as rows, with their effective films once a solution is there."""
    area = _sums(classes, cavity.walls.area)
    film = dict.fromkeys(area, 0.0)
    if flows is not None and state is not None and flows.walls is not None:
        lost = _sums(classes, flows.walls.convective)
        driven = _sums(classes, cavity.walls.area * (flows.walls.temperature - state.air[cavity.walls.zone]))
        film = {words: lost[words] / driven[words] if abs(driven[words]) > 1e-6 else 0.0 for words in area}
    numbers = ((words, area[words], target[words], film[words], factors[words]) for words in sorted(area))
    return tuple(FilmRow.of(words, *values) for words, *values in numbers)

"""A run with resolved air teaches the films model: factors are fitted until films give every class its heat.

    targets       heat of every class of faces, by the computed flow
    fit           solve the films model with the factors so far; move each factor by target over found; repeat
    openings      zones exchange what their walls' heat asks for, with the computed zone temperatures

The result is kept as `air_films.json` in the run folder; `air.calibration = "RUN"` uses it for sweeps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.case.conditions import films_instead
from sim.physics.cavity import opening_flow
from sim.resolved.calibration import Calibration, FilmRow, Words, apply_calibration, face_classes, opening_kinds
from sim.run import Result, prepare
from sim.solve.assemble import STILL_AIR
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
    if result.air is None or result.solution.system.cavity is None:
        raise ValueError(f"{result.case.name}: was not run with resolved air, so it has no films to teach")
    model = prepare(result.case.with_(**films_instead()))
    cavity = model.system.cavity
    assert cavity is not None
    classes = face_classes(model.cells, cavity)
    given = result.solution.flows.walls
    assert given is not None
    target = _sums(classes, given.convective)
    factors, openings = dict.fromkeys(target, 1.0), _openings(cavity, opening_kinds(model.cells, cavity), result)
    state: State | None = None
    best: tuple[float, Calibration] | None = None
    for _ in range(ROUNDS):
        rows = _rows(classes, cavity, target, factors, None, None)
        trial = Calibration(result.case.name, rows, openings, 0.0)
        system = apply_calibration(model.system, model.cells, trial)
        with one_blas_thread():
            solution = solve_steady(system, OPTIONS, None, state)
        state = solution.state
        found = _sums(classes, _convective(solution.flows))
        misfit = sum(abs(found[w] - target[w]) for w in target) / max(sum(map(abs, target.values())), 1e-9)
        rows = _rows(classes, cavity, target, factors, solution.flows, state)
        if best is None or misfit < best[0]:
            best = misfit, replace(trial, rows=rows, misfit=misfit)
        factors = {words: _moved(factors[words], target[words], found[words]) for words in factors}
    assert best is not None
    return best[1]


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


def _openings(cavity: Cavity, kinds: list[str], result: Result) -> dict[str, float]:
    """Factor of every kind of opening: what it must carry over what its law carries, at the computed temperatures.

    The flows through the openings are those closest to the law that balance every zone's walls.
    """
    openings, zones = cavity.openings, len(result.solution.state.air)
    walls = result.solution.flows.walls
    if not kinds or walls is None:
        return {}
    law, _ = opening_flow(openings, result.solution.state.air, STILL_AIR)
    given = np.bincount(cavity.walls.zone, walls.convective, zones)
    leaves = np.zeros((zones, len(kinds)))
    leaves[openings.first, np.arange(len(kinds))] += 1.0
    leaves[openings.second, np.arange(len(kinds))] -= 1.0
    scale = np.maximum(np.abs(law), 0.01 * np.abs(law).max() + 1e-9)
    needed = law + scale * np.linalg.lstsq(leaves * scale, given - leaves @ law, rcond=None)[0]
    factors: dict[str, float] = {}
    for kind in dict.fromkeys(kinds):
        on = np.array([k == kind for k in kinds])
        with_law, wanted = float(np.abs(law[on]).sum()), float((needed[on] * np.sign(law[on])).sum())
        factors[kind] = float(np.clip(wanted / with_law, *RANGE)) if with_law > 1e-9 else 1.0
    return factors

"""What empirical laws leave open in a number: a solved case again, with each law's film smaller by the law's spread.

- Films of the cavity's air that follow correlations: a quarter. Textbook laws for the same wall differ so much: at
  Rayleigh numbers 1e5 to 1e7 those of McAdams, VDI and Rohsenow for a plate that faces down by 7 to 35 % (evaluated
  with the library ht); the standard's laws for closed layers state no accuracy of their own.
- The water's film: a tenth, as textbooks say of Gnielinski's law (Incropera and DeWitt, chapter 8, from memory).
  Between laminar and turbulent flow, where what happens hangs on the inlet, half of what the two laws differ by.

Films that computed air taught have errors of their own, which are known from bays that never taught them
(`sim.results.law_errors`). Stated films and what else a case states are inputs: `joistbay study` samples them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import hypot

import numpy as np

from sim.case.fluids import water_properties
from sim.physics.tube import nusselt_spread
from sim.problems.steady import STRICT
from sim.results.report import Report
from sim.run import Model, Result, solve_model
from sim.solver.system import System
from sim.solver.terms.water import RunWater, TubeRun, Water

AIR_SPREAD, WATER_SPREAD = 0.25, 0.10
"""Half widths of laws' own errors, as a share of the film."""

MOST_SPREAD = 0.9
"""A film is never made smaller by more than this share."""


def law_bands(model: Model, found: Result, keys: list[str]) -> dict[str, float]:
    """Half width of what the laws of air and water leave open in report numbers, each in the number's own unit.

    Parameters
    ----------
    model, found : a case made ready and its answer; a coarse grid is good enough.
    keys : of the report.
    """
    answers = [solve_model(replace(model, system=other), options=STRICT).report for other in _others(found)]
    own: Report = found.report
    return {key: hypot(*(answer.values.get(key, own[key]) - own[key] for answer in answers)) for key in keys}


def _others(found: Result) -> Iterator[System]:
    """The system with smaller films of one law at a time."""
    system = found.solution.system
    if (changed := _thinner_air(system)) is not None:
        yield changed
    if (water := _thinner_water(found)) is not None:
        yield system.with_term(water)


def _thinner_air(system: System) -> System | None:
    """The system with smaller films where they follow correlations; None where none does."""
    cavity = system.cavity
    if cavity is None or cavity.walls.held is not None:
        return None
    walls = cavity.walls
    plain = walls.zone >= 0 if walls.learned is None else (walls.zone >= 0) & ~walls.learned.taught
    if not plain.any():
        return None
    openings = cavity.openings
    if walls.learned is None:
        openings = replace(openings, area=openings.area * (1.0 - AIR_SPREAD))
    smaller = np.where(plain, 1.0 - AIR_SPREAD, 1.0) * walls.film_factor
    return system.with_term(replace(cavity.with_walls(film_factor=smaller), openings=openings))


def _thinner_water(found: Result) -> Water | None:
    """The tubes with smaller water films; None where no water flows."""
    water = found.solution.system.water
    pairs = list(zip(water.runs, found.solution.flows.waters, strict=True))
    if not any(run.feed is not None and held.flow > 0.0 for run, held in pairs):
        return None
    return Water(tuple(run.with_feed(film_factor=1.0 - water_spread(run, held)) for run, held in pairs))


def water_spread(run: TubeRun, held: RunWater) -> float:
    """Half width of the water film's own error in a run, as a share of it."""
    if run.feed is None or held.flow <= 0.0:
        return 0.0
    fluid = water_properties(float(np.average(held.temperature, weights=run.length)), run.feed.glycol)
    length = max(float(run.length.sum()), run.feed.circuit_length)
    between = nusselt_spread(held.flow, float(run.inner_diameter or 0.0), length, fluid)
    return min(max(WATER_SPREAD, between), MOST_SPREAD)

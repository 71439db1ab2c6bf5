"""What empirical laws leave open in a number: a solved case again, with each law's film smaller by the law's spread.

- Films of the cavity's air that follow correlations: a quarter. Textbook laws for the same wall differ so much: at
  Rayleigh numbers 1e5 to 1e7 those of McAdams, VDI and Rohsenow for a plate that faces down by 7 to 35 % (evaluated
  with the library ht); the standard's laws for closed layers state no accuracy of their own.
- The water's film: a tenth, as textbooks say of Gnielinski's law (Incropera and DeWitt, chapter 8, from memory).
  Between laminar and turbulent flow, where what happens hangs on the inlet, half of what the two laws differ by.

Where such bays were computed, what learned films and correlations were off by is known and counts where it is more
(`sim.results.law_errors`). Stated films and what else a case states are inputs: `joistbay study` samples them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import hypot, nan

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.physics.learned_bands import correlations_band
from sim.physics.tube import nusselt_spread
from sim.problems.steady import STRICT
from sim.results.law_errors import NONE, Shares, air_band, told_shares
from sim.results.report import Report
from sim.run import Model, Result, solve_model
from sim.solver.air_plan import find_air_plan, kind_of
from sim.solver.system import System
from sim.solver.terms.water import RunWater, TubeRun, Water

AIR_SPREAD, WATER_SPREAD = 0.25, 0.10
"""Half widths of laws' own errors, as a share of the film."""

MOST_SPREAD = 0.9
"""A film is never made smaller by more than this share."""


@dataclass(frozen=True, slots=True)
class Laws:
    """What the laws of a case leave open.

    `air` and `water` are half widths by report key, by the spread of correlations, each in the number's own unit;
    `shares` those of heat up, heat down and ripple against computed air, where such bays were computed, and `room` what
    the floor's heat goes to [°C].
    """

    air: Mapping[str, float]
    water: Mapping[str, float]
    shares: Shares
    room: float

    def half_width(self, key: str, report: Mapping[str, float]) -> float:
        """Half width of all of them in a number of a report, in its own unit; of the air the larger."""
        computed = air_band(key, report, self.shares, self.room) if any(self.shares) else 0.0
        return hypot(max(self.air.get(key, 0.0), computed), self.water.get(key, 0.0))


def laws_of(model: Model, found: Result, keys: list[str]) -> Laws:
    """What the laws of a solved case leave open; a coarse grid is good enough.

    Parameters
    ----------
    keys : of the report, those whose half widths are wanted.
    """
    system = found.solution.system
    air, water = _thinner_air(system), _thinner_water(found)
    changed = (air, system.with_term(water) if water else None)
    by_air, by_water = (_moved(model, found.report, other, keys) for other in changed)
    bay = model.case.joist_bay
    room = nan if bay is None else bay.room.temperature - ZERO_CELSIUS
    return Laws(by_air, by_water, _computed(model, found), room)


def _moved(model: Model, own: Report, system: System | None, keys: list[str]) -> dict[str, float]:
    """By how much the numbers differ with another system."""
    if system is None:
        return {}
    other = solve_model(replace(model, system=system), options=STRICT).report.values
    return {key: abs(other.get(key, own[key]) - own[key]) for key in keys}


def _computed(model: Model, found: Result) -> Shares:
    """Errors against computed air: as the report tells them of learned films, else those of correlations."""
    told = told_shares(found.report.values)
    if any(told) or model.case.joist_bay is None or model.case.air.is_still:
        return told
    plan = find_air_plan(model.cells) if found.solution.system.cavity else None
    if plan is None or model.case.air.taught_by is not None:
        return NONE
    up, down, ripple = (percent / 100.0 for percent in correlations_band(kind_of(plan)))
    return up, down, ripple


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
    fluid = run.feed.fluid_at(held.mean(run))
    length = max(float(run.length.sum()), run.feed.circuit_length)
    between = nusselt_spread(held.flow, float(run.inner_diameter or 0.0), length, fluid)
    return min(max(WATER_SPREAD, between), MOST_SPREAD)

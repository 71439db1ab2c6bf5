"""Films that computed flows taught, put on a cavity's walls: roles of faces, stretches of air, openings of gaps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.case.taught import longest_taught
from sim.physics.learned_bands import band_at
from sim.physics.learned_films import (
    ABOVE,
    BELOW,
    BOTTOM,
    GAP_AIR,
    LEAD,
    LEAST_FILM,
    OPEN,
    OVER,
    SHINES,
    STANDING,
    TUBE,
    UPRIGHT,
    LearnedFilms,
    exchange_factor,
    films_at,
    learned_law,
)
from sim.solver.air_plan import AirPlan, find_air_plan, kind_of, measures_of, situation_of
from sim.solver.system import System
from sim.solver.terms.cavity import Cavity

Array = NDArray[np.float64]
Integers = NDArray[np.int64]

USUAL_LEAD = 15.0
"""What mostly drives the flow below hung plates [K]: of the computed bays 4 to 25."""

GAP = "gap over"
"""How the names of the air zones over hung plates begin."""


def with_learned_films(system: System, cells: Cells) -> System:
    """The system with learned films in the cavity that its tubes run through; itself where there is none."""
    cavity, found = system.cavity, find_air_plan(cells)
    if cavity is None or found is None:
        return system
    role, inside = roles_of(cells, cavity, found)
    law, measures = learned_law(situation_of(found)), measures_of(found, cells)
    measures = replace(measures, length=min(measures.length, longest_taught(kind_of(found))))  # LONG_ON_TRUST
    scale, power, excess = films_at(law, found.plan, measures, role, places_of(cavity, found))
    group = _stretches(cavity)
    excess = _sharpened(excess, np.isin(role, (OVER, OPEN)), law.sharper, (group, cavity.walls.area))
    hot = _hot_shares(cavity, role, group)
    shining = (role == BOTTOM) & (cavity.walls.emissivity < SHINES)
    moving = scale * (USUAL_LEAD / LEAD) ** power
    still, excess = _layered(found, shining, moving, _still(cavity, role), excess)
    band = band_at(kind_of(found), measures)
    films = LearnedFilms(scale, power, still, excess, group, hot, inside, band.percent, band.nearer)
    gaps = np.array([name.startswith(GAP) for name in cavity.zone_names])
    openings = cavity.openings
    factor = np.where(gaps[openings.first] | gaps[openings.second], exchange_factor(law, measures), 1.0)
    walls, openings = replace(cavity.walls, learned=films), replace(openings, area=openings.area * factor)
    return system.with_term(replace(cavity, walls=walls, openings=openings))


def places_of(cavity: Cavity, found: AirPlan) -> Array:
    """Every face's place (n, 3): across the tubes, along them, and its depth below the cavity's top [m]."""
    centre = cavity.centre
    return np.column_stack([centre[:, 1 - found.axis], centre[:, found.axis], found.high[2] - centre[:, 2]])


def roles_of(cells: Cells, cavity: Cavity, found: AirPlan) -> tuple[Integers, NDArray[np.bool_]]:
    """Every face's role (n,), −1 for none, as of a plate's thin edge, and whether it lies in the tubes' cavity (n,)."""
    kinds, side = np.array(cells.kinds())[cavity.body], cavity.side
    plate, tube = kinds == "plate", kinds == "tube"
    role = np.full(len(side), -1, np.int64)
    role[~plate & (side == 4)] = OPEN
    role[~plate & (side == 4) & _over_plates(cavity, found)] = OVER
    role[~plate & (side < 4)] = UPRIGHT
    role[~plate & (side == 5)] = BOTTOM
    if found.upright:
        role[plate & (side // 2 == 1 - found.axis)] = STANDING
    else:
        role[plate & (side == 5)] = ABOVE
        role[plate & (side == 4)] = BELOW
    role[tube] = TUBE
    inside = np.all((cavity.centre >= found.low - 1e-6) & (cavity.centre <= found.high + 1e-6), axis=1)
    return np.where(inside, role, -1), inside


def _over_plates(cavity: Cavity, found: AirPlan) -> NDArray[np.bool_]:
    """Whether every face lies over or under a plate that hangs flat."""
    over = np.zeros(len(cavity.side), bool)
    if found.upright or found.drop < 1e-6:
        return over
    a, b = places_of(cavity, found)[:, :2].T
    for a0, a1, b0, b1 in found.plan.plates:
        over |= (a > a0) & (a < a1) & (b > b0) & (b < b1)
    return over


def _still(cavity: Cavity, role: Integers) -> Array:
    """Conduction that every film starts from [W/m²K]: through half a gap over a plate."""
    gap = 2.0 * GAP_AIR / cavity.walls.distance
    return np.where(np.isin(role, (OVER, ABOVE)), gap, LEAST_FILM)


def _layered(
    found: AirPlan, shining: NDArray[np.bool_], moving: Array, still: Array, excess: Array
) -> tuple[Array, Array]:
    """Conduction [W/m²K] and θ of faces, with air in layers between a bottom that shines and flat plates.

    Such a bottom is colder than the air, so that half of the air below the plates at least conducts, and where that is
    more than what plumes stir, they do not decide what it faces. All bottoms that taught are dull: radiation
    keeps them near the air, and what they give it is little. Bare tubes stir the air down to the bottom.

    Parameters
    ----------
    moving : films at a usual lead [W/m²K].
    """
    if not len(found.plan.plates) or found.upright or not shining.any():
        return still, excess
    layers = 2.0 * GAP_AIR / float(found.high[2] - found.low[2] - found.drop)
    stirred = moving**4 / (moving**4 + layers**4)
    return np.where(shining, layers, still), np.where(shining, stirred, 1.0) * excess


def _stretches(cavity: Cavity) -> Integers:
    """The zone of the open air whose stretch of the bay every face belongs to: of a gap that which it opens to most."""
    home = np.arange(max(cavity.zone_count, 1))
    openings = cavity.openings
    for zone, name in enumerate(cavity.zone_names):
        own = (openings.first == zone) | (openings.second == zone)
        if name.startswith(GAP) and own.any():
            other = np.where(openings.first == zone, openings.second, openings.first)
            home[zone] = int(np.bincount(other[own], openings.area[own]).argmax())
    return np.asarray(home[np.maximum(cavity.walls.zone, 0)], np.int64)


def _sharpened(excess: Array, top: NDArray[np.bool_], factor: float, stretches: tuple[Integers, Array]) -> Array:
    """θ with its departures from the mean over each stretch's sheathing times a factor; elsewhere as it is."""
    group, area = stretches
    share = np.where(top, area, 0.0)
    mean = np.bincount(group, share * excess) / np.maximum(np.bincount(group, share), 1e-30)
    return np.where(top, mean[group] + factor * (excess - mean[group]), excess)


def _hot_shares(cavity: Cavity, role: Integers, group: Integers) -> Array:
    """Share of every plate or tube face in the mean temperature of those of its stretch; one without any is refused."""
    area = np.where(np.isin(role, (ABOVE, BELOW, TUBE, STANDING)), cavity.walls.area, 0.0)
    return area / np.maximum(np.bincount(group, area), 1e-30)[group]

"""Heat between a cavity's walls, its air and one another.

Every wall face has a foot temperature T* (of the cell or cells behind it), a half-cell conductance G to the
surface and two ways onward, so its surface temperature T_s follows from

    G (T* − T_s) = q_c(T_s − T_air) A + ε A (σ T_s⁴ − H)

where H is the irradiation of the patch that the face belongs to. Zone air temperatures and patch irradiations
are the unknowns that tie the faces together:

    zone    Σ_faces q_c A = Σ_openings G_ab (T_a − T_b)
    patch   H_p = Σ_q W_pq Ē_q,   W_pq = F̂_pq / (ε_p A_p),   Ē_q = area mean of σ T_s⁴ over patch q

with F̂ Hottel's total-exchange areas (gray, diffuse, many reflections).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case.constants import STEFAN_BOLTZMANN
from sim.machine.brief import Brief
from sim.physics.films import cylinder_film, wall_film_and_slope
from sim.physics.learned_films import LearnedFilms
from sim.physics.openings import opening_conductance

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class HeldAir:
    """Air next to each wall face as a flow computation found it, arrays (n,).

    The heat that a face gives off is film × area × (T_s − `temperature`): `film` [W/m²K] says how that heat answers
    to the surface, the reference `temperature` [K] fixes it where the computation stood.
    """

    film: Array
    temperature: Array


@dataclass(frozen=True, slots=True, repr=False)
class Walls(Brief):
    """Wall faces of the cavities, arrays (n,).

    `half_conductance` foot to surface [W/K]; `area` heat-exchanging area [m²] (a tube's is its round one);
    `orientation` +1 faces up, −1 down, 0 sideways; `distance` air extent along the normal [m]; `diameter` of
    the tube that the face belongs to, 0 elsewhere [m]; `emissivity`; `zone` air zone (−1: no film);
    `patch` radiation patch; `closed` the face bounds a closed, wide air layer, whose films are the standard's
    (ISO 6946). `film_factor` multiplies every film, down to below conduction: a study asks with it
    how much the films matter. Where `learned` speaks of a face its film is the one that computed flows taught.
    With `held` the films do not count: each face has air of its own.
    """

    half_conductance: Array
    area: Array
    orientation: NDArray[np.int8]
    distance: Array
    diameter: Array
    emissivity: Array
    zone: Indices
    patch: Indices
    closed: NDArray[np.bool_] | bool = False
    film_factor: float | Array = 1.0
    held: HeldAir | None = None
    learned: LearnedFilms | None = None


@dataclass(frozen=True, slots=True)
class Openings:
    """Openings between air zones, arrays (m,).

    `first` (the lower one of a horizontal opening) and `second` zone, `area` [m²], `height` [m], `path` between
    zone middles [m], `level` True for openings in a horizontal plane.
    """

    first: Indices
    second: Indices
    area: Array
    height: Array
    path: Array
    level: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, repr=False)
class Patches(Brief):
    """Radiation patches: total-exchange areas F̂ (p, p) [m²] and emitting areas ε A (p,) [m²]."""

    exchange: Array
    emitting_area: Array


@dataclass(frozen=True, slots=True, repr=False)
class WallHeat(Brief):
    """Surface temperatures [K], convective and radiant heat leaving each face [W], and the film slopes [W/K]."""

    temperature: Array
    convective: Array
    radiant: Array
    slope: Array


def film_flow(walls: Walls, surface: Array, air: Array) -> tuple[Array, Array]:
    """Heat from each face to its zone's air [W] and its slope with surface temperature [W/K]."""
    if walls.held is not None:
        slope = walls.held.film * walls.area
        return slope * (surface - walls.held.temperature), slope
    exposed = np.where(walls.zone >= 0, walls.film_factor * walls.area, 0.0)
    if walls.learned is None:
        flux, slope = _correlated(walls, surface, air, slice(None))
        return flux * exposed, slope * exposed
    flux, slope = walls.learned.flux(surface, air)
    plain = np.flatnonzero(~walls.learned.taught)
    if len(plain):
        flux[plain], slope[plain] = _correlated(walls, surface[plain], air[plain], plain)
    return flux * exposed, slope * exposed


def _correlated(walls: Walls, surface: Array, air: Array, own: Indices | slice) -> tuple[Array, Array]:
    """Heat flux into the air [W/m²] of some faces by the correlations, and its slope [W/m²K]."""
    difference = surface - air
    mean = 0.5 * (surface + air)
    closed = walls.closed[own] if isinstance(walls.closed, np.ndarray) else walls.closed
    film, slope = wall_film_and_slope(difference, walls.distance[own], walls.orientation[own], mean, closed)
    diameter = walls.diameter[own]
    tube = diameter > 0.0
    if tube.any():
        film[tube], slope[tube] = _tube_film(difference[tube], diameter[tube], mean[tube])
    return film * difference, slope


def _tube_film(difference: Array, diameter: Array, mean: Array) -> tuple[Array, Array]:
    """Churchill-Chu film [W/m²K] and the slope of its flux, by a difference of 1 %."""
    size = np.maximum(np.abs(difference), 1e-3)
    film = cylinder_film(size, diameter, mean)
    further = cylinder_film(1.01 * size, diameter, mean)
    return film, (1.01 * further - film) / 0.01


def settle_walls(walls: Walls, foot: Array, air: Array, irradiation: Array, guess: Array) -> WallHeat:
    """Solve every face's surface balance by Newton's method.

    Parameters
    ----------
    foot, air, irradiation : T*, zone air temperature [K] and H [W/m²] seen by each face (n,).
    guess : surface temperatures to start from [K] (n,).

    Returns
    -------
    WallHeat, whose temperatures satisfy the balance to 1e-9 K, or to round-off where the foot is stiff.
    """
    surface = guess.copy()
    emitting = walls.emissivity * walls.area
    for _ in range(40):
        convective, slope = film_flow(walls, surface, air)
        radiant = emitting * (STEFAN_BOLTZMANN * surface**4 - irradiation)
        excess = walls.half_conductance * (foot - surface) - convective - radiant
        step = excess / (walls.half_conductance + slope + 4 * emitting * STEFAN_BOLTZMANN * surface**3)
        surface = surface + step
        if np.max(np.abs(step), initial=0.0) < 1e-9:
            break
    convective, slope = film_flow(walls, surface, air)
    radiant = walls.half_conductance * (foot - surface) - convective
    return WallHeat(surface, convective, radiant, slope)


def opening_flow(openings: Openings, air: Array, conductivity: float) -> tuple[Array, Array]:
    """Heat from the first to the second zone of each opening [W], and its slope [W/K].

    An upright opening carries a two-way exchange of warm and cool air; a level one does so only when the
    lower zone is the warmer. Neither falls below conduction between the zones' middles.
    """
    if len(openings.area) == 0:
        return np.empty(0), np.empty(0)
    difference = air[openings.first] - air[openings.second]
    mean = 0.5 * (air[openings.first] + air[openings.second])
    moving = opening_conductance(openings.area, openings.height, np.abs(difference), mean)
    carried = np.where(openings.level & (difference < 0.0), 0.0, moving)
    still = conductivity * openings.area / openings.path
    return (carried + still) * difference, 1.5 * carried + still


def mean_emission(walls: Walls, surface: Array, count: int) -> Array:
    """Area mean of σ T_s⁴ over each patch [W/m²] (p,)."""
    emitted = np.bincount(walls.patch, walls.area * STEFAN_BOLTZMANN * surface**4, count)
    return emitted / np.bincount(walls.patch, walls.area, count)

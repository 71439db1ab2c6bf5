"""What the air's mesh costs, read off the solution: the solids' answer to films smaller by what coarse cells add.

A half cell at a wall carries heat by conduction alone. Where few cells lie in a thermal layer δ = k ΔT / q the wall
gets too much: by about 0.3 (cell/δ)² of its heat in squares of air heated from the side, with radiating or conducting
walls, Rayleigh numbers 1e5 and 1e6, with either scheme (0.16 to 0.41 in 11 runs against spectral solutions).

A wall that heats the air above it, or cools the air below, gives its heat to plumes, and cells too wide for them lose
some: single rolls in squares and layers heated from below, Rayleigh numbers 1e4 to 1e6, carried too little by 0 to 2.4
times the share that cells twice as wide would lose (`sim.airflow.layers.plume_share`; 25 runs against spectral
solutions, `docs/air-mesh.md`), however fine the cells at the walls; with the bounded scheme, whose own diffusion gives
heat back, from 0.7 times too little to 2.0 times too much (14 runs).

What either does to a number depends on what else the heat has to pass; so the solids are solved with films smaller by
the larger of both, and the air in the middle as warm as balances its heat.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.physics.cavity import HeldAir
from sim.resolved.contact import FaceOverlaps

Array = NDArray[np.float64]


class FilmBound(NamedTuple):
    """Bounds on the share of a film that a mesh may be off by, over what is measured of a flow.

    Attributes
    ----------
    layers : over (cell/δ)² [-].
    plumes : of walls that send plumes, over the share of the carried heat that cells twice as wide lose [-].
    """

    layers: float
    plumes: float


LAYERS, PLUMES = 0.42, {"central": 2.8, "bounded": 2.2}
"""Of air alone and of blocks, the second by the scheme of the heat's advection: all these runs lie below."""

IN_BAYS = FilmBound(0.23, 0.0)
"""In bays, whose unsteady layers lose less: of the heat upwards, halving cells of 2.3 to 3.5 mm in bays unlike each
other took 0.06 to 0.17 (cell/δ)²; a third of that is to come where the error goes with the square of the cell
(`docs/air-mesh.md`). That was measured of their plumes and layers together."""

MOST = 0.5
"""Largest such share: cells as large as a layer say no more than that."""

NEAR = 0.02
"""Faces closer to the air's mean temperature than this share of all differences have no film of their own [-]."""


def free_bound(scheme: str) -> FilmBound:
    """The bound of air alone and of blocks, by the scheme of the heat's advection, "central" or "bounded"."""
    return FilmBound(LAYERS, PLUMES[scheme])


def film_losses(shares: Array, bound: FilmBound, plumes: Array | float = 0.0) -> Array:
    """Share of the film of every wall face of the air that its mesh may be off by (n,) [-].

    Layers add heat and plumes lose it, so the larger of both bounds what is left of them.

    Parameters
    ----------
    shares : cell over layer thickness, from `sim.airflow.layers.cell_shares`.
    plumes : share of the carried heat that cells twice as wide lose, where a face sends plumes, else 0.
    """
    return np.minimum(np.maximum(bound.layers * shares**2, bound.plumes * np.asarray(plumes)), MOST)


def thinner_films(
    contact: FaceOverlaps, area: Array, heat: Array, wall: Array, losses: Array, film: Array, middle: float
) -> Callable[[float], HeldAir]:
    """Held air with smaller films, as a function of the temperature of its middle [K].

    Parameters
    ----------
    area : of the solids' faces [m²].
    heat, losses : of the air's faces [W], [-].
    wall : mean temperatures of the solids' faces [K].
    film : answer of faces that have no film against the middle: those near it, or with heat against the difference.
    """
    reached = contact.on_solid > 0.0
    flux, difference = contact.to_solid(heat) / area, wall - middle
    far = np.abs(difference) > NEAR * float(np.ptp(wall[reached]))
    own = reached & far & (flux * difference > 0.0)
    answer = np.divide(flux, difference, out=np.where(reached, film, 0.0), where=own)
    smaller = np.where(own, (1.0 - contact.mean_on_solid(losses)) * answer, answer)
    fixed = wall - np.divide(flux, answer, out=np.zeros_like(flux), where=answer > 0.0)
    return lambda air: HeldAir(smaller, np.where(own, air, fixed))

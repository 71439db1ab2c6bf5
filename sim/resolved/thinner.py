"""What the air's mesh costs, read off the solution: the solids' answer to films smaller by what coarse cells add.

A half cell at a wall carries heat by conduction alone. Where few cells lie in a thermal layer δ = k ΔT / q the wall
gets too much: by about 0.3 (cell/δ)² of its heat in squares of air heated from the side, with radiating or conducting
walls, Rayleigh numbers 1e5 and 1e6, with either scheme (0.16 to 0.41 in 11 runs against spectral solutions). What that
does to a number depends on what else the heat has to pass; so the solids are solved with those smaller films, and the
air in the middle as warm as balances its heat.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sim.physics.cavity import HeldAir
from sim.resolved.contact import FaceOverlaps

Array = NDArray[np.float64]

LOSS = 0.42
"""Bound on the share of a film that a mesh may add, over (cell/δ)² [-]: all these runs lie below."""

LOSS_IN_BAYS = 0.23
"""The same in bays, whose unsteady layers lose less: of the heat upwards, halving cells of 2.3 to 3.5 mm in bays unlike
each other took 0.06 to 0.17 (cell/δ)²; a third of that is to come where the error goes with the square of the cell
(`docs/air-mesh.md`)."""

MOST = 0.5
"""Largest such share: cells as large as a layer say no more than that."""

NEAR = 0.02
"""Faces closer to the air's mean temperature than this share of all differences have no film of their own [-]."""



def film_losses(shares: Array, loss: float = LOSS) -> Array:
    """Share of the film of every wall face of the air that its mesh may have added (n,) [-].

    Parameters
    ----------
    shares : cell over layer thickness, from `sim.airflow.layers.cell_shares`.
    loss : the bound over (cell/δ)².
    """
    return np.minimum(loss * shares**2, MOST)


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

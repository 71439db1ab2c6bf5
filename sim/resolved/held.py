"""The solids with what a flow gave their walls in place of films."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.physics.cavity import HeldAir
from sim.resolved.contact import FaceOverlaps
from sim.solver.system import System
from sim.solver.terms.cavity import Cavity

Array = NDArray[np.float64]


def hold_air(system: System, contact: FaceOverlaps, film: Array, heat: Array, wall: Array) -> System:
    """The system with the flow's heat in place of the films.

    Parameters
    ----------
    film : how the heat of each solid face answers to its temperature [W/m²K].
    heat : from each of the air's faces into the air [W].
    wall : temperatures of the solids' faces that this heat belongs to [K].
    """
    cavity = cavity_of(system)
    reached = contact.on_solid > 0.0
    answer = np.where(reached, film, 0.0)
    given = contact.to_solid(heat) / cavity.walls.area
    reference = wall - np.divide(given, answer, out=np.zeros_like(given), where=reached)
    nowhere = np.full_like(cavity.walls.zone, -1)
    return system.with_term(cavity.with_walls(held=HeldAir(answer, reference), zone=nowhere))


def cavity_of(system: System) -> Cavity:
    """The system's cavity, which `build_air_domain` has found to be there."""
    assert system.cavity is not None
    return system.cavity

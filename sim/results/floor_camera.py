"""The floor of a run as a thermal camera sees it, and where each number of that comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.case.bay_case import Case
from sim.case.materials import find_material
from sim.physics.thermal_camera import apparent_temperature

if TYPE_CHECKING:
    from sim.case.layers import Layer

Array = NDArray[np.float64]

LIBRARY = "materials library: ASHRAE Handbook of Fundamentals, ch. 26 table 2, from memory"
"""Where the library's emissivities of what is not metal come from (the head of `materials.toml`)."""


@dataclass(frozen=True, slots=True)
class CoveringSeen:
    """What a camera sees of one covering: its emissivity [-], and in words where that number comes from."""

    material: str
    emissivity: float
    source: str


@dataclass(frozen=True, slots=True)
class FloorCamera:
    """The floor as a camera set to emissivity 1 reads it.

    Attributes
    ----------
    surface, apparent : (nx, ny) arrays [K]
        The floor surface as computed, and as the camera reads it.
    room, reflected : float [K]
        Room temperature; radiant temperature of the room, which the floor reflects.
    reflected_source : str
        Where the latter comes from.
    coverings : tuple of CoveringSeen
        What is seen, the undermost first.
    """

    surface: Array
    apparent: Array
    room: float
    reflected: float
    reflected_source: str
    coverings: tuple[CoveringSeen, ...]


def see_floor(case: Case, x: Array, y: Array, surface: Array, room: float | None = None) -> FloorCamera:
    """The floor of a bay through a thermal camera.

    Parameters
    ----------
    x, y : (nx,), (ny,) places [m] of the floor's cells
    surface : (nx, ny) floor surface [K]
    room : temperature of the room at that moment [K]; that of the case when left out
    """
    air = case.room.temperature if room is None else room
    split = case.room.radiates_apart and case.room.radiant_temperature is not None
    reflected = float(case.room.radiant_temperature) if split else air  # type: ignore[arg-type]
    source = "room.radiant_temperature of the case" if split else "its surfaces are taken as warm as its air"
    base = case.floor.coverings[0] if case.floor.coverings else case.floor.sheathing
    seen = [_seen(case, base), *(_seen(case, rug) for rug in case.floor.rugs)]
    share = np.full(surface.shape, seen[0].emissivity)
    for rug, own in zip(case.floor.rugs, seen[1:], strict=True):
        share[np.ix_(_within(x, rug.x), _within(y, rug.y))] = own.emissivity
    apparent = apparent_temperature(surface, share, reflected)
    return FloorCamera(surface, apparent, air, reflected, source, tuple(seen))


def _seen(case: Case, layer: Layer) -> CoveringSeen:
    """As the floor radiated in the solve where the case says so, with law "split"; else the materials library."""
    if case.room.radiates_apart:
        return CoveringSeen(layer.material, case.room.emissivity, "room.emissivity of the case")
    material = find_material(layer.material)
    return CoveringSeen(material.name, material.emissivity, LIBRARY)


def _within(places: Array, reach: Sequence[float] | None) -> NDArray[np.bool_]:
    """Which places lie within a reach [m]; all where there is none."""
    return np.ones(places.shape, dtype=bool) if reach is None else (places >= reach[0]) & (places <= reach[1])

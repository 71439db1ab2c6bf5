"""Cells that suit a cavity: as fine at its walls as the thermal layers there ask for, and as its size asks inside.

Among blocks these follow the cavity; in bays, whose air is unsteady and whose solids share the difference, fewer cells
a layer serve (`docs/air-mesh.md`).

Errors of computed air go with (cell/δ)², δ the thickness of the thermal layers at the walls (`sim.airflow.layers`):
about 0.3 (cell/δ)² of a wall's heat. Each mesh word halves that error: about 4, 2, 1 and 0.5 %, less where other
resistances share the difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.airflow.flow import AirProperties
from sim.resolved.domain import GROWTH, AirSizes

CELLS_A_LAYER = {"coarse": 2.5, "normal": 3.5, "fine": 5.0, "finest": 7.0}
"""Per mesh word: cells at walls in a thermal layer, √(0.25 / error)."""

ACROSS = {"coarse": 10, "normal": 14, "fine": 20, "finest": 28}
"""Per mesh word: least cells across the shortest extent of the air, were all of the largest size."""

THIN = 0.7
"""Layers weighted with the heat that passes them over those of the mean heat [-]: heat prefers thin ones, at the
beginning of a wall. Seen in the cavities of `sim.resolved.thinner`."""

RATIO = 3.0
"""Largest cell over the cell at walls: larger ones inside would not carry on what the walls give."""

IN_BAYS = {"coarse": 0.65, "normal": 0.92, "fine": 1.3, "finest": 1.84}
"""The same in bays, in a layer of the whole difference between water and room: those of plates and walls are 1.5 times
as thick. `normal` is what one and a half times the time of 3.5 mm allows in a kitchen with hung plates."""

BAY_RATIO = 4.0
"""Largest cell over these cells at walls in bays: 10 and 7 mm inside gave the same to 0.2 % with 2.5 mm at walls."""

FINER_AT_PLATES, GROWTH_AT_PLATES = 1.35, 0.35
"""Where plates hang flat: by how much finer cells at walls are than all that asks for, and their growth from there.
Faster growth makes as many cells of them, and growth half as fast as usual changed nothing there; a bare tube's plume,
which has a long way to go, loses by it what the walls gain (`docs/air-mesh.md`)."""

IN_A_GAP = {"coarse": 4, "normal": 5, "fine": 7, "finest": 10}
"""Least cells in the gap between a hung plate and the sheathing, were all of the size at walls."""

ON_A_PLATE = 8
"""Least cells on the shorter side of a plate, were all of the largest size."""

SMALLEST_IN_BAYS = 1e-3
"""Smallest cell at a bay's walls [m]: its cost goes with the fourth power."""

MOST_ACROSS = 64
"""Cells at walls in the shortest extent at most where the flow is in three dimensions: its cost goes with their fifth
power, and what that leaves open is in the report."""

SMALLEST = 2e-4
"""Smallest cell at walls [m]."""


@dataclass(frozen=True, slots=True)
class CavityOutlook:
    """What is known of the air before anything is solved.

    Attributes
    ----------
    extent : of the air along x, y and z [m]; along y 0 where the flow is in the plane of x and z
    difference : largest difference of the temperatures that the case states [K]
    air : AirProperties
    gap, plate : between hung plates and the sheathing, and the plates' shorter side [m]; None without
    flat : whether plates hang flat in it
    """

    extent: tuple[float, float, float]
    difference: float
    air: AirProperties

    gap: float | None = None
    plate: float | None = None
    flat: bool = False

    @property
    def shortest(self) -> float:
        """Shortest extent of the flow [m]."""
        return min(size for size in self.extent if size > 0.0)

    @property
    def layer(self) -> float:
        """Expected thickness of the thermal layers where most heat passes [m]: THIN H / (2 Nu), Nu = 0.15 Ra^0.29.

        Nu is at least 1. The fit is within 7 % of the square heated from the side at Rayleigh numbers 1e4 to 1e8:
        2.245, 4.522, 8.825, 16.52 and 30.23 (Le Quéré 1991, Computers & Fluids 20, 29).
        """
        height = self.extent[2]
        rayleigh = self.air.rayleigh(height, self.difference)
        return THIN * height / (2.0 * max(0.15 * rayleigh**0.29, 1.0))


def suited_sizes(word: str, cavity: CavityOutlook, usual: AirSizes) -> AirSizes:
    """Cells of a mesh word for a cavity, never larger than the usual ones."""
    wall = max(cavity.layer / CELLS_A_LAYER[word], SMALLEST)
    if cavity.extent[1] > 0.0:
        wall = max(wall, cavity.shortest / MOST_ACROSS)
    wall = min(usual.wall, wall)
    return AirSizes(min(usual.cell, RATIO * wall, cavity.shortest / ACROSS[word]), wall)


def bay_sizes(word: str, cavity: CavityOutlook, usual: AirSizes) -> AirSizes:
    """Cells of a mesh word for the air of a bay, at walls never larger than the usual ones.

    Examples
    --------
    >>> from sim.airflow.flow import air_at
    >>> from sim.resolved.domain import air_sizes
    >>> kitchen = CavityOutlook((0.37, 0.23, 0.076), 49.0, air_at(310.0), 0.038, 0.13, flat=True)
    >>> sizes = bay_sizes("normal", kitchen, air_sizes("normal"))
    >>> round(1e3 * sizes.wall, 1), round(1e3 * sizes.cell, 1), sizes.growth
    (2.2, 12.0, 0.35)
    """
    finer, growth = (FINER_AT_PLATES, GROWTH_AT_PLATES) if cavity.flat else (1.0, GROWTH)
    wall = min(usual.wall, cavity.layer / IN_BAYS[word])
    if cavity.gap is not None:
        wall = min(wall, cavity.gap / IN_A_GAP[word])
    wall = max(wall, SMALLEST_IN_BAYS)
    plate = np.inf if cavity.plate is None else max(cavity.plate / ON_A_PLATE, wall)
    return AirSizes(min(BAY_RATIO * wall, plate), max(wall / finer, SMALLEST_IN_BAYS), growth)


def stated_difference(temperatures: Sequence[float]) -> float:
    """Largest difference of some temperatures [K]; 1 K where all are alike."""
    return (max(temperatures) - min(temperatures) if temperatures else 0.0) or 1.0

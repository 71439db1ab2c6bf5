"""Heat that cells and cavity air take up per kelvin, for steps in time.

A tube's cells hold the heat of its wall and of the water in it, both at the temperature of the tube's outer surface:
the water itself marches through without storing, which a stretch of some metres passes in less than a minute. Air is
taken at 27 °C throughout. Void holds nothing, and neither does a tube at a stated temperature.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.solver.system import System

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Storage:
    """Heat capacities [J/K] of the cells, flat (cells,), and of the air zones (zones,)."""

    cells: Array
    zones: Array

    def __post_init__(self) -> None:
        for array in (self.cells, self.zones):
            array.flags.writeable = False

    @property
    def total(self) -> float:
        """All of it [J/K]."""
        return float(self.cells.sum() + self.zones.sum())

    def __str__(self) -> str:
        return f"Storage: {self.total / 1e3:.4g} kJ/K, of it {self.zones.sum():.3g} J/K in the air of the cavity"


def build_storage(cells: Cells, system: System) -> Storage:
    """Heat capacities of a system's cells and zones.

    Raises
    ------
    ValueError
        A solid of unknown density or specific heat.
    """
    held = np.sum([term.storage(cells) for term in system.terms], axis=0)
    cavity = system.cavity
    return Storage(held, np.empty(0) if cavity is None else cavity.air_storage(cells))

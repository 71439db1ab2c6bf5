"""What stands behind the walls of a cavity: the cell or cells whose temperatures make the foot of each face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.machine.brief import Brief

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, repr=False)
class Feet(Brief):
    """Cells (faces, k) behind each face, flat, with their weights (faces, k) [-], which add up to 1.

    One solid cell; where air conducts, the air cell as well. `size` is the number of cells of the grid.
    """

    cells: NDArray[np.int64]
    weight: Array
    size: int

    def of(self, temperature: Array) -> Array:
        """Foot of every face (faces,) from what the cells have (cells,)."""
        return np.asarray((self.weight * temperature[self.cells]).sum(axis=1))

    def into_cells(self, heat: Array) -> Array:
        """What faces have (faces,), given to the cells behind them (cells,)."""
        return self._summed(self.weight * heat[:, None])

    def slopes(self, slope: Array) -> Array:
        """Diagonal (cells,) of the flow that a slope at every face (faces,) makes of the cells' temperatures."""
        return self._summed(self.weight**2 * slope[:, None])

    def _summed(self, each: Array) -> Array:
        return np.asarray(np.bincount(self.cells.ravel(), each.ravel(), self.size))

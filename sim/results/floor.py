"""Maps of an outer surface: what a thermal camera would see from above."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.solver.steady import Solution

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SurfaceMap:
    """Surface temperature [K] and outward heat flux [W/m²] on the plan (nx, ny), NaN where there is no surface."""

    temperature: Array
    heat_flux: Array
    area: Array

    @property
    def mean(self) -> float:
        """Area mean of the temperature [K]."""
        on = np.isfinite(self.temperature)
        return float(np.average(self.temperature[on], weights=self.area[on]))

    def extreme(self, highest: bool) -> tuple[float, int, int]:
        """Highest or lowest temperature [K] and its cell (i, j)."""
        values = self.temperature if highest else -self.temperature
        place = np.unravel_index(int(np.nanargmax(values)), values.shape)
        return float(self.temperature[place]), int(place[0]), int(place[1])

    def share_above(self, limit: float) -> float:
        """Share of the area above a temperature [-]."""
        on = np.isfinite(self.temperature)
        return float(self.area[on & (self.temperature > limit)].sum() / self.area[on].sum())


def surface_map(cells: Cells, solution: Solution, path: str, side: int = 5) -> SurfaceMap:
    """The plan of all surfaces on one path that look up (side 5) or down (side 4).

    Faces of the path on other sides (joist sides below an open batt) are left out.
    """
    shape = cells.grid.shape
    temperature = np.full(shape[:2], np.nan)
    flux = np.full(shape[:2], np.nan)
    area = np.broadcast_to(cells.grid.face_areas(2)[:, :, 0], shape[:2])
    level = np.full(shape[:2], -1 if side == 5 else shape[2])
    for surface, heat in zip(solution.system.surfaces, solution.flows.surfaces, strict=True):
        if surface.path != path or surface.side != side:
            continue
        i, j, k = np.unravel_index(surface.cell, shape)
        outer = k > level[i, j] if side == 5 else k < level[i, j]
        i, j = i[outer], j[outer]
        temperature[i, j] = heat.temperature[outer]
        flux[i, j] = heat.flow[outer] / surface.area[outer]
        level[i, j] = k[outer]
    return SurfaceMap(temperature, flux, area)

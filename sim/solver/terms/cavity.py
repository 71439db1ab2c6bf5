"""The cavity: walls at air zones and radiation patches, which are unknowns of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.case.constants import STILL_AIR
from sim.machine.brief import Brief
from sim.physics.cavity import Openings, Patches, WallHeat, Walls, mean_emission, opening_flow, settle_walls
from sim.solver.feet import Feet
from sim.solver.state import State
from sim.solver.terms.conduction import air_capacity
from sim.solver.terms.term import Term

Array = NDArray[np.float64]

SETTLING = "cavity air settling"
"""Path of the heat that held air takes up beyond what it gives: what its flow computation had not yet balanced."""


@dataclass(frozen=True, slots=True, repr=False)
class CavityHeat(Brief):
    """Heat of the walls, slopes of the openings [W/K], and what is left over in zones and patches [W]."""

    walls: WallHeat
    opening_slope: Array
    zones: Array
    patches: Array


@dataclass(frozen=True, slots=True, repr=False)
class Cavity(Brief, Term[CavityHeat]):
    """Walls, their feet, zones, openings and patches.

    `cell` (n, 3), `body`, `side` and `centre` [m] tell which solid face each wall is; `lost_rays` is the share of
    traced radiation that met no wall.
    """

    walls: Walls
    feet: Feet
    zone_names: tuple[str, ...]
    openings: Openings
    patches: Patches
    cell: NDArray[np.int32]
    body: NDArray[np.int16]
    side: NDArray[np.int8]
    centre: Array
    lost_rays: float

    @property
    def zone_count(self) -> int:
        """How many zones the air is divided into (0 with still air)."""
        return len(self.zone_names) if np.any(self.walls.zone >= 0) else 0

    def with_walls(self, **changes: object) -> Cavity:
        """The same cavity with other films or other air at its walls."""
        return replace(self, walls=replace(self.walls, **changes))  # type: ignore[arg-type]

    def settle(self, state: State) -> CavityHeat:
        """Wall temperatures and flows, and what they leave over in zones and patches."""
        walls, zones = self.walls, self.zone_count
        air = np.append(state.air, 300.0)[walls.zone]
        heat = settle_walls(walls, self.feet.of(state.temperature), air, state.irradiation[walls.patch], state.wall)
        emission = mean_emission(walls, heat.temperature, len(state.irradiation))
        patches = self.patches.emitting_area * state.irradiation - self.patches.exchange @ emission
        left = -np.asarray(np.bincount(walls.zone + 1, heat.convective, zones + 1)[1:], np.float64)
        slope = np.empty(0)
        if zones:
            flow, slope = opening_flow(self.openings, state.air, STILL_AIR)
            np.add.at(left, self.openings.first, flow)
            np.add.at(left, self.openings.second, -flow)
        return CavityHeat(heat, slope, left, patches)

    def flow(self, heat: CavityHeat, state: State) -> Array:
        """Heat that leaves the cells behind the walls, to air and by radiation [W] (cells,)."""
        return self.feet.into_cells(heat.walls.convective + heat.walls.radiant)

    def add_slope(self, heat: CavityHeat, diagonal: Array) -> None:
        """Nothing: zones and patches tie walls to one another, see `sim.solver.coupling`."""

    def paths(self, heat: CavityHeat) -> Mapping[str, float]:
        """None, as the cavity lies inside; but held air has not quite settled."""
        return {} if self.walls.held is None else {SETTLING: float(heat.walls.convective.sum())}

    def air_storage(self, cells: Cells) -> Array:
        """Heat capacity of each zone's air [J/K] (zones,)."""
        if not self.zone_count:
            return np.empty(0)
        inside, volumes = cells.zone >= 0, np.broadcast_to(cells.grid.volumes(), cells.grid.shape)
        return np.asarray(
            air_capacity() * np.bincount(cells.zone[inside], volumes[inside], self.zone_count), np.float64
        )

    def lines(self) -> list[str]:
        """One line."""
        return [
            f"cavity: {len(self.walls.area):,} wall faces in {len(self.patches.emitting_area)} radiation patches, "
            f"{self.zone_count} air zone{'s' * (self.zone_count != 1)}"
        ]

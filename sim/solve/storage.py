"""Heat that cells and cavity air take up per kelvin, for steps in time.

A tube's cells hold the heat of its wall and of the water in it, both at the temperature of the tube's outer surface:
the water itself marches through without storing, which a stretch of some metres passes in less than a minute. Air is
taken at 27 °C throughout. Void holds nothing, and neither does a tube at a stated temperature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Box, Tube
from sim.case.fluids import air_properties, water_properties
from sim.solve.system import Run, System

Array = NDArray[np.float64]

AIR_TEMPERATURE = 300.15
"""At which the density and specific heat of cavity air are taken [K]."""


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
    volumes = np.broadcast_to(cells.grid.volumes(), cells.grid.shape)
    per_volume = np.append([_per_volume(body) for body in cells.bodies], 0.0)
    still = system.conduction.active | ~cells.air
    held = np.where(still, per_volume[cells.body] * volumes, 0.0).reshape(-1)
    tubes = [body for body in cells.bodies if isinstance(body, Tube)]
    for run, tube in zip(system.runs, tubes, strict=True):
        per_metre = _per_metre(run, tube)
        held[run.cell] = per_metre * run.length[run.segment] * run.share
    return Storage(held, _zone_air(cells, system, volumes))


def _per_volume(body: Box | Tube) -> float:
    """ρ c of a body's matter [J/(m³ K)]; a tube's is set apart."""
    if isinstance(body, Tube):
        return 0.0
    if body.material is None:
        return _air()
    density, specific_heat = body.material.density, body.material.specific_heat
    if not (density and specific_heat):
        raise ValueError(f"{body.name}: density and specific heat are needed for heat flow in time")
    return density * specific_heat


def _air() -> float:
    air = air_properties(AIR_TEMPERATURE)
    return float(air.density * air.specific_heat)


def _per_metre(run: Run, tube: Tube) -> float:
    """Heat capacity of a metre of tube with its water [J/(m K)]."""
    if run.supply is None:
        return 0.0
    bore = math.pi / 4 * float(tube.inner_diameter or 0.0) ** 2
    wall = math.pi / 4 * tube.outer_diameter**2 - bore
    water = water_properties(run.supply.supply, run.supply.glycol)
    return tube.wall_capacity * wall + float(water.density * water.specific_heat) * bore


def _zone_air(cells: Cells, system: System, volumes: Array) -> Array:
    """Heat capacity of each zone's air [J/K]."""
    count = system.cavity.zone_count if system.cavity is not None else 0
    if not count:
        return np.empty(0)
    inside = cells.zone >= 0
    return np.asarray(_air() * np.bincount(cells.zone[inside], volumes[inside], count), np.float64)

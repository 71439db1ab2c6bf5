"""Every flow of a system at a state: conduction, outer surfaces, cavity walls and water, and what is left over."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.physics.cavity import WallHeat, mean_emission, opening_flow, settle_walls
from sim.solve.assemble import STILL_AIR
from sim.solve.balance import Balance
from sim.solve.stencil import StencilOperator
from sim.solve.surface_heat import SurfaceHeat, settle_surface
from sim.solve.system import System
from sim.solve.water import RunWater, settle_water

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class State:
    """Unknowns: flat cell temperatures, zone air [K] and patch irradiation [W/m²].

    `wall` temperatures [K] and `delivered` heat [W] are carried from the last evaluation as a start for the next.
    """

    temperature: Array
    air: Array
    irradiation: Array
    wall: Array
    delivered: float | None = None


@dataclass(frozen=True, slots=True)
class Flows:
    """Every flow evaluated at a state, and what is left over in cells [W], zones [W] and patches [W]."""

    surfaces: tuple[SurfaceHeat, ...]
    walls: WallHeat | None
    opening_slope: Array
    waters: tuple[RunWater, ...]
    cells: Array
    zones: Array
    patches: Array
    balance: Balance

    @property
    def left(self) -> float:
        """Σ|left over| [W]."""
        return sum(float(np.abs(part).sum()) for part in (self.cells, self.zones, self.patches))

    @property
    def net(self) -> float:
        """|Σ left over| of the bay as a whole, or of its radiation alone if that is more [W]."""
        radiation = float(self.patches.sum())
        return max(abs(float(self.cells.sum() + self.zones.sum()) + radiation), abs(radiation))

    @property
    def residual(self) -> float:
        """Σ|left over| as a share of the heat supplied."""
        return self.left / max(self.balance.heat_in, 1e-9)


def evaluate(system: System, state: State) -> Flows:
    """Every flow at a state: conduction + surfaces + cavity − water is what is left over in each cell."""
    temperature = state.temperature
    waters = settle_water(system.runs, temperature, state.delivered)
    surfaces = tuple(settle_surface(s, temperature[s.cell]) for s in system.surfaces)
    walls, opening_slope, zones, patches = _cavity(system, state)
    cells = conduction_operator(system).apply(temperature.reshape(system.shape)).reshape(-1)
    cells = (
        cells
        + _surface_flow(system, surfaces)
        + _wall_flow(system, walls)
        - _water_flow(system, waters, temperature)
    )
    balance = _balance(system, surfaces, walls, waters)
    return Flows(surfaces, walls, opening_slope, waters, cells, zones, patches, balance)


def conduction_operator(system: System) -> StencilOperator:
    """Conduction alone."""
    return StencilOperator(*system.conduction.faces, np.zeros(system.shape))


def _surface_flow(system: System, surfaces: tuple[SurfaceHeat, ...]) -> Array:
    flow = np.zeros(int(np.prod(system.shape)))
    for surface, heat in zip(system.surfaces, surfaces, strict=True):
        np.add.at(flow, surface.cell, heat.flow)
    return flow


def _wall_flow(system: System, walls: WallHeat | None) -> Array | float:
    if walls is None or system.cavity is None:
        return 0.0
    return np.asarray(system.cavity.foot.T @ (walls.convective + walls.radiant))


def _water_flow(system: System, waters: tuple[RunWater, ...], temperature: Array) -> Array:
    flow = np.zeros(len(temperature))
    for run, water in zip(system.runs, waters, strict=True):
        flow[run.cell] += water.conductance * (water.temperature[run.segment] - temperature[run.cell])
    return flow


def _cavity(system: System, state: State) -> tuple[WallHeat | None, Array, Array, Array]:
    """Wall heat, opening slopes, and what is left over in zones and patches."""
    cavity = system.cavity
    if cavity is None:
        return None, np.empty(0), np.empty(0), np.empty(0)
    walls, zones = cavity.walls, cavity.zone_count
    air = np.append(state.air, 300.0)[walls.zone]
    foot = cavity.foot @ state.temperature
    heat = settle_walls(walls, foot, air, state.irradiation[walls.patch], state.wall)
    emission = mean_emission(walls, heat.temperature, len(state.irradiation))
    patches = cavity.patches.emitting_area * (state.irradiation - cavity.patches.weights @ emission)
    left = -np.asarray(np.bincount(walls.zone + 1, heat.convective, zones + 1)[1:], np.float64)
    slope = np.empty(0)
    if zones:
        flow, slope = opening_flow(cavity.openings, state.air, STILL_AIR)
        np.add.at(left, cavity.openings.first, flow)
        np.add.at(left, cavity.openings.second, -flow)
    return heat, slope, left, patches


SETTLING = "cavity air settling"
"""Path of the heat that held air takes up beyond what it gives: what its flow computation had not yet balanced."""


def _balance(
    system: System, surfaces: tuple[SurfaceHeat, ...], walls: WallHeat | None, waters: tuple[RunWater, ...]
) -> Balance:
    delivered: dict[str, float] = {}
    for surface, heat in zip(system.surfaces, surfaces, strict=True):
        delivered[surface.path] = delivered.get(surface.path, 0.0) + float(heat.flow.sum())
    if walls is not None and system.cavity is not None and system.cavity.walls.held is not None:
        delivered[SETTLING] = float(walls.convective.sum())
    supplied = {run.name: water.heat for run, water in zip(system.runs, waters, strict=True)}
    return Balance(supplied, delivered)

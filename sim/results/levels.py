"""The chain of resistances from the water to the room, from mean temperatures at each station.

Every step is the difference of two mean temperatures over the upward heat flux, so the steps add up to
(mean water − room) / q, the inverse of the output per kelvin. Heat lost downward passes the first steps too and
makes them larger than the parts' own resistances: that is what the room sees.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.bay.cells import Cells
from sim.results.face_temperature import face_temperature
from sim.results.floor import SurfaceMap
from sim.solver.steady import Solution

if TYPE_CHECKING:
    from sim.case.bay_case import Case

STEPS = ("water", "wall", "bond", "plate", "gap", "sheathing", "covering", "room")


def resistance_chain(case: Case, cells: Cells, solution: Solution, floor: SurfaceMap) -> dict[str, float]:
    """Thermal resistance of each step, referred to the upward flux and the floor's area [m² K/W].

    Empty where the floor takes heat from the room: the chain is that of heat on its way up.
    """
    on = np.isfinite(floor.heat_flux)
    flux = float(np.average(floor.heat_flux[on], weights=floor.area[on]))
    levels = _levels(case, cells, solution, floor)
    if flux < 1e-9:
        return {}
    drops = -np.diff(levels)
    return {f"resistance_{step}_m2K_W": float(drop / flux) for step, drop in zip(STEPS, drops, strict=True)}


def _levels(case: Case, cells: Cells, solution: Solution, floor: SurfaceMap) -> list[float]:
    """Mean temperatures [K]: water, tube bore, tube outside, plate at the tube, plate, and up to the room."""
    water, bore, outside = _tube_levels(solution)
    temperature = solution.state.temperature.reshape(cells.grid.shape)
    plate = cells.of_kind("plate")
    at_tube, sheet = outside, outside
    if plate.any():
        at_tube = _mean(temperature, plate & _beside(cells.of_kind("tube")), cells)
        sheet = _mean(temperature, plate, cells)
    underside, top = _sheathing_levels(cells, solution)
    return [water, bore, outside, at_tube, sheet, underside, top, floor.mean, case.room.temperature]


def _tube_levels(solution: Solution) -> tuple[float, float, float]:
    runs, waters = solution.system.runs, solution.flows.waters
    total = sum(float(run.length.sum()) for run in runs)
    means = np.zeros(3)
    for run, water in zip(runs, waters, strict=True):
        per_metre = water.heat / float(run.length.sum())
        inside = float(np.average(water.temperature, weights=run.length))
        bore = inside - per_metre * water.film_resistance
        outside = bore - per_metre * water.wall_resistance
        means += np.array([inside, bore, outside]) * float(run.length.sum()) / total
    return float(means[0]), float(means[1]), float(means[2])


def _sheathing_levels(cells: Cells, solution: Solution) -> tuple[float, float]:
    """Area mean temperatures of the sheathing's underside and top face, over the length of the bay [K]."""
    k = np.flatnonzero(cells.of_kind("sheathing").any(axis=(0, 1)))
    under = face_temperature(cells, solution, 2, high=False)[:, :, int(k[0])]
    top = face_temperature(cells, solution, 2, high=True)[:, :, int(k[-1])]
    bay = cells.of_kind("joist").any(axis=(0, 2))
    area = np.broadcast_to(cells.grid.face_areas(2)[:, :, 0], under.shape)[:, bay]
    return float(np.average(under[:, bay], weights=area)), float(np.average(top[:, bay], weights=area))


def _mean(temperature: np.ndarray, where: np.ndarray, cells: Cells) -> float:
    """Volume mean over some cells [K]."""
    volumes = np.broadcast_to(cells.grid.volumes(), where.shape)
    return float(np.average(temperature[where], weights=volumes[where]))


def _beside(cells_of: np.ndarray) -> np.ndarray:
    """Cells within two cells of those given, across the bay and upright: where a plate meets its tube."""
    from scipy import ndimage

    spread = np.zeros((5, 1, 5), bool)
    spread[:, 0, 2] = spread[2, 0, :] = True
    return ndimage.binary_dilation(cells_of, spread)

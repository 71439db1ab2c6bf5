"""Report quantities of a free arrangement of blocks: flows by path, surfaces, tubes and probes.

Signs: `heat_flow_…` and `heat_flux_…` of a face are positive out of the build-up (a stated `flux` is positive into it);
`heat_flow_…` of a tube or of a box with a temperature is positive into the build-up; `wall_…_convective` and `_radiant`
are positive from the wall into the cavity.
"""

from __future__ import annotations

import numpy as np

from sim.bay.cells import Cells
from sim.bay.geometry import Geometry
from sim.case.constants import ZERO_CELSIUS
from sim.results.body_films import body_films
from sim.results.film_range import beyond_range
from sim.results.probe import probe_temperatures
from sim.results.tube_report import tube_values
from sim.solver.steady import Solution


def blocks_values(geometry: Geometry, cells: Cells, solution: Solution) -> dict[str, float]:
    """Heat flow out of every path, its surface temperatures, tube heats and probe temperatures."""
    values = {f"heat_flow_{_key(path)}_W": flow for path, flow in solution.balance.delivered.items()}
    values |= {f"heat_flow_{_key(name)}_W": flow for name, flow in solution.balance.supplied.items()}
    values |= _surfaces(solution)
    values |= tube_values(solution) | _cavity_walls(cells, solution)
    values |= film_values(cells, solution) | beyond_range(solution)
    probes = probe_temperatures(cells, solution, geometry.probes)
    return values | {f"probe_{_key(name)}_C": value - ZERO_CELSIUS for name, value in probes.items()}


def film_values(cells: Cells, solution: Solution, air: float | None = None) -> dict[str, float]:
    """Film of every body at the cavity's air [W/m²K]; `air` its mean temperature [K], left out that of the zones."""
    return {f"wall_{_key(name)}_film_W_m2K": film for name, film in body_films(cells, solution, air).items()}


def _key(name: str) -> str:
    return "_".join(name.split())


def _surfaces(solution: Solution) -> dict[str, float]:
    """Area mean, lowest and highest surface temperature and mean flux of every path."""
    values: dict[str, float] = {}
    for path in dict.fromkeys(surface.path for surface in solution.system.surfaces):
        parts = [
            (surface.area, heat.temperature, heat.flow)
            for surface, heat in zip(solution.system.surfaces, solution.flows.surfaces, strict=True)
            if surface.path == path
        ]
        area, temperature, flow = (np.concatenate(column) for column in zip(*parts, strict=True))
        key = _key(path)
        values[f"surface_{key}_mean_C"] = float(np.average(temperature, weights=area)) - ZERO_CELSIUS
        values[f"surface_{key}_lowest_C"] = float(temperature.min()) - ZERO_CELSIUS
        values[f"surface_{key}_highest_C"] = float(temperature.max()) - ZERO_CELSIUS
        values[f"heat_flux_{key}_W_m2"] = float(flow.sum() / area.sum())
    return values


def _cavity_walls(cells: Cells, solution: Solution) -> dict[str, float]:
    """Mean temperature of every body's faces at cavity air, and the heat that leaves them to air and by radiation."""
    cavity, walls = solution.system.cavity, solution.flows.walls
    if cavity is None or walls is None:
        return {}
    values: dict[str, float] = {}
    for number in np.unique(cavity.body):
        own, key = cavity.body == number, _key(cells.bodies[number].name)
        mean = float(np.average(walls.temperature[own], weights=cavity.walls.area[own]))
        values[f"wall_{key}_mean_C"] = mean - ZERO_CELSIUS
        values[f"wall_{key}_convective_W"] = float(walls.convective[own].sum())
        values[f"wall_{key}_radiant_W"] = float(walls.radiant[own].sum())
    return values

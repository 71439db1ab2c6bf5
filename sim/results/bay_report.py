"""Report quantities of a joist bay."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import BayPath, Geometry
from sim.case.constants import ZERO_CELSIUS
from sim.case.fluids import water_properties
from sim.case.taught import longer_than_taught
from sim.physics.learned_films import SET_MESH
from sim.results.face_temperature import face_temperature
from sim.results.film_range import beyond_range
from sim.results.floor import SurfaceMap, surface_map
from sim.results.law_errors import WORDS, colder_than_taught, shines, wider
from sim.results.levels import resistance_chain
from sim.results.sheathing import sheathing_shares
from sim.results.underfoot import foot_values
from sim.solver.steady import Solution

if TYPE_CHECKING:
    from sim.case.bay_case import Case

WARM_FLOOR = ZERO_CELSIUS + 29.0
"""Surface limit of occupied floor area [K], EN 1264-2."""


def bay_values(case: Case, geometry: Geometry, cells: Cells, solution: Solution) -> dict[str, float]:
    """Every report quantity of a bay but the run's own numbers."""
    floor = surface_map(cells, solution, BayPath.UP)
    water = _water(solution)
    heat = _heat(solution, floor)
    surface = _floor(case, cells, floor)
    heat["output_per_kelvin_W_m2K"] = _per_kelvin(heat["heat_flux_up_W_m2"], water, case.room.temperature)
    return (
        heat
        | surface
        | foot_values(case, surface)
        | _below_floor(cells, solution)
        | water
        | resistance_chain(case, cells, solution, floor)
        | _make_up(geometry, solution, heat["floor_area_m2"])
        | _air_band(case, heat | water, solution)
        | beyond_range(solution)
    )


def _air_band(case: Case, told: dict[str, float], solution: Solution) -> dict[str, float]:
    """How far learned films may be off in 19 of 20 such bays, what the set's mesh costs in it [%].

    Beside it the share of computed bays that lie nearer the middle of what was computed [%].
    """
    cavity = solution.system.cavity
    learned = cavity.walls.learned if cavity else None
    if learned is None:
        return {}
    shares = zip(WORDS, learned.bands, SET_MESH, wider(case, told), strict=True)
    bands = {f"air_band_{word}_percent": factor * hypot(band, mesh) for word, band, mesh, factor in shares}
    edge = colder_than_taught(case) or shines(case) or longer_than_taught(case)
    return bands | {"air_nearer_percent": 100.0 if edge else learned.nearer}


def _heat(solution: Solution, floor: SurfaceMap) -> dict[str, float]:
    delivered, supplied = solution.balance.delivered, sum(solution.balance.supplied.values())
    area = float(floor.area[np.isfinite(floor.temperature)].sum())
    up, down, edge = (delivered.get(path, 0.0) for path in BayPath)
    return {
        "heat_flux_up_W_m2": up / area,
        "heat_flow_up_W": up,
        "heat_flow_down_W": down,
        "heat_flow_edge_W": edge,
        "heat_flow_supplied_W": supplied,
        "share_down_percent": 100.0 * down / supplied if supplied else float("nan"),
        "floor_area_m2": area,
    }


def _per_kelvin(flux: float, water: dict[str, float], room: float) -> float:
    excess = water["water_mean_C"] + ZERO_CELSIUS - room
    return flux / excess if abs(excess) > 1e-9 else float("nan")


def _floor(case: Case, cells: Cells, floor: SurfaceMap) -> dict[str, float]:
    peak, peak_i, peak_j = floor.extreme(True)
    trough, low_i, low_j = floor.extreme(False)
    mean, room = floor.mean, case.room.temperature
    x, y = 1000 * cells.grid.centres(0), 1000 * cells.grid.centres(1)
    return {
        "surface_mean_C": mean - ZERO_CELSIUS,
        "surface_peak_C": peak - ZERO_CELSIUS,
        "surface_trough_C": trough - ZERO_CELSIUS,
        "ripple_K": peak - trough,
        "ripple_ratio": (peak - trough) / (mean - room) if mean - room > 1e-9 else float("nan"),
        "area_above_29C_percent": 100.0 * floor.share_above(WARM_FLOOR),
        "peak_x_mm": float(x[peak_i]),
        "peak_y_mm": float(y[peak_j]),
        "trough_x_mm": float(x[low_i]),
        "trough_y_mm": float(y[low_j]),
    }


def _below_floor(cells: Cells, solution: Solution) -> dict[str, float]:
    temperature, volumes = solution.temperature, np.broadcast_to(cells.grid.volumes(), cells.grid.shape)
    values: dict[str, float] = {}
    plate = cells.of_kind("plate")
    if plate.any():
        values["plate_mean_C"] = float(np.average(temperature[plate], weights=volumes[plate])) - ZERO_CELSIUS
        values["plate_peak_C"] = float(temperature[plate].max()) - ZERO_CELSIUS
    for kind in ("sheathing", "joist"):
        values[f"{kind}_peak_C"] = float(temperature[cells.of_kind(kind)].max()) - ZERO_CELSIUS
    if cells.of_kind("covering").any():
        values |= _covering_peaks(cells, solution)
    air = cavity_air(cells, solution)
    if air is not None:
        values["cavity_air_C"] = air - ZERO_CELSIUS
    return values | sheathing_shares(cells, solution)


def _covering_peaks(cells: Cells, solution: Solution) -> dict[str, float]:
    """Hottest top face of the uppermost covering, bare or under a rug, and where there are rugs, under those [°C]."""
    own = cells.of_kind("covering")
    top = int(np.flatnonzero(own.any(axis=(0, 1)))[-1])
    face = face_temperature(cells, solution, 2, high=True)[:, :, top] - ZERO_CELSIUS
    under = own[:, :, top] & cells.of_kind("rug").any(axis=2)
    values = {"covering_peak_C": float(face[own[:, :, top]].max())}
    return values | ({"covering_under_rug_peak_C": float(face[under].max())} if under.any() else {})


def cavity_air(cells: Cells, solution: Solution) -> float | None:
    """Volume mean of the air round tube, plates and cables [K]; None without a cavity.

    Air beneath raised insulation has no part in it: it is as cool as the ceiling and would hide how warm cables get.
    """
    if not cells.air.any():
        return None
    air = _above_insulation(cells)
    volumes = np.broadcast_to(cells.grid.volumes(), cells.grid.shape)[air]
    if len(solution.state.air):
        return float(np.average(solution.state.air[cells.zone[air]], weights=volumes))
    return float(np.average(solution.temperature[air], weights=volumes))


def _above_insulation(cells: Cells) -> NDArray[np.bool_]:
    """Air cells above the underside of the insulation; all air where none is left there."""
    levels = np.flatnonzero(cells.of_kind("insulation").any(axis=(0, 1)))
    upper = cells.air.copy()
    upper[:, :, : levels[0] if len(levels) else 0] = False
    return upper if upper.any() else cells.air


def _water(solution: Solution) -> dict[str, float]:
    runs, waters = solution.system.runs, solution.flows.waters
    length = np.concatenate([run.length for run in runs])
    mean = float(np.average(np.concatenate([water.temperature for water in waters]), weights=length))
    first, last = waters[0], waters[-1]
    feed = runs[0].feed
    fluid = water_properties(first.inlet, feed.glycol if feed else 0.0)
    bore = float(runs[0].inner_diameter or 0.0)
    velocity = first.flow / (fluid.density * np.pi * bore**2 / 4)
    return {
        "water_supply_C": first.inlet - ZERO_CELSIUS,
        "water_return_C": last.outlet - ZERO_CELSIUS,
        "water_mean_C": mean - ZERO_CELSIUS,
        "water_flow_l_min": 60_000.0 * first.flow / float(fluid.density),
        "water_velocity_m_s": float(velocity),
        "reynolds": float(fluid.density * velocity * bore / fluid.viscosity),
    }


def _make_up(geometry: Geometry, solution: Solution, area: float) -> dict[str, float]:
    tube = sum(float(run.length.sum()) for run in solution.system.runs)
    return {"tube_m_per_m2": tube / area, "plates_per_m2": len(geometry.of_kind("plate")) / area}

"""What a person wants to see of a bay in time: at each moment, as series, and as warm-up numbers."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import BayPath, Box, Geometry
from sim.case.constants import ZERO_CELSIUS
from sim.results.cf import describe
from sim.results.fields import outlines
from sim.results.floor import surface_map
from sim.solver.march import History
from sim.solver.stages import Moment
from sim.solver.thermostat import FloorSensor, reading
from sim.store.netcdf import read_netcdf

if TYPE_CHECKING:
    import xarray

Array = NDArray[np.float64]

WOODS = ("oak", "softwood flooring", "engineered wood", "laminate")
"""Coverings that count as wood; sheathing, joists and rim joists always do."""

WOOD_LIMITS = (38.0, 52.0, 65.0)
"""Temperatures above which hours in the wood are counted [°C]."""

PATHS = tuple(BayPath)

SERIES: Mapping[str, tuple[str, str]] = {
    "water_supply": ("K", "water entering"),
    "water_return": ("K", "water leaving"),
    "water_flow": ("kg/s", "flow of water"),
    "surface_mean": ("K", "floor surface, mean"),
    "surface_peak": ("K", "floor surface, warmest spot"),
    "surface_trough": ("K", "floor surface, coolest spot"),
    "room": ("K", "room"),
    "floor_sensor": ("K", "floor sensor"),
    "wood_peak": ("K", "wood, warmest cell"),
    "heat_in": ("W/m2", "heat given by the water"),
    "heat_up": ("W/m2", "heat up into the room"),
    "heat_down": ("W/m2", "heat down"),
    "heat_edge": ("W/m2", "heat out through the edges"),
    "energy_in": ("J/m2", "heat given by the water since the start"),
    "energy_up": ("J/m2", "heat up since the start"),
    "energy_down": ("J/m2", "heat down since the start"),
    "energy_edge": ("J/m2", "heat out through the edges since the start"),
    "energy_stored": ("J/m2", "heat taken up by the bay since the start"),
}
"""Series of a warm-up with their units and what they are; flows and energies per floor area.

The floor sensor is there only where a case has one.
"""


def bay_watch(cells: Cells, sensor: FloorSensor | None = None) -> Callable[[Moment], dict[str, object]]:
    """A watch for `march`: temperatures [K] and heat flows [W] of a bay, and its floor map [K] (nx, ny).

    `heating` says whether water flowed in the step that ends, `on` of each thermostat whether it wanted it to.
    """
    wood = np.isin(cells.body, [number for number, body in enumerate(cells.bodies) if _is_wood(body)]).reshape(-1)

    def watch(moment: Moment) -> dict[str, Any]:
        floor, waters = surface_map(cells, moment.solution, BayPath.UP), moment.flows.waters
        balance = moment.flows.balance
        found = {
            "water_supply": waters[0].inlet,
            "water_return": waters[-1].outlet,
            "water_flow": waters[0].flow,
            "surface_mean": floor.mean,
            "surface_peak": float(np.nanmax(floor.temperature)),
            "surface_trough": float(np.nanmin(floor.temperature)),
            "room": next(s.ambient for s in moment.system.surfaces if s.path == BayPath.UP),
            "wood_peak": float(moment.state.temperature[wood].max()),
            "heat_in": sum(balance.supplied.values()),
            "heating": moment.heating,
            "on": list(moment.on),
            "floor_map": floor.temperature,
        }
        if sensor is not None:
            found["floor_sensor"] = reading(sensor, moment.system, moment.flows, BayPath.UP)
        return found | {f"heat_{path}": balance.delivered.get(path, 0.0) for path in PATHS}

    return watch


def _is_wood(body: Any) -> bool:
    if not isinstance(body, Box) or body.material is None:
        return False
    return body.kind in ("sheathing", "joist", "rim") or (body.kind == "covering" and body.material.name in WOODS)


def series_dataset(
    geometry: Geometry, cells: Cells, history: History, area: float, **attributes: object
) -> xarray.Dataset:
    """The watched series with energies since the start and the floor map at every step, over `time` [s].

    Flows and energies are divided by the floor `area` [m²].
    """
    import xarray

    watched = [name for name in SERIES if name in history.watched[0]]
    found: dict[str, Array] = {name: history.series(name) for name in watched}
    for name in ("heat_in", *(f"heat_{path}" for path in PATHS)):
        found[name] = found[name] / area
    supplied = {path for step in history.steps for path in step.supplied}
    found["energy_in"] = np.sum([history.energy("supplied", path) for path in sorted(supplied)], axis=0) / area
    for path in PATHS:
        found[f"energy_{path}"] = history.energy("delivered", path) / area
    found["energy_stored"] = history.stored() / area
    variables: dict[str, Any] = {
        name: ("time", found[name], {"units": unit, "long_name": words})
        for name, (unit, words) in SERIES.items()
        if name in found
    }
    variables["floor_temperature"] = (
        ("time", "x", "y"),
        history.series("floor_map").astype(np.float32),
        {"units": "K", "long_name": "floor surface temperature"},
    )
    grid, metre = cells.grid, {"units": "m"}
    coords: dict[str, Any] = {axis: (axis, grid.centres(n), metre) for n, axis in enumerate("xy")}
    coords |= {f"{axis}_edge": (f"{axis}_edge", grid.edges[n], metre) for n, axis in enumerate("xy")}
    coords["time"] = ("time", history.time, {"units": "s", "long_name": "time since the start"})
    attrs = {"title": geometry.name, "outlines": json.dumps(outlines(geometry)), "floor_area_m2": area} | attributes
    return describe(xarray.Dataset(variables, coords=coords, attrs=attrs))


def read_series(file: str | Path) -> xarray.Dataset:
    """Series that were written as netCDF, loaded into memory."""
    return read_netcdf(Path(file))


def series_rows(series: xarray.Dataset) -> list[dict[str, float]]:
    """The series as rows for a table: hours, °C, l/s of water as kg/s, W/m² and Wh/m²; units in the names."""
    columns: dict[str, Array] = {"time_h": series["time"].values / 3600.0}
    for name, (unit, _) in ((name, known) for name, known in SERIES.items() if name in series):
        values = series[name].values
        if unit == "K":
            columns[f"{name}_C"] = values - ZERO_CELSIUS
        elif unit == "J/m2":
            columns[f"{name}_Wh_m2"] = values / 3600.0
        else:
            columns[f"{name}_{unit.replace('/', '_')}"] = values
    return [dict(zip(columns, map(float, row), strict=True)) for row in zip(*columns.values(), strict=True)]


def passing_time(times: Array, values: Array, level: float) -> float:
    """When [s] a series (n,), in the level's unit, first passes a level from below; NaN if it does not.

    Between its points lies a smooth curve.

    Examples
    --------
    >>> times = np.linspace(0.0, 4.0, 41)
    >>> round(passing_time(times, 1.0 - np.exp(-times), 1.0 - np.exp(-1.0)), 4)
    1.0
    """
    reached = np.flatnonzero(values >= level)
    if not len(reached):
        return float("nan")
    after = int(reached[0])
    if after == 0:
        return float(times[0])
    from scipy.interpolate import PchipInterpolator  # with optimize half a second, wanted at the end of a march only
    from scipy.optimize import brentq

    curve = PchipInterpolator(times, values)
    return float(brentq(lambda time: float(curve(time)) - level, times[after - 1], times[after]))


def time_above(times: Array, values: Array, level: float) -> float:
    """How long a series lies above a level, straight between its points.

    >>> time_above(np.array([0.0, 2.0, 4.0]), np.array([0.0, 2.0, 0.0]), 1.0)
    2.0
    """
    low, high = values[:-1] - level, values[1:] - level
    span = np.where(high != low, high - low, 1.0)
    crossing = np.clip(-low / span, 0.0, 1.0)
    share = np.where(low > 0.0, np.where(high > 0.0, 1.0, crossing), np.where(high > 0.0, 1.0 - crossing, 0.0))
    return float(np.sum(share * np.diff(times)))


def warm_up_values(series: xarray.Dataset, steady: Mapping[str, float]) -> dict[str, float]:
    """Warm-up numbers, with times and overshoot measured against the report of the steady state.

    Shares are of the way from the start to the steady state; they are NaN where there is no way to go.
    """
    times = series["time"].values
    goals = {
        "flux": (series["heat_up"].values, steady["heat_flux_up_W_m2"]),
        "surface": (series["surface_mean"].values, steady["surface_mean_C"] + ZERO_CELSIUS),
    }
    found: dict[str, float] = {}
    for name, (values, goal) in goals.items():
        way = goal - values[0]
        share = (values - values[0]) / way if way > 1e-3 else np.full_like(values, np.nan)
        for percent in (63, 90):
            found[f"{name}_{percent}_h"] = passing_time(times, share, percent / 100.0) / 3600.0
        found[f"{name}_overshoot_percent"] = 100.0 * max(float(share.max()) - 1.0, 0.0)
        found[f"{name}_end_percent"] = 100.0 * float(share[-1])
    found |= {f"energy_{kind}_Wh_m2": float(series[f"energy_{kind}"][-1]) / 3600.0 for kind in _ENERGIES}
    wood = series["wood_peak"].values
    for limit in WOOD_LIMITS:
        found[f"wood_above_{limit:.0f}C_h"] = time_above(times, wood, limit + ZERO_CELSIUS) / 3600.0
    found["wood_highest_C"] = float(wood.max()) - ZERO_CELSIUS
    found["surface_highest_C"] = float(series["surface_peak"].max()) - ZERO_CELSIUS
    found["water_highest_C"] = float(series["water_supply"].max()) - ZERO_CELSIUS
    found["room_end_C"] = float(series["room"][-1]) - ZERO_CELSIUS
    return found


_ENERGIES: Sequence[str] = ("in", *PATHS, "stored")

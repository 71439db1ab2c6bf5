"""Computed air as labelled datasets: mean and present temperature and velocity on the air's own grid.

    air_x, air_y, air_z                     cell centres [m]; air_x_edge … are the edges
    air_temperature, air_velocity_x …       means [K], [m/s] at cell centres
    air_temperature_now, air_velocity_x_now …  at the end of the march

Values are NaN in solids. In a dimensionless case (attribute `dimensionless`) they are in L, ΔT and α/L.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.flow import Flow, interpolate
from sim.results.cf import describe
from sim.store.netcdf import read_netcdf
from sim.store.read_check import DamagedError, intact
from sim.store.run_folder import FIELDS_FILE, FRAMES_FILE, StoreError, read_run

if TYPE_CHECKING:
    import xarray

Array = NDArray[np.float64]
Frame = tuple[Array, Array, Array]
SPACE = ("air_x", "air_y", "air_z")


def air_variables(domain: Domain, mean: Flow, now: Flow) -> dict[str, object]:
    """The variables of the air by name, as `xarray.Dataset` takes them."""
    found: dict[str, Any] = {}
    for flow, ending, words in ((mean, "", "mean "), (now, "_now", "")):
        warmth = _in_air(domain, flow.temperature)
        found[f"air_temperature{ending}"] = (SPACE, warmth, _about("K", f"{words}temperature"))
        for axis, values in zip("xyz", flow.cell_velocity, strict=True):
            about = _about("m/s", f"{words}velocity along {axis}")
            found[f"air_velocity_{axis}{ending}"] = (SPACE, _in_air(domain, values), about)
    return found


def air_coordinates(domain: Domain) -> dict[str, object]:
    """Cell centres and edges of the air's grid."""
    metre = {"units": "m"}
    found: dict[str, Any] = {f"air_{a}": (f"air_{a}", c, metre) for a, c in zip("xyz", domain.centres, strict=True)}
    return found | {f"air_{a}_edge": (f"air_{a}_edge", e, metre) for a, e in zip("xyz", domain.edges, strict=True)}


def air_dataset(domain: Domain, mean: Flow, now: Flow, *, outlines: object, **attributes: object) -> xarray.Dataset:
    """Fields of a run of air alone."""
    import xarray

    attrs = {"outlines": json.dumps(outlines)} | attributes
    made = xarray.Dataset(air_variables(domain, mean, now), coords=air_coordinates(domain), attrs=attrs)
    return describe(made, dimensionless=bool(attributes.get("dimensionless")))


def frames_dataset(
    domain: Domain, times: Sequence[float], fields: Sequence[Frame], *, outlines: object, **attributes: object
) -> xarray.Dataset:
    """Pictures of one x-z section at some times: (temperature [K], x velocity, z velocity [m/s]) at cell centres."""
    import xarray

    middle = domain.shape[1] // 2
    columns = [np.stack(column) for column in zip(*fields, strict=True)]
    names, units = ("air_temperature", "air_velocity_x", "air_velocity_z"), ("K", "m/s", "m/s")
    air, dims = domain.air[:, middle], ("time", "air_x", "air_z")
    variables = {
        name: (dims, np.where(air, values, np.nan), {"units": unit})
        for name, values, unit in zip(names, columns, units, strict=True)
    }
    grid = {name: value for name, value in air_coordinates(domain).items() if not name.startswith("air_y")}
    attrs = {"outlines": json.dumps(outlines), "section_y": float(domain.centres[1][middle])} | attributes
    attrs["two_dimensional"] = int(domain.shape[1] == 1)
    coords = grid | {"time": ("time", list(times))}
    made = xarray.Dataset(variables, coords=coords, attrs=attrs)
    return describe(made, dimensionless=bool(attributes.get("dimensionless")))


def read_flow(folder: Path, domain: Domain) -> Flow:
    """The flow at the end of a kept run, interpolated onto a grid; a march makes it free of divergence.

    Raises
    ------
    StoreError : the folder is no run of air, or damaged.
    """
    with read_run(folder) as run:
        kept = run.loaded_fields()
    stored = {name: f"air_{name}_now" for name in ("temperature", *_VELOCITIES)}
    if missing := [name for name in (*SPACE, *stored.values()) if name not in kept]:
        raise StoreError(f"{folder}: holds no flow to start from ({FIELDS_FILE} has no {missing[0]})")
    centres, fields = [kept[name].values for name in SPACE], {name: kept[own].values for name, own in stored.items()}
    places = [[domain.edges[a] if a == c else domain.centres[a] for a in range(3)] for c in range(3)]
    x, y, z = (interpolate(np.nan_to_num(fields[n]), centres, p) for n, p in zip(_VELOCITIES, places, strict=True))
    warmth = fields["temperature"]
    warmth = np.where(np.isnan(warmth), np.nanmean(warmth), warmth)
    return Flow((x, y, z), interpolate(warmth, centres, domain.centres))


def read_frames(folder: Path) -> xarray.Dataset | None:
    """Pictures of the start that a run folder holds, if any.

    Raises
    ------
    StoreError : they are damaged.
    """
    path = folder / FRAMES_FILE
    if not path.is_file():
        return None
    try:
        return intact(FRAMES_FILE, lambda: read_netcdf(path))
    except DamagedError as error:
        raise StoreError(f"{folder}: cannot be read ({error})") from None


_VELOCITIES = ("velocity_x", "velocity_y", "velocity_z")


def _about(unit: str, words: str) -> dict[str, str]:
    return {"units": unit, "long_name": words}


def _in_air(domain: Domain, values: Array) -> Array:
    return np.where(domain.air, values, np.nan)


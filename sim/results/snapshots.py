"""Temperatures of the whole bay at chosen times of a warm-up, kept in its series and given back as fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Geometry
from sim.results.cf import describe
from sim.results.fields import build_fields
from sim.solver.stages import Moment

if TYPE_CHECKING:
    import xarray

Array = NDArray[np.float64]
Snapshot = Mapping[str, Array]

STATIC = ("material", "air_zone", "water_position")
"""Fields that do not change with time."""

_PREFIX = "snapshot_"


def make_taker(geometry: Geometry, cells: Cells, times: Sequence[float]) -> Callable[[Moment], Snapshot | None]:
    """A function that gives the fields of a moment by name when its time is one of some times [s], else None."""
    wanted = set(times)

    def take(moment: Moment) -> Snapshot | None:
        if moment.time not in wanted:
            return None
        fields = moment_fields(geometry, cells, moment)
        return {str(name): fields[name].values for name in fields.data_vars if name not in STATIC}

    return take


def moment_fields(geometry: Geometry, cells: Cells, moment: Moment) -> xarray.Dataset:
    """The fields of a moment, as those of a steady state."""
    return build_fields(geometry, cells, moment.solution)


def with_snapshots(
    series: xarray.Dataset, fields: xarray.Dataset, snapshots: Mapping[float, Snapshot]
) -> xarray.Dataset:
    """Series with snapshots by time [s]; `fields` of any moment say how these lie in space."""
    if not snapshots:
        return series
    times = ("snapshot", list(snapshots), {"units": "s", "long_name": "time since the start"})
    moving = [name for name in fields.data_vars if name not in STATIC]
    stacked = {
        f"{_PREFIX}{name}": (
            ("snapshot", *fields[name].dims),
            np.stack([snapshot[str(name)] for snapshot in snapshots.values()]),
            fields[name].attrs,
        )
        for name in moving
    }
    still = {name: fields[name].variable for name in STATIC if name in fields}
    heights: dict[str, Any] = {name: fields[name].variable for name in ("z", "z_edge")}
    return describe(series.assign_coords({"snapshot": times} | heights).assign(stacked | still))


def snapshot_times(series: xarray.Dataset) -> list[float]:
    """Times of the snapshots in a series [s]."""
    return [float(time) for time in series["snapshot"].values] if "snapshot" in series else []


def fields_at(series: xarray.Dataset, time: float) -> xarray.Dataset:
    """The snapshot nearest to a time [s] as fields of a run."""
    near = series.sel(snapshot=time, method="nearest")
    moving = {str(name).removeprefix(_PREFIX): near[name] for name in near.data_vars if str(name).startswith(_PREFIX)}
    others = [name for name in near.data_vars if name not in STATIC]
    fields = near.drop_vars([*others, "snapshot", "time"], errors="ignore").assign(moving)
    return fields.drop_vars("snapshot", errors="ignore")

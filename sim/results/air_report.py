"""Report quantities of resolved air: speeds, plumes, films, Rayleigh number, and how steady the means are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.airflow.layers import layer_cells
from sim.case.constants import ZERO_CELSIUS
from sim.resolved.pattern import plumes
from sim.results.air_walls import LEAST_DIFFERENCE
from sim.results.body_films import BOTH

if TYPE_CHECKING:
    from sim.resolved.air import ResolvedAir
    from sim.resolved.in_time import AirInTime

Array = NDArray[np.float64]

_ABOVE, _BELOW = 5, 4


def air_in_time_values(air: AirInTime) -> dict[str, float]:
    """Report quantities of air followed in time with the solids: of the flow at the end, and how both sides met."""
    inside, volume, now = air.domain.air, air.domain.volumes, air.now
    return {
        "air_mean_C": float(np.average(now.temperature[inside], weights=volume[inside])) - ZERO_CELSIUS,
        "air_speed_mean_m_s": float(np.average(now.speed[inside], weights=volume[inside])),
        "air_speed_peak_m_s": float(now.speed[inside].max()),
        "air_stored_J": air.stored,
        "air_meetings": float(air.meetings),
        "air_interval_s": air.interval,
        "air_cells": float(air.domain.cells),
        "air_steps": float(now.steps),
    }


def air_values(air: ResolvedAir) -> dict[str, float]:
    """Every report quantity of the air."""
    return _motion(air) | _walls(air) | _evidence(air)


def _motion(air: ResolvedAir) -> dict[str, float]:
    """Mean and highest speed of the mean flow, where it rises fastest, and the Rayleigh number of the cavity."""
    inside, volume = air.domain.air, air.domain.volumes
    speed = air.mean.speed
    rising = np.where(inside, air.mean.cell_velocity[2], -np.inf)
    i, j, k = np.unravel_index(int(rising.argmax()), rising.shape)
    x, y, z = air.domain.centres
    return {
        "air_mean_C": air.mean_temperature - ZERO_CELSIUS,
        "air_speed_mean_m_s": float(np.average(speed[inside], weights=volume[inside])),
        "air_speed_peak_m_s": float(speed[inside].max()),
        "air_plume_m_s": float(rising[i, j, k]),
        "air_plume_x_mm": 1000.0 * float(x[i]),
        "air_plume_y_mm": 1000.0 * float(y[j]),
        "air_plume_z_mm": 1000.0 * float(z[k]),
        "air_plumes": float(plumes(air.domain, air.mean)),
        **_plumes_of_companion(air),
        "air_rayleigh": _rayleigh(air),
    }


def _plumes_of_companion(air: ResolvedAir) -> dict[str, float]:
    """Plumes on larger cells, where these were computed: whether the flow keeps its pattern."""
    if air.coarser is None:
        return {}
    return {"air_plumes_coarser": float(plumes(air.coarser.air.domain, air.coarser.air.mean))}


def _rayleigh(air: ResolvedAir) -> float:
    """Of the cavity's height and the difference between its warming and its cooling walls' mean temperatures."""
    known = np.isfinite(air.wall)
    warms, cools = known & (air.heat > 0.0), known & (air.heat < 0.0)
    if not (warms.any() and cools.any()):
        return 0.0
    warm, cool = (np.average(air.wall[on], weights=np.abs(air.heat[on])) for on in (warms, cools))
    height = float(air.domain.edges[2][-1] - air.domain.edges[2][0])
    return air.properties.rayleigh(height, float(warm - cool))


def _walls(air: ResolvedAir) -> dict[str, float]:
    """Mean temperature and film of the walls above and below the air, of upright ones, and of the parts in it."""
    part = air.walls.group >= 6
    side = air.walls.side
    groups = {
        "above": ~part & (side == _ABOVE),
        "below": ~part & (side == _BELOW),
        "beside": ~part & (side < _BELOW),
        "parts": part,
    }
    values: dict[str, float] = {}
    for name, on in groups.items():
        on = on & np.isfinite(air.wall)
        if not on.any():
            continue
        apart = _warm_and_cool(air, on)
        whole = _wall(air, name, on)
        values |= {key: value for key, value in whole.items() if not (apart and key.startswith("air_film_"))}
        for word, some in apart.items():
            values |= _wall(air, f"{name}_{word}", some)
    return values


def _warm_and_cool(air: ResolvedAir, on: NDArray[np.bool_]) -> dict[str, NDArray[np.bool_]]:
    """Walls warmer and cooler than the air's mean where both count: one film over both would mean nothing."""
    apart = np.where(on, air.wall - air.mean_temperature, 0.0) * air.walls.area
    if min(apart.clip(min=0.0).sum(), -apart.clip(max=0.0).sum()) <= BOTH * np.abs(apart).sum():
        return {}
    return {"warm": on & (apart > 0.0), "cool": on & (apart < 0.0)}


def _wall(air: ResolvedAir, name: str, on: NDArray[np.bool_]) -> dict[str, float]:
    area = air.walls.area[on]
    mean, flux = float(np.average(air.wall[on], weights=area)), float(air.heat[on].sum() / area.sum())
    difference = mean - air.mean_temperature
    values = {f"air_wall_{name}_C": mean - ZERO_CELSIUS, f"air_heat_{name}_W": float(air.heat[on].sum())}
    told = abs(difference) > LEAST_DIFFERENCE and flux * difference > 0.0  # between layers heat may go the other way
    return values | ({f"air_film_{name}_W_m2K": flux / difference} if told else {})


def _evidence(air: ResolvedAir) -> dict[str, float]:
    evidence = air.evidence
    return {
        "air_imbalance_percent": 100.0 * evidence.imbalance,
        "air_error_percent": 100.0 * evidence.largest_error if evidence.error else float("nan"),
        "air_companion_cells": float(air.coarser.air.domain.cells) if air.coarser else 0.0,
        "air_layer_cells": layer_cells(air.cell_shares, air.heat),
        "air_samples": evidence.samples if evidence.known else float("nan"),
        **({"air_starts": float(evidence.starts)} if evidence.starts > 1 else {}),
        "air_averaged_s": evidence.averaged,
        "air_time_s": evidence.time,
        "air_cells": float(air.domain.cells),
        "air_steps": float(air.now.steps),
        "air_march_s": air.seconds,
    }

"""What resolved air does at its walls, face by face, as labelled arrays."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.results.cf import flags

if TYPE_CHECKING:
    from sim.resolved.air import ResolvedAir

Array = NDArray[np.float64]
LEAST_DIFFERENCE = 0.05
"""Difference between wall and air below which a film means nothing [K]."""


def wall_variables(air: ResolvedAir) -> dict[str, object]:
    """Place, side, part, area, temperature, mean heat flux into the air and film of every wall face (air_wall,)."""
    walls, centre = air.walls, air.walls.centres(air.domain)
    found: dict[str, Any] = {
        f"air_wall_{axis}": ("air_wall", centre[:, n], {"units": "m"}) for n, axis in enumerate("xyz")
    }
    names = {"names": json.dumps(list(walls.names))} | flags(walls.names, 0)
    flux = {"units": "W/m2", "long_name": "mean heat flux into the air"}
    film = {"units": "W/m2K", "long_name": "mean heat flux over wall less mean air temperature"}
    return found | {
        "air_wall_side": ("air_wall", walls.side.astype(np.int8), {"long_name": "side of the air cell, x- to z+"}),
        "air_wall_part": ("air_wall", walls.group.astype(np.int16), names),
        "air_wall_area": ("air_wall", walls.area, {"units": "m2"}),
        "air_wall_temperature": ("air_wall", air.wall, {"units": "K"}),
        "air_wall_heat_flux": ("air_wall", air.heat / walls.area, flux),
        "air_wall_film": ("air_wall", wall_films(air), film),
    }


def wall_films(air: ResolvedAir) -> Array:
    """Heat-transfer coefficient of every wall face against the volume mean of the air [W/m²K], NaN where equal."""
    difference = air.wall - air.mean_temperature
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.abs(difference) > LEAST_DIFFERENCE, air.heat / air.walls.area / difference, np.nan)

"""Heat through outer surfaces: the half cell behind each face in series with the law in front of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.physics.surroundings import FixedTemperature
from sim.solve.system import Surface

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SurfaceHeat:
    """Surface temperature [K], heat leaving [W] and its slope with the cell's temperature [W/K], all (n,)."""

    temperature: Array
    flow: Array
    slope: Array


def settle_surface(surface: Surface, cell_temperature: Array) -> SurfaceHeat:
    """Surface temperatures at which conduction to the surface equals what the law takes away.

    G (T_c − T_s) = A q(T_s), by Newton's method from the cell's temperature to 1e-10 K.
    """
    conductance, law = surface.conductance, surface.law
    if isinstance(law, FixedTemperature):
        held = np.full_like(cell_temperature, law.temperature)
        return SurfaceHeat(held, conductance * (cell_temperature - held), conductance)
    temperature = cell_temperature.copy()
    for _ in range(60):
        excess = conductance * (cell_temperature - temperature) - surface.area * law.flux(temperature)
        step = excess / (conductance + surface.area * law.slope(temperature))
        temperature = temperature + step
        if np.max(np.abs(step), initial=0.0) < 1e-10:
            break
    slope = surface.area * law.slope(temperature)
    flow = surface.area * law.flux(temperature)
    return SurfaceHeat(temperature, flow, conductance * slope / (conductance + slope))

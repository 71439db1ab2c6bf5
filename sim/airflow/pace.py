"""The largest step that is stable: the flow, stratification, friction and porous sheets each have a rate.

The third-order Runge-Kutta scheme is stable up to √3 for pure advection and 2.51 for pure diffusion. What eddies finer
than the grid take is held through a step (`subgrid`), as in Euler's explicit scheme, which is stable up to 2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties
from sim.airflow.subgrid import TURBULENT_PRANDTL

Array = NDArray[np.float64]

ADVECTION_LIMIT = {"central": 3.0**0.5, "bounded": 1.0}
"""Cells crossed in a step. For the bounded scheme it is what keeps its limiter's promise, not linear stability."""
DIFFUSION_LIMIT = 2.51
HELD_LIMIT = 2.0
SAFETY = 0.9
"""Share of the stability limit that a step takes; the flow may quicken between two looks at it."""


def stable_step(crossing: float, wave: float, decay: float, scheme: str) -> float:
    """The step [s] that rates of crossing, of waves and of decay [1/s] allow, with some safety."""
    rate = np.hypot(np.hypot(crossing, wave) / ADVECTION_LIMIT[scheme], decay)
    return float(SAFETY / rate) if rate > 0.0 else np.inf


def highest_crossing(duration: float, wave: float, decay: float, scheme: str) -> float:
    """Rate [1/s] at which the flow may cross cells for steps of this duration to be stable, without safety."""
    oscillating = np.sqrt(max(duration**-2 - decay**2, 0.0)) * ADVECTION_LIMIT[scheme]
    return float(np.sqrt(max(oscillating**2 - wave**2, 0.0)))


def decay_rate(air: AirProperties, finest: float, eddy: float = 0.0, loss: float = 0.0) -> float:
    """Rate [1/s] at which what is finest decays, each part over what a step can bear of it.

    Parameters
    ----------
    finest : float [1/m²]
        `finest_cell` of the domain.
    eddy : float [m²/s]
        The largest eddy viscosity.
    loss : float [1/s]
        Decay at porous sheets.
    """
    friction = 4.0 * max(air.viscosity, air.diffusivity) * finest + loss
    eddies = 4.0 * eddy * max(1.0, 1.0 / TURBULENT_PRANDTL) * finest
    return friction / DIFFUSION_LIMIT + eddies / HELD_LIMIT


def finest_cell(domain: Domain) -> float:
    """Σ 1/width² of the finest cell [1/m²]."""
    return sum(float(w.min()) ** -2 for w in domain.widths if w.size > 1)


def wave_rate(domain: Domain, air: AirProperties, level: Array) -> float:
    """Buoyancy frequency of the steepest stratification [1/s]."""
    slope = np.abs(np.diff(level)) / domain.widths[2]
    return float(np.sqrt(air.buoyancy * slope.max()))


def hydrostatic(domain: Domain, total: Array) -> Array:
    """Temperature (nz+1,) that counts as hydrostatic, from the sum (nz,) of the air cells' temperatures by height."""
    return level_of(domain.air.sum(axis=(0, 1)), total)


def level_of(count: Array, total: Array) -> Array:
    """The same (nz+1,) [K] from the number of air cells (nz,) and the sum of their temperatures (nz,) by height."""
    mean = total / np.maximum(count, 1)
    mean = np.where(count > 0, mean, mean.mean())
    return np.concatenate([mean[:1], 0.5 * (mean[1:] + mean[:-1]), mean[-1:]])

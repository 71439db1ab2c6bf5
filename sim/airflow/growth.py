"""How fast a flow grows or decays: the kinetic energy of the air from look to look, and small random disturbances."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.statistics import face_volumes

Array = NDArray[np.float64]

ROUNDING = 1e-10
"""Velocities below this share of α / L are round-off; their growth means nothing."""

HARMONICS = 2
"""Waves of a disturbance per height of the air, at most; finer ones die at once."""


def diffusion_scales(domain: Domain, diffusivity: float) -> tuple[float, float]:
    """Time [s] in which heat diffuses through the shortest extent L of the air, L²/α, and the velocity α/L [m/s]."""
    shortest = min(float(e[-1] - e[0]) for e in domain.edges if e.size > 2)
    return shortest**2 / diffusivity, diffusivity / shortest


class EnergyWatch:
    """Kinetic energy of a flow at every look, and the rate at which its velocities grow, per L²/α.

    Parameters
    ----------
    domain : Domain
    diffusivity : float [m²/s]
    """

    def __init__(self, domain: Domain, diffusivity: float) -> None:
        self._weights = [face_volumes(domain, axis) for axis in range(3)]
        self._volume = float((domain.volumes * domain.air).sum())
        self._pace, velocity = diffusion_scales(domain, diffusivity) if diffusivity > 0.0 else (1.0, 0.0)
        self._least = 0.5 * (ROUNDING * velocity) ** 2
        self._last: tuple[float, float] | None = None

    def look(self, time: float, state: Sequence[Array]) -> tuple[float, float]:
        """Mean kinetic energy per mass [m²/s²] and growth rate of the velocities since the last look, per L²/α."""
        energy = sum(float(np.vdot(w * u, u)) for w, u in zip(self._weights, state, strict=False)) / self._volume / 2
        last, self._last = self._last, (time, energy)
        if last is None or min(energy, last[1]) <= self._least or time <= last[0]:
            return energy, 0.0
        return energy, 0.5 * float(np.log(energy / last[1])) / (time - last[0]) * self._pace


def disturbance(domain: Domain, number: int) -> Array:
    """Smooth random warmth on the cells (nx, ny, nz), at most 1 in size, nought at floor and ceiling.

    Every wave that is not much finer than the air is high has a random share; the same number gives the same warmth.
    """
    random = np.random.default_rng(number)
    height = float(np.ptp(domain.edges[2]))
    waves = [_waves(e, c, height) for e, c in zip(domain.edges[:2], domain.centres[:2], strict=True)]
    up = (domain.centres[2] - domain.edges[2][0]) / height
    layers = np.sin(np.pi * np.outer(np.arange(1, HARMONICS + 1), up))
    shares = random.standard_normal((len(waves[0]), len(waves[1]), len(layers)))
    shares[0, 0] = 0.0
    field = np.einsum("abc,ai,bj,ck->ijk", shares, *waves, layers)
    return np.asarray(field / np.abs(field).max())


def _waves(edges: Array, centres: Array, height: float) -> Array:
    """Cosines along a level axis (waves, cells), from the even one to HARMONICS of them a height."""
    if edges.size <= 2:
        return np.ones((1, centres.size))
    span = float(np.ptp(edges))
    count = 2 + int(np.ceil(2 * HARMONICS * span / height))
    return np.cos(np.pi * np.outer(np.arange(count), (centres - edges[0]) / span))

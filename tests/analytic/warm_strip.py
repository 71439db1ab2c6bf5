"""Steady flow of air in a shallow enclosure over a floor warm in its middle, by Chebyshev collocation and Newton.

Scales, matrices and ψ as in `heated_from_below`. The floor has g(x) = sin⁴(π x / width), the ceiling 0, the sides are
adiabatic, all are walls. With T = g (1 − z) + θ

    Pr ∇⁴ψ − Ra Pr ∂T/∂x = u ∂(∇²ψ)/∂x + w ∂(∇²ψ)/∂z
    ∇²T = u ∂T/∂x + w ∂T/∂z
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analytic.heated_from_below import PRANDTL, chebyshev, clamped, hinged, insulated, weights

Array = NDArray[np.float64]


def warmth(x: Array, width: float) -> tuple[Array, Array]:
    """The floor's temperature and its second derivative, times of the height."""
    turn = np.pi / width
    s, c = np.sin(turn * x), np.cos(turn * x)
    return s**4, turn**2 * (12.0 * s**2 * c**2 - 4.0 * s**4)


def mean_warmth(low: float, high: float, width: float) -> float:
    """Mean of the floor's temperature over a strip, exactly: sin⁴ = 3/8 − cos(2a)/2 + cos(4a)/8."""
    turn = np.pi / width

    def sum_to(x: float) -> float:
        return 0.375 * x - np.sin(2.0 * turn * x) / (4.0 * turn) + np.sin(4.0 * turn * x) / (32.0 * turn)

    return float((sum_to(high) - sum_to(low)) / (high - low))


@dataclass
class WarmFloor:
    """An enclosure of a width, with as many intervals along x and z as said; ψ and θ on inner points."""

    width: float
    counts: tuple[int, int]
    values: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        (x, dx), (z, dz) = map(chebyshev, self.counts)
        along, up = 2.0 / self.width, 2.0
        sides, self.whole = insulated(dx)
        pairs = [along**n * m for n, m in enumerate(clamped(x, dx))], [up**n * m for n, m in enumerate(clamped(z, dz))]
        warm = [along**n * m for n, m in enumerate(sides)], [up**n * m for n, m in enumerate(hinged(dz)[:3])]
        self.f = {(i, j): np.kron(pairs[0][i], pairs[1][j]) for i in range(5) for j in range(5) if i + j <= 4}
        self.t = {(i, j): np.kron(warm[0][i], warm[1][j]) for i in range(3) for j in range(3) if i + j <= 2}
        self.places = 0.5 * self.width * (1.0 + x)
        g, bend = warmth(self.places, self.width)
        slope = along * (dx @ g)
        left = 0.5 * (1.0 - z[1:-1])
        self.base_x = np.outer(slope[1:-1], left).ravel()
        self.base_z = np.outer(-g[1:-1], np.ones_like(left)).ravel()
        self.base_bend = np.outer(bend[1:-1], left).ravel()
        self.ceiling, self.g = up * dz[-1, 1:-1], g
        self.values = self.values if self.values.size else np.zeros(2 * self.base_x.size)

    def step(self, rayleigh: float) -> float:
        """One step of Newton; the largest change of θ."""
        f, t, half = self.f, self.t, self.base_x.size
        psi, theta = self.values[:half], self.values[half:]
        curl_x, curl_z = f[3, 0] + f[1, 2], f[2, 1] + f[0, 3]
        u, w = f[0, 1] @ psi, -f[1, 0] @ psi
        carried = u[:, None] * curl_x + w[:, None] * curl_z
        turned = (curl_x @ psi)[:, None] * f[0, 1] - (curl_z @ psi)[:, None] * f[1, 0]
        friction, spread = PRANDTL * (f[4, 0] + 2.0 * f[2, 2] + f[0, 4]), t[2, 0] + t[0, 2]
        lift = rayleigh * PRANDTL
        warm_x, warm_z = t[1, 0] @ theta + self.base_x, t[0, 1] @ theta + self.base_z
        moved = u[:, None] * t[1, 0] + w[:, None] * t[0, 1]
        blown = warm_x[:, None] * f[0, 1] - warm_z[:, None] * f[1, 0]
        left = np.concatenate([
            friction @ psi - lift * warm_x - carried @ psi,
            spread @ theta + self.base_bend - u * warm_x - w * warm_z,
        ])
        matrix = np.block([[friction - carried - turned, -lift * t[1, 0]], [-blown, spread - moved]])
        change = np.linalg.solve(matrix, -left)
        self.values = self.values + change
        return float(np.abs(change[half:]).max())

    def solve(self, rayleigh: float) -> WarmFloor:
        """Newton to the end, led there from air at rest."""
        for number in np.geomspace(1e3, rayleigh, max(2, 1 + round(2.5 * np.log10(rayleigh / 1e3)))):
            for _ in range(40):
                if self.step(number) < 1e-10:
                    break
            else:
                raise RuntimeError("Newton found no end")
        return self

    @property
    def heat_of_ceiling(self) -> float:
        """Heat that the ceiling takes from the air, in the conductivity times the floor's peak and a unit of depth."""
        theta = self.values[self.base_x.size :].reshape(self.counts[0] - 1, self.counts[1] - 1)
        flux = self.g - self.whole @ (theta @ self.ceiling)
        return float(weights(self.counts[0]) @ flux) * 0.5 * self.width

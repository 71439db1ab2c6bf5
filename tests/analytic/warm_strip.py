"""Steady flow of air in a shallow enclosure over a floor warm in its middle, by Chebyshev collocation and Newton.

Scales, matrices and ψ as in `heated_from_below`. The floor has g(x) = (sin(π x / width))^power, the ceiling 0, the
sides are adiabatic, all are walls. With T = g (1 − z) + θ

    Pr ∇⁴ψ − Ra Pr ∂T/∂x = u ∂(∇²ψ)/∂x + w ∂(∇²ψ)/∂z
    ∇²T = u ∂T/∂x + w ∂T/∂z

Both halves mirror each other, ψ is odd about the middle and θ even, so the unknowns are those of the right half.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analytic.heated_from_below import PRANDTL, chebyshev, clamped, hinged, insulated, weights

Array = NDArray[np.float64]


def warmth(x: Array, width: float, power: int) -> tuple[Array, Array]:
    """The floor's temperature and its second derivative, times of the height."""
    turn = np.pi / width
    s, c = np.sin(turn * x), np.cos(turn * x)
    return s**power, turn**2 * power * ((power - 1.0) * s ** (power - 2) * c**2 - s**power)


def mean_warmth(low: float, high: float, width: float, power: int) -> float:
    """Mean of the floor's temperature over a strip, by Gauss and Legendre's 20 points."""
    places, shares = np.polynomial.legendre.leggauss(20)
    return float(0.5 * shares @ warmth(0.5 * (low + high + (high - low) * places), width, power)[0])


def right_half(whole: Array, sign: float) -> Array:
    """A derivative on inner points for functions that repeat (1) or turn over (−1) about the middle.

    Rows from the middle to the right, columns likewise; of what turns over, which is 0 in the middle, without that.
    """
    middle = len(whole) // 2
    right = whole[middle:, middle:].copy()
    right[:, 1:] += sign * whole[middle:, middle - 1 :: -1]
    return right if sign > 0.0 else right[:, 1:]


@dataclass
class WarmFloor:
    """An enclosure of a width, of so many intervals along x, an even number, and z; ψ and θ of the right half."""

    width: float
    counts: tuple[int, int]
    power: int = 4
    values: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        (x, dx), (z, dz) = map(chebyshev, self.counts)
        along, up = 2.0 / self.width, 2.0
        sides, self.whole = insulated(dx)
        turns = [along**n * right_half(m, -1.0) for n, m in enumerate(clamped(x, dx))]
        repeats = [along**n * right_half(m, 1.0) for n, m in enumerate(sides)]
        rises = [up**n * m for n, m in enumerate(clamped(z, dz))]
        warms = [up**n * m for n, m in enumerate(hinged(dz)[:3])]
        self.f = {(i, j): np.kron(turns[i], rises[j]) for i in range(5) for j in range(5) if i + j <= 4}
        self.t = {(i, j): np.kron(repeats[i], warms[j]) for i in range(3) for j in range(3) if i + j <= 2}
        g, bend = warmth(0.5 * self.width * (1.0 + x), self.width, self.power)
        slope = along * (dx @ g)
        left, middle = 0.5 * (1.0 - z[1:-1]), self.counts[0] // 2
        self.base_x = np.outer(slope[middle:-1], left).ravel()
        self.base_z = np.outer(-g[middle:-1], np.ones_like(left)).ravel()
        self.base_bend = np.outer(bend[middle:-1], left).ravel()
        self.ceiling, self.g = up * dz[-1, 1:-1], g
        self.turning = self.f[0, 0].shape[1]
        self.values = self.values if self.values.size else np.zeros(self.turning + self.base_x.size)

    def step(self, rayleigh: float) -> float:
        """One step of Newton; the largest change of θ. ψ has no equation in the middle, where it is 0."""
        f, t, beside = self.f, self.t, slice(self.counts[1] - 1, None)
        psi, theta = self.values[: self.turning], self.values[self.turning :]
        curl_x, curl_z = (f[3, 0] + f[1, 2])[beside], (f[2, 1] + f[0, 3])[beside]
        u, w = f[0, 1] @ psi, -f[1, 0] @ psi
        carried = u[beside, None] * curl_x + w[beside, None] * curl_z
        turned = (curl_x @ psi)[:, None] * f[0, 1][beside] - (curl_z @ psi)[:, None] * f[1, 0][beside]
        friction, spread = PRANDTL * (f[4, 0] + 2.0 * f[2, 2] + f[0, 4])[beside], t[2, 0] + t[0, 2]
        lift = rayleigh * PRANDTL
        warm_x, warm_z = t[1, 0] @ theta + self.base_x, t[0, 1] @ theta + self.base_z
        moved = u[:, None] * t[1, 0] + w[:, None] * t[0, 1]
        blown = warm_x[:, None] * f[0, 1] - warm_z[:, None] * f[1, 0]
        left = np.concatenate([
            friction @ psi - lift * warm_x[beside] - carried @ psi,
            spread @ theta + self.base_bend - u * warm_x - w * warm_z,
        ])
        matrix = np.block([[friction - carried - turned, -lift * t[1, 0][beside]], [-blown, spread - moved]])
        change = np.linalg.solve(matrix, -left)
        self.values = self.values + change
        return float(np.abs(change[self.turning :]).max())

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
    def flux_at_ceiling(self) -> Array:
        """Heat flux into the ceiling on all points along x."""
        right = self.values[self.turning :].reshape(-1, self.counts[1] - 1)
        theta = np.concatenate([right[:0:-1], right])
        return np.asarray(self.g - self.whole @ (theta @ self.ceiling))

    @property
    def heat_of_ceiling(self) -> float:
        """Heat that the ceiling takes from the air, in the conductivity times the floor's peak and a unit of depth."""
        return float(weights(self.counts[0]) @ self.flux_at_ceiling) * 0.5 * self.width

    def heat_of_strip(self, low: float, high: float) -> float:
        """The same of a strip of the ceiling between two places along x."""
        flux = np.polynomial.chebyshev.Chebyshev.fit(
            chebyshev(self.counts[0])[0], self.flux_at_ceiling, self.counts[0], domain=[-1.0, 1.0]
        ).integ()
        scaled = [2.0 * place / self.width - 1.0 for place in (low, high)]
        return float(flux(scaled[1]) - flux(scaled[0])) * 0.5 * self.width

    @property
    def fastest_rise(self) -> float:
        """Largest upward velocity on the points in the middle, in the diffusivity over the height."""
        rise = -self.f[1, 0] @ self.values[: self.turning]
        return float(rise[: self.counts[1] - 1].max())

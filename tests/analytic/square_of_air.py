"""Steady flow of air in a square of warm and cold sides, in two dimensions, by Chebyshev collocation and Newton.

Lengths in the square's side, temperatures in the whole difference, the stream function ψ in the diffusivity
(u = ∂ψ/∂z, w = −∂ψ/∂x), x from the warm side; floor, ceiling and sides hold the air:

    Pr ∇⁴ψ − Ra Pr ∂T/∂x = u ∂(∇²ψ)/∂x + w ∂(∇²ψ)/∂z
    ∇²T = u ∂T/∂x + w ∂T/∂z

What the walls do is said by those who build on this.
"""

from __future__ import annotations

import numpy as np

from analytic.heated_from_below import Array, chebyshev, clamped, weights


class SquareOfAir:
    """The square on so many intervals a side; `psi` on inner points, `temperature` (x, z) on all."""

    def __init__(self, count: int, prandtl: float) -> None:
        x, d = chebyshev(count)
        self.count, self.prandtl, self.d = count, prandtl, 2.0 * d
        p = [2.0**n * m for n, m in enumerate(clamped(x, d))]
        self.f = {(i, j): np.kron(p[i], p[j]) for i in range(5) for j in range(5) if i + j <= 4}
        inner = [power[1:-1] for power in (np.eye(count + 1), self.d, self.d @ self.d)]
        self.t = {(i, j): np.kron(inner[i], inner[j]) for i in range(3) for j in range(3) if i + j <= 2}
        self.psi, self.temperature = np.zeros((count - 1) ** 2), np.zeros((count + 1) ** 2)

    def edges(self) -> tuple[Array, Array]:
        """What is left of the conditions on all points of the walls, and its derivative to the temperatures."""
        raise NotImplementedError

    def step(self, rayleigh: float) -> float:
        """One step of Newton; the largest change of a temperature."""
        f, t, psi, warm = self.f, self.t, self.psi, self.temperature
        curl_x, curl_z = f[3, 0] + f[1, 2], f[2, 1] + f[0, 3]
        u, w = f[0, 1] @ psi, -f[1, 0] @ psi
        carried = u[:, None] * curl_x + w[:, None] * curl_z
        turned = (curl_x @ psi)[:, None] * f[0, 1] - (curl_z @ psi)[:, None] * f[1, 0]
        friction = self.prandtl * (f[4, 0] + 2.0 * f[2, 2] + f[0, 4])
        lift = rayleigh * self.prandtl * t[1, 0]
        moved = u[:, None] * t[1, 0] + w[:, None] * t[0, 1]
        blown = (t[1, 0] @ warm)[:, None] * f[0, 1] - (t[0, 1] @ warm)[:, None] * f[1, 0]
        spread = t[2, 0] + t[0, 2]
        left, slope = self.edges()
        left = np.concatenate([friction @ psi - lift @ warm - carried @ psi, spread @ warm - moved @ warm, left])
        still = np.zeros((len(slope), psi.size))
        matrix = np.block([[friction - carried - turned, -lift], [-blown, spread - moved], [still, slope]])
        change = np.linalg.solve(matrix, -left)
        self.psi = psi + change[: psi.size]
        self.temperature = warm + change[psi.size :]
        return float(np.abs(change[psi.size :]).max())

    def solve(self, rayleigh: float) -> None:
        """Newton to the end, led there from a weak flow."""
        for number in np.geomspace(1e3, rayleigh, 2 + round(2.0 * np.log10(rayleigh / 1e3))):
            for _ in range(30):
                if self.step(number) < 1e-9:
                    break
            else:
                raise RuntimeError("Newton found no end")

    def nusselt(self, side: int) -> float:
        """Mean flux in x at the warm (0) or the cold (−1) side over that of the whole difference across air at rest."""
        slope = self.d[side] @ self.temperature.reshape(self.count + 1, -1)
        return -float(weights(self.count) @ slope) / 2.0

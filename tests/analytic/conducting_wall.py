"""Steady flow of air in a square beside a conducting wall, in two dimensions, by Chebyshev collocation and Newton.

The problem of Kaminski and Prakash, Int. J. Heat Mass Transfer 29 (1986) 1979: the wall's outer face is hot, the
opposite side of the square cold, floor and ceiling let no heat through. Lengths in the square's side, temperatures in
the whole difference, the stream function ψ in the diffusivity (u = ∂ψ/∂z, w = −∂ψ/∂x); x from the interface:

    Pr ∇⁴ψ − Ra Pr ∂T/∂x = u ∂(∇²ψ)/∂x + w ∂(∇²ψ)/∂z
    ∇²T = u ∂T/∂x + w ∂T/∂z

In the wall ∇²T = 0, whose flux into the interface follows from the interface's temperatures by one matrix.
"""

from __future__ import annotations

import numpy as np
from analytic.heated_from_below import Array, _weights, chebyshev, clamped

THICKNESS = 0.2
"""Of the wall, in the square's side."""


def wall_flux(count: int) -> tuple[Array, Array]:
    """The wall's slope ∂T/∂x at the interface from the temperatures there, A T + b, its outer face at 1."""
    x, d = chebyshev(count)
    across, up = 2.0 / THICKNESS * d, 2.0 * d
    one = np.eye(count + 1)
    matrix = (np.kron(across @ across, one) + np.kron(one, up @ up)).reshape((count + 1,) * 2 + (-1,))
    slopes = np.kron(one, up).reshape(matrix.shape)
    matrix[:, [0, -1]] = slopes[:, [0, -1]]
    given = np.zeros((count + 1, count + 1, count + 2))  # last: for the temperatures of the interface, and the constant
    own = np.eye((count + 1) ** 2).reshape(matrix.shape)
    matrix[[0, -1]] = own[[0, -1]]
    given[0, :, -1] = 1.0
    given[-1, :, :-1] = one
    size = (count + 1) ** 2
    found = np.linalg.solve(matrix.reshape(size, size), given.reshape(size, -1)).reshape(given.shape)
    slope = np.einsum("i,ijk->jk", across[-1], found)
    return slope[:, :-1], slope[:, -1]


class ConductingWall:
    """The square on so many intervals a side, beside a wall so many times as conductive as air."""

    def __init__(self, count: int, conductive: float, prandtl: float) -> None:
        x, d = chebyshev(count)
        self.count, self.prandtl, self.d = count, prandtl, 2.0 * d
        p = [2.0**n * m for n, m in enumerate(clamped(x, d))]
        self.f = {(i, j): np.kron(p[i], p[j]) for i in range(5) for j in range(5) if i + j <= 4}
        powers = [np.eye(count + 1), self.d, self.d @ self.d]
        inner = [power[1:-1] for power in powers]
        self.t = {(i, j): np.kron(inner[i], inner[j]) for i in range(3) for j in range(3) if i + j <= 2}
        self.edge, self.edge_value = self._edges(conductive)
        self.psi, self.temperature = np.zeros((count - 1) ** 2), np.zeros((count + 1) ** 2)

    def _edges(self, conductive: float) -> tuple[Array, Array]:
        """What holds on floor, ceiling, interface and cold side, a row for each of their points."""
        n = self.count + 1
        one, slope, offset = np.eye(n), *wall_flux(self.count)
        across, up, own = (m.reshape(n, n, n, n) for m in (np.kron(self.d, one), np.kron(one, self.d), np.eye(n * n)))
        across[0, :, 0] -= conductive * slope
        level = [up[:-1, end].reshape(-1, n * n) for end in (0, -1)]
        upright = [across[0, 1:-1].reshape(-1, n * n), own[-1].reshape(-1, n * n)]
        values = np.concatenate([np.zeros(2 * (n - 1)), conductive * offset[1:-1], np.zeros(n)])
        return np.concatenate([*level, *upright]), values

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
        left = np.concatenate([
            friction @ psi - lift @ warm - carried @ psi,
            spread @ warm - moved @ warm,
            self.edge @ warm - self.edge_value,
        ])
        still = np.zeros((len(self.edge), psi.size))
        matrix = np.block([[friction - carried - turned, -lift], [-blown, spread - moved], [still, self.edge]])
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

    @property
    def nusselt(self) -> float:
        """Mean flux through the interface over that of the whole difference across air at rest."""
        n = self.count + 1
        slope = self.d[0] @ self.temperature.reshape(n, n)
        return -float(_weights(self.count) @ slope) / 2.0

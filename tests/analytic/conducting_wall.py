"""A square of air beside a conducting wall: Kaminski and Prakash, Int. J. Heat Mass Transfer 29 (1986) 1979.

The wall's outer face is hot, the opposite side of the square cold, floor and ceiling let no heat through; x from the
interface. In the wall ∇²T = 0: its flux into the interface follows from the interface's temperatures by one matrix.
"""

from __future__ import annotations

import numpy as np

from analytic.heated_from_below import Array, chebyshev
from analytic.square_of_air import SquareOfAir

THICKNESS = 0.2
"""Of the wall, in the square's side."""


def wall_flux(count: int) -> tuple[Array, Array]:
    """The wall's slope ∂T/∂x at the interface from the temperatures there, A T + b, its outer face at 1."""
    _, d = chebyshev(count)
    across, up = 2.0 / THICKNESS * d, 2.0 * d
    one, size = np.eye(count + 1), (count + 1) ** 2
    matrix = (np.kron(across @ across, one) + np.kron(one, up @ up)).reshape(count + 1, count + 1, size)
    matrix[:, [0, -1]] = np.kron(one, up).reshape(matrix.shape)[:, [0, -1]]
    matrix[[0, -1]] = np.eye(size).reshape(matrix.shape)[[0, -1]]
    given = np.zeros((count + 1, count + 1, count + 2))  # for each temperature of the interface, and for the face's 1
    given[0, :, -1] = 1.0
    given[-1, :, :-1] = one
    found = np.linalg.solve(matrix.reshape(size, size), given.reshape(size, -1)).reshape(given.shape)
    slope = np.einsum("i,ijk->jk", across[-1], found)
    return slope[:, :-1], slope[:, -1]


class ConductingWall(SquareOfAir):
    """Beside a wall so many times as conductive as air."""

    def __init__(self, count: int, conductive: float, prandtl: float) -> None:
        super().__init__(count, prandtl)
        n = count + 1
        slope, offset = wall_flux(count)
        across, up, own = (
            m.reshape(n, n, n, n) for m in (np.kron(self.d, np.eye(n)), np.kron(np.eye(n), self.d), np.eye(n * n))
        )
        across[0, :, 0] -= conductive * slope
        level = [up[:-1, end].reshape(-1, n * n) for end in (0, -1)]
        upright = [across[0, 1:-1].reshape(-1, n * n), own[-1].reshape(-1, n * n)]
        self._slope = np.concatenate([*level, *upright])
        self._given = np.concatenate([np.zeros(2 * (n - 1)), conductive * offset[1:-1], np.zeros(n)])

    def edges(self) -> tuple[Array, Array]:
        """Floor, ceiling, interface, cold side."""
        return self._slope @ self.temperature - self._given, self._slope

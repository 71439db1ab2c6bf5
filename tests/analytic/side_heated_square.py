"""Air in a square of a warm and a cold side, floor and ceiling adiabatic, to the numbers that are printed of it.

Polynomials through all points give peaks and their places between the points.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import BarycentricInterpolator

from analytic.heated_from_below import Array, chebyshev
from analytic.square_of_air import SquareOfAir


class SideHeatedSquare(SquareOfAir):
    """Warm (1) at x = 0, cold (0) at x = 1."""

    def __init__(self, count: int, prandtl: float) -> None:
        super().__init__(count, prandtl)
        n = count + 1
        up, own = (m.reshape(n, n, n * n) for m in (np.kron(np.eye(n), self.d), np.eye(n * n)))
        level = [up[1:-1, end] for end in (0, -1)]
        self._slope = np.concatenate([*level, own[0], own[-1]])
        self._given = np.concatenate([np.zeros(2 * (n - 2)), np.ones(n), np.zeros(n)])

    def edges(self) -> tuple[Array, Array]:
        """Floor, ceiling, warm side, cold side."""
        return self._slope @ self.temperature - self._given, self._slope

    def numbers(self) -> dict[str, float]:
        """Nusselt number of the warm side, its highest and lowest value, and the peaks of both velocities on the middle
        lines, in the diffusivity over the side, with their places."""
        local = -self.d[0] @ self.temperature.reshape(self.count + 1, -1)
        half = self.count // 2 - 1
        u, w = (field.reshape(self.count - 1, -1) for field in (self.f[0, 1] @ self.psi, -self.f[1, 0] @ self.psi))
        highest, at = peak(local)
        across, above = peak(np.pad(u[half], 1))
        rising, beside = peak(np.pad(w[:, half], 1))
        return {
            "nusselt_warm": self.nusselt(0),
            "nusselt_warm_highest": highest,
            "nusselt_warm_lowest": -peak(-local)[0],
            "air_velocity_across_peak": across,
            "air_velocity_up_peak": rising,
            "nusselt_warm_highest_at_z": at,
            "air_velocity_across_peak_at_z": above,
            "air_velocity_up_peak_at_x": beside,
        }


def peak(values: Array) -> tuple[float, float]:
    """The highest value of a polynomial through values on all points of a side, and its place."""
    places = np.linspace(0.0, 1.0, 20001)
    found = BarycentricInterpolator(0.5 * (1.0 + chebyshev(values.size - 1)[0]), values)(places)
    highest = int(np.argmax(found))
    return float(found[highest]), float(places[highest])

"""Linear stability of a layer of fluid heated from below between two rigid plates.

Chandrasekhar, Hydrodynamic and Hydromagnetic Stability (1961), chapter II: with lengths in the height and times in
height²/α, disturbances w(z) and θ(z) of level wave number k grow as exp(σ t) with

    σ (D² − k²) w = Pr (D² − k²)² w − Pr Ra k² θ,    σ θ = (D² − k²) θ + w,    w = Dw = θ = 0 on both plates.

Solved by collocation at Chebyshev points. Rest loses its stability at Ra 1707.762, k = 3.117 (table III there).
"""

import numpy as np
from scipy.linalg import eig


def growth_rate(rayleigh, wave_number, prandtl, points=32):
    """Largest real σ of a wave number."""
    d = _differentiation(points)
    one, none = np.eye(points + 1), np.zeros((points + 1, points + 1))
    laplace = d @ d - wave_number**2 * one
    left = np.block([
        [prandtl * laplace @ laplace, -prandtl * rayleigh * wave_number**2 * one],
        [one, laplace],
    ])
    right = np.block([[laplace, none], [none, one]])
    m, n = points + 1, points
    walls = {0: one[0], n: one[n], 1: d[0], n - 1: d[n]}
    for row, condition in walls.items():
        left[row], right[row] = np.r_[condition, 0.0 * condition], 0.0
    for row in (m, 2 * m - 1):
        left[row], right[row] = np.eye(2 * m)[row], 0.0
    found = eig(left, right, right=False)
    found = found[np.isfinite(found)]
    return float(found[np.abs(found) < 1e6].real.max())


def _differentiation(n):
    """Chebyshev's matrix of d/dz on a height of 1."""
    x = np.cos(np.pi * np.arange(n + 1) / n)
    c = np.r_[2.0, np.ones(n - 1), 2.0] * (-1.0) ** np.arange(n + 1)
    gaps = np.subtract.outer(x, x) + np.eye(n + 1)
    matrix = np.outer(c, 1.0 / c) / gaps
    return 2.0 * (matrix - np.diag(matrix.sum(axis=1)))

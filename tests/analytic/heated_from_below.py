"""Steady flow of air between a warm floor and a cool ceiling in two dimensions, by Chebyshev collocation and Newton.

Lengths in the height, temperatures in the difference of floor and ceiling, the stream function ψ in the diffusivity
(u = ∂ψ/∂z, w = −∂ψ/∂x). With T = 1 − z + θ a roll solves

    Pr ∇⁴ψ − Ra Pr ∂θ/∂x = ∂ψ/∂z ∂(∇²ψ)/∂x − ∂ψ/∂x ∂(∇²ψ)/∂z
    ∇²θ = ∂ψ/∂z ∂θ/∂x − ∂ψ/∂x (∂θ/∂z − 1)

The matrices are those of L. N. Trefethen, Spectral Methods in MATLAB, SIAM 2000 (form from memory): chapter 6 for the
derivative, chapter 14 for functions that vanish with their slope, p = (1 − x²) q.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

Array = NDArray[np.float64]
PRANDTL = 0.71


def chebyshev(count: int) -> tuple[Array, Array]:
    """Points from −1 to 1, and the derivative on them."""
    x = -np.cos(np.pi * np.arange(count + 1) / count)
    c = np.r_[2.0, np.ones(count - 1), 2.0] * (-1.0) ** np.arange(count + 1)
    apart = x[:, None] - x[None, :] + np.eye(count + 1)
    d = np.outer(c, 1.0 / c) / apart
    return x, d - np.diag(d.sum(axis=1))


def clamped(x: Array, d: Array) -> list[Array]:
    """Derivatives 0 to 4 on inner points of functions that vanish with their slope at both ends."""
    inner, powers = x[1:-1], [np.eye(x.size)]
    for _ in range(4):
        powers.append(powers[-1] @ d)
    q = [power[1:-1, 1:-1] / (1.0 - inner**2)[None, :] for power in powers]  # of q = p / (1 − x²)
    bend, slope = (1.0 - inner**2)[:, None], inner[:, None]
    lower = [np.zeros_like(q[0]), np.zeros_like(q[0]), *q]
    return [bend * q[n] - 2.0 * n * slope * lower[n + 1] - n * (n - 1.0) * lower[n] for n in range(5)]


def hinged(d: Array) -> list[Array]:
    """The same of functions that vanish with their second derivative."""
    first, second = d[1:-1, 1:-1], (d @ d)[1:-1, 1:-1]
    return [np.eye(len(first)), first, second, d[1:-1] @ np.pad(second, ((1, 1), (0, 0))), second @ second]


def insulated(d: Array) -> tuple[list[Array], Array]:
    """Derivatives 0 to 2 of functions without slope at both ends, and what gives their values on all points."""
    ends = [0, -1]
    whole = np.zeros((len(d), len(d) - 2))
    whole[1:-1] = np.eye(len(d) - 2)
    whole[ends] = -np.linalg.solve(d[np.ix_(ends, ends)], d[ends, 1:-1])
    return [np.eye(len(d) - 2), d[1:-1] @ whole, (d @ d)[1:-1] @ whole], whole


@dataclass
class Roll:
    """A roll in a cell of a width: ψ and θ on inner points, and what they are differentiated by.

    `turning` are the sides' words: "walls" (no slip) or "symmetry".
    """

    width: float
    sides: str
    count: int
    psi: Array
    theta: Array

    def __post_init__(self) -> None:
        x, d = chebyshev(self.count)
        along, up = 2.0 / self.width, 2.0
        across = clamped(x, d) if self.sides == "walls" else hinged(d)
        warm, self.whole = insulated(d)
        self.x = [along**n * m for n, m in enumerate(across)]
        self.z = [up**n * m for n, m in enumerate(clamped(x, d))]
        self.wx = [along**n * m for n, m in enumerate(warm)]
        self.wz = [up**n * m for n, m in enumerate(hinged(d)[:3])]
        self.floor = up * d[0, 1:-1]
        self.places = 0.5 * (1.0 + x)
        self.half = (self.count - 1) ** 2 // 2
        self.f = self._halved(self.x, self.z, 1.0)
        self.t = self._halved(self.wx, self.wz, -1.0)

    def _halved(self, along: list[Array], up: list[Array], sign: float) -> dict[tuple[int, int], Array]:
        """Derivatives on the first half of the points, of ψ (sign 1) or θ (−1) as it is on that half.

        Half a turn about the middle leaves the ψ of a single roll as it is and reverses θ, at every Rayleigh number;
        flows that branch off by breaking this symmetry are not met. The middle point is ψ's alone, as θ is 0 there.
        """
        half, most, found = self.half, len(along) - 1, {}
        for i in range(most + 1):
            for j in range(most + 1 - i):
                whole = np.kron(along[i][: (self.count + 1) // 2], up[j])[: half + 1]
                turned = whole[:, : -half - 1 : -1]
                found[i, j] = whole[:, :half] + sign * turned
                if sign > 0.0:
                    found[i, j] = np.column_stack([found[i, j], whole[:, half]])
        return found

    def step(self, rayleigh: float) -> float:
        """One step of Newton; the largest change of θ."""
        f, t, half = self.f, self.t, self.half
        psi, theta = self.psi.ravel()[: half + 1], self.theta.ravel()[:half]
        curl_x, curl_z = f[3, 0] + f[1, 2], f[2, 1] + f[0, 3]
        u, w = f[0, 1] @ psi, -f[1, 0] @ psi
        carried = u[:, None] * curl_x + w[:, None] * curl_z
        turned = (curl_x @ psi)[:, None] * f[0, 1] - (curl_z @ psi)[:, None] * f[1, 0]
        friction = PRANDTL * (f[4, 0] + 2.0 * f[2, 2] + f[0, 4])
        lift = rayleigh * PRANDTL * t[1, 0]
        moved = u[:, None] * t[1, 0] + w[:, None] * t[0, 1]
        blown = (t[1, 0] @ theta)[:, None] * f[0, 1] - (t[0, 1] @ theta - 1.0)[:, None] * f[1, 0]
        spread = t[2, 0] + t[0, 2]
        left = np.concatenate([
            friction @ psi - lift @ theta - carried @ psi,
            (spread @ theta - moved @ theta + w)[:half],
        ])
        matrix = np.block([[friction - carried - turned, -lift], [-blown[:half], (spread - moved)[:half]]])
        change, more = np.split(np.linalg.solve(matrix, -left), [half + 1])
        self.psi = self.psi + np.r_[change, change[half - 1 :: -1]].reshape(self.psi.shape)
        self.theta = self.theta + np.r_[more, 0.0, -more[::-1]].reshape(self.theta.shape)
        return float(np.abs(more).max())

    def solve(self, rayleigh: float) -> None:
        """Newton to the end."""
        for _ in range(40):
            if self.step(rayleigh) < 1e-10:
                return
        raise RuntimeError("Newton found no end")

    def finer(self, count: int) -> Roll:
        """The same roll on more points."""
        old = 0.5 * (1.0 + chebyshev(self.count)[0][1:-1])
        new = 0.5 * (1.0 + chebyshev(count)[0][1:-1])

        def moved(values: Array) -> Array:
            for axis in (0, 1):
                values = make_interp_spline(old, values, axis=axis)(new)
            return values

        return Roll(self.width, self.sides, count, moved(self.psi), moved(self.theta))

    def beyond(self, before: Roll) -> Roll:
        """As far beyond this roll as this one is from another: where the next of equal steps begins."""
        ahead = copy(self)
        ahead.psi, ahead.theta = 2.0 * self.psi - before.psi, 2.0 * self.theta - before.theta
        return ahead

    @property
    def nusselt(self) -> float:
        """Mean flux of the floor over that of air at rest."""
        slope = self.whole @ (self.theta @ self.floor)
        return 1.0 - float(weights(self.count) @ slope) / 2.0

    @property
    def middle(self) -> float:
        """Size of ψ in the middle; the number of intervals is even."""
        half = self.count // 2 - 1
        return float(abs(self.psi[half, half]))


def weights(count: int) -> Array:
    """Weights of Clenshaw and Curtis on [−1, 1]: those that integrate the Chebyshev polynomials exactly."""
    angles = np.pi * np.arange(count + 1) / count
    degrees = np.arange(count + 1)
    integrals = np.where(degrees % 2 == 0, 2.0 / (1.0 - degrees.astype(float) ** 2 + (degrees == 1)), 0.0)
    return np.linalg.solve(np.cos(np.outer(degrees, np.pi - angles)), integrals)


BEGIN = {"symmetry": (3000.0, 5.0), "walls": (6000.0, 6.0)}
"""Rayleigh number at which a first guess finds the roll, and the guess's ψ in the middle."""


def roll(width: float, sides: str, rayleigh: float, count: int) -> Roll:
    """One roll at a Rayleigh number: guessed where it is weak, then led there, at last on more points.

    The branch that is followed is the one that begins at the onset of convection, by equal steps of log Ra, each begun
    where the last two point to. Begun where the last one ended, steps find no end in a square beyond some 5e5.
    """
    first, turning = BEGIN[sides]
    points = chebyshev(16)[0][1:-1]
    still = np.cos(0.5 * np.pi * points)
    across = still if sides == "symmetry" else still**2
    warm = np.outer(np.sin(0.5 * np.pi * points), still)
    found = Roll(width, sides, 16, turning * np.outer(across, still**2), 0.3 * warm)
    before = None
    for number in np.geomspace(first, rayleigh, 2 + round(2.5 * np.log(rayleigh / first))):
        needed = min(count, 2 * round(8.0 + 3.0 * np.log(number / first)))
        if needed > found.count:
            found, before = found.finer(needed), before and before.finer(needed)
        found, before = found.beyond(before) if before else copy(found), found if number > first else None
        found.solve(number)
    found = found.finer(count)
    found.solve(rayleigh)
    return found

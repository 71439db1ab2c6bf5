"""Steady flow of air in a cube with adiabatic sides, heated from below or from a side, by Legendre polynomials.

Lengths in the edge L, temperatures in the difference of the two walls, velocities in α / L. With T = T_c + θ, T_c what
still air would have (−z or −x, seen from the middle):

    (u · ∇) u / Pr = −∇p + ∇²u + Ra (θ + T_c) ẑ,  ∇ · u = 0,  (u · ∇)(θ + T_c) = ∇²θ

Galerkin: velocities are products of L_k − L_{k+2}, which vanish at walls, temperatures the same between the two walls
of a temperature and of L_k elsewhere. The velocities are restricted to those whose divergence no polynomial of two
degrees less sees, so that no pressure is left. Integrals by Gauss-Legendre points, Newton's method with dense matrices.
The roll about y keeps two symmetries, which leave a quarter of the numbers: its mirror image in y, and half a turn
about y that also swaps warm and cool.

Checked: the onset, 3388.53, is 3389 in print (D. Puigjaner and others 1999, abstract; J. Phys. Soc. Jpn 72 (2003),
197, abstract). With the polynomials along y left out, Nusselt numbers of the square heated from a side agree with
spectral ones in seven digits. The cube heated from a side has 1.0711 and 2.0551 at Rayleigh numbers 1e3 and 1e4, where
Tric, Labrosse and Betrouni 2000 (IJHMT 43, 4043) print 1.0700 and 2.0542: within 0.1 and 0.05 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray
from scipy.linalg import null_space

Array = NDArray[np.float64]
PRANDTL = 0.71
WALLS = ("wall", "wall", "wall")
FREE = ("free", "free", "free")
STEPS = (3800.0, 4200.0, 4800.0, 5600.0, 6800.0, 8200.0, 10000.0, 13000.0, 17000.0, 22000.0, 30000.0, 40000.0)
"""Rayleigh numbers by which the roll is followed from its onset."""


def line(count: int, kind: str, at: Array) -> tuple[Array, Array]:
    """Polynomials up to a degree along an edge from −1/2 to 1/2, and their derivatives, at points from −1 to 1."""
    values = legendre.legvander(at, count)
    slopes = np.stack([legendre.legval(at, legendre.legder(row)) for row in np.eye(count + 1)], axis=-1)
    if kind == "wall":
        values, slopes = values[:, :-2] - values[:, 2:], slopes[:, :-2] - slopes[:, 2:]
    return values, 2.0 * slopes


class Modes:
    """Products of polynomials of one parity in y, and of one under half a turn about y; 0 even, 1 odd."""

    def __init__(self, count: int, kinds: Sequence[str], turned: int, mirrored: int, at: Sequence[Array]) -> None:
        edges = [line(count, kind, points) for kind, points in zip(kinds, at, strict=True)]
        numbers = np.indices([values.shape[1] for values, _ in edges]).reshape(3, -1)
        kept = numbers[:, ((numbers[0] + numbers[2]) % 2 == turned) & (numbers[1] % 2 == mirrored)]
        self.count = kept.shape[1]

        def product(sloped: int | None) -> Array:
            x, y, z = (edges[axis][axis == sloped][:, kept[axis]] for axis in range(3))
            return (x[:, None, None] * y[None, :, None] * z[None, None]).reshape(-1, self.count)

        self.values, self.slopes = product(None), [product(axis) for axis in range(3)]


class Cube:
    """The air in a cube with polynomials up to `count`, `heated` from "below" or the "side"."""

    def __init__(self, count: int, heated: str) -> None:
        points, weights = np.polynomial.legendre.leggauss(2 * ((3 * count // 2 + 3) // 2))
        half = points > 0.0
        at, share = (points[half], points[half], points), (weights[half], weights[half], weights / 2.0)
        self.weight = np.einsum("i,j,k->ijk", *share).ravel()
        self.across = np.broadcast_to(0.5 * at[0][:, None, None], [one.size for one in at]).ravel()
        turned = ((1, 0), (0, 1), (1, 0))
        self.velocity = [Modes(count, WALLS, *signs, at) for signs in turned]
        kinds, self.axis = (("free", "free", "wall"), 2) if heated == "below" else (("wall", "free", "free"), 0)
        self.warmth = Modes(count, kinds, 1, 0, at)
        pressure = Modes(count - 2, FREE, 0, 0, at)
        self.cuts = np.cumsum([0, *(own.count for own in self.velocity)])
        seen = [self.inner(pressure.values, own.slopes[axis]) for axis, own in enumerate(self.velocity)]
        self.solenoidal = null_space(np.hstack(seen), rcond=1e-10)
        self.amounts = np.zeros(self.solenoidal.shape[1] + self.warmth.count)

    def inner(self, a: Array, b: Array) -> Array:
        """Integrals over the cube of all products of two sets of functions."""
        return a.T @ (self.weight[:, None] * b if b.ndim == 2 else self.weight * b)

    def part(self, axis: int) -> Array:
        """The rows of one component of all velocities without divergence."""
        return self.solenoidal[self.cuts[axis] : self.cuts[axis + 1]]

    @cached_property
    def friction(self) -> Array:
        """Of velocities against each other."""
        own = [sum(self.inner(slope, slope) for slope in modes.slopes) for modes in self.velocity]
        return sum(self.part(axis).T @ own[axis] @ self.part(axis) for axis in range(3))

    @cached_property
    def conduction(self) -> Array:
        """Of temperatures against each other."""
        return sum(self.inner(slope, slope) for slope in self.warmth.slopes)

    @cached_property
    def lift(self) -> Array:
        """Of temperatures on velocities."""
        return self.part(2).T @ self.inner(self.velocity[2].values, self.warmth.values)

    @cached_property
    def push(self) -> Array:
        """Of still air's temperatures on velocities: of those that are level no pressure is left over."""
        push = -self.part(2).T @ self.inner(self.velocity[2].values, self.across)
        return push if self.axis == 0 else np.zeros_like(push)

    @cached_property
    def feed(self) -> Array:
        """Of velocities on temperatures, by what still air has."""
        return self.inner(self.warmth.values, self.velocity[self.axis].values) @ self.part(self.axis)

    def onset(self) -> float:
        """The Rayleigh number at which the roll begins; `amounts` become a weak one."""
        answer = np.linalg.solve(self.conduction, self.feed)
        grown, rolls = np.linalg.eig(np.linalg.solve(self.friction, self.lift @ answer))
        first = int(np.argmax(grown.real))
        roll = rolls[:, first].real
        self.amounts = np.r_[roll, answer @ roll]
        self.amounts *= (0.2 / (self.nusselt - 1.0)) ** 0.5
        return float(1.0 / grown[first].real)

    @property
    def nusselt(self) -> float:
        """Heat over that of still air, mean over all planes."""
        velocity, warmth = self.split(self.amounts)
        return float(1.0 + velocity @ self.feed.T @ warmth)

    def split(self, amounts: Array) -> tuple[Array, Array]:
        """Amounts of velocities and of temperatures."""
        return amounts[: -self.warmth.count], amounts[-self.warmth.count :]

    def solve(self, rayleigh: float, steps: int = 20) -> float:
        """The Nusselt number of the steady flow near the present one."""
        for _ in range(steps):
            step = -np.linalg.solve(*self._newton(rayleigh))
            self.amounts = self.amounts + step
            if np.linalg.norm(step) < 1e-9 * np.linalg.norm(self.amounts):
                return self.nusselt
        raise RuntimeError(f"no steady flow at Ra {rayleigh:g}")

    def _newton(self, rayleigh: float) -> tuple[Array, Array]:
        """Matrix and residual of Newton's step."""
        roll, warm = self.split(self.amounts)
        speeds = [modes.values @ (self.part(axis) @ roll) for axis, modes in enumerate(self.velocity)]
        bends = [[slope @ (self.part(axis) @ roll) for slope in m.slopes] for axis, m in enumerate(self.velocity)]
        warmer = [slope @ warm for slope in self.warmth.slopes]
        inertia, turning = self._inertia(speeds, bends)
        carried = sum(u * t for u, t in zip(speeds, warmer, strict=True))
        forces = self.friction @ roll + inertia / PRANDTL - rayleigh * (self.lift @ warm + self.push)
        heats = self.conduction @ warm + self.inner(self.warmth.values, carried) - self.feed @ roll
        by_roll = sum(
            self.inner(self.warmth.values, warmer[axis][:, None] * modes.values) @ self.part(axis)
            for axis, modes in enumerate(self.velocity)
        )
        by_warmth = self.conduction + self.inner(self.warmth.values, _carrying(speeds, self.warmth))
        rows = [[self.friction + turning / PRANDTL, -rayleigh * self.lift], [by_roll - self.feed, by_warmth]]
        return np.block(rows), np.r_[forces, heats]

    def _inertia(self, speeds: list[Array], bends: list[list[Array]]) -> tuple[Array, Array]:
        """(u · ∇) u on velocities, and how it follows them."""
        whole, slope = 0.0, 0.0
        for axis, modes in enumerate(self.velocity):
            own = sum(u * bend for u, bend in zip(speeds, bends[axis], strict=True))
            whole = whole + self.part(axis).T @ self.inner(modes.values, own)
            change = self.inner(modes.values, _carrying(speeds, modes)) @ self.part(axis)
            for other, carrier in enumerate(self.velocity):
                change += self.inner(modes.values, bends[axis][other][:, None] * carrier.values) @ self.part(other)
            slope = slope + self.part(axis).T @ change
        return whole, slope


def _carrying(speeds: list[Array], modes: Modes) -> Array:
    """(u · ∇) of every function."""
    return sum(u[:, None] * slope for u, slope in zip(speeds, modes.slopes, strict=True))


def roll_in_a_cube(rayleigh: float, count: int) -> float:
    """The Nusselt number of the roll that begins at the onset, in a cube heated from below."""
    cube = Cube(count, "below")
    cube.onset()
    for step in (*(step for step in STEPS if step < rayleigh), rayleigh):
        cube.solve(step)
    return cube.nusselt

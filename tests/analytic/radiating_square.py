"""A square of air whose four walls are gray and radiate to each other; floor and ceiling pass on what they receive.

The warm and the cold side are held; on floor and ceiling what is absorbed less what is emitted goes into the air. T⁴ is
not linearised. Irradiation is exchanged between flat strips, many a wall and narrow at its ends, by the lengths of
crossed strings (H. C. Hottel; form from memory); temperatures are carried from points to strips and fluxes back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BarycentricInterpolator, CubicSpline

from analytic.heated_from_below import Array, chebyshev
from analytic.square_of_air import SquareOfAir

SIGMA = 5.670374419e-8
STRIPS = 160
"""A wall."""


@dataclass(frozen=True)
class Enclosure:
    """Of what the air's square is made: side [m], temperatures [K], conductivity of the air [W/(m K)], emissivity."""

    side: float
    warm: float
    cold: float
    conductivity: float
    emissivity: float

    @property
    def unit(self) -> float:
        """The flux by which the air's are measured [W/m²]."""
        return self.conductivity * (self.warm - self.cold) / self.side


def exchanged(edges: Array) -> Array:
    """View factors between all strips of warm side, cold side, floor and ceiling of the unit square."""
    zero, one = np.zeros_like(edges), np.ones_like(edges)
    walls = [np.stack(ends, axis=1) for ends in ((zero, edges), (one, edges), (edges, zero), (edges, one))]
    low = np.concatenate([wall[:-1] for wall in walls])
    high = np.concatenate([wall[1:] for wall in walls])

    def apart(a: Array, b: Array) -> Array:
        return np.asarray(np.hypot(*(a[:, None] - b[None]).transpose(2, 0, 1)))

    strings = np.abs(apart(low, high) + apart(high, low) - apart(low, low) - apart(high, high))
    views = strings / (2.0 * apart(low, high).diagonal())[:, None]
    own = np.repeat(np.arange(4), len(edges) - 1)
    views[own[:, None] == own[None]] = 0.0
    return views


class RadiatingSquare(SquareOfAir):
    """The square within an enclosure of gray walls."""

    def __init__(self, count: int, prandtl: float, walls: Enclosure) -> None:
        super().__init__(count, prandtl)
        self.walls = walls
        edges = 0.5 * (1.0 - np.cos(np.pi * np.arange(STRIPS + 1) / STRIPS))
        self.middle, self.width = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
        points = 0.5 * (1.0 + chebyshev(count)[0])
        self.onto = BarycentricInterpolator(points, np.eye(count + 1))(self.middle)
        self.back = CubicSpline(self.middle, np.eye(STRIPS))(points)
        views, shine = exchanged(edges), walls.emissivity
        received = views @ np.linalg.solve(np.eye(len(views)) - (1.0 - shine) * views, shine * np.eye(len(views)))
        self.net = shine * (received - np.eye(len(views)))

    def _strips(self) -> Array:
        """Temperatures of all strips [K]."""
        air, walls = self.temperature.reshape(self.count + 1, -1), self.walls
        level = [walls.cold + (walls.warm - walls.cold) * (self.onto @ air[:, end]) for end in (0, -1)]
        return np.concatenate([np.full(STRIPS, walls.warm), np.full(STRIPS, walls.cold), *level])

    def absorbed(self) -> Array:
        """Less what is emitted, on the strips of each wall (4, strips) [W/m²]."""
        return (self.net @ (SIGMA * self._strips() ** 4)).reshape(4, STRIPS)

    def radiant(self, wall: int) -> float:
        """Mean flux that the warm (0) or cold (1) side sends away [W/m²]."""
        return -float(self.absorbed()[wall] @ self.width)

    def edges(self) -> tuple[Array, Array]:
        """Both sides; floor and ceiling, where the air takes what is absorbed."""
        n, walls = self.count + 1, self.walls
        up, own = (m.reshape(n, n, n, n) for m in (np.kron(np.eye(n), self.d), np.eye(n * n)))
        air = self.temperature.reshape(n, n)
        sides = np.concatenate([own[0].reshape(n, -1), own[-1].reshape(n, -1)])
        left, slope = [air[0] - 1.0, air[-1]], [sides]
        power = 4.0 * SIGMA * self._strips() ** 3 * (walls.warm - walls.cold) / walls.unit
        taken = self.absorbed() / walls.unit
        for wall, end, away in ((2, 0, 1.0), (3, -1, -1.0)):
            into = away * up[:, end].reshape(n, -1)  # the air's slope away from the wall: − the flux into it
            left.append((into @ self.temperature + self.back @ taken[wall])[1:-1])
            for other, at in ((2, 0), (3, -1)):
                rows, columns = (slice(STRIPS * k, STRIPS * (k + 1)) for k in (wall, other))
                part = self.back @ (self.net[rows, columns] * power[columns]) @ self.onto
                into = into + np.einsum("ij,jk->ik", part, own[:, at].reshape(n, -1))
            slope.append(into[1:-1])
        return np.concatenate(left), np.concatenate(slope)

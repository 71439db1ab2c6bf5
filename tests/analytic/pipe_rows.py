"""Rows of pipes in a slab, solved by fundamental solutions: nothing of the program's own grids or equations.

The field is a sum of line sources inside the pipe, each with the periodic Green's function of the slab; their
strengths are fitted so that the pipe's condition is met all round it. Green's function per pitch P: the exact field of
a row of sources in an unbounded medium,

    G∞ = −ln(2 cosh 2πΔz/P − 2 cos 2πΔx/P) / (4πλ) = −|Δz|/(2Pλ) + Σ exp(−kₙ|Δz|) cos(kₙΔx) / (P kₙ λ),   kₙ = 2πn/P,

and for every n what both faces add, e^(k(z−H)) and e^(−kz) so that −λ T' = h T above and λ T' = h T below. A layer of
insulation below the slab is a film whose h depends on k. Excess temperatures over the rooms, which are alike.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
MODES = 400


@dataclass(frozen=True)
class Slab:
    """Height and conductivity of a slab, the pitch, and the films [W/(m² K)] of its faces for a wave number [1/m]."""

    height: float
    conductivity: float
    pitch: float
    above: float
    below: Callable[[Array], Array]

    def field(self, x: Array, z: Array, source_x: float, source_z: float) -> Array:
        """Green's function [K m/W] of one source a pitch."""
        p, k = self.pitch, self.conductivity
        a, b = 2.0 * np.pi * (z - source_z) / p, 2.0 * np.pi * (x - source_x) / p
        free = -(np.log(2.0 * np.cosh(a) - 2.0 * np.cos(b))) / (4.0 * np.pi * k)
        n = 2.0 * np.pi * np.arange(1, MODES + 1) / p
        up, down = self._added(n, source_z)
        level = self._level(source_z)
        waves = up[:, None] * np.exp(n[:, None] * (z - self.height)) + down[:, None] * np.exp(-n[:, None] * z)
        return free + level[0] + level[1] * z + (waves * np.cos(n[:, None] * (x - source_x))).sum(axis=0)

    def mean_at_top(self, source_z: float) -> float:
        """The mean of Green's function over the upper face."""
        base, slope = self._level(source_z)
        return float(-(self.height - source_z) / (2.0 * self.pitch * self.conductivity) + base + slope * self.height)

    def _added(self, n: Array, source_z: float) -> tuple[Array, Array]:
        """Factors of e^(n(z−H)) and e^(−nz) for each wave number."""
        k, p, far = self.conductivity, self.pitch, np.exp(-n * self.height)
        below = self.below(n)
        to_top, to_bottom = np.exp(-n * (self.height - source_z)) / (p * k * n), np.exp(-n * source_z) / (p * k * n)
        a11, a12, r1 = k * n + self.above, (self.above - k * n) * far, (k * n - self.above) * to_top
        a21, a22, r2 = (k * n - below) * far, -(k * n + below), (below - k * n) * to_bottom
        determinant = a11 * a22 - a12 * a21
        return (r1 * a22 - a12 * r2) / determinant, (a11 * r2 - a21 * r1) / determinant

    def _level(self, source_z: float) -> tuple[float, float]:
        """Constant and slope of the mean's linear part."""
        k, p, h1, h0 = self.conductivity, self.pitch, self.above, float(self.below(np.zeros(1))[0])
        flux, top, bottom = 0.5 / p, -(self.height - source_z) / (2 * p * k), -source_z / (2 * p * k)
        rows = [[h1, k + h1 * self.height], [-h0, k]]
        base, slope = np.linalg.solve(rows, [flux - h1 * top, h0 * bottom - flux])
        return float(base), float(slope)


def film(h: float) -> Callable[[Array], Array]:
    """A film that is the same for all waves."""
    return lambda n: np.full_like(n, h)


def film_behind_layer(h: float, thickness: float, conductivity: float) -> Callable[[Array], Array]:
    """A film behind a layer: λk (h + λk tanh kd) / (λk + h tanh kd), and 1/(d/λ + 1/h) for the mean."""

    def acting(n: Array) -> Array:
        k = np.where(n > 0.0, conductivity * n, 1.0)
        tanh = np.tanh(n * thickness)
        return np.where(n > 0.0, k * (h + k * tanh) / (k + h * tanh), 1.0 / (thickness / conductivity + 1.0 / h))

    return acting


@dataclass(frozen=True)
class PipeRow:
    """What a row gives [W/m, W/m²] per kelvin of the pipe, how well its condition is met, and temperatures anywhere."""

    slab: Slab
    places: tuple[tuple[float, float], ...]
    strengths: Array
    residual: float

    @property
    def heat(self) -> float:
        """Of a pipe [W/(m K)]."""
        return float(self.strengths.sum())

    @property
    def flux_up(self) -> float:
        """[W/(m² K)]"""
        means = [self.slab.mean_at_top(z) for _, z in self.places]
        return float(self.slab.above * np.dot(self.strengths, means))

    @property
    def flux_down(self) -> float:
        """[W/(m² K)]"""
        return self.heat / self.slab.pitch - self.flux_up

    def excess(self, x: float, z: float) -> float:
        """[-]"""
        where = np.array([x]), np.array([z])
        pairs = zip(self.strengths, self.places, strict=True)
        return float(sum(s * self.slab.field(*where, *place)[0] for s, place in pairs))


def solve_row(slab: Slab, depth: float, radius: float, wall: float = 0.0, count: int = 40) -> PipeRow:
    """A row of pipes whose axes are at z = depth, x = 0; `wall` [m K/W] between the medium and what is held at 1."""
    inside = 2.0 * np.pi * (np.arange(count) + 0.5) / count
    places = tuple((0.55 * radius * np.cos(t), depth + 0.55 * radius * np.sin(t)) for t in inside)
    round_it = 2.0 * np.pi * (np.arange(4 * count) + 0.25) / (4 * count)
    cos, sin, step = np.cos(round_it), np.sin(round_it), 1e-4 * radius

    def on(r: float) -> Array:
        return np.array([slab.field(r * cos, depth + r * sin, *place) for place in places]).T

    rows = on(radius)
    if wall:
        slope = (on(radius + step) - on(radius - step)) / (2.0 * step)
        rows = rows - wall * 2.0 * np.pi * radius * slab.conductivity * slope
    strengths = np.linalg.lstsq(rows, np.ones(len(rows)), rcond=1e-14)[0]
    return PipeRow(slab, places, strengths, float(np.abs(rows @ strengths - 1.0).max()))

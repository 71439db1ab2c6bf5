"""Zone air and patch radiation eliminated from the cells' equations at one linearisation.

With y = B δT the change of foot temperatures, g_r = 4 ε A σ T_s³ what a face emits more per kelvin, g_i = ε A h̄
what it absorbs more per unit of Θ (δH = h̄ δΘ, h̄ = 4 σ T_m³), S = G + g_c + g_r and the shares a = G g_c / S,
b = G g_r / S, b' = G g_i / S:

    cells    ... + Bᵀ[(a + b) y − a δT_air − b' δΘ] = −F_cells
    zones    Σ_f [g_c (1 − g_c/S) δT_air − g_c g_i/S δΘ − a y] + openings = −F_zones
    patches  ε A h̄ δΘ − E Σ_f [g_r g_i/S δΘ + g_r g_c/S δT_air + b y] = −ε A F_patches

with E = F̂ diag(1/(ε A)). The small dense matrix of zones and patches is factorised once; the product with the
cells' vector is then a gather, a small solve and a scatter. As surfaces differ in temperature, g_r ≠ g_i and the
product is not quite symmetric.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.case.constants import STEFAN_BOLTZMANN
from sim.physics.cavity import WallHeat
from sim.solver.terms.cavity import Cavity

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Coupling:
    """The linearised cavity: factorised nodes and the shares that tie them to the faces."""

    cavity: Cavity
    to_air: Array
    to_patch: Array
    from_patch: Array
    radiant_film: float
    exchange: Array
    factors: Any

    def sink(self) -> Array:
        """Diagonal that the walls add to the cells when zones and patches are held [W/K], flat (cells,)."""
        return self.cavity.feet.slopes(self.to_air + self.to_patch)

    def apply(self, temperature: Array) -> Array:
        """Heat [W] that leaves the cells (cells,) into the cavity for a change of their temperatures (cells,) [K]."""
        change = self.cavity.feet.of(temperature)
        nodes = self._solve(self._gather(change))
        return self.cavity.feet.into_cells((self.to_air + self.to_patch) * change - self._spread(nodes))

    def source(self, zone_residual: Array, patch_residual: Array) -> Array:
        """Heat into the cells (cells,) from what zones (zones,) and patches (patches,) leave over, all in W."""
        return self.cavity.feet.into_cells(self._spread(self.nodes(None, zone_residual, patch_residual)))

    def nodes(self, temperature: Array | None, zone_residual: Array, patch_residual: Array) -> Array:
        """Changes of zone air [K] and patch Θ [K] that belong to a change of cell temperatures."""
        right = np.concatenate([-zone_residual, -patch_residual])
        if temperature is not None:
            right = right + self._gather(self.cavity.feet.of(temperature))
        return self._solve(right)

    def _gather(self, change: Array) -> Array:
        walls, zones = self.cavity.walls, self.cavity.zone_count
        air = _sum(walls.zone, self.to_air * change, zones)
        patch = _sum(walls.patch, self.to_patch * change, len(self.exchange))
        return np.concatenate([air, self.exchange @ patch])

    def _spread(self, nodes: Array) -> Array:
        walls, zones = self.cavity.walls, self.cavity.zone_count
        air = np.append(nodes[:zones], 0.0)[walls.zone]
        return self.to_air * air + self.from_patch * nodes[zones:][walls.patch]

    def _solve(self, right: Array) -> Array:
        from scipy.linalg import lu_solve

        return np.asarray(lu_solve(self.factors, right, check_finite=False))


def _sum(numbers: NDArray[np.int64], values: Array, count: int) -> Array:
    """Sum of the values by number; number -1 is dropped."""
    return np.asarray(np.bincount(numbers + 1, values, count + 1)[1:], np.float64)


def linearise_cavity(
    cavity: Cavity, heat: WallHeat, opening_slope: Array, storage: Array | None = None
) -> Coupling:
    """Linearise films, radiation and openings about the present wall temperatures.

    `storage` is what each zone's air takes up per kelvin [W/K] (zones,); None in steady state.
    """
    from scipy.linalg import lu_factor

    walls, patches = cavity.walls, cavity.patches
    mean = float(np.average(heat.temperature, weights=walls.area))
    film = 4.0 * STEFAN_BOLTZMANN * mean**3
    absorbed = walls.emissivity * walls.area * film
    emitted = absorbed * (heat.temperature / mean) ** 3
    total = walls.half_conductance + heat.slope + emitted
    share = walls.half_conductance / total
    exchange = patches.exchange / patches.emitting_area[None, :]
    matrix = _node_matrix(cavity, (heat.slope, emitted, absorbed, total), exchange, film)
    matrix[: cavity.zone_count, : cavity.zone_count] += _opening_matrix(cavity, opening_slope)
    if storage is not None:
        matrix[: cavity.zone_count, : cavity.zone_count] += np.diag(storage)
    return Coupling(
        cavity, share * heat.slope, share * emitted, share * absorbed, film, exchange, lu_factor(matrix)
    )


def _node_matrix(cavity: Cavity, films: tuple[Array, ...], exchange: Array, radiant_film: float) -> Array:
    """The dense matrix of zones (first) and patches, openings left out."""
    walls, zones = cavity.walls, cavity.zone_count
    convective, emitted, absorbed, total = films
    count = len(exchange)
    shape = (zones, count)
    matrix = np.zeros((zones + count, zones + count))
    matrix[:zones, :zones] = np.diag(_sum(walls.zone, convective * (1.0 - convective / total), zones))
    matrix[:zones, zones:] = -_cross(walls.zone, walls.patch, convective * absorbed / total, shape)
    matrix[zones:, :zones] = (
        -exchange @ _cross(walls.zone, walls.patch, convective * emitted / total, shape).T
    )
    matrix[zones:, zones:] = -exchange * _sum(walls.patch, emitted * absorbed / total, count)
    matrix[zones:, zones:] += np.diag(cavity.patches.emitting_area * radiant_film)
    return matrix


def _cross(zone, patch, values: Array, shape: tuple[int, int]) -> Array:
    on = zone >= 0
    summed = np.bincount(zone[on] * shape[1] + patch[on], values[on], shape[0] * shape[1])
    return summed.astype(np.float64).reshape(shape)


def _opening_matrix(cavity: Cavity, slope: Array) -> Array:
    matrix = np.zeros((cavity.zone_count, cavity.zone_count))
    first, second = cavity.openings.first, cavity.openings.second
    if cavity.zone_count:
        np.add.at(matrix, (first, first), slope)
        np.add.at(matrix, (second, second), slope)
        np.add.at(matrix, (first, second), -slope)
        np.add.at(matrix, (second, first), -slope)
    return matrix

"""What eddies finer than the grid do to the flow: Vreman's eddy viscosity, off unless asked for.

ν_t = c √(B / α_ij α_ij) with α_ij = ∂_i u_j, β_ij = Δ_m² α_mi α_mj and B the sum of β's principal minors (Vreman 2004,
Phys. Fluids 16, 3670). It vanishes in laminar shear and in pure rotation next to walls, so that walls need no damping.
The stress 2 ν_t S and the heat flux ν_t/Pr_t ∇T are in flux form; edges and faces at walls carry none.

They are found once a step, from the flow at its beginning, and held through its stages, whose weights sum to one: first
order in the step, as a model can bear, a third of the work, and the same answer wherever the flow is steady.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.momentum import Fields
from sim.airflow.rows import compiled
from sim.machine.threads import BUSIER_LOOP, share_loop

if TYPE_CHECKING:
    from sim.airflow.row_lists import RowLists

Array = NDArray[np.float64]

VREMAN = 0.07
"""c ≈ 2.5 C_s² for a Smagorinsky constant of 0.17 (Vreman 2004)."""

TURBULENT_PRANDTL = 0.6
"""Middle of the usual 0.4 to 0.9 (from memory)."""


@compiled
def inverse_spans(centres):
    """One over the distance between a cell's two neighbours along an axis; one-sided on the domain's sides [1/m]."""
    n = centres.size
    spans = np.zeros(n)
    for i in range(n if n > 1 else 0):
        spans[i] = 1.0 / (centres[min(i + 1, n - 1)] - centres[max(i - 1, 0)])
    return spans


@compiled
def inverses(width):
    """One over the widths of cells, and over the distances from each one's middle to the next one's below [1/m]."""
    inverse, gaps = 1.0 / width, np.zeros(width.size)
    for i in range(1, width.size):
        gaps[i] = 2.0 / (width[i - 1] + width[i])
    return inverse, gaps


@compiled
def stretched(first, second, squares):
    """Σ Δ_m² α_mi α_mj of two components' slopes: one entry of β."""
    return squares[0] * first[0] * second[0] + squares[1] * first[1] * second[1] + squares[2] * first[2] * second[2]


@compiled
def squared(slopes):
    """Σ α_mi² of one component's slopes."""
    return slopes[0] * slopes[0] + slopes[1] * slopes[1] + slopes[2] * slopes[2]


@compiled
def vreman_of(slopes, squares):
    """√(B / α_ij α_ij) [m² × 1/s] from each component's slopes along the axes (3 × 3) and Δ² = squares (3)."""
    u, v, w = slopes
    size = squared(u) + squared(v) + squared(w)
    uu, vv, ww = stretched(u, u, squares), stretched(v, v, squares), stretched(w, w, squares)
    uv, uw, vw = stretched(u, v, squares), stretched(u, w, squares), stretched(v, w, squares)
    minors = (uu * vv - uv * uv) + (uu * ww - uw * uw) + (vv * ww - vw * vw)
    return math.sqrt(max(minors, 0.0) / size) if size > 0.0 else 0.0


@compiled
def slopes_at(field, rows, i, j, k, spans):
    """Slopes of a cell field along the three axes; ``rows``: places before and after along each."""
    west, east, south, north, below, above = rows
    return (
        (field[east, j, k] - field[west, j, k]) * spans[0],
        (field[i, north, k] - field[i, south, k]) * spans[1],
        (field[i, j, above] - field[i, j, below]) * spans[2],
    )


@compiled
def eddy_viscosity(start, stop, velocity, centres, widths, constant, out):
    """ν_t of the cells of some slabs; ``velocity``: the three components at cell centres."""
    u, v, w = velocity
    nx, ny, nz = out.shape
    along_x, along_y, along_z = inverse_spans(centres[0]), inverse_spans(centres[1]), inverse_spans(centres[2])
    for i in range(start, stop):
        west, east = max(i - 1, 0), min(i + 1, nx - 1)
        for j in range(ny):
            south, north = max(j - 1, 0), min(j + 1, ny - 1)
            for k in range(nz):
                rows = (west, east, south, north, max(k - 1, 0), min(k + 1, nz - 1))
                spans = (along_x[i], along_y[j], along_z[k])
                slopes = (
                    slopes_at(u, rows, i, j, k, spans),
                    slopes_at(v, rows, i, j, k, spans),
                    slopes_at(w, rows, i, j, k, spans),
                )
                squares = (widths[0][i] ** 2, widths[1][j] ** 2, widths[2][k] ** 2)
                out[i, j, k] = constant * vreman_of(slopes, squares)


@compiled
def shear_at(place, speeds, openness, eddy, x, y, rates):
    """Stress on one edge; ``x`` and ``y``: inverse widths and gaps along either axis."""
    i, j, k = place
    u, v = speeds
    open_u, open_v = openness
    rate_u, rate_v = rates
    around = min(open_u[i, j - 1, k], open_u[i, j, k], open_v[i - 1, j, k], open_v[i, j, k])
    if around > 0.0:
        viscosity = 0.25 * (eddy[i - 1, j - 1, k] + eddy[i, j - 1, k] + eddy[i - 1, j, k] + eddy[i, j, k])
        across = (u[i, j, k] - u[i, j - 1, k]) * y[1][j]
        stress = viscosity * (across + (v[i, j, k] - v[i - 1, j, k]) * x[1][i])
        rate_u[i, j - 1, k] += stress * y[0][j - 1]
        rate_u[i, j, k] -= stress * y[0][j]
        rate_v[i - 1, j, k] += stress * x[0][i - 1]
        rate_v[i, j, k] -= stress * x[0][i]


@compiled
def shear(start, stop, speeds, openness, eddy, widths, rates):
    """Stress on the edges between two axes, in layers start ≤ k < stop of the third (all arrays turned that way).

    The innermost loop goes where neighbours lie side by side in memory.
    """
    x, y = inverses(widths[0]), inverses(widths[1])
    if eddy.strides[2] < eddy.strides[1]:
        for i in range(1, widths[0].size):
            for j in range(1, widths[1].size):
                for k in range(start, stop):
                    shear_at((i, j, k), speeds, openness, eddy, x, y, rates)
    else:
        for k in range(start, stop):
            for i in range(1, widths[0].size):
                for j in range(1, widths[1].size):
                    shear_at((i, j, k), speeds, openness, eddy, x, y, rates)


@compiled
def stretch(start, stop, speed, temperature, openness, eddy, width, rates):
    """Normal stress and heat flux along the first axis, in layers start ≤ k < stop of the last (arrays turned)."""
    rate, heating = rates
    inverse, gaps = inverses(width)
    for k in range(start, stop):
        for i in range(width.size):
            own, gap, next_gap = inverse[i], gaps[i], gaps[min(i + 1, width.size - 1)]
            for j in range(eddy.shape[1]):
                stress = 2.0 * eddy[i, j, k] * (speed[i + 1, j, k] - speed[i, j, k]) * own
                if i > 0:
                    rate[i, j, k] += stress * gap
                    mixing = (0.5 / TURBULENT_PRANDTL) * openness[i, j, k] * (eddy[i - 1, j, k] + eddy[i, j, k])
                    flux = mixing * (temperature[i, j, k] - temperature[i - 1, j, k]) * gap
                    heating[i - 1, j, k] += flux * inverse[i - 1]
                    heating[i, j, k] -= flux * own
                if i + 1 < width.size:
                    rate[i + 1, j, k] -= stress * next_gap


@compiled
def clear_fixed(start, stop, extra, lists):
    """What the model adds is nothing at the fixed places of some slabs."""
    for i in range(start, stop):
        for j in range(extra.shape[1]):
            number = i * extra.shape[1] + j
            for e in range(lists.fixed_start[number], lists.fixed_start[number + 1]):
                extra[i, j, lists.fixed_place[e]] = 0.0


@dataclass(slots=True, eq=False)
class Subgrid:
    """The model and its working arrays. Made by `build_subgrid`.

    Attributes
    ----------
    domain : Domain
    constant : float [-]
        Vreman's c.
    viscosity : (nx, ny, nz) [m²/s]
        ν_t at the beginning of the last step.
    extra : Fields
        Rates that it adds in each of the step's stages.
    centres, widths : of the domain's cells along each axis [m]
    closed : (nx, ny, nz) bool
        Where there is no air.
    """

    domain: Domain
    constant: float
    viscosity: Array
    extra: Fields
    centres: tuple[Array, Array, Array]
    widths: tuple[Array, Array, Array]
    closed: NDArray[np.bool_]

    def find(self, state: Fields, lists: tuple[RowLists, ...]) -> None:
        """Find the rates that the model adds from a state, for all stages of a step that begins there."""
        self._update(state)
        for field in self.extra:
            field[...] = 0.0
        for axis in range(3):
            self._along(axis, state)
        for first, second in ((0, 1), (0, 2), (1, 2)):
            self._between(first, second, state)
        for extra, own in zip(self.extra, lists, strict=True):
            share_loop(clear_fixed, extra.shape[0], self.domain.cells, extra, own)

    def _update(self, state: Fields) -> None:
        """Eddy viscosity of every air cell."""
        u, v, w = state.x, state.y, state.z
        middle = (0.5 * (u[1:] + u[:-1]), 0.5 * (v[:, 1:] + v[:, :-1]), 0.5 * (w[:, :, 1:] + w[:, :, :-1]))
        lines = self.centres, self.widths
        given = (middle, *lines, self.constant, self.viscosity)
        share_loop(eddy_viscosity, u.shape[0] - 1, self.domain.cells, *given, smallest=BUSIER_LOOP)
        self.viscosity[self.closed] = 0.0

    def _along(self, axis: int, state: Fields) -> None:
        """Normal stress and heat flux along one axis; shared is the other whose layers lie furthest apart in memory."""
        turned = (axis, *(a for a in (2, 1, 0) if a != axis))
        speed, temperature, openness, eddy, rate, heating = (
            array.transpose(turned)
            for array in (
                state[axis], state.temperature, self.domain.openness[axis], self.viscosity, self.extra[axis],
                self.extra.temperature,
            )
        )  # fmt: skip
        width = self.widths[axis]
        given = (speed, temperature, openness, eddy, width, (rate, heating))
        share_loop(stretch, eddy.shape[2], eddy.size, *given)

    def _between(self, first: int, second: int, state: Fields) -> None:
        """Shear stress between two axes."""
        turned = (first, second, 3 - first - second)

        def pair(fields: Any) -> tuple[Any, Any]:
            return fields[first].transpose(turned), fields[second].transpose(turned)

        eddy, widths = self.viscosity.transpose(turned), (self.widths[first], self.widths[second])
        speeds, openness, rates = pair(state), pair(self.domain.openness), pair(self.extra)
        share_loop(shear, eddy.shape[2], eddy.size, speeds, openness, eddy, widths, rates)


def build_subgrid(domain: Domain, constant: float, state: Fields) -> Subgrid | None:
    """The model for a domain, or None where the constant, which is dimensionless, is 0.

    Raises
    ------
    ValueError : the constant is negative.
    """
    if constant < 0.0:
        raise ValueError(f"subgrid is {constant}; must be ≥ 0 (Vreman's constant is {VREMAN})")
    if constant == 0.0:
        return None
    x, y, z, temperature = (np.zeros_like(field) for field in state)
    extra = Fields(x, y, z, temperature)
    return Subgrid(domain, constant, np.zeros(domain.shape), extra, domain.centres, domain.widths, ~domain.air)

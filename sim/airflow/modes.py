"""Fast diagonalisation of the Poisson operator on a tensor grid: transforms, and lines in between.

The discrete operator is a sum of three one-dimensional ones, K⊗M⊗M + M⊗K⊗M + M⊗M⊗K, with M the cell widths and
K the Neumann second difference. Two axes are diagonalised by the eigenvectors of K v = λ M v, Vᵀ M V = 1 (Lynch,
Rice & Thomas 1964), applied as dense products by BLAS; along the third a tridiagonal system is left for every
pair of modes. Cost a cell: 8 n flops for n cells on the transformed axes; no iteration. The constant mode is
held at the last cell.

Working arrays are (lines, side, up): the axis of the lines first, then the other lateral one, then z.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh_tridiagonal

from sim.airflow.grid_tables import AxisTable
from sim.airflow.rows import compiled

Array = NDArray[np.float64]


class Modes(NamedTuple):
    """Transforms of the two diagonalised axes and the line along the third.

    side, side_t, up, up_t: eigenvectors (m, m) of the lateral axis and of z and their transposes; side_value,
    up_value: eigenvalues [1/m²]; pull (n+1,): one over the gaps along the line; width (n,) along it.
    """

    side: Any
    side_t: Any
    up: Any
    up_t: Any
    side_value: Any
    up_value: Any
    pull: Any
    width: Any


def axis_modes(width: Array, inverse_gap: Array) -> tuple[Array, Array]:
    """Eigenvalues (n,) [1/m²] and eigenvectors (n, n) of one axis' Neumann operator, the constant mode first."""
    if width.size == 1:
        return np.zeros(1), np.full((1, 1), 1.0 / np.sqrt(width[0]))
    root = 1.0 / np.sqrt(width)
    diagonal = (inverse_gap[:-1] + inverse_gap[1:]) * root**2
    beside = -inverse_gap[1:-1] * root[:-1] * root[1:]
    values, vectors = eigh_tridiagonal(diagonal, beside)
    values[0] = 0.0
    vectors[:, 0] = 1.0 / (root * np.linalg.norm(1.0 / root))
    return np.maximum(values, 0.0), np.ascontiguousarray(vectors * root[:, None])


def build_modes(along: AxisTable, side: AxisTable, up: AxisTable) -> Modes:
    """Transforms for lines along one axis."""
    side_value, side_vector = axis_modes(side.width, side.inverse_gap)
    up_value, up_vector = axis_modes(up.width, up.inverse_gap)
    return Modes(
        side_vector, np.ascontiguousarray(side_vector.T), up_vector, np.ascontiguousarray(up_vector.T),
        side_value, up_value, along.inverse_gap, along.width,
    )  # fmt: skip


@compiled
def to_modes(start, stop, values, modes):
    """Transform the slabs start ≤ t < stop from cells to modes, in place."""
    held = np.empty(values.shape[1:])
    for t in range(start, stop):
        if values.shape[1] == 1:
            np.dot(values[t], modes.up, held)
            values[t] = held * modes.side[0, 0]
        else:
            np.dot(values[t], modes.up, held)
            np.dot(modes.side_t, held, values[t])


@compiled
def to_cells(start, stop, values, modes):
    """Transform the slabs start ≤ t < stop from modes to cells, in place."""
    held = np.empty(values.shape[1:])
    for t in range(start, stop):
        if values.shape[1] == 1:
            np.dot(values[t], modes.up_t, held)
            values[t] = held * modes.side[0, 0]
        else:
            np.dot(modes.side, values[t], held)
            np.dot(held, modes.up_t, values[t])


@compiled
def solve_lines(start, stop, values, modes):
    """Solve (K + (λ_side + λ_up) M) x = values along the lines of the side modes start ≤ o < stop, in place."""
    lines, nz = values.shape[0], values.shape[2]
    inverse = np.empty((lines, nz))
    for o in range(start, stop):
        for t in range(lines):
            eliminate(values, inverse, t, o, modes)
        for t in range(lines - 2, -1, -1):
            substitute(values[t, o], values[t + 1, o], inverse[t], modes.pull[t + 1])


@compiled
def eliminate(values, inverse, t, o, modes):
    """One row of pivots and of the forward sweep."""
    pull, width = modes.pull, modes.width[t]
    here, row, extra = values[t, o], inverse[t], modes.side_value[o] * width + pull[t] + pull[t + 1]
    if t == 0:
        for c in range(here.size):
            row[c] = 1.0 / (extra + modes.up_value[c] * width)
    else:
        before, above, below = values[t - 1, o], inverse[t - 1], pull[t]
        square = below * below
        for c in range(here.size):
            row[c] = 1.0 / (extra + modes.up_value[c] * width - square * above[c])
    if o == 0 and t == inverse.shape[0] - 1:
        # only the constant mode has no answer of its own: its last cell is held at (nearly) zero
        row[0] = 1.0 / pull[t]
    if t == 0:
        for c in range(here.size):
            here[c] *= row[c]
    else:
        for c in range(here.size):
            here[c] = (here[c] + below * before[c]) * row[c]


@compiled
def substitute(here, beyond, inverse, pull):
    """One row of the backward sweep."""
    for c in range(here.size):
        here[c] += pull * inverse[c] * beyond[c]

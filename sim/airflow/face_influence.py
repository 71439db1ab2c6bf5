"""The influence matrix of closed faces, piece by piece: dense blocks at the diagonal, all others as products.

With the faces in the order of their lines, the inverse along the lines (`line_inverse`) makes every block right of
the diagonal a product X Yᵀ over the modes across them; further off fewer modes count. This holds within a line too,
and for faces across the lines in the same gap: what the product misses there is the same for all modes, and sums to
zero between different cells.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.airflow.line_inverse import LineInverse, line_inverse
from sim.airflow.modes import Modes
from sim.airflow.rows import compiled

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

ROOM = 4_000_000
"""Numbers in the working arrays of a product of many faces and modes."""


def line_key(below: Integers, above: Integers) -> Integers:
    """Where a face (m,) lies along the lines: within line t is 2 t, between it and the next 2 t + 1."""
    return below[:, 0] + above[:, 0]


@dataclass(frozen=True, slots=True, eq=False)
class FaceInfluence:
    """1/c − Bᵀ L⁻¹ B + τ N Nᵀ (m, m) [1/m] of closed faces that are in the order of `line_key`.

    Attributes
    ----------
    below, above : (m, 3) int
        The two cells of each face, in layout order.
    conductance : (m,) [m]
        c = area / gap.
    loose : (m, n)
        √τ N: null vectors of the rest, filled in.
    modes, lines : of the empty box
    """

    below: Integers
    above: Integers
    conductance: Array
    loose: Array
    modes: Modes
    lines: LineInverse

    @property
    def size(self) -> int:
        """Number of faces."""
        return self.conductance.size

    def diagonal(self, start: int, stop: int) -> Array:
        """The diagonal (n,) of the faces start ≤ f < stop."""
        own, ratio = self.lines.own, self.lines.ratio
        result = 1.0 / self.conductance[start:stop] + (self.loose[start:stop] ** 2).sum(axis=1)
        for part in _pieces(start, stop, own.shape[1]):
            low, high = self.below[part, 0], self.above[part, 0]
            first, second = (lateral(self.modes, cells[part]) for cells in (self.below, self.above))
            between = np.where((low == high)[:, None], 1.0, ratio[high]) * own[high]
            square = first**2 * own[low] - 2.0 * first * second * between + second**2 * own[high]
            result[part.start - start : part.stop - start] -= square.sum(axis=1)
        return result

    def dense(self, start: int, stop: int) -> Array:
        """The block (n, n) of the faces start ≤ f < stop."""
        block = np.zeros((stop - start, stop - start))
        key = line_key(self.below[start:stop], self.above[start:stop])
        for first in np.flatnonzero(np.diff(key, prepend=-1)):
            last = int(np.searchsorted(key, key[first], "right"))
            rows = slice(start + int(first), start + last)
            block[first:last, first:] = self._block(rows, slice(rows.start, stop)).dense()
        block = np.triu(block, 1)
        return block + block.T + np.diag(self.diagonal(start, stop))

    def far(self, start: int, middle: int, stop: int) -> ProductBlock:
        """The block of the faces start ≤ f < middle with middle ≤ g < stop."""
        return self._block(slice(start, middle), slice(middle, stop))

    def _block(self, rows: slice, columns: slice) -> ProductBlock:
        """Both factors, weighted from the line of the first column on, so that all numbers only decay."""
        at, lowest = int(self.below[columns.start, 0]), int(self.below[rows.start, 0])
        highest = int(self.above[columns, 0].max())
        before, beyond = self.lines.before(at, lowest), self.lines.beyond(at, highest)
        return ProductBlock(Factor(self, rows, -before, lowest), Factor(self, columns, beyond, at))


@dataclass(frozen=True, slots=True, eq=False)
class ProductBlock:
    """A block right of the diagonal as a product, rows times columnsᵀ, that is never multiplied out.

    Attributes
    ----------
    rows, columns : factors (faces, modes and null vectors)
        All rows come before all columns, or are of the same line.
    """

    rows: Factor
    columns: Factor

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows.size, self.columns.size

    def times(self, vectors: Array) -> Array:
        """The block times vectors (columns, k)."""
        return self.rows.spread(self.columns.gather(vectors))

    def transposed_times(self, vectors: Array) -> Array:
        """Its transpose times vectors (rows, k)."""
        return self.columns.spread(self.rows.gather(vectors))

    def dense(self) -> Array:
        """The block itself (rows, columns)."""
        return self.transposed_times(np.eye(self.rows.size)).T


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """How strongly each mode, and each null vector, acts at some faces: made anew for every product.

    Attributes
    ----------
    matrix : FaceInfluence
    faces : slice of its faces
    weight : (lines, modes)
        Of the modes, on lines from `first` on.
    first : int
    """

    matrix: FaceInfluence
    faces: slice
    weight: Array
    first: int

    @property
    def size(self) -> int:
        """Number of faces."""
        return self.faces.stop - self.faces.start

    def gather(self, vectors: Array) -> Array:
        """Its transpose times vectors (faces, k): (modes + null vectors, k)."""
        loose, count = self.matrix.loose[self.faces], self.weight.shape[1]
        result = np.zeros((count + loose.shape[1], vectors.shape[1]))
        for part, active, block in self._blocks():
            result[active] += block.T @ vectors[part]
        result[count:] = loose.T @ vectors
        return result

    def spread(self, amplitudes: Array) -> Array:
        """It times amplitudes (modes + null vectors, k): (faces, k)."""
        result = self.matrix.loose[self.faces] @ amplitudes[self.weight.shape[1] :]
        for part, active, block in self._blocks():
            result[part] += block @ amplitudes[active]
        return result

    def _blocks(self) -> Iterator[tuple[slice, Integers, Array]]:
        """Some faces at a time: their places in `faces`, the modes that reach them, and the factor (n, modes)."""
        for part in _pieces(self.faces.start, self.faces.stop, self.weight.shape[1]):
            below, above = self.matrix.below[part], self.matrix.above[part]
            low, high = below[:, 0] - self.first, above[:, 0] - self.first
            active = np.flatnonzero(np.any(self.weight[low.min() : high.max() + 1] != 0.0, axis=0))
            block = np.empty((len(below), active.size))
            fill_factor(block, (below, above), (low, high), self.weight, active, self.matrix.modes)
            yield slice(part.start - self.faces.start, part.stop - self.faces.start), active, block


@compiled
def fill_factor(block, cells, lines, weight, active, modes):
    """Each face's weighted modes: in the cell above it, less those in the cell below it."""
    below, above = cells
    low, high = lines
    ups = modes.up_value.size
    for f in range(block.shape[0]):
        side_low, up_low, weight_low = modes.side[below[f, 1]], modes.up[below[f, 2]], weight[low[f]]
        side_high, up_high, weight_high = modes.side[above[f, 1]], modes.up[above[f, 2]], weight[high[f]]
        for k in range(active.size):
            q = active[k]
            side, up = q // ups, q % ups
            block[f, k] = side_high[side] * up_high[up] * weight_high[q] - side_low[side] * up_low[up] * weight_low[q]


def lateral(modes: Modes, cells: Integers) -> Array:
    """Values (n, modes) of the modes across the lines in some cells."""
    return (modes.side[cells[:, 1], :, None] * modes.up[cells[:, 2], None, :]).reshape(len(cells), -1)


def _pieces(start: int, stop: int, modes: int) -> Iterator[slice]:
    """Runs of faces whose values in all modes fit the room."""
    step = max(ROOM // modes, 1)
    for first in range(start, stop, step):
        yield slice(first, min(first + step, stop))


def face_influence(
    below: Integers, above: Integers, conductance: Array, null: Array, modes: Modes
) -> tuple[FaceInfluence, Integers]:
    """The influence matrix of closed faces, and the order (m,) in which it has them.

    Parameters
    ----------
    null : (m, n)
        Unit null vectors; each is filled in with the mean of the other values.
    """
    order = np.lexsort((below[:, 2], below[:, 1], line_key(below, above)))
    lines = line_inverse(modes)
    bare = FaceInfluence(below[order], above[order], conductance[order], np.zeros((order.size, 0)), modes, lines)
    filling = np.sqrt(bare.diagonal(0, order.size).mean())
    return replace(bare, loose=filling * null[order]), order

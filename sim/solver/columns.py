"""Levels of a multigrid as columns of cells, and the way between two of them.

The values are named tuples because compiled loops take them whole; ``column_kernels`` says how the rows of
their arrays are ordered.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.solver import column_kernels as kernels
from sim.solver.threads import share_loop

Array = NDArray[np.floating]
Indices = NDArray[np.integer]


class Elimination(NamedTuple):
    """Every column's own matrix, eliminated; rows stored colour by colour.

    Attributes
    ----------
    ratio : (rows, nz-1) conductance to the next cell over the pivot [-].
    inverse : (rows, nz) one over the pivot [K/W].
    """

    ratio: Array
    inverse: Array


class ColumnGrid(NamedTuple):
    """A level's conductances, one row a column or lateral face.

    Attributes
    ----------
    nx, ny : columns along x and y.
    gx : ((nx-1)·ny, nz) conductances between columns along x [W/K].
    gy : (nx·(ny-1), nz) conductances between columns along y [W/K].
    gz : (nx·ny, nz-1) conductances along the columns [W/K].
    """

    nx: int
    ny: int
    gx: Array
    gy: Array
    gz: Array

    @property
    def columns(self) -> int:
        """Number of columns."""
        return self.nx * self.ny

    @property
    def cells(self) -> int:
        """Number of cells."""
        return self.columns * (self.gz.shape[1] + 1)

    @property
    def half(self) -> int:
        """Rows of one colour in a stored array; the last one of colour 1 may be unused."""
        return (self.columns + 1) // 2

    @property
    def rows(self) -> Indices:
        """(columns,) row at which each column is stored."""
        columns = np.arange(self.columns, dtype=np.int32)
        i, j = np.divmod(columns, self.ny)
        return ((i + j) % 2 * self.half + columns // 2).astype(np.int32)

    def eliminate(self, sink: Array) -> Elimination:
        """Eliminate every column, given the sinks (columns, nz) [W/K]."""
        made = Elimination(*(np.zeros((2 * self.half, n), sink.dtype) for n in (sink.shape[1] - 1, sink.shape[1])))
        share_loop(kernels.eliminate_columns, self.columns, self.cells, self, sink, made)
        return made


class Transfer(NamedTuple):
    """One coarsening along one axis: which columns stay, which go, and the weights of those that go.

    Attributes
    ----------
    kept : (coarse,) fine row of each coarse row, or -1.
    dropped : (n,) fine row of each dropped column.
    before, after : (coarse,) dropped column (position in ``dropped``) on either side, or -1.
    low, high : (n,) coarse row on either side of a dropped column, or -1.
    low_weight, high_weight : (n, nz) weights towards them [-].
    """

    kept: Indices
    dropped: Indices
    before: Indices
    after: Indices
    low: Indices
    high: Indices
    low_weight: Array
    high_weight: Array

    def restrict(self, fine: Array, coarse: Array) -> None:
        """Overwrite ``coarse`` with the fine residual [W] gathered by the transposed weights."""
        share_loop(kernels.restrict, self.kept.size, coarse.size, self, fine, coarse)

    def gather(self, fine: Array) -> Array:
        """The transposed weights' sum of a fine array (columns, nz), as a new array."""
        coarse = np.empty((self.kept.size, fine.shape[1]), fine.dtype)
        self.restrict(fine, coarse)
        return coarse

    def prolong(self, coarse: Array, fine: Array) -> None:
        """Add the coarse correction [K] to ``fine``."""
        share_loop(kernels.prolong_kept, self.kept.size, coarse.size, self, coarse, fine)
        share_loop(kernels.prolong_dropped, self.dropped.size, coarse.size, self, coarse, fine)

    def stored(self, fine: ColumnGrid | None, coarse: ColumnGrid | None) -> Transfer:
        """The same for arrays stored colour by colour on the levels given (None: column by column).

        From a stored fine level only colour 0 is served: the other's residual is zero when the cycle goes
        down, and it is solved anew first thing when the cycle comes up.
        """
        kept, dropped, before, after, low, high, *weights = self
        if fine is not None:
            row = np.where(fine.rows < fine.half, fine.rows, -1)
            served = int((row[dropped] >= 0).sum())  # they come first in the list
            kept, dropped = row[kept], row[dropped][:served]
            before, after = (np.where(side < served, side, -1) for side in (before, after))
            low, high = low[:served], high[:served]
            weights = [w[:served] for w in weights]
        if coarse is not None:
            rows, size = coarse.rows, 2 * coarse.half
            kept, before, after = (scattered(values, rows, (size,)) for values in (kept, before, after))
            row = np.append(rows, np.int32(-1))
            low, high = row[low], row[high]
        return Transfer(kept, dropped, before, after, low, high, *weights)


def scattered(values: Indices, rows: Indices, shape: tuple[int, ...]) -> Indices:
    """A table of −1 with the values at the given rows."""
    table = np.full(shape, -1, np.int32)
    table[rows] = values
    return table

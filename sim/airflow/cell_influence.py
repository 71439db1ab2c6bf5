"""The inverse of the empty box's Poisson operator between chosen cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class CellInfluence:
    """Pseudo-inverse L⁺ restricted to cells, from the eigenvectors of all three axes.

    L⁺ between two cells is a sum over three modes. Cells are taken column by column along the axis on which the
    fewest distinct columns lie: the modes of the other two axes are summed once a pair of columns, and the columns'
    own axis last. Plates and tubes along one axis cost little this way.

    Attributes
    ----------
    cells : (n, 3) int
        May repeat.
    values : three arrays of eigenvalues
    vectors : three matrices of eigenvectors, cells first
    """

    cells: NDArray[np.intp]
    values: tuple[Array, Array, Array]
    vectors: tuple[Array, Array, Array]

    def matrix(self) -> Array:
        """L⁺ (n, n) between the cells."""
        axis = min(range(3), key=lambda a: len(np.unique(np.delete(self.cells, a, axis=1), axis=0)))
        columns, column = np.unique(np.delete(self.cells, axis, axis=1), axis=0, return_inverse=True)
        between = self._between_columns(axis, columns)
        members = [np.flatnonzero(column.ravel() == c) for c in range(len(columns))]
        shapes = [self.vectors[axis][self.cells[m, axis]] for m in members]
        result = np.empty((len(self.cells), len(self.cells)))
        for c, here in enumerate(members):
            for d, there in enumerate(members[: c + 1]):
                block = (shapes[c] * between[:, c, d]) @ shapes[d].T
                result[np.ix_(here, there)] = block
                result[np.ix_(there, here)] = block.T
        return result

    def _between_columns(self, axis: int, columns: NDArray[np.intp]) -> Array:
        """Sums over the modes of the other two axes: (modes along the axis, columns, columns)."""
        first, second = (a for a in range(3) if a != axis)
        left, right = self.vectors[first][columns[:, 0]], self.vectors[second][columns[:, 1]]
        product = (left[:, :, None] * right[:, None, :]).reshape(len(columns), -1)
        lateral = (self.values[first][:, None] + self.values[second]).ravel()
        return np.stack([(product * _inverse(lateral + value)) @ product.T for value in self.values[axis]])


def _inverse(values: Array) -> Array:
    """1 / values, and 0 for the constant mode's 0."""
    return np.divide(1.0, values, out=np.zeros_like(values), where=values > 0.0)

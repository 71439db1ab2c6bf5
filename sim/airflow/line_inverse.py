"""Inverse of the empty box's Poisson operator along the lines of a grid, as products.

For every pair of modes across the lines the operator is tridiagonal along them, so its inverse between the lines
t ≤ t' is one number a line that only decays:

    Γ(t, t') = ratio(t + 1) … ratio(t') own(t'),    ratio(t') = pull(t') / pivot(t' − 1)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.modes import Modes

Array = NDArray[np.float64]

TINY = 1e-25
"""Decay below which a mode no longer counts [-]; far above the denormal numbers that slow products down."""


@dataclass(frozen=True, slots=True, eq=False)
class LineInverse:
    """Both factors of Γ.

    Attributes
    ----------
    ratio : (lines, modes) [-]
        From the line before to this one; the first row is not read.
    own : (lines, modes) [1/m]
        Γ(t, t).
    """

    ratio: Array
    own: Array

    def before(self, at: int, lowest: int) -> Array:
        """Γ(t, at) / Γ(at, at) for the lines t from `lowest` to one beyond `at`: (lines, modes)."""
        rows = np.ones((at + 2 - lowest, self.ratio.shape[1]))
        if at + 1 < len(self.ratio):
            rows[-1] = 1.0 / self.ratio[at + 1]
        for t in range(at - 1, lowest - 1, -1):
            self._fade(rows, t - lowest + 1, t - lowest, t + 1)
        return rows

    def beyond(self, at: int, highest: int) -> Array:
        """Γ(at, t) for the lines t from `at` to `highest`: (lines, modes)."""
        rows = np.ones((highest + 1 - at, self.ratio.shape[1]))
        for t in range(at + 1, highest + 1):
            self._fade(rows, t - at - 1, t - at, t)
        return rows * self.own[at : highest + 1]

    def _fade(self, rows: Array, known: int, wanted: int, line: int) -> None:
        """One row from the one beside it."""
        np.multiply(rows[known], self.ratio[line], out=rows[wanted])
        rows[wanted][rows[wanted] < TINY] = 0.0


def line_inverse(modes: Modes) -> LineInverse:
    """Pivots of all lines, and from them the inverse; the constant mode is held at the last line as in `modes`."""
    value = (modes.side_value[:, None] + modes.up_value).ravel()
    pull, width, last = modes.pull, modes.width, modes.width.size - 1
    inverse, ratio = np.zeros((last + 1, value.size)), np.zeros((last + 1, value.size))
    for t in range(last + 1):
        pivot = pull[t] + pull[t + 1] + value * width[t]
        if t > 0:
            ratio[t] = pull[t] * inverse[t - 1]
            pivot -= pull[t] * ratio[t]
        if t == last:
            pivot[0] = pull[t]
        inverse[t] = 1.0 / pivot
    for t in range(last - 1, -1, -1):
        inverse[t] += ratio[t + 1] ** 2 * inverse[t + 1]
    return LineInverse(ratio, inverse)

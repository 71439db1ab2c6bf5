"""Cells that hang together: what a region of a grid reaches from some of its cells, face to face.

By numpy alone: an image library's import costs every command a tenth of a second.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]


def reached(inside: Mask, seeds: Mask) -> Mask:
    """Cells that are inside and hang together, face to face, with a seed that is inside too.

    Parameters
    ----------
    inside, seeds : (i, j, k)

    Examples
    --------
    >>> row = np.array([1, 1, 0, 1], dtype=bool).reshape(4, 1, 1)
    >>> reached(row, np.array([1, 0, 0, 0], dtype=bool).reshape(4, 1, 1)).ravel().tolist()
    [True, True, False, False]
    """
    found, count = inside & seeds, -1
    while (now := int(found.sum())) != count:
        count = now
        for axis in range(inside.ndim):
            found = _along(inside, found, axis)
    return found


def _along(inside: Mask, found: Mask, axis: int) -> Mask:
    """Whole runs of cells inside, along an axis, that hold a cell which was found."""
    within, hit = (np.moveaxis(mask, axis, -1) for mask in (inside, found))
    walls = np.cumsum(~within, axis=-1) + np.arange(within[..., 0].size).reshape(within.shape[:-1])[..., None] * (
        within.shape[-1] + 1
    )  # cells between the same walls of the same line share a number
    hits = np.bincount(walls[hit], minlength=int(walls.max(initial=0)) + 1) > 0
    return np.moveaxis(within & hits[walls], -1, axis)


def beside(cells: Mask) -> Mask:
    """The cells and all that share a face with one of them."""
    found = cells.copy()
    for axis in range(cells.ndim):
        ahead, behind = np.moveaxis(found, axis, 0), np.moveaxis(cells, axis, 0)
        ahead[1:] |= behind[:-1]
        ahead[:-1] |= behind[1:]
    return found

"""The grid that rays walk through: lines of the cell grid at which nothing changes for a ray are left out.

Cells are fine where temperatures bend; to a ray only walls and their patches count. Over half the lines of a bay's
grid go, each ray takes a third of the steps, and it meets the same wall at the same place.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class RayGrid(NamedTuple):
    """What is left for rays.

    `lines` of each axis [m], `solid` (mx, my, mz) cells that stop rays, `walls` (mx, my, mz, 6) patch on each side of
    an air cell, -1 for none, and `home` of each axis: (n,) the number here of every layer of cells there.
    """

    lines: list[NDArray[np.float64]]
    solid: NDArray[np.bool_]
    walls: NDArray[np.int32]
    home: list[NDArray[np.int64]]


def ray_grid(
    lines: Sequence[NDArray[np.float64]],
    solid: NDArray[np.bool_],
    cell: NDArray[np.int64],
    side: NDArray[np.int64],
    patch: NDArray[np.int64],
) -> RayGrid:
    """Merge neighbouring layers of cells that look alike, axis by axis.

    Parameters
    ----------
    lines : of each axis, increasing [m].
    solid : (nx, ny, nz) cells that stop rays.
    cell, side, patch : (n, 3), (n,), (n,) the walls.

    Examples
    --------
    A channel between two plates needs one cell, however fine its grid:

    >>> fine = [np.arange(5.0), np.arange(4.0), np.arange(3.0)]
    >>> places = np.argwhere(np.ones((4, 3), bool))
    >>> cell = np.array([(i, j, k) for k in (0, 1) for i, j in places])
    >>> grid = ray_grid(fine, np.zeros((4, 3, 2), bool), cell, np.repeat([4, 5], 12), np.repeat([0, 1], 12))
    >>> grid.solid.shape, grid.walls.tolist()
    ((1, 1, 1), [[[[-1, -1, -1, -1, 0, 1]]]])
    """
    walls = np.full((*solid.shape, 6), -1, dtype=np.int32)
    walls[cell[:, 0], cell[:, 1], cell[:, 2], side] = patch
    kept, home = list(lines), []
    for axis in range(3):
        first = _first_of_alike(solid, walls, axis)
        outer = np.append(first, True)
        kept[axis] = lines[axis][outer]
        home.append(np.cumsum(first) - 1)
        last = np.append(first[1:], True)
        solid, walls = solid.compress(first, axis), _joined(walls, axis, first, last)
    return RayGrid(kept, solid, walls, home)


def _first_of_alike(solid: NDArray[np.bool_], walls: NDArray[np.int32], axis: int) -> NDArray[np.bool_]:
    """Whether each layer along an axis differs from the one before it, or a wall stands between them."""
    stops, sides = np.moveaxis(solid, axis, 0), np.moveaxis(walls, axis, 0)
    along = [number for number in range(6) if number // 2 != axis]
    differs = (stops[1:] != stops[:-1]).any((1, 2)) | (sides[1:, ..., along] != sides[:-1, ..., along]).any((1, 2, 3))
    between = (sides[:-1, ..., 2 * axis + 1] >= 0).any((1, 2)) | (sides[1:, ..., 2 * axis] >= 0).any((1, 2))
    return np.concatenate([[True], differs | between])


def _joined(
    walls: NDArray[np.int32], axis: int, first: NDArray[np.bool_], last: NDArray[np.bool_]
) -> NDArray[np.int32]:
    """Walls of joined layers: those at the far end of the axis are the last layer's."""
    joined = walls.compress(first, axis)
    joined[..., 2 * axis + 1] = walls.compress(last, axis)[..., 2 * axis + 1]
    return joined

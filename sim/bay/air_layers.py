"""Which air zones are closed plane layers, the only ones that ISO 6946 speaks of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import VOID, Cells
from sim.bay.grid import SNAP

SLENDER = 10.0
"""A layer is wider than this many times its thickness, both ways; what is narrower is an air void (ISO 6946)."""

THICKEST = 0.3
"""Thickest air layer of the standard [m]."""

Corner = tuple[int, int, int]


def closed_layers(cells: Cells) -> NDArray[np.bool_]:
    """Air zones that are a level, closed, undivided layer between two plane faces.

    Such a zone fills a box all by itself (nothing is hung in it), is at most 0.3 m thick, opens to no other zone
    and is more than ten times as wide as thick, both ways. A side where the build-up ends is a plane of symmetry:
    the layer goes on beyond it.

    Returns
    -------
    One truth value for each of the cells' zones (zones,).
    """
    return np.array([_is_layer(cells, cells.zone == number) for number in range(len(cells.zone_names))], bool)


def _is_layer(cells: Cells, own: NDArray[np.bool_]) -> bool:
    low, high = _corners(own)
    if not own[_slices(low, high)].all():
        return False
    sides = [_beyond(cells, low, high, side) for side in range(6)]
    if any(cells.air[side].any() for side in sides if side is not None):
        return False
    width_x, width_y, thick = (
        _extent(cells, low, high, axis, sides[2 * axis : 2 * axis + 2]) for axis in range(3)
    )
    covered = all(side is not None and np.all(cells.body[side] != VOID) for side in sides[4:])
    return covered and thick <= THICKEST + SNAP and min(width_x, width_y) > SLENDER * thick


def _corners(own: NDArray[np.bool_]) -> tuple[Corner, Corner]:
    """First and one past the last index of the cells of a zone."""
    index = np.argwhere(own)
    low, high = index.min(axis=0), index.max(axis=0) + 1
    return tuple(low.tolist()), tuple(high.tolist())


def _slices(low: Corner, high: Corner) -> tuple[slice, ...]:
    return tuple(slice(a, b) for a, b in zip(low, high, strict=True))


def _beyond(cells: Cells, low: Corner, high: Corner, side: int) -> tuple[slice, ...] | None:
    """The sheet of cells next to a box of cells on one of its sides; None where the grid ends."""
    axis, up = divmod(side, 2)
    sheet = list(_slices(low, high))
    at = high[axis] if up else low[axis] - 1
    sheet[axis] = slice(at, at + 1)
    return tuple(sheet) if 0 <= at < cells.grid.shape[axis] else None


def _extent(cells: Cells, low: Corner, high: Corner, axis: int, sides: list) -> float:
    """Extent of the air along an axis [m]: twice the box's with one open side, endless with two."""
    edges = cells.grid.edges[axis]
    open_sides = sum(side is None or bool(np.all(cells.body[side] == VOID)) for side in sides)
    return float(edges[high[axis]] - edges[low[axis]]) * (1.0, 2.0, np.inf)[open_sides]

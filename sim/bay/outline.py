"""The stepped outline that a round tube's cells have in the mesh."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.geometry import Tube

Mask = NDArray[np.bool_]


def sides(mask: Mask, axis: int) -> tuple[Mask, Mask]:
    """The mask on the low and on the high side of every inner face normal to an axis."""
    count = mask.shape[axis]
    return np.take(mask, range(count - 1), axis), np.take(mask, range(1, count), axis)


def either(first_low: Mask, first_high: Mask, low: Mask, high: Mask) -> Mask:
    """Faces with the first mask on one side and the second on the other."""
    return (first_low & high) | (first_high & low)


def stepped_perimeter(cells: Cells, tube: Tube) -> float:
    """Perimeter of the tube's section as the cells draw it [m]; π d for the true circle."""
    return touching_perimeter(cells, tube, np.ones(cells.grid.shape, bool))


def touching_perimeter(cells: Cells, tube: Tube, others: Mask) -> float:
    """Length of the section's outline that touches `others`, averaged over the slices that do [m]."""
    grid, own = cells.grid, cells.of_body(tube)
    total = np.zeros(grid.shape[tube.axis])
    for axis in (a for a in range(3) if a != tube.axis):
        (third,) = (a for a in range(3) if a not in (axis, tube.axis))
        low, high = sides(own, axis)
        face = (low ^ high) & either(*sides(others, axis), low, high)
        width = np.broadcast_to(grid.spread(third), own.shape)
        total += np.sum(np.take(width, range(face.shape[axis]), axis) * face, axis=(axis, third))
    return float(total[total > 0.0].mean()) if np.any(total > 0.0) else 0.0


def outline_shift(cells: Cells, tube: Tube, axis: int) -> NDArray[np.float64]:
    """How much further from the cell beside a tube its round outline lies than the cell face that stands for it.

    Parameters
    ----------
    axis : normal of the faces, not the tube's.

    Returns
    -------
    On the inner faces normal to `axis`, (nx, ny, nz) one shorter along it [m]; negative where the outline lies nearer
    to the centre of that cell. 0 elsewhere, and at flats, whose outline is the face.
    """
    grid = cells.grid
    (third,) = (a for a in range(3) if a not in (axis, tube.axis))
    others = [a for a in range(3) if a != tube.axis]
    beside, along = grid.centres(third) - tube.centre[others.index(third)], tube.centre[others.index(axis)]
    reach = np.sqrt(np.maximum((tube.outer_diameter / 2) ** 2 - beside**2, 0.0))
    place, face = (np.abs(edges - along)[:, None] for edges in (grid.centres(axis), grid.edges[axis][1:-1]))
    inside = place < reach
    crossed = inside[:-1] ^ inside[1:]
    shift = np.where(crossed, face - reach, 0.0)
    low, high = sides(cells.of_body(tube), axis)
    spread = np.expand_dims(shift if axis < third else shift.T, tube.axis)
    return np.where(low ^ high, spread, 0.0)

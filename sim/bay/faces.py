"""Faces where solid matter ends: at cavity air, or at the outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import VOID, Cells
from sim.bay.geometry import Exposure
from sim.bay.grid import SNAP


@dataclass(frozen=True, slots=True)
class Faces:
    """A list of cell faces, seen from the solid cell behind each.

    `cell` (n, 3) indices of the solid cell, `side` (n,) the outward normal's number in SIDES, `area` (n,)
    [m²], `depth` (n,) distance from cell centre to face [m], `centre` (n, 3) [m], `body` (n,) the solid's body.
    """

    cell: NDArray[np.int32]
    side: NDArray[np.int8]
    area: NDArray[np.float64]
    depth: NDArray[np.float64]
    centre: NDArray[np.float64]
    body: NDArray[np.int16]

    def __len__(self) -> int:
        return len(self.area)

    @property
    def neighbour(self) -> NDArray[np.int32]:
        """(n, 3) indices of the cell on the other side of each face."""
        return self.cell + _NORMALS[self.side]

    def index(self) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
        """The solid cells as an index tuple."""
        return self.cell[:, 0], self.cell[:, 1], self.cell[:, 2]

    def take(self, chosen: NDArray) -> Faces:
        """The faces picked by a mask (n,) or an array of their numbers; areas and places [m², m] stay theirs."""
        fields = (self.cell, self.side, self.area, self.depth, self.centre, self.body)
        return Faces(*(values[chosen] for values in fields))


_NORMALS = np.array([[-1, 0, 0], [1, 0, 0], [0, -1, 0], [0, 1, 0], [0, 0, -1], [0, 0, 1]], dtype=np.int32)


def cavity_faces(cells: Cells) -> Faces:
    """Every face between a solid cell and a cell of cavity air."""
    return _faces(cells, lambda side: _shifted(cells.air, side, False))


def exposed_faces(cells: Cells, exposure: Exposure) -> Faces:
    """Solid faces on the exposure's plane and rectangle with nothing beyond them."""
    axis = exposure.side // 2
    outside = _shifted(cells.body == VOID, exposure.side, True)
    chosen = np.zeros(cells.grid.shape, bool)
    chosen[_behind(cells, exposure)] = True
    return _faces(cells, lambda side: outside & chosen if side == exposure.side else None, axis)


def _behind(cells: Cells, exposure: Exposure) -> tuple[slice, slice, slice]:
    """The layer of cells just inside the exposure's plane."""
    grid, axis = cells.grid, exposure.side // 2
    plane = grid.plane(axis, exposure.at)
    layer = plane - 1 if exposure.side % 2 else plane
    ranges = iter(exposure.ranges)
    parts = [slice(layer, layer + 1) if a == axis else _window(grid, a, next(ranges)) for a in range(3)]
    return tuple(parts)  # type: ignore[return-value]


def _window(grid, axis: int, span) -> slice:
    return grid.index_range(axis, span[0] - SNAP, span[1] + SNAP)


def _faces(cells: Cells, beyond, only_axis: int | None = None) -> Faces:
    """Collect faces of solid cells whose neighbour on a side satisfies `beyond(side)`."""
    solid = cells.solid
    parts = []
    for side in range(6):
        wanted = beyond(side) if only_axis in (None, side // 2) else None
        if wanted is not None:
            parts.append(_on_side(cells, np.argwhere(solid & wanted).astype(np.int32), side))
    columns = zip(*parts, strict=True)
    return Faces(*(np.concatenate(column) for column in columns))


def _on_side(cells: Cells, index: NDArray[np.int32], side: int):
    grid, axis = cells.grid, side // 2
    i, j, k = index.T
    width = [grid.widths(a)[n] for a, n in enumerate((i, j, k))]
    centre = np.stack([grid.centres(a)[n] for a, n in enumerate((i, j, k))], axis=1)
    depth = 0.5 * width[axis]
    centre[:, axis] += depth if side % 2 else -depth
    area = np.prod([width[a] for a in range(3) if a != axis], axis=0)
    return index, np.full(len(index), side, np.int8), area, depth, centre, cells.body[i, j, k]


def _shifted(mask: NDArray[np.bool_], side: int, outside: bool) -> NDArray[np.bool_]:
    """The mask's value in the neighbour on a side; `outside` beyond the grid."""
    axis, up = divmod(side, 2)
    result = np.full(mask.shape, outside)
    here: list[slice] = [slice(None)] * 3
    there: list[slice] = [slice(None)] * 3
    here[axis], there[axis] = (slice(None, -1), slice(1, None)) if up else (slice(1, None), slice(None, -1))
    result[tuple(here)] = mask[tuple(there)]
    return result


def air_distance(cells: Cells, faces: Faces) -> NDArray[np.float64]:
    """Extent of the air in front of each cavity face along its normal [m] (n,).

    Tubes do not end it: the air in the wedge beside a tube is the cavity's air, not a layer of its own.
    """
    distance = np.empty(len(faces))
    open_cells = cells.air | cells.of_kind("tube")
    for axis in range(3):
        extent = _air_extent(open_cells, cells.grid.widths(axis), axis)
        on = faces.side // 2 == axis
        distance[on] = extent[tuple(faces.neighbour[on].T)]
    return distance


def _air_extent(air: NDArray[np.bool_], widths: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    """Length of the unbroken run of air that each air cell belongs to, along an axis [m]."""
    line = np.moveaxis(air, axis, -1)
    starts = line & ~np.concatenate([np.zeros_like(line[..., :1]), line[..., :-1]], axis=-1)
    run = np.cumsum(starts.ravel()).reshape(line.shape)
    weights = np.where(line, np.broadcast_to(widths, line.shape), 0.0)
    length = np.bincount(run.ravel(), weights=weights.ravel())
    return np.moveaxis(np.where(line, length[run], 0.0), -1, axis)

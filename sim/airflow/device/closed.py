"""Where closed faces lie: the few planes along each axis that hold cells beside them.

Between the two divisions of a stage only these cells' pressures are wanted, and only they get sources: transforms to
and from them, thin as most are along z, cost little beside those of the whole box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device.layout import BatchShape
from sim.airflow.device.tables import FlowProblem

Array = NDArray[np.float64]
Integers = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class FaceBox:
    """Closed faces of a batch in boxes of planes, as many along each axis as the bay with most has.

    Attributes
    ----------
    shape : planes along x, y, z
    sampled : (below, above) places (bays, most faces) of the faces' cells in boxes laid out z, x, y
    fed, bay, start, faces : places of cells beside faces in boxes laid out x, y, z, their bays, and their faces
        (number + 1, negative where the cell lies below) from `start` on
    rows : by axis (bays, planes, n), the eigenvectors' rows of these planes
    """

    shape: tuple[int, int, int]
    sampled: tuple[Integers, Integers]
    fed: Integers
    bay: Integers
    start: Integers
    faces: Integers
    rows: tuple[Array, Array, Array]


def build_face_box(grid: BatchShape, problems: Sequence[FlowProblem], modes: Sequence[Array]) -> FaceBox:
    """The planes beside closed faces; `modes`: eigenvectors (bays, n, n) of the three axes."""
    ends = [(p.influence.below, p.influence.above) for p in problems]
    planes = [[np.unique(np.concatenate([e[:, axis] for e in pair])) for axis in range(3)] for pair in ends]
    nx, ny, nz = (max(own[axis].size for own in planes) for axis in range(3))
    sampled, cells = np.zeros((2, grid.bays, max(grid.most_faces, 1)), np.intp), []
    for bay, pair in enumerate(ends):
        for side, cell in enumerate(pair):
            i, j, k = (np.searchsorted(planes[bay][axis], cell[:, axis]) for axis in range(3))
            sampled[side, bay, : len(cell)] = ((bay * nz + k) * nx + i) * ny + j
            signed = (np.arange(len(cell)) + 1) * (1 if side else -1)
            cells.append((((bay * nx + i) * ny + j) * nz + k, np.full(len(cell), bay), signed))
    place, bays, signed = (np.concatenate(column).astype(np.int64) for column in zip(*cells, strict=True))
    order = np.argsort(place, kind="stable")
    fed, start = np.unique(place[order], return_index=True)
    x, y, z = (_rows(modes[axis], [own[axis] for own in planes], n) for axis, n in enumerate((nx, ny, nz)))
    ends_at = np.append(start, order.size).astype(np.int64)
    return FaceBox((nx, ny, nz), (sampled[0], sampled[1]), fed, bays[order][start], ends_at, signed[order], (x, y, z))


def _rows(modes: Array, planes: Sequence[Integers], count: int) -> Array:
    """Rows of every bay's eigenvectors, zero beyond its own planes."""
    result = np.zeros((len(planes), count, modes.shape[2]))
    for bay, own in enumerate(planes):
        result[bay, : own.size] = modes[bay, own]
    return result

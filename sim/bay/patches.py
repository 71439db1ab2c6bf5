"""Grouping of cavity wall faces into radiation patches.

Within a patch the incoming radiation is taken as uniform; emission stays local to each face. Patches never mix
bodies or orientations, except that the thin edges of a plate join its underside and a tube's faces are one
patch round the circumference.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.faces import Faces
from sim.bay.geometry import Tube

PATCH_SIZE = (0.025, 0.060, 0.060)
"""Wanted patch size along x, y and z [m]: fine across the bay, where a near plate lights the floor unevenly."""

SMALL = 0.2
"""Longest side of a cavity for which these sizes would be coarse [m]."""

ALONG_SMALL = 10
"""Least number of patches along the longest side of such a cavity."""

MOST_PATCHES = 1200
"""Patches grow until there are no more than this many, which keeps the dense exchange small."""


def number_patches(cells: Cells, faces: Faces) -> tuple[NDArray[np.int64], int]:
    """Patch number of every face (n,) and how many patches there are."""
    if len(faces) == 0:
        return np.empty(0, np.int64), 0
    group = _groups(cells, faces)
    size = _wanted_size(faces)
    while True:
        numbers = _number(cells, faces, group, size)
        count = int(numbers.max()) + 1
        if count <= MOST_PATCHES:
            return numbers, count
        size = size * 1.15


def _wanted_size(faces: Faces) -> NDArray[np.float64]:
    """Patch size along x, y and z [m] to begin with."""
    longest = float(np.ptp(faces.centre, axis=0).max())
    return np.minimum(PATCH_SIZE, longest / ALONG_SMALL if longest < SMALL else np.inf)


def _groups(cells: Cells, faces: Faces) -> NDArray[np.int64]:
    """One number for each body and orientation."""
    side = faces.side.astype(np.int64)
    kinds = np.array(cells.kinds())[faces.body]
    side[kinds == "tube"] = 0
    for number, body in enumerate(cells.bodies):
        if not isinstance(body, Tube) and body.sheet is not None:
            edge = (faces.body == number) & (faces.side // 2 != body.sheet)
            side[edge] = 2 * body.sheet
    return faces.body.astype(np.int64) * 6 + side


def _number(cells: Cells, faces: Faces, group: NDArray[np.int64], size: NDArray[np.float64]) -> NDArray[np.int64]:
    low = np.array([edges[0] for edges in cells.grid.edges])
    bins = ((faces.centre - low) / size).astype(np.int64)
    bins[~_binned_axes(cells, faces)] = 0
    keys = np.column_stack([group, bins])
    return np.unique(keys, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _binned_axes(cells: Cells, faces: Faces) -> NDArray[np.bool_]:
    """(n, 3) axes along which a face's body is divided: in its plane, a sheet's plane, along a tube."""
    divided = np.arange(3) != (faces.side // 2)[:, None]
    for number, body in enumerate(cells.bodies):
        own = faces.body == number
        if isinstance(body, Tube):
            divided[own] = np.arange(3) == body.axis
        elif body.sheet is not None:
            divided[own] = np.arange(3) != body.sheet
    return divided

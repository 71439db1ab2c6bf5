"""Which wall faces of the solids lie on which wall faces of the air, and by how much they overlap.

Solids and air have grids of their own. Heat crosses between them by overlapping areas, so that what the air's faces
give up is exactly what the solids' faces receive. Faces of a round tube and of its square block are matched by their
place along the tube.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from sim.airflow.domain import Domain
from sim.airflow.walls import WallFaces
from sim.bay.cells import Cells
from sim.bay.geometry import Box, Tube
from sim.solver.terms.cavity import Cavity

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

REACH = 2.5e-3
"""How far along its normal a solid face may lie from the air's face [m]; half of its thickness more where a sheet lost
that."""


@dataclass(frozen=True, slots=True, eq=False)
class FaceOverlaps:
    """Overlaps of wall faces.

    Attributes
    ----------
    overlap : sparse (air faces, solid faces) [m²]
    """

    overlap: sparse.csr_array

    @property
    def on_air(self) -> Array:
        """Overlapping area of every air face [m²]; 0 where it meets no solid face: adiabatic."""
        return np.asarray(self.overlap.sum(axis=1), np.float64).reshape(-1)

    @property
    def on_solid(self) -> Array:
        """Overlapping area of every solid face [m²]; 0 where no air reaches it."""
        return np.asarray(self.overlap.sum(axis=0), np.float64).reshape(-1)

    def to_air(self, values: Array) -> Array:
        """Area mean of the solid faces' values (solid,) on every air face (air,), NaN where it meets none; any unit."""
        area = self.on_air
        with np.errstate(invalid="ignore"):
            return np.where(area > 0.0, (self.overlap @ values) / area, np.nan)

    def mean_on_solid(self, values: Array) -> Array:
        """Area mean of the air faces' values (air,) on every solid face (solid,), any unit; 0 where no air reaches."""
        area = self.on_solid
        return np.divide(self.overlap.T @ values, area, out=np.zeros_like(area), where=area > 0.0)

    def to_solid(self, flows: Array) -> Array:
        """The air faces' heat flows [W] shared out to the solid faces; the sum stays the same."""
        area = self.on_air
        density = np.divide(flows, area, out=np.zeros_like(flows), where=area > 0.0)
        return np.asarray(self.overlap.T @ density)


def find_contact(cells: Cells, cavity: Cavity, domain: Domain, walls: WallFaces) -> FaceOverlaps:
    """Overlap of the solids' cavity faces with the air's wall faces.

    Parameters
    ----------
    cells, cavity : the solids' mesh and its wall faces.
    domain, walls : the air's grid and `find_walls(domain)`.
    """
    number = _face_numbers(domain, walls)
    tubes = np.array([isinstance(body, Tube) for body in cells.bodies])
    flat = np.flatnonzero(~tubes[cavity.body])
    air, solid, area = _plane_pairs(cells, cavity, domain, flat, number)
    taken = np.zeros(walls.count, bool)
    taken[air] = True
    columns = [(air, solid, area)]
    for body in np.flatnonzero(tubes):
        columns.append(_tube_pairs(cells, cavity, domain, walls, int(body), taken))
    air, solid, area = (np.concatenate(parts) for parts in zip(*columns, strict=True))
    shape = (walls.count, len(cavity.body))
    return FaceOverlaps(sparse.csr_array(sparse.coo_array((area, (air, solid)), shape)))


def _face_numbers(domain: Domain, walls: WallFaces) -> NDArray[np.intp]:
    """Number of the wall face on each side of each air cell (6, nx, ny, nz), -1 where there is none."""
    number = np.full((6, *domain.shape), -1, np.intp)
    number[(walls.side, *walls.cell.T)] = np.arange(walls.count)
    return number


def _plane_pairs(
    cells: Cells, cavity: Cavity, domain: Domain, faces: Integers, number: NDArray[np.intp]
) -> tuple[Integers, Integers, Array]:
    """(air face, solid face, area) of every overlap of flat faces."""
    parts: list[tuple[Integers, Integers, Array]] = []
    for side in range(6):
        own = faces[cavity.side[faces] == side]
        if len(own):
            parts.append(_side_pairs(cells, cavity, domain, own, number))
    return _joined(parts)


def _side_pairs(
    cells: Cells, cavity: Cavity, domain: Domain, faces: Integers, number: NDArray[np.intp]
) -> tuple[Integers, Integers, Array]:
    """The overlaps of solid faces that all look to one side: with the nearest plane where they meet any air's face.

    Cells may be smaller than what a sheet lost of its thickness: then planes without walls lie nearer than its own.
    """
    axis, upward = divmod(int(cavity.side[faces[0]]), 2)
    away = np.abs(domain.edges[axis][None, :] - cavity.centre[faces, axis][:, None])
    order = np.argsort(away, axis=1, kind="stable")
    parts: list[tuple[Integers, Integers, Array]] = []
    near = away <= _reaches(cells)[cavity.body[faces]][:, None]
    left = np.arange(len(faces))
    for rank in range(int(near.sum(axis=1).max(initial=0))):
        plane = order[left, rank]
        left, plane = left[near[left, plane]], plane[near[left, plane]]
        layer = plane if upward else plane - 1
        inside = (layer >= 0) & (layer < domain.shape[axis])
        parts.append(_layer_pairs(cells, cavity, domain, (faces[left[inside]], layer[inside]), number))
        left = left[~np.isin(faces[left], parts[-1][1])]
    return _joined(parts)


_NONE = np.zeros(0, np.intp), np.zeros(0, np.intp), np.zeros(0)


def _joined(parts: list[tuple[Integers, Integers, Array]]) -> tuple[Integers, Integers, Array]:
    """Pairs one after the other."""
    air, solid, area = (np.concatenate(columns) for columns in zip(_NONE, *parts, strict=True))
    return air, solid, area


def _reaches(cells: Cells) -> Array:
    """REACH of the faces of every body [m]."""
    lost = [
        float(np.ptp(body.span(body.sheet))) if isinstance(body, Box) and body.sheet is not None else 0.0
        for body in cells.bodies
    ]
    return REACH + 0.5 * np.array(lost)


def _layer_pairs(
    cells: Cells, cavity: Cavity, domain: Domain, placed: tuple[Integers, Integers], number: NDArray[np.intp]
) -> tuple[Integers, Integers, Array]:
    """The overlaps of solid faces that all look to one side, each with the air's cells in one layer of its own."""
    faces, layer = placed
    if not len(faces):
        return _NONE
    side = int(cavity.side[faces[0]])
    axis = side // 2
    first, second = (a for a in range(3) if a != axis)
    starts_a, counts_a = _reach(cells, domain, cavity.cell[faces, first], first)
    starts_b, counts_b = _reach(cells, domain, cavity.cell[faces, second], second)
    row, a, b = _products(starts_a, counts_a, starts_b, counts_b)
    index = np.empty((3, len(row)), np.intp)
    index[axis], index[first], index[second] = layer[row], a, b
    air = number[(side ^ 1, *index)]
    area = _overlap(cells, domain, cavity.cell[faces[row], first], a, first)
    area = area * _overlap(cells, domain, cavity.cell[faces[row], second], b, second)
    met = (air >= 0) & (area > 0.0)
    return air[met], faces[row][met], area[met]


def _reach(cells: Cells, domain: Domain, index: Integers, axis: int) -> tuple[Integers, Integers]:
    """First air cell that each solid cell overlaps along an axis, and how many."""
    low, high = cells.grid.edges[axis][index], cells.grid.edges[axis][index + 1]
    planes = domain.edges[axis]
    first = np.clip(np.searchsorted(planes, low, "right") - 1, 0, len(planes) - 2)
    last = np.clip(np.searchsorted(planes, high, "left"), 1, len(planes) - 1)
    return first, last - first


def _products(
    starts_a: Integers, counts_a: Integers, starts_b: Integers, counts_b: Integers
) -> tuple[Integers, Integers, Integers]:
    """Row number and both indices of every pair of the rows' two ranges."""
    total = counts_a * counts_b
    row = np.repeat(np.arange(len(total)), total)
    within = np.arange(total.sum()) - np.repeat(np.cumsum(total) - total, total)
    return row, starts_a[row] + within // counts_b[row], starts_b[row] + within % counts_b[row]


def _overlap(cells: Cells, domain: Domain, solid: Integers, air: Integers, axis: int) -> Array:
    """Common length of solid cells and air cells along an axis [m]."""
    own, other = cells.grid.edges[axis], domain.edges[axis]
    return np.maximum(np.minimum(own[solid + 1], other[air + 1]) - np.maximum(own[solid], other[air]), 0.0)


def _tube_pairs(
    cells: Cells, cavity: Cavity, domain: Domain, walls: WallFaces, body: int, taken: NDArray[np.bool_]
) -> tuple[Integers, Integers, Array]:
    """The overlaps of a tube's round faces with its block's: each slice's area shared by the block's free faces."""
    tube = cells.bodies[body]
    empty = np.zeros(0, np.intp), np.zeros(0, np.intp), np.zeros(0)
    solid = np.flatnonzero(cavity.body == body)
    if tube.name not in walls.names or not len(solid):
        return empty
    axis = tube.axis  # type: ignore[union-attr]
    air = np.flatnonzero(walls.select(tube.name) & ~taken & (walls.side // 2 != axis))
    if not len(air):
        return empty
    grid, planes = cells.grid.edges[axis], domain.edges[axis]
    mine, theirs = cavity.cell[solid, axis], walls.cell[air, axis]
    rows, columns = _in_common(planes[theirs], planes[theirs + 1], grid, mine)
    p, q = theirs[rows], mine[columns]
    common = np.maximum(np.minimum(planes[p + 1], grid[q + 1]) - np.maximum(planes[p], grid[q]), 0.0)
    round_area = cavity.walls.area[solid]
    slices = np.bincount(mine, round_area, len(grid) - 1)
    weight = common * (walls.area[air] / np.diff(planes)[theirs])[rows] * (round_area / slices[mine])[columns]
    some = weight != 0.0
    return air[rows[some]], solid[columns[some]], weight[some]


def _in_common(low: Array, high: Array, grid: Array, slices: Integers) -> tuple[Integers, Integers]:
    """Pairs (stretch, face) of stretches from low to high and faces in slices of a grid that touch, in that order."""
    order = np.argsort(slices, kind="stable")
    ends = (np.searchsorted(grid, low, "right") - 1, np.searchsorted(grid, high, "left"))
    start, stop = (np.searchsorted(slices[order], end, "left") for end in ends)
    counts = np.maximum(stop - start, 0)
    rows = np.repeat(np.arange(len(low)), counts)
    columns = order[np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts - start, counts)]
    by_number = np.lexsort((columns, rows))
    return rows[by_number], columns[by_number]

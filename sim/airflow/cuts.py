"""Closed faces inside the grid, carried exactly in the pressure by an influence matrix.

Let L be the Poisson operator of the empty box, b_f the difference across face f and c_f = area / gap. Closing the
faces F gives L' = L − Σ_F c_f b_f b_fᵀ (L positive). With λ_f = c_f b_fᵀ p,

    p = L⁻¹ (r + Σ b_f λ_f),   (1/c − Bᵀ L⁻¹ B) λ = Bᵀ L⁻¹ r.

The small matrix is symmetric and positive; one null vector a region that the faces close off is filled in (it only
shifts the pressure of that region). Its inverse is kept nested (`nested`): what the pressure reads of it grows in
proportion to the faces, not to their square.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sim.airflow.domain import Domain, axis_slice
from sim.airflow.face_influence import face_influence
from sim.airflow.grid_tables import axis_tables
from sim.airflow.modes import Modes, build_modes
from sim.airflow.nested import invert
from sim.airflow.nested_product import NestedProduct, lay_flat
from sim.airflow.rows import compiled
from sim.machine.threads import single_threaded_blas, threaded_blas

Array = NDArray[np.float64]
MOST_FACES = 50_000
"""Closed faces above which making their inverse takes too much memory (some 30 kB a face, more than 1.5 GB)."""


class Cuts(NamedTuple):
    """Influence of the closed faces, in the layout of the pressure's working arrays, as the compiled loops read it.

    All cells on either side of closed faces lie in one box of the grid.

    line: first line index of the box; side, side_t, up, up_t: the eigenvectors' rows of the box's cells, and
    transposes; below, above (m,): flat places, within the box, of the two cells of each face; inverse: of the influence
    matrix [m]; part: room for the box's values; jump, flow (m,): room for the faces'.
    """

    line: int
    side: Any
    side_t: Any
    up: Any
    up_t: Any
    below: Any
    above: Any
    inverse: NestedProduct
    part: Any
    jump: Any
    flow: Any


@compiled
def to_box(start, stop, values, cuts):
    """The empty box's solution in the cells of the slabs start ≤ t < stop of the cuts' box, from its modes."""
    for t in range(start, stop):
        cuts.part[t] = np.dot(cuts.side, np.dot(values[cuts.line + t], cuts.up_t))


@compiled
def face_jumps(cuts):
    """Jumps of those values across the closed faces."""
    part = cuts.part.reshape(-1)
    for f in range(cuts.below.size):
        cuts.jump[f] = part[cuts.above[f]] - part[cuts.below[f]]


@compiled
def feed_box(cuts):
    """The faces' flows as sources in the cells of the box."""
    cuts.part[:] = 0.0
    part = cuts.part.reshape(-1)
    for f in range(cuts.below.size):
        part[cuts.above[f]] += cuts.flow[f]
        part[cuts.below[f]] -= cuts.flow[f]


@compiled
def box_to_modes(start, stop, spare, cuts):
    """Sources of the box in modes, over the slabs start ≤ t < stop of the whole grid."""
    for t in range(start, stop):
        inside = t - cuts.line
        if 0 <= inside < cuts.part.shape[0]:
            spare[t] = np.dot(cuts.side_t, np.dot(cuts.part[inside], cuts.up))
        else:
            spare[t] = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """Closed inner faces: the two cells (m, 3) of each in layout order, conductance (m,) and null vectors (m, n)."""

    below: NDArray[np.intp]
    above: NDArray[np.intp]
    conductance: Array
    loose: Array


def build_cuts(domain: Domain, swapped: bool, modes: Modes) -> Cuts:
    """Influence of the faces that obstacles close; without faces where there are none.

    Raises
    ------
    ValueError
        For more closed faces than memory can carry.
    """
    faces = _closed_faces(domain, swapped)
    count = faces.conductance.size
    if count > MOST_FACES:
        raise ValueError(f"obstacles close {count} faces of the air grid; at most {MOST_FACES}: use a coarser grid")
    order, inverse = _inverse(faces, modes)
    ends = np.concatenate([faces.below, faces.above, np.zeros((int(count == 0), 3), np.intp)])
    low, high = ends.min(axis=0), ends.max(axis=0) + 1
    shape = tuple(high - low)
    below, above = (np.ravel_multi_index(tuple((c[order] - low).T), shape) for c in (faces.below, faces.above))
    side, up = modes.side[low[1] : high[1]].copy(), modes.up[low[2] : high[2]].copy()
    return Cuts(
        int(low[0]), side, np.ascontiguousarray(side.T), up, np.ascontiguousarray(up.T), below, above,
        inverse, np.zeros(shape), np.zeros(count), np.zeros(count),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Influence:
    """Closed faces and their influence matrix, whole: for a solver that keeps its inverse dense.

    Attributes
    ----------
    below, above : (m, 3) int
        The two cells of each face.
    matrix : (m, m) [1/m]
        Symmetric and positive.
    """

    below: NDArray[np.intp]
    above: NDArray[np.intp]
    matrix: Array


def build_influence(domain: Domain) -> Influence:
    """Closed faces of a domain and their influence matrix."""
    swapped = domain.shape[1] > domain.shape[0]
    faces = _closed_faces(domain, swapped)
    if faces.conductance.size == 0:
        return Influence(faces.below, faces.above, np.zeros((0, 0)))
    tables = axis_tables(domain)
    along, side = (tables[1], tables[0]) if swapped else (tables[0], tables[1])
    modes = build_modes(along, side, tables[2])
    with threaded_blas():
        matrix, order = face_influence(faces.below, faces.above, faces.conductance, faces.loose, modes)
        axes = [1, 0, 2] if swapped else [0, 1, 2]
        return Influence(faces.below[order][:, axes], faces.above[order][:, axes], matrix.dense(0, order.size))


def _inverse(faces: _Faces, modes: Modes) -> tuple[NDArray[np.intp], NestedProduct]:
    """Order of the faces along the lines, and the inverse of their influence matrix in this order."""
    if faces.conductance.size == 0:
        return np.zeros(0, np.intp), lay_flat(None)
    with single_threaded_blas():
        matrix, order = face_influence(faces.below, faces.above, faces.conductance, faces.loose, modes)
        return order, lay_flat(invert(matrix))


def closed_faces(domain: Domain) -> int:
    """How many inner faces of a grid its obstacles close; MOST_FACES can be carried."""
    return _closed_faces(domain, False).conductance.size


def _closed_faces(domain: Domain, swapped: bool) -> _Faces:
    """Inner faces that no air passes, but those between two solid cells (which nothing ever drives)."""
    below, above, conductance = [], [], []
    for axis in range(3):
        shut = domain.openness[axis][axis_slice(axis, slice(1, -1))] == 0.0
        air = domain.air
        beside = air[axis_slice(axis, slice(None, -1))] | air[axis_slice(axis, slice(1, None))]
        cell = np.argwhere(shut & beside)
        width, centre = domain.widths[axis], domain.centres[axis]
        i = cell[:, axis]
        below.append(cell)
        above.append(cell + np.eye(3, dtype=np.intp)[axis])
        area = domain.volumes[tuple(cell.T)] / width[i]
        conductance.append(area / (centre[i + 1] - centre[i]))
    joined = [np.concatenate(part) for part in (below, above)]
    factor = np.concatenate(conductance)
    order = [1, 0, 2] if swapped else [0, 1, 2]
    return _Faces(joined[0][:, order], joined[1][:, order], factor, _loose(domain, joined, factor))


def _loose(domain: Domain, ends: list[Any], conductance: Array) -> Array:
    """Unit vectors (m, n) of the regions that the closed faces cut off, all but one (their sum is zero)."""
    region = connected_regions(domain, solids_together=True)
    low, high = (region[tuple(e.T)] for e in ends)
    count = int(region.max()) + 1
    vectors = [conductance * ((high == r).astype(float) - (low == r)) for r in range(1, count)]
    kept = [v / np.linalg.norm(v) for v in vectors if np.any(v)]
    return np.column_stack(kept) if kept else np.zeros((conductance.size, 0))


def connected_regions(domain: Domain, solids_together: bool = False) -> NDArray[np.intp]:
    """Number of the region (nx, ny, nz) that each cell belongs to: cells joined by faces that air can pass.

    Parameters
    ----------
    solids_together : bool
        Whether neighbouring solid cells count as joined too.
    """
    number = np.arange(domain.cells).reshape(domain.shape)
    first, second = [], []
    for axis in range(3):
        here, beyond = axis_slice(axis, slice(None, -1)), axis_slice(axis, slice(1, None))
        joined = domain.openness[axis][axis_slice(axis, slice(1, -1))] > 0.0
        if solids_together:
            joined = joined | ~(domain.air[here] | domain.air[beyond])
        first.append(number[here][joined])
        second.append(number[beyond][joined])
    a, b = np.concatenate(first), np.concatenate(second)
    graph = coo_array((np.ones(a.size, np.int8), (a, b)), shape=(domain.cells, domain.cells))
    return connected_components(graph, directed=False)[1].reshape(domain.shape).astype(np.intp)

"""Exchange areas between the walls of an air cavity, by tracing rays through the cell grid.

Rays leave every patch of wall by the cosine law and walk from cell to cell until they meet a wall.
The exchange area of two patches is S_ij = A_i F_ij [m2]; the traced values carry the scatter of the
sampling, and `sim.physics.radiation.enforce` turns them into an exactly reciprocal, closed matrix.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.machine.compiling import njit
from sim.machine.threads import share_loop
from sim.physics.ray_grid import RayGrid, ray_grid

Lines = list[NDArray[np.float64]]
Homes = list[NDArray[np.int64]]

# What a cell is to a ray; air cells that have walls carry the row of these walls instead, from 0 on.
OPAQUE, OUTSIDE, AIR = -3, -2, -1
# Walks between mirrors may be long; beyond this many cells per grid line a ray is given up as lost.
WALK_PER_LINE = 1000
SMALLEST_SHARED_LOOP = 4_000  # rays: each costs a microsecond or more
TINY = 1e-24  # smallest direction component

# Primitive polynomials, all of whose coefficients are 1, and first direction integers of Sobol dimensions 2 and 3, as
# (degree, integers): S. Joe and F. Y. Kuo, SIAM J. Sci. Comput. 30 (2008), table "new-joe-kuo-6".
SOBOL_ROWS = ((1, (1,)), (2, (1, 3)))


class _Scene(NamedTuple):
    """The merged grid that rays walk through; every cell array has one layer of outside cells around it."""

    lines: NDArray[np.float64]  # all grid lines, x then y then z [m]
    first_line: NDArray[np.int64]  # (3,) where each axis starts in `lines`
    stride: NDArray[np.int64]  # (3,) step of the flat cell number along each axis
    cells: NDArray[np.int32]  # flat; OPAQUE, OUTSIDE, AIR, or the row in `walls` of an air cell with walls
    walls: NDArray[np.int32]  # (rows, 6) patch on each side of such a cell, -1 for none
    mirror: NDArray[np.bool_]  # (6,)
    longest_walk: int


class _Emitters(NamedTuple):
    """Wall faces sorted by patch, and the sample points their rays share."""

    lines: NDArray[np.float64]  # all lines of the grid that the faces belong to, x then y then z [m]
    first_line: NDArray[np.int64]  # (3,) where each axis starts in `lines`
    cell: NDArray[np.int64]  # (n, 3)
    home: NDArray[np.int64]  # (n, 3) the cell of the merged grid that holds it
    side: NDArray[np.int64]  # (n,)
    area: NDArray[np.float64]  # (n,) [m2]
    start: NDArray[np.int64]  # (P + 1,) first face of each patch
    points: NDArray[np.uint32]  # (rays, 3) low-discrepancy points as 32-bit fractions
    shift: NDArray[np.uint32]  # (P, 3) digital shift of the points, patch by patch
    offset: NDArray[np.float64]  # (P,) shift of the regular first coordinate


def trace_exchange(
    edges: Sequence[ArrayLike],
    opaque: ArrayLike,
    face_cell: ArrayLike,
    face_side: ArrayLike,
    face_patch: ArrayLike,
    mirror: Sequence[bool] = (False,) * 6,
    rays_per_patch: int = 1024,
    seed: int = 0,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Trace the exchange areas S_ij = A_i F_ij between patches of cavity wall.

    Sides are numbered 0..5 = -x, +x, -y, +y, -z, +z. Every patch sends the same number of rays,
    spread over its faces by area. A ray that meets a wall that is not listed, or leaves the grid
    where there is neither a listed wall nor a mirror, is lost.

    Parameters
    ----------
    edges : three arrays (nx + 1,), (ny + 1,), (nz + 1,)
        Grid lines, increasing [m].
    opaque : (nx, ny, nz) bool
        Cells that stop rays.
    face_cell : (n, 3) int
        The air cell that each wall face bounds.
    face_side : (n,) int
        The side of that air cell on which the wall lies.
    face_patch : (n,) int
        Patch of each face, 0..P-1; every patch needs a face.
    mirror : six bools
        Sides of the grid that are symmetry planes. A listed wall on such a plane stays a wall.
    rays_per_patch : int
        Rays sent by each patch; powers of two are sampled most evenly. The error of a patch's whole
        exchange falls nearly with this number, that of one small exchange area with its root.
    seed : int
        Chooses the random shifts of the sample points; the same seed gives the same result.

    Returns
    -------
    exchange : (P, P)
        Traced exchange areas [m2]; row i comes from the rays of patch i alone, and its sum and
        `lost[i]` make up the area of the patch. Not yet reciprocal.
    lost : (P,)
        Area of each patch whose rays were lost [m2].

    Raises
    ------
    ValueError
        If the arrays do not fit each other, or a face does not lie between air and a wall.

    Examples
    --------
    One cell between two infinite plates, the other four sides being symmetry planes:

    >>> exchange, lost = trace_exchange(
    ...     edges=([0, 1], [0, 1], [0, 0.2]), opaque=[[[False]]], face_cell=[[0, 0, 0]] * 2,
    ...     face_side=[4, 5], face_patch=[0, 1], mirror=[True] * 4 + [False] * 2, rays_per_patch=64)
    >>> exchange
    array([[0., 1.],
           [1., 0.]])
    """
    lines = [np.asarray(line, dtype=np.float64) for line in edges]
    solid = np.asarray(opaque, dtype=np.bool_)
    cell = np.asarray(face_cell, dtype=np.int64).reshape(-1, 3)
    side, patch = (np.asarray(values, dtype=np.int64).ravel() for values in (face_side, face_patch))
    _check_grid(lines, solid, mirror, rays_per_patch)
    _check_faces(solid, cell, side, patch)
    merged = ray_grid(lines, solid, cell, side, patch)
    scene = _build_scene(merged, mirror)
    emitters = _build_emitters((lines, merged.home), cell, side, patch, rays_per_patch, seed)
    patches = emitters.start.size - 1
    exchange, lost = np.zeros((patches, patches)), np.zeros(patches)
    rays = patches * rays_per_patch
    share_loop(_trace_patches, patches, rays, scene, emitters, exchange, lost, smallest=SMALLEST_SHARED_LOOP)
    return exchange, lost


def face_areas(edges: Sequence[ArrayLike], face_cell: ArrayLike, face_side: ArrayLike) -> NDArray[np.float64]:
    """Area of each wall face.

    Parameters
    ----------
    edges : three arrays
        Grid lines [m].
    face_cell : (n, 3) int
        The air cell that each face bounds.
    face_side : (n,) int
        Its side, 0..5 = -x, +x, -y, +y, -z, +z.

    Returns
    -------
    (n,)
        Areas [m2].
    """
    cell, axis = np.asarray(face_cell, dtype=np.int64), np.asarray(face_side, dtype=np.int64) // 2
    spans = [np.diff(np.asarray(line, dtype=np.float64)) for line in edges]
    widths = np.stack([span[cell[:, a]] for a, span in enumerate(spans)])
    return widths.prod(axis=0) / widths[axis, np.arange(axis.size)]


def _check_grid(lines: Lines, solid: NDArray, mirror: Sequence[bool], rays_per_patch: int) -> None:
    """Raise unless the grid lines fit the cells."""
    if len(lines) != 3 or solid.shape != tuple(line.size - 1 for line in lines):
        raise ValueError(f"edges of sizes {[line.size for line in lines]} do not fit cells of {solid.shape}")
    if not all(np.isfinite(line).all() and (np.diff(line) > 0).all() for line in lines):
        raise ValueError("edges must be finite and increase")
    if len(mirror) != 6:
        raise ValueError(f"mirror must have six values, got {len(mirror)}")
    if not 1 <= rays_per_patch < 2**31:
        raise ValueError(f"rays_per_patch must be between 1 and 2^31, got {rays_per_patch}")


def _check_faces(solid: NDArray, cell: NDArray, side: NDArray, patch: NDArray) -> None:
    """Raise unless each face is listed once, between air and a wall or the border of the grid."""
    if not cell.shape[0] == side.size == patch.size > 0:
        lengths = f"{cell.shape[0]}, {side.size} and {patch.size}"
        raise ValueError(f"face arrays must match and not be empty, got lengths {lengths}")
    if (cell < 0).any() or (cell >= solid.shape).any() or (side < 0).any() or (side > 5).any():
        raise ValueError("face cells must lie in the grid and sides must be 0..5")
    if (patch < 0).any() or (np.bincount(patch) == 0).any():
        raise ValueError("face_patch must number the patches 0..P-1 with at least one face each")
    step = np.eye(3, dtype=np.int64)[side // 2] * np.where(side % 2, 1, -1)[:, None]
    around = np.pad(solid, 1, constant_values=True)
    wrong = solid[tuple(cell.T)] | ~around[tuple((cell + step + 1).T)]
    if wrong.any():
        first = int(np.argmax(wrong))
        where = f"face {first} (cell {tuple(cell[first].tolist())}, side {side[first]})"
        raise ValueError(f"{where} has no air before it or no wall behind it")
    if np.unique(np.ravel_multi_index(tuple(cell.T), solid.shape) * 6 + side).size < side.size:
        raise ValueError("a wall face is listed twice")


def _build_scene(grid: RayGrid, mirror: Sequence[bool]) -> _Scene:
    """Pack grid, walls and mirrors for the kernel."""
    cells = np.full([size + 2 for size in grid.solid.shape], OUTSIDE, dtype=np.int32)
    inner = cells[1:-1, 1:-1, 1:-1]
    walled = (grid.walls >= 0).any(axis=-1)
    inner[...] = np.where(grid.solid, OPAQUE, AIR)
    inner[walled] = np.arange(np.count_nonzero(walled))
    return _Scene(
        lines=np.concatenate(grid.lines),
        first_line=_first_lines(grid.lines),
        stride=np.array([cells.shape[1] * cells.shape[2], cells.shape[2], 1]),
        cells=cells.reshape(-1),
        walls=grid.walls[walled],
        mirror=np.array(mirror, dtype=np.bool_),
        longest_walk=WALK_PER_LINE * sum(line.size for line in grid.lines),
    )


def _first_lines(lines: Lines) -> NDArray[np.int64]:
    """Where each axis starts among the lines of all."""
    return np.array([0, lines[0].size, lines[0].size + lines[1].size])


def _build_emitters(
    grid: tuple[Lines, Homes], cell: NDArray, side: NDArray, patch: NDArray, rays_per_patch: int, seed: int
) -> _Emitters:
    """Sort the faces by patch, side and place, and draw the sample points; `grid` is lines and merged numbers."""
    lines, home = grid
    order = np.lexsort((cell[:, 2], cell[:, 1], cell[:, 0], side, patch))
    count = np.bincount(patch)
    random = np.random.default_rng(seed)
    return _Emitters(
        lines=np.concatenate(lines),
        first_line=_first_lines(lines),
        cell=cell[order],
        home=np.stack([home[axis][cell[order, axis]] for axis in range(3)], axis=1),
        side=side[order],
        area=face_areas(lines, cell, side)[order],
        start=np.concatenate([[0], np.cumsum(count)]),
        points=_sobol_points(rays_per_patch),
        shift=random.integers(0, 2**32, size=(count.size, 3), dtype=np.uint32),
        offset=random.random(count.size),
    )


def _sobol_points(count: int) -> NDArray[np.uint32]:
    """First points (count, 3) of the Sobol sequence, in natural order, as 32-bit fractions."""
    number = np.arange(count, dtype=np.uint32)
    points = np.zeros((count, 3), dtype=np.uint32)
    for dimension in range(3):
        for bit, direction in enumerate(_sobol_directions(dimension)[: count.bit_length()]):
            points[:, dimension] ^= ((number >> np.uint32(bit)) & np.uint32(1)) * np.uint32(direction)
    return points


def _sobol_directions(dimension: int) -> list[int]:
    """The 32 direction numbers of one dimension by the recurrence of Bratley and Fox (1988)."""
    if dimension == 0:
        return [1 << (31 - bit) for bit in range(32)]
    degree, start = SOBOL_ROWS[dimension - 1]
    direction = [value << (31 - bit) for bit, value in enumerate(start)]
    for bit in range(degree, 32):
        value = direction[bit - degree] ^ (direction[bit - degree] >> degree)
        for k in range(1, degree):
            value ^= direction[bit - k]
        direction.append(value)
    return direction


@njit(cache=True, nogil=True)
def _trace_patches(start, stop, scene, emitters, exchange, lost):  # pragma: no cover - compiled
    """Rows of the exchange matrix and the lost areas, of the patches from `start` to before `stop`."""
    for patch in range(start, stop):
        lost[patch] = _trace_patch(scene, emitters, patch, exchange[patch])


@njit(cache=True)
def _trace_patch(scene, emitters, patch, row):  # pragma: no cover - compiled
    """Send the rays of one patch; add what they meet to `row` and return the area lost."""
    rays = emitters.points.shape[0]
    face, last = emitters.start[patch], emitters.start[patch + 1] - 1
    total = emitters.area[face : last + 1].sum()
    share = total / rays
    lost = 0.0
    passed = 0.0  # area of the faces before this one
    cell, step, delta = np.empty(3, np.int64), np.empty(3, np.int64), np.empty(3, np.int64)
    origin, inverse, reach = np.empty(3), np.empty(3), np.empty(3)
    sample = np.empty(4)
    for ray in range(rays):
        place = (ray + emitters.offset[patch]) * share
        while face < last and place >= passed + emitters.area[face]:
            passed += emitters.area[face]
            face += 1
        sample[0] = min(max((place - passed) / emitters.area[face], 0.0), 1.0)
        for k in range(3):
            sample[k + 1] = ((emitters.points[ray, k] ^ emitters.shift[patch, k]) + 0.5) * 2.0**-32
        _leave(emitters, emitters.cell[face], emitters.side[face], sample, origin, inverse)
        cell[:] = emitters.home[face]
        met = _walk(scene, cell, origin, inverse, step, delta, reach)
        if met < 0:
            lost += share
        else:
            row[met] += share
    return lost


@njit(cache=True)
def _leave(emitters, cell, side, sample, origin, inverse):  # pragma: no cover - compiled
    """Start point on a face; inverse components of a cosine-distributed direction into the air cell."""
    axis = side // 2
    first = 0 if axis != 0 else 1
    second = 2 if axis != 2 else 1
    _spread(emitters, cell, first, sample[3], origin)
    # Faces of a patch follow each other along their last axis, so the regular coordinate runs along it.
    _spread(emitters, cell, second, sample[0], origin)
    origin[axis] = emitters.lines[emitters.first_line[axis] + cell[axis] + side % 2]
    across, along = _disc(sample[1], sample[2])
    normal = np.sqrt(max(1.0 - across * across - along * along, TINY))
    inverse[first], inverse[second] = 1.0 / _not_zero(across), 1.0 / _not_zero(along)
    inverse[axis] = 1.0 / (-normal if side % 2 == 1 else normal)


@njit(cache=True)
def _spread(emitters, cell, axis, fraction, origin):  # pragma: no cover - compiled
    """Coordinate at a fraction of the cell's width along one axis."""
    line = emitters.first_line[axis] + cell[axis]
    low, high = emitters.lines[line], emitters.lines[line + 1]
    origin[axis] = low + fraction * (high - low)


@njit(cache=True)
def _not_zero(component):  # pragma: no cover - compiled
    """The component of a direction, moved off zero so that it can be inverted."""
    return component if abs(component) > TINY else TINY


@njit(cache=True)
def _disc(u, v):  # pragma: no cover - compiled
    """Area-true map of the unit square on the unit disc (Shirley and Chiu 1997); seen from above the
    hemisphere, such points are cosine-distributed directions."""
    a, b = 2.0 * u - 1.0, 2.0 * v - 1.0
    if abs(a) > abs(b):
        radius, angle = a, 0.25 * np.pi * b / a
    elif b != 0.0:
        radius, angle = b, 0.5 * np.pi - 0.25 * np.pi * a / b
    else:
        radius, angle = 0.0, 0.0
    return radius * np.cos(angle), radius * np.sin(angle)


@njit(cache=True)
def _walk(scene, cell, origin, inverse, step, delta, reach):  # pragma: no cover - compiled
    """Walk from cell to cell (Amanatides and Woo 1987) to the first wall; its patch, or -1 if lost."""
    place = 0
    for axis in range(3):
        step[axis] = 1 if inverse[axis] > 0.0 else -1
        delta[axis] = step[axis] * scene.stride[axis]
        place += (cell[axis] + 1) * scene.stride[axis]
        _aim(scene, axis, cell, origin, inverse, step, reach)
    for _ in range(scene.longest_walk):
        axis = 0 if reach[0] <= reach[1] else 1
        if reach[2] < reach[axis]:
            axis = 2
        beyond = scene.cells[place + delta[axis]]
        if beyond >= AIR:
            place += delta[axis]
            cell[axis] += step[axis]
        else:
            side = 2 * axis + (step[axis] + 1) // 2
            here = scene.cells[place]
            met = scene.walls[here, side] if here >= 0 else np.int32(-1)
            if met >= 0 or beyond == OPAQUE or not scene.mirror[side]:
                return met
            plane = scene.lines[scene.first_line[axis] + cell[axis] + side % 2]
            origin[axis] = 2.0 * plane - origin[axis]
            inverse[axis] = -inverse[axis]
            step[axis] = -step[axis]
            delta[axis] = -delta[axis]
        _aim(scene, axis, cell, origin, inverse, step, reach)
    return np.int32(-1)


@njit(cache=True)
def _aim(scene, axis, cell, origin, inverse, step, reach):  # pragma: no cover - compiled
    """Path length from the origin to the next grid line of one axis."""
    line = scene.lines[scene.first_line[axis] + cell[axis] + (step[axis] + 1) // 2]
    reach[axis] = (line - origin[axis]) * inverse[axis]

"""Coarser levels of a grid of columns: which planes of columns to drop, and what is left.

A level is coarsened along x or y by dropping some of its planes of columns, never two adjacent ones. A
dropped column follows its two neighbours by weights that solve its own balance; what it conducted goes to
the neighbours by the same weights, and the path through it becomes the two conductances in series. The
coarse level is again a seven-point stencil of non-negative conductances (the manner of Ashby and Falgout
1996, Nucl. Sci. Eng. 124, 145, from memory, with the weights spread along the columns).

A plane may be dropped when its cells lose their heat sideways mainly to the planes beside it and not
within itself: a sheet that stands in the plane keeps the plane, thin cells give theirs up first.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.solver import coarsen_kernels as kernels
from sim.solver.columns import Array, ColumnGrid, Elimination, Indices, Transfer, scattered
from sim.solver.threads import share_loop


def choose_planes(score: Array, threshold: float) -> NDArray[np.bool_]:
    """Largest set of planes with no two adjacent whose score passes, those that pass best first.

    Parameters
    ----------
    score : (planes,) how much of a plane's heat leaves it, 0 … 1 [-].
    threshold : planes below it are kept.

    Returns
    -------
    (planes,) bool
        The planes to drop; at least one is kept.
    """
    if score.size == 1:
        return np.zeros(1, bool)
    # The number of planes decides; among equal numbers the scores, and inner planes before the two outer
    # ones, which have one neighbour only to follow.
    worth = 1.0 + 1.0e-3 * np.clip(score, 0.0, 1.0)
    worth[[0, -1]] -= 1.0e-2
    worth[score < threshold] = -1.0
    taken, left = [worth[0]], [0.0]
    for value in worth[1:]:
        best = max(taken[-1], left[-1])
        taken.append(left[-1] + value)
        left.append(best)
    drop = np.zeros(score.size, bool)
    plane = score.size - 1
    while plane >= 0:
        drop[plane] = taken[plane] > left[plane]
        plane -= 2 if drop[plane] else 1
    return drop


def plane_scores(grid: ColumnGrid, elimination: Elimination) -> tuple[Array, Array]:
    """Least share of sideways heat that leaves each x plane along x, and each y plane along y."""
    least, most = np.empty(grid.columns), np.empty(grid.columns)
    share_loop(kernels.exit_shares, grid.columns, grid.cells, grid, elimination, least, most)
    shape = (grid.nx, grid.ny)
    return least.reshape(shape).min(axis=1), 1.0 - most.reshape(shape).max(axis=0)


def choose_drops(
    grid: ColumnGrid, elimination: Elimination, threshold: float, reduction: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Planes to drop along x and along y: the strictest threshold that leaves few enough columns.

    Parameters
    ----------
    grid, elimination : the level and its eliminated columns.
    threshold : where to begin [-]; halved until the coarse level is small enough.
    reduction : greatest share of columns that may be left [-].

    Returns
    -------
    (nx,) and (ny,) bool
        Planes to drop; none when there is but one column.
    """
    scores = plane_scores(grid, elimination)
    drops = [choose_planes(score, threshold) for score in scores]
    while grid.columns > 1 and np.prod([1.0 - drop.mean() for drop in drops]) > reduction:
        threshold = 0.5 * threshold if threshold > 1.0e-6 else -1.0
        drops = [choose_planes(score, threshold) for score in scores]
    return drops[0], drops[1]


class _Plan(NamedTuple):
    """Which columns and faces meet when planes are dropped; all index tables are [plane, place in plane].

    ``table`` is the position of each dropped column in the list of dropped columns, colour 0 first.
    """

    stay: Indices
    gone: Indices
    columns: Indices
    along: Indices
    across: Indices
    coarse_columns: Indices
    coarse_along: Indices
    coarse_across: Indices
    table: Indices

    def pairs(self, step: int) -> tuple[Indices, Indices]:
        """Places of the dropped planes with a kept one ``step`` (±1) further, and those of the kept."""
        place = np.full(self.columns.shape[0] + 1, -1)
        place[self.stay] = np.arange(self.stay.size)
        kept = place[self.gone + step]
        dropped = np.flatnonzero(kept >= 0)
        return dropped, kept[dropped]


class Links(NamedTuple):
    """What each dropped column touches, one row a dropped column; −1 beyond the edge.

    Attributes
    ----------
    dropped : (n,) fine column.
    beside, faces : (n, 2) fine columns kept below and above it, and the faces between.
    peers, peer_faces : (n, 2) its neighbours in its plane (positions among the dropped), and the faces.
    """

    dropped: Indices
    beside: Indices
    faces: Indices
    peers: Indices
    peer_faces: Indices


def _faces(nx: int, ny: int, axis: int) -> tuple[Indices, Indices, Indices]:
    """Columns, faces along the axis and faces across it, as [plane, place in plane] index tables."""
    columns = np.arange(nx * ny).reshape(nx, ny)
    fx = np.arange((nx - 1) * ny).reshape(nx - 1, ny)
    fy = np.arange(nx * (ny - 1)).reshape(nx, ny - 1)
    return (columns, fx, fy) if axis == 0 else (columns.T, fy.T, fx.T)


def _plan(grid: ColumnGrid, axis: int, drop: NDArray[np.bool_]) -> tuple[_Plan, tuple[int, int]]:
    """Index tables of a coarsening, and the coarse level's columns along x and y."""
    stay, gone = np.flatnonzero(~drop), np.flatnonzero(drop)
    shape = (stay.size, grid.ny) if axis == 0 else (grid.nx, stay.size)
    fine, coarse = _faces(grid.nx, grid.ny, axis), _faces(*shape, axis)
    dropped = fine[0][gone]
    table = np.empty(dropped.size, np.int32)
    table[np.argsort(grid.rows[dropped.ravel()])] = np.arange(dropped.size)
    return _Plan(stay, gone, *fine, *coarse, table.reshape(dropped.shape)), shape


def _ordered(values: Indices, position: Indices) -> Indices:
    """Values of a table, listed by the position that a second table gives them."""
    listed = np.empty(position.size, np.int32)
    listed[position.ravel()] = values.ravel()
    return listed


def _links(plan: _Plan) -> Links:
    """The neighbours of every dropped column."""
    table, own_faces = plan.table, plan.across[plan.gone]
    beside, faces = [], []
    for step in (-1, 1):
        dropped, _ = plan.pairs(step)
        plane = plan.gone[dropped]
        beside.append(scattered(plan.columns[plane + step], dropped, table.shape))
        faces.append(scattered(plan.along[plane - (step < 0)], dropped, table.shape))
    peers, peer_faces = np.full((2, 2, *table.shape), -1)
    peers[0][:, 1:], peers[1][:, :-1] = table[:, :-1], table[:, 1:]
    peer_faces[0][:, 1:], peer_faces[1][:, :-1] = own_faces, own_faces
    sides = (np.stack([_ordered(t, table) for t in pair], axis=1) for pair in (beside, faces, peers, peer_faces))
    return Links(_ordered(plan.columns[plan.gone], table), *sides)


def _weights(grid: ColumnGrid, sink: Array, axis: int, links: Links) -> list[Array]:
    """Interpolation weights: one colour alone, the other pulled by it, then the first pulled in turn."""
    along, across = (grid.gx, grid.gy) if axis == 0 else (grid.gy, grid.gx)
    size = links.dropped.size
    weights = np.empty((2, size, sink.shape[1]), sink.dtype)
    half = int((grid.rows[links.dropped] < grid.half).sum())
    for first, last, pull in ((0, half, False), (half, size, True), (0, half, True)):
        arguments = (first, pull, links, (along, across, grid.gz), sink, (weights[0], weights[1]))
        share_loop(kernels.interpolation, last - first, weights[0].size, *arguments)
    return [weights[0], weights[1]]


def _transfer(plan: _Plan, links: Links, weights: list[Array]) -> Transfer:
    """The way between the two levels, column by column."""
    table, coarse = plan.table, plan.coarse_columns
    (low, kept_low), (high, kept_high) = plan.pairs(-1), plan.pairs(1)
    return Transfer(
        kept=_ordered(plan.columns[plan.stay], coarse),
        dropped=links.dropped,
        before=_ordered(scattered(table[high], kept_high, coarse.shape), coarse),
        after=_ordered(scattered(table[low], kept_low, coarse.shape), coarse),
        low=_ordered(scattered(coarse[kept_low], low, table.shape), table),
        high=_ordered(scattered(coarse[kept_high], high, table.shape), table),
        low_weight=weights[0],
        high_weight=weights[1],
    )


def _coarse_along(along: Array, plan: _Plan, transfer: Transfer, faces: Indices) -> Array:
    """Conductances between kept planes."""
    rows = plan.coarse_along.shape
    adjacent = np.flatnonzero(np.diff(plan.stay) == 1)
    apart = np.flatnonzero(np.diff(plan.stay) == 2)
    direct = scattered(plan.along[plan.stay[adjacent]], adjacent, rows)
    between = plan.table[np.searchsorted(plan.gone, plan.stay[apart] + 1)]
    through = scattered(between, apart, rows)
    coarse = np.empty((plan.coarse_along.size, along.shape[1]), along.dtype)
    indices = (_ordered(through, plan.coarse_along), _ordered(direct, plan.coarse_along), faces)
    share_loop(kernels.coarse_along, coarse.shape[0], coarse.size, *indices, transfer, along, coarse)
    return coarse


def _coarse_across(across: Array, plan: _Plan, transfer: Transfer) -> Array:
    """Conductances within kept planes, with the dropped planes' shares."""
    position = plan.coarse_across
    ends = [_ordered(side, position) for side in (plan.coarse_columns[:, :-1], plan.coarse_columns[:, 1:])]
    faces = [_ordered(plan.across[plan.stay], position)]
    for step in (1, -1):
        dropped, kept = plan.pairs(step)
        fine = scattered(plan.across[plan.gone[dropped]], kept, position.shape)
        faces.append(_ordered(fine, position))
    coarse = np.empty((position.size, across.shape[1]), across.dtype)
    indices = (np.stack(ends, axis=1), np.stack(faces, axis=1))
    share_loop(kernels.coarse_across, coarse.shape[0], coarse.size, *indices, transfer, across, coarse)
    return coarse


def _coarse_columns(gz: Array, transfer: Transfer) -> Array:
    """Conductances along the kept columns, with the dropped columns' shares."""
    coarse = np.empty((transfer.kept.size, gz.shape[1]), gz.dtype)
    share_loop(kernels.coarse_columns, coarse.shape[0], coarse.size, transfer, gz, coarse)
    return coarse


def coarsen(
    grid: ColumnGrid, sink: Array, axis: int, drop: NDArray[np.bool_]
) -> tuple[ColumnGrid, Transfer]:
    """Drop the marked planes of one axis.

    Parameters
    ----------
    grid : the finer level.
    sink : (columns, nz) its sinks [W/K].
    axis : 0 for x, 1 for y.
    drop : (planes,) planes to drop, no two adjacent.

    Returns
    -------
    ColumnGrid, Transfer
        The coarser level and the way between the two; the coarse sinks are ``transfer.gather(sink)``.
    """
    plan, shape = _plan(grid, axis, drop)
    along, across = (grid.gx, grid.gy) if axis == 0 else (grid.gy, grid.gx)
    links = _links(plan)
    transfer = _transfer(plan, links, _weights(grid, sink, axis, links))
    lateral = [_coarse_along(along, plan, transfer, links.faces), _coarse_across(across, plan, transfer)]
    gx, gy = lateral if axis == 0 else lateral[::-1]
    return ColumnGrid(*shape, gx, gy, _coarse_columns(grid.gz, transfer)), transfer

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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.solve import coarsen_kernels as kernels
from sim.solve import column_kernels
from sim.solve.threads import share_loop

Array = NDArray[np.floating]
Indices = NDArray[np.integer]


@dataclass(frozen=True, slots=True)
class ColumnGrid:
    """A level's coefficients, one row a column or lateral face (see ``column_kernels``).

    Attributes
    ----------
    nx, ny : columns along x and y.
    gx : ((nx-1)·ny, nz) conductances between columns along x [W/K].
    gy : (nx·(ny-1), nz) conductances between columns along y [W/K].
    gz : (nx·ny, nz-1) conductances along the columns [W/K].
    """

    nx: int
    ny: int
    gx: Array
    gy: Array
    gz: Array

    @property
    def columns(self) -> int:
        """Number of columns."""
        return self.nx * self.ny

    @property
    def cells(self) -> int:
        """Number of cells."""
        return self.columns * (self.gz.shape[1] + 1)

    @property
    def stored(self) -> int:
        """Rows of an array stored colour by colour (see ``column_kernels``)."""
        return 2 * ((self.columns + 1) // 2)

    @property
    def rows(self) -> Indices:
        """(columns,) row at which each column is stored."""
        columns = np.arange(self.columns, dtype=np.int32)
        i, j = np.divmod(columns, self.ny)
        return ((i + j) % 2 * (self.stored // 2) + columns // 2).astype(np.int32)

    def factor(self, sink: Array) -> tuple[Array, Array]:
        """``ratio`` and ``inverse`` of every column's own matrix, stored, given the sinks (columns, nz)."""
        nz = sink.shape[1]
        ratio, inverse = (np.zeros((self.stored, n), sink.dtype) for n in (nz - 1, nz))
        arrays = (self.gx, self.gy, self.gz, sink, ratio, inverse)
        share_loop(column_kernels.factor_columns, self.columns, self.cells, self.nx, self.ny, *arrays)
        return ratio, inverse


@dataclass(frozen=True, slots=True)
class Transfer:
    """One coarsening along one axis: which columns stay, which go, and the weights of those that go.

    Attributes
    ----------
    kept : (coarse,) fine row of each coarse row, or -1.
    dropped : (n,) fine row of each dropped column.
    before, after : (coarse,) dropped column (position in ``dropped``) on either side, or -1.
    low, high : (n,) coarse row on either side of a dropped column, or -1.
    low_weight, high_weight : (n, nz) weights towards them [-].
    """

    kept: Indices
    dropped: Indices
    before: Indices
    after: Indices
    low: Indices
    high: Indices
    low_weight: Array
    high_weight: Array

    def restrict(self, fine: Array, coarse: Array) -> None:
        """Overwrite ``coarse`` with the fine residual gathered by the transposed weights."""
        indices = (self.kept, self.dropped, self.before, self.after)
        arrays = (self.low_weight, self.high_weight, fine, coarse)
        share_loop(column_kernels.restrict, self.kept.size, fine.size, *indices, *arrays)

    def gather(self, fine: Array) -> Array:
        """The transposed weights' sum of a fine array (columns, nz), as a new array."""
        coarse = np.empty((self.kept.size, fine.shape[1]), fine.dtype)
        self.restrict(fine, coarse)
        return coarse

    def prolong(self, coarse: Array, fine: Array) -> None:
        """Add the coarse correction to ``fine``."""
        share_loop(column_kernels.prolong_kept, self.kept.size, coarse.size, self.kept, coarse, fine)
        arrays = (self.low_weight, self.high_weight, coarse, fine)
        indices = (self.dropped, self.low, self.high)
        share_loop(column_kernels.prolong_dropped, self.dropped.size, coarse.size, *indices, *arrays)

    def stored(self, fine: ColumnGrid | None, coarse: ColumnGrid | None) -> Transfer:
        """The same for arrays stored colour by colour on the levels given (None: column by column).

        From a stored fine level only colour 0 is served: the other's residual is zero when the cycle goes
        down, and it is solved anew first thing when the cycle comes up.
        """
        kept, dropped, before, after = self.kept, self.dropped, self.before, self.after
        low, high, weights = self.low, self.high, (self.low_weight, self.high_weight)
        if fine is not None:
            row = np.where(fine.rows < fine.stored // 2, fine.rows, -1)
            served = int((row[dropped] >= 0).sum())  # they come first in the list
            kept, dropped = row[kept], row[dropped][:served]
            before, after = (np.where(side < served, side, -1) for side in (before, after))
            low, high = low[:served], high[:served]
            weights = weights[0][:served], weights[1][:served]
        if coarse is not None:
            kept, before, after = (_scattered(t, coarse.rows, coarse.stored) for t in (kept, before, after))
            row = np.append(coarse.rows, np.int32(-1))
            low, high = row[low], row[high]
        return Transfer(kept, dropped, before, after, low, high, *weights)


def _scattered(values: Indices, rows: Indices, size: int) -> Indices:
    """A list with the values at the given rows and −1 elsewhere."""
    out = np.full(size, -1, np.int32)
    out[rows] = values
    return out


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


def plane_scores(grid: ColumnGrid, ratio: Array, inverse: Array) -> tuple[Array, Array]:
    """Least share of sideways heat that leaves each x plane along x, and each y plane along y."""
    least, most = np.empty(grid.columns), np.empty(grid.columns)
    arrays = (grid.gx, grid.gy, ratio, inverse, least, most)
    share_loop(kernels.exit_shares, grid.columns, grid.cells, grid.nx, grid.ny, *arrays)
    shape = (grid.nx, grid.ny)
    return least.reshape(shape).min(axis=1), 1.0 - most.reshape(shape).max(axis=0)


def choose_drops(
    grid: ColumnGrid, ratio: Array, inverse: Array, threshold: float, reduction: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Planes to drop along x and along y: the strictest threshold that leaves few enough columns.

    Parameters
    ----------
    grid, ratio, inverse : the level and its eliminated columns.
    threshold : where to begin [-]; halved until the coarse level is small enough.
    reduction : greatest share of columns that may be left [-].

    Returns
    -------
    (nx,) and (ny,) bool
        Planes to drop; none when there is but one column.
    """
    scores = plane_scores(grid, ratio, inverse)
    drops = [choose_planes(score, threshold) for score in scores]
    while grid.columns > 1 and np.prod([1.0 - drop.mean() for drop in drops]) > reduction:
        threshold = 0.5 * threshold if threshold > 1.0e-6 else -1.0
        drops = [choose_planes(score, threshold) for score in scores]
    return drops[0], drops[1]


def _faces(nx: int, ny: int, axis: int) -> tuple[Indices, Indices, Indices]:
    """Columns, faces along the axis and faces across it, as [plane, place in plane] index tables."""
    columns = np.arange(nx * ny).reshape(nx, ny)
    fx = np.arange((nx - 1) * ny).reshape(nx - 1, ny)
    fy = np.arange(nx * (ny - 1)).reshape(nx, ny - 1)
    return (columns, fx, fy) if axis == 0 else (columns.T, fy.T, fx.T)


@dataclass(frozen=True, slots=True)
class _Plan:
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


def _plan(grid: ColumnGrid, axis: int, drop: NDArray[np.bool_]) -> tuple[_Plan, tuple[int, int]]:
    """Index tables of a coarsening, and the coarse level's columns along x and y."""
    stay, gone = np.flatnonzero(~drop), np.flatnonzero(drop)
    shape = (stay.size, grid.ny) if axis == 0 else (grid.nx, stay.size)
    fine, coarse = _faces(grid.nx, grid.ny, axis), _faces(*shape, axis)
    dropped = fine[0][gone]
    table = np.empty(dropped.size, np.int32)
    table[np.argsort(grid.rows[dropped.ravel()])] = np.arange(dropped.size)
    return _Plan(stay, gone, *fine, *coarse, table.reshape(dropped.shape)), shape


def _filled(shape: tuple[int, ...], rows: Indices, values: Indices) -> Indices:
    """A table of −1 with the given rows set."""
    table = np.full(shape, -1, np.int32)
    table[rows] = values
    return table


def _ordered(values: Indices, position: Indices) -> Indices:
    """Values of a table, listed by the position that a second table gives them."""
    listed = np.empty(position.size, np.int32)
    listed[position.ravel()] = values.ravel()
    return listed


def _beside(plan: _Plan) -> tuple[Indices, Indices]:
    """Fine columns and fine faces (n, 2) below and above each dropped column, −1 at the edge."""
    shape = plan.table.shape
    columns, faces = [], []
    for step in (-1, 1):
        dropped, _ = plan.pairs(step)
        plane = plan.gone[dropped]
        columns.append(_ordered(_filled(shape, dropped, plan.columns[plane + step]), plan.table))
        faces.append(_ordered(_filled(shape, dropped, plan.along[plane - (step < 0)]), plan.table))
    return np.stack(columns, axis=1), np.stack(faces, axis=1)


def _transfer(gz: Array, sink: Array, along: Array, plan: _Plan, beside: tuple[Indices, Indices]) -> Transfer:
    """Weights and indices of a coarsening."""
    table, coarse = plan.table, plan.coarse_columns
    (low, kept_low), (high, kept_high) = plan.pairs(-1), plan.pairs(1)
    dropped = _ordered(plan.columns[plan.gone], table)
    weights = [np.empty((table.size, sink.shape[1]), sink.dtype) for _ in range(2)]
    arrays = (dropped, *beside, along, gz, sink, *weights)
    share_loop(kernels.interpolation, table.size, weights[0].size, *arrays)
    return Transfer(
        kept=_ordered(plan.columns[plan.stay], coarse),
        dropped=dropped,
        before=_ordered(_filled(coarse.shape, kept_high, table[high]), coarse),
        after=_ordered(_filled(coarse.shape, kept_low, table[low]), coarse),
        low=_ordered(_filled(table.shape, low, coarse[kept_low]), table),
        high=_ordered(_filled(table.shape, high, coarse[kept_high]), table),
        low_weight=weights[0],
        high_weight=weights[1],
    )


def _coarse_along(along: Array, plan: _Plan, transfer: Transfer, faces: Indices) -> Array:
    """Conductances between kept planes."""
    table, rows = plan.table, plan.coarse_along.shape
    adjacent = np.flatnonzero(np.diff(plan.stay) == 1)
    apart = np.flatnonzero(np.diff(plan.stay) == 2)
    direct = _filled(rows, adjacent, plan.along[plan.stay[adjacent]])
    through = _filled(rows, apart, table[np.searchsorted(plan.gone, plan.stay[apart] + 1)])
    coarse = np.empty((plan.coarse_along.size, along.shape[1]), along.dtype)
    indices = (_ordered(through, plan.coarse_along), _ordered(direct, plan.coarse_along), faces)
    arrays = (transfer.low_weight, transfer.high_weight, along, coarse)
    share_loop(kernels.coarse_along, coarse.shape[0], coarse.size, *indices, *arrays)
    return coarse


def _coarse_across(across: Array, plan: _Plan, transfer: Transfer) -> Array:
    """Conductances within kept planes, with the dropped planes' shares."""
    position = plan.coarse_across
    ends = [_ordered(side, position) for side in (plan.coarse_columns[:, :-1], plan.coarse_columns[:, 1:])]
    faces = [_ordered(plan.across[plan.stay], position)]
    for step in (1, -1):
        dropped, kept = plan.pairs(step)
        faces.append(_ordered(_filled(position.shape, kept, plan.across[plan.gone[dropped]]), position))
    coarse = np.empty((position.size, across.shape[1]), across.dtype)
    indices = (np.stack(ends, axis=1), np.stack(faces, axis=1), transfer.before, transfer.after)
    arrays = (transfer.low_weight, transfer.high_weight, across, coarse)
    share_loop(kernels.coarse_across, coarse.shape[0], coarse.size, *indices, *arrays)
    return coarse


def _coarse_columns(gz: Array, transfer: Transfer) -> Array:
    """Conductances along the kept columns, with the dropped columns' shares."""
    coarse = np.empty((transfer.kept.size, gz.shape[1]), gz.dtype)
    indices = (transfer.kept, transfer.dropped, transfer.before, transfer.after)
    arrays = (transfer.low_weight, transfer.high_weight, gz, coarse)
    share_loop(kernels.coarse_columns, coarse.shape[0], coarse.size, *indices, *arrays)
    return coarse


def coarsen(grid: ColumnGrid, sink: Array, axis: int, drop: NDArray[np.bool_]) -> tuple[ColumnGrid, Transfer]:
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
    beside = _beside(plan)
    transfer = _transfer(grid.gz, sink, along, plan, beside)
    lateral = [_coarse_along(along, plan, transfer, beside[1]), _coarse_across(across, plan, transfer)]
    gx, gy = lateral if axis == 0 else lateral[::-1]
    return ColumnGrid(*shape, gx, gy, _coarse_columns(grid.gz, transfer)), transfer

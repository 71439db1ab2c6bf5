"""Compiled loops that build a coarser level of columns from a finer one (see ``coarsen``)."""

from __future__ import annotations

import numpy as np

from sim.machine.compiling import njit
from sim.solver.column_kernels import (
    FAST,
    add_lateral,
    copy_row,
    eliminate_four_columns,
    solve_four_columns,
    stored_row,
)

NEGLIGIBLE = np.float32(1.0e-12)


@njit(cache=True, nogil=True, fastmath=FAST)
def exit_shares(start, stop, grid, elimination, least, most):
    """Least and most share of a column's sideways heat that leaves along x rather than y.

    The share is that of heat released in a cell, after it has spread along the column: T⁻¹ of the two
    lateral sums. Cells that lose nearly all to their sink are left out.
    """
    rows, nz = elimination.inverse.shape
    a, b, inverse = np.zeros((3, 4, nz), elimination.inverse.dtype)
    ratio = np.zeros((4, nz - 1), inverse.dtype)
    for begin in range(start, stop, 4):
        count = min(4, stop - begin)
        a[:] = 0
        b[:] = 0
        for n in range(count):
            row = stored_row(begin + n, grid.ny, rows // 2)
            add_lateral(a, b, n, begin + n, grid)
            copy_row(ratio, n, elimination.ratio, row)
            copy_row(inverse, n, elimination.inverse, row)
        solve_four_columns(a, a, ratio, inverse, 0)
        solve_four_columns(b, b, ratio, inverse, 0)
        for n in range(count):
            least[begin + n], most[begin + n] = _extremes(a, b, n)


@njit(cache=True, nogil=True, fastmath=FAST)
def _extremes(a, b, row):
    """Least and most of a / (a + b) in a row, where the sum counts; 2 and −1 where it nowhere does."""
    low, high = 2.0, -1.0
    for k in range(a.shape[1]):
        total = a[row, k] + b[row, k]
        if total > 0.02:
            low = min(low, a[row, k] / total)
            high = max(high, a[row, k] / total)
    return low, high


@njit(cache=True, nogil=True, fastmath=FAST)
def excess_sink(excess, row, sink, own, beside):
    """excess[row] = what a column's sinks have more than its neighbour's (the least of several calls)."""
    for k in range(sink.shape[1]):
        excess[row, k] = min(excess[row, k], max(sink[own, k] - sink[beside, k], 0))


@njit(cache=True, nogil=True, fastmath=FAST)
def column_balance(balance, row, n, links, along, sink):
    """Fill a row of ``balance``, which is what ties a dropped column to its lower and to its upper
    neighbour, and the sum of these with its own sink."""
    low, high, excess = balance
    own = links.dropped[n]
    copy_row(excess, row, sink, own)
    for k in range(sink.shape[1]):
        low[row, k] = along[links.faces[n, 0], k] if links.beside[n, 0] >= 0 else 0
        high[row, k] = along[links.faces[n, 1], k] if links.beside[n, 1] >= 0 else 0
    for side in range(2):
        if links.beside[n, side] >= 0:
            excess_sink(excess, row, sink, own, links.beside[n, side])
    for k in range(sink.shape[1]):
        excess[row, k] += low[row, k] + high[row, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def pull_of_peers(balance, row, n, links, across, weights):
    """Add the dropped columns beside one in its own plane, with the weights that they have now."""
    low, high, excess = balance
    for side in range(2):
        peer = links.peers[n, side]
        if peer >= 0:
            face = links.peer_faces[n, side]
            for k in range(low.shape[1]):
                excess[row, k] += across[face, k]
                low[row, k] += across[face, k] * weights[0][peer, k]
                high[row, k] += across[face, k] * weights[1][peer, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def interpolation(start, stop, first, pull, links, conductances, sink, weights):
    """Weights by which a dropped column follows its two neighbours, spread along the column.

    They solve the column's own balance with each neighbour uniform in turn, T w = g, so that cells tied
    along the column get like weights; with ``pull`` the columns beside it in its own plane, dropped too,
    join the balance with the weights that they have. A sink counts only as far as it exceeds those of both
    neighbours: a film over all columns leaves smooth errors smooth, a fixed temperature at one plane does
    not. Where a cell has no way to either neighbour both weights are zero.

    ``links`` is ``coarsen.Links``, ``conductances`` the level's along, across the coarsened axis and along
    the columns, ``weights`` the pair to be filled from ``first`` on.
    """
    along, across, gz = conductances
    low, high, excess, inverse = np.zeros((4, 4, sink.shape[1]), sink.dtype)
    own_gz, ratio = np.zeros((2, 4, gz.shape[1]), sink.dtype)
    balance = (low, high, excess)
    for begin in range(first + start, first + stop, 4):
        count = min(4, first + stop - begin)
        for n in range(count):
            copy_row(own_gz, n, gz, links.dropped[begin + n])
            column_balance(balance, n, begin + n, links, along, sink)
            if pull:
                pull_of_peers(balance, n, begin + n, links, across, weights)
        eliminate_four_columns(excess, own_gz, ratio, inverse)
        solve_four_columns(low, low, ratio, inverse, 0)
        solve_four_columns(high, high, ratio, inverse, 0)
        for n in range(count):
            for k in range(sink.shape[1]):  # weights that mean nothing would breed denormal conductances
                weights[0][begin + n, k] = low[n, k] if low[n, k] > NEGLIGIBLE else 0
                weights[1][begin + n, k] = high[n, k] if high[n, k] > NEGLIGIBLE else 0


@njit(cache=True, nogil=True, fastmath=FAST)
def add_shared_faces(total, row, conductance, face, weight, ends):
    """total[row] += g[face] × the mean of the weights at the face's two ends."""
    near, far = ends
    for k in range(total.shape[1]):
        total[row, k] += conductance[face, k] * (0.5 * (weight[near, k] + weight[far, k]))


@njit(cache=True, nogil=True, fastmath=FAST)
def add_shared_steps(total, row, conductance, column, weight, n):
    """The same for the faces within one column, between a cell and the next."""
    for k in range(total.shape[1]):
        total[row, k] += conductance[column, k] * (0.5 * (weight[n, k] + weight[n, k + 1]))


@njit(cache=True, nogil=True, fastmath=FAST)
def coarse_columns(start, stop, way, gz, coarse):
    """Conductances along the kept columns, with shares of the dropped columns beside them."""
    for column in range(start, stop):
        copy_row(coarse, column, gz, way.kept[column])
        before, after = way.before[column], way.after[column]
        if before >= 0:
            add_shared_steps(coarse, column, gz, way.dropped[before], way.high_weight, before)
        if after >= 0:
            add_shared_steps(coarse, column, gz, way.dropped[after], way.low_weight, after)


@njit(cache=True, nogil=True, fastmath=FAST)
def coarse_along(start, stop, through, direct, faces, way, along, coarse):
    """Conductances between kept columns in the coarsened direction.

    ``through`` is the dropped column in between (or −1, then ``direct`` is the fine face): the flow that
    it passes on, which is the two conductances in series where the column does not spread heat.
    """
    for face in range(start, stop):
        n = through[face]
        if n < 0:
            copy_row(coarse, face, along, direct[face])
            continue
        low, high = faces[n, 0], faces[n, 1]
        for k in range(along.shape[1]):
            passed = along[low, k] * way.high_weight[n, k] + along[high, k] * way.low_weight[n, k]
            coarse[face, k] = 0.5 * passed


@njit(cache=True, nogil=True, fastmath=FAST)
def coarse_across(start, stop, ends, faces, way, across, coarse):
    """Conductances between kept columns in the other direction, with shares of the dropped faces.

    ``ends`` (faces, 2) are the coarse columns at a face's ends; ``faces`` (faces, 3) the fine face itself
    and those between the dropped columns before and after (−1 where there is none).
    """
    for face in range(start, stop):
        p, q = ends[face, 0], ends[face, 1]
        copy_row(coarse, face, across, faces[face, 0])
        if faces[face, 1] >= 0:
            pair = (way.before[p], way.before[q])
            add_shared_faces(coarse, face, across, faces[face, 1], way.high_weight, pair)
        if faces[face, 2] >= 0:
            pair = (way.after[p], way.after[q])
            add_shared_faces(coarse, face, across, faces[face, 2], way.low_weight, pair)

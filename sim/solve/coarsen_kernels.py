"""Compiled loops that build a coarser level of columns from a finer one (see ``coarsen``)."""

from __future__ import annotations

import numba
import numpy as np

from sim.solve.column_kernels import (
    FAST,
    add_lateral,
    eliminate_four_columns,
    solve_four_columns,
    stored_row,
)

NEGLIGIBLE = np.float32(1.0e-12)


@numba.njit(cache=True, nogil=True, fastmath=FAST)
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
            add_lateral(a[n], b[n], begin + n, grid)
            ratio[n] = elimination.ratio[row]
            inverse[n] = elimination.inverse[row]
        solve_four_columns(a, a, ratio, inverse)
        solve_four_columns(b, b, ratio, inverse)
        for n in range(count):
            least[begin + n], most[begin + n] = _extremes(a[n], b[n])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def _extremes(a, b):
    """Least and most of a / (a + b) where the sum counts; 2 and −1 where it nowhere does."""
    low, high = 2.0, -1.0
    for k in range(a.size):
        if a[k] + b[k] > 0.02:
            share = a[k] / (a[k] + b[k])
            low = min(low, share)
            high = max(high, share)
    return low, high


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def excess_sink(excess, own, beside):
    """excess = what a cell's sink has more than its neighbour's (the least of several calls)."""
    for k in range(own.size):
        excess[k] = min(excess[k], max(own[k] - beside[k], 0))


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def column_balance(excess, low, high, n, links, conductances, sink):
    """Fill what ties a dropped column to its lower and upper neighbour, and their sum with its own sink."""
    own = sink[links.dropped[n]]
    excess[:] = own
    low[:] = 0
    high[:] = 0
    if links.beside[n, 0] >= 0:
        low += conductances[0][links.faces[n, 0]]
        excess_sink(excess, own, sink[links.beside[n, 0]])
    if links.beside[n, 1] >= 0:
        high += conductances[0][links.faces[n, 1]]
        excess_sink(excess, own, sink[links.beside[n, 1]])
    excess += low
    excess += high


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def pull_of_peers(excess, low, high, n, links, across, weights):
    """Add the dropped columns beside one in its own plane, with the weights that they have now."""
    for side in range(2):
        peer = links.peers[n, side]
        if peer >= 0:
            conductance = across[links.peer_faces[n, side]]
            excess += conductance
            low += conductance * weights[0][peer]
            high += conductance * weights[1][peer]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
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
    low_weight, high_weight = weights
    nz = sink.shape[1]
    excess, a, b, inverse = np.zeros((4, 4, nz), sink.dtype)
    gz, ratio = np.zeros((2, 4, nz - 1), sink.dtype)
    for begin in range(first + start, first + stop, 4):
        count = min(4, first + stop - begin)
        for n in range(count):
            gz[n] = conductances[2][links.dropped[begin + n]]
            column_balance(excess[n], a[n], b[n], begin + n, links, conductances, sink)
            if pull:
                pull_of_peers(excess[n], a[n], b[n], begin + n, links, conductances[1], weights)
        eliminate_four_columns(excess, gz, ratio, inverse)
        solve_four_columns(a, a, ratio, inverse)
        solve_four_columns(b, b, ratio, inverse)
        for n in range(count):
            for k in range(nz):  # weights that mean nothing would breed denormal conductances
                low_weight[begin + n, k] = a[n, k] if a[n, k] > NEGLIGIBLE else 0
                high_weight[begin + n, k] = b[n, k] if b[n, k] > NEGLIGIBLE else 0


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def add_shared_faces(total, conductance, weight, other):
    """total += g × the mean of the weights at the face's two ends."""
    for k in range(total.size):
        total[k] += conductance[k] * (0.5 * (weight[k] + other[k]))


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coarse_columns(start, stop, way, gz, coarse):
    """Conductances along the kept columns, with shares of the dropped columns beside them."""
    for column in range(start, stop):
        coarse[column] = gz[way.kept[column]]
        n = way.before[column]
        if n >= 0:
            w = way.high_weight[n]
            add_shared_faces(coarse[column], gz[way.dropped[n]], w[:-1], w[1:])
        n = way.after[column]
        if n >= 0:
            w = way.low_weight[n]
            add_shared_faces(coarse[column], gz[way.dropped[n]], w[:-1], w[1:])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coarse_along(start, stop, through, direct, faces, way, along, coarse):
    """Conductances between kept columns in the coarsened direction.

    ``through`` is the dropped column in between (or −1, then ``direct`` is the fine face): the flow that
    it passes on, which is the two conductances in series where the column does not spread heat.
    """
    for face in range(start, stop):
        n = through[face]
        if n < 0:
            coarse[face] = along[direct[face]]
            continue
        low, high = along[faces[n, 0]], along[faces[n, 1]]
        for k in range(low.size):
            coarse[face, k] = 0.5 * (low[k] * way.high_weight[n, k] + high[k] * way.low_weight[n, k])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coarse_across(start, stop, ends, faces, way, across, coarse):
    """Conductances between kept columns in the other direction, with shares of the dropped faces.

    ``ends`` (faces, 2) are the coarse columns at a face's ends; ``faces`` (faces, 3) the fine face itself
    and those between the dropped columns before and after (−1 where there is none).
    """
    for face in range(start, stop):
        p, q = ends[face, 0], ends[face, 1]
        coarse[face] = across[faces[face, 0]]
        if faces[face, 1] >= 0:
            near, far = way.high_weight[way.before[p]], way.high_weight[way.before[q]]
            add_shared_faces(coarse[face], across[faces[face, 1]], near, far)
        if faces[face, 2] >= 0:
            near, far = way.low_weight[way.after[p]], way.low_weight[way.after[q]]
            add_shared_faces(coarse[face], across[faces[face, 2]], near, far)

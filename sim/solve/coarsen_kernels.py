"""Compiled loops that build a coarser level of columns from a finer one (see ``coarsen``)."""

from __future__ import annotations

import numba
import numpy as np

from sim.solve.column_kernels import FAST, FLOOR, factor_column, stored_row


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def solve_pair(a, b, ratio, inverse):
    """Solve one column for two right-hand sides at once, in place."""
    last = a.size - 1
    va, vb = a[0], b[0]
    for k in range(last):
        va = (a[k + 1] + FLOOR) + ratio[k] * va
        vb = (b[k + 1] + FLOOR) + ratio[k] * vb
        a[k + 1] = va
        b[k + 1] = vb
    va, vb = va * inverse[last], vb * inverse[last]
    a[last] = va
    b[last] = vb
    for k in range(last - 1, -1, -1):
        va = (a[k] * inverse[k] + FLOOR) + ratio[k] * va
        vb = (b[k] * inverse[k] + FLOOR) + ratio[k] * vb
        a[k] = va
        b[k] = vb


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def exit_shares(start, stop, nx, ny, gx, gy, ratio, inverse, least, most):
    """Least and most share of a column's sideways heat that leaves along x rather than y.

    The share is that of heat released in a cell, after it has spread along the column: T⁻¹ of the two
    lateral sums. Cells that lose nearly all to their sink are left out.
    """
    nz = inverse.shape[1]
    half = inverse.shape[0] // 2
    a = np.empty(nz)
    b = np.empty(nz)
    for column in range(start, stop):
        i = column // ny
        j = column - i * ny
        face = column - i
        a[:] = 0.0
        b[:] = 0.0
        if i > 0:
            a += gx[column - ny]
        if i < nx - 1:
            a += gx[column]
        if j > 0:
            b += gy[face - 1]
        if j < ny - 1:
            b += gy[face]
        row = stored_row(column, ny, half)
        solve_pair(a, b, ratio[row], inverse[row])
        low, high = 2.0, -1.0
        for k in range(nz):
            if a[k] + b[k] > 0.02:
                share = a[k] / (a[k] + b[k])
                low = min(low, share)
                high = max(high, share)
        least[column] = low
        most[column] = high


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def excess_sink(excess, own, beside):
    """excess = what a cell's sink has more than its neighbour's (the least of several calls)."""
    for k in range(own.size):
        excess[k] = min(excess[k], max(own[k] - beside[k], 0.0))


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def interpolation(start, stop, dropped, beside, faces, along, gz, sink, low_weight, high_weight):
    """Weights by which a dropped column follows its two neighbours, spread along the column.

    They solve the column's own balance with each neighbour uniform in turn, T w = g, so that cells tied
    along the column get like weights. A sink counts only as far as it exceeds those of both neighbours: a
    film over all columns leaves smooth errors smooth, a fixed temperature at one plane does not. Where a
    cell has no way to either neighbour both weights are zero. ``beside`` and ``faces`` (n, 2) are the fine
    columns and faces below and above each dropped column, −1 at the edge of the grid.
    """
    nz = low_weight.shape[1]
    excess = np.empty(nz)
    a = np.empty(nz)
    b = np.empty(nz)
    ratio = np.empty(max(nz - 1, 1))
    inverse = np.empty(nz)
    for n in range(start, stop):
        a[:] = 0.0
        b[:] = 0.0
        own = sink[dropped[n]]
        excess[:] = own
        if beside[n, 0] >= 0:
            a += along[faces[n, 0]]
            excess_sink(excess, own, sink[beside[n, 0]])
        if beside[n, 1] >= 0:
            b += along[faces[n, 1]]
            excess_sink(excess, own, sink[beside[n, 1]])
        excess += a
        excess += b
        factor_column(excess, gz[dropped[n]], ratio, inverse)
        solve_pair(a, b, ratio, inverse)
        low_weight[n] = a
        high_weight[n] = b


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def add_shared_faces(total, conductance, weight, other):
    """total += g × the mean of the weights at the face's two ends."""
    for k in range(total.size):
        total[k] += conductance[k] * 0.5 * (weight[k] + other[k])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coarse_columns(start, stop, kept, dropped, before, after, low_weight, high_weight, gz, coarse_gz):
    """Conductances along the kept columns, with shares of the dropped columns beside them."""
    for column in range(start, stop):
        coarse_gz[column] = gz[kept[column]]
        n = before[column]
        if n >= 0:
            w = high_weight[n]
            add_shared_faces(coarse_gz[column], gz[dropped[n]], w[:-1], w[1:])
        n = after[column]
        if n >= 0:
            w = low_weight[n]
            add_shared_faces(coarse_gz[column], gz[dropped[n]], w[:-1], w[1:])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coarse_along(start, stop, through, direct, faces, low_weight, high_weight, along, coarse):
    """Conductances between kept columns in the coarsened direction.

    ``through`` is the dropped column in between (or −1, then ``direct`` is the fine face): the flow that
    it passes on, which is the two conductances in series where the column does not spread heat.
    """
    for face in range(start, stop):
        n = through[face]
        if n < 0:
            coarse[face] = along[direct[face]]
        else:
            low, high = along[faces[n, 0]], along[faces[n, 1]]
            for k in range(low.size):
                coarse[face, k] = 0.5 * (low[k] * high_weight[n, k] + high[k] * low_weight[n, k])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coarse_across(start, stop, ends, faces, before, after, low_weight, high_weight, across, coarse):
    """Conductances between kept columns in the other direction, with shares of the dropped faces.

    ``ends`` (faces, 2) are the coarse columns at a face's ends; ``faces`` (faces, 3) the fine face itself
    and those between the dropped columns before and after (−1 where there is none).
    """
    for face in range(start, stop):
        p, q = ends[face, 0], ends[face, 1]
        coarse[face] = across[faces[face, 0]]
        if faces[face, 1] >= 0:
            near, far = high_weight[before[p]], high_weight[before[q]]
            add_shared_faces(coarse[face], across[faces[face, 1]], near, far)
        if faces[face, 2] >= 0:
            near, far = low_weight[after[p]], low_weight[after[q]]
            add_shared_faces(coarse[face], across[faces[face, 2]], near, far)

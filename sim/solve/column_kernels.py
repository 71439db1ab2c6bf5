"""Compiled loops of the multigrid cycle over columns of cells (lines along the last axis).

A level of nx × ny columns of nz cells is held as arrays with one row a column, row ``i·ny + j``; lateral
conductances have one row a face, ``i·ny + j`` between (i, j) and (i+1, j), ``i·(ny−1) + j`` between
(i, j) and (i, j+1). The columns have two colours, the parity of i + j: columns of one colour touch only
the other.

A column's own (tridiagonal) matrix is held as ``inverse``, one over the pivots of its elimination, and
``ratio``, the conductance to the next cell times ``inverse``: both sweeps of a solve are then one
multiply-add a cell.
"""

from __future__ import annotations

import numba
import numpy as np

FAST = {"contract", "nsz"}
FLOOR = np.float32(1.0e-30)


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def gather(total, conductance, values):
    """total += g x along a column."""
    for k in range(total.size):
        total[k] += conductance[k] * values[k]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def gather_neighbours(total, column, nx, ny, gx, gy, x):
    """total += Σ g x over the (up to four) columns beside one."""
    i = column // ny
    j = column - i * ny
    if i > 0:
        gather(total, gx[column - ny], x[column - ny])
    if i < nx - 1:
        gather(total, gx[column], x[column + ny])
    face = column - i
    if j > 0:
        gather(total, gy[face - 1], x[column - 1])
    if j < ny - 1:
        gather(total, gy[face], x[column + 1])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def solve_column(out, right, ratio, inverse):
    """Solve one column's tridiagonal system; ``right`` is overwritten."""
    last = right.size - 1
    carried = right[0]
    for k in range(last):
        carried = (right[k + 1] + FLOOR) + ratio[k] * carried
        right[k + 1] = carried
    value = carried * inverse[last]
    out[last] = value
    for k in range(last - 1, -1, -1):
        value = (right[k] * inverse[k] + FLOOR) + ratio[k] * value
        out[k] = value


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def solve_four_columns(columns, right, ratio, inverse, x):
    """Solve four columns side by side: the processor works on one while another waits for its last sum."""
    a, b, c, d = columns[0], columns[1], columns[2], columns[3]
    ra, rb, rc, rd = right[0], right[1], right[2], right[3]
    qa, qb, qc, qd = ratio[a], ratio[b], ratio[c], ratio[d]
    last = ra.size - 1
    va, vb, vc, vd = ra[0], rb[0], rc[0], rd[0]
    for k in range(last):
        va = (ra[k + 1] + FLOOR) + qa[k] * va
        vb = (rb[k + 1] + FLOOR) + qb[k] * vb
        vc = (rc[k + 1] + FLOOR) + qc[k] * vc
        vd = (rd[k + 1] + FLOOR) + qd[k] * vd
        ra[k + 1] = va
        rb[k + 1] = vb
        rc[k + 1] = vc
        rd[k + 1] = vd
    ia, ib, ic, id_ = inverse[a], inverse[b], inverse[c], inverse[d]
    xa, xb, xc, xd = x[a], x[b], x[c], x[d]
    va, vb, vc, vd = va * ia[last], vb * ib[last], vc * ic[last], vd * id_[last]
    xa[last] = va
    xb[last] = vb
    xc[last] = vc
    xd[last] = vd
    for k in range(last - 1, -1, -1):
        va = (ra[k] * ia[k] + FLOOR) + qa[k] * va
        vb = (rb[k] * ib[k] + FLOOR) + qb[k] * vb
        vc = (rc[k] * ic[k] + FLOOR) + qc[k] * vc
        vd = (rd[k] * id_[k] + FLOOR) + qd[k] * vd
        xa[k] = va
        xb[k] = vb
        xc[k] = vc
        xd[k] = vd


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def factor_column(excess, gz, ratio, inverse):
    """Eliminate one column; ``excess`` (what leaves a cell other than along the column) is overwritten.

    Only sums and products of non-negative numbers: no digit is lost however thin the cells are, and a
    stretch of cells with no way out at all gets zeros instead of a division by zero.
    """
    last = excess.size - 1
    for k in range(last):
        pivot = excess[k] + gz[k]
        share = gz[k] / pivot if pivot > 0.0 else 0.0
        inverse[k] = 1.0 / pivot if pivot > 0.0 else 0.0
        ratio[k] = share
        excess[k + 1] += excess[k] * share
    inverse[last] = 1.0 / excess[last] if excess[last] > 0.0 else 0.0


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def factor_columns(start, stop, nx, ny, gx, gy, gz, sink, ratio, inverse):
    """Eliminate every column's own matrix (lateral conductances and sink on the diagonal)."""
    excess = np.empty(sink.shape[1])
    for column in range(start, stop):
        i = column // ny
        j = column - i * ny
        face = column - i
        excess[:] = sink[column]
        if i > 0:
            excess += gx[column - ny]
        if i < nx - 1:
            excess += gx[column]
        if j > 0:
            excess += gy[face - 1]
        if j < ny - 1:
            excess += gy[face]
        factor_column(excess, gz[column], ratio[column], inverse[column])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def relax(start, stop, colour, from_zero, nx, ny, gx, gy, ratio, inverse, right, x):
    """Solve every column of one colour with its neighbours held (taken as zero if ``from_zero``)."""
    work = np.empty((4, x.shape[1]), x.dtype)
    waiting = np.empty(4, np.int64)
    count = 0
    for column in range(start, stop):
        i = column // ny
        if (i + column - i * ny) & 1 != colour:
            continue
        work[count] = right[column]
        if not from_zero:
            gather_neighbours(work[count], column, nx, ny, gx, gy, x)
        waiting[count] = column
        count += 1
        if count == 4:
            solve_four_columns(waiting, work, ratio, inverse, x)
            count = 0
    for n in range(count):
        column = waiting[n]
        solve_column(x[column], work[n], ratio[column], inverse[column])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def residual_of_first(start, stop, colour, nx, ny, gx, gy, x, residual):
    """Residual of the colour that was solved first, from zero: what the other colour has sent since."""
    for column in range(start, stop):
        i = column // ny
        if (i + column - i * ny) & 1 != colour:
            continue
        residual[column] = 0.0
        gather_neighbours(residual[column], column, nx, ny, gx, gy, x)


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def restrict(start, stop, kept, dropped, before, after, low_weight, high_weight, fine, coarse):
    """Coarse right-hand side: each kept column and its shares of the dropped ones beside it."""
    for column in range(start, stop):
        total = coarse[column]
        total[:] = fine[kept[column]]
        if before[column] >= 0:
            gather(total, high_weight[before[column]], fine[dropped[before[column]]])
        if after[column] >= 0:
            gather(total, low_weight[after[column]], fine[dropped[after[column]]])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def prolong_kept(start, stop, kept, coarse, fine):
    """Add the coarse correction to the kept columns."""
    for column in range(start, stop):
        target, source = fine[kept[column]], coarse[column]
        for k in range(source.size):
            target[k] += source[k]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def prolong_dropped(start, stop, dropped, low, high, low_weight, high_weight, coarse, fine):
    """Add the interpolated coarse correction to the dropped columns."""
    for n in range(start, stop):
        target = fine[dropped[n]]
        if low[n] >= 0:
            gather(target, low_weight[n], coarse[low[n]])
        if high[n] >= 0:
            gather(target, high_weight[n], coarse[high[n]])

"""Compiled loops of the multigrid cycle over columns of cells (lines along the last axis).

A level has nx × ny columns of nz cells; column ``i·ny + j``. Lateral conductances have one row a face:
``i·ny + j`` between (i, j) and (i+1, j), ``i·(ny−1) + j`` between (i, j) and (i, j+1). The columns have two
colours, the parity of i + j, and a column touches only columns of the other colour.

What the cycle streams through is stored colour by colour, so that a sweep over one colour reads memory in
one run: row ``colour·half + column // 2`` with ``half`` rows a colour (``stored_row``); whatever the
parity of ny, ``column // 2`` counts through one colour.

A column's own (tridiagonal) matrix is held as ``inverse``, one over the pivots of its elimination, and
``ratio``, the conductance to the next cell times ``inverse``: both sweeps of a solve are then one
multiply-add a cell. ``grid``, ``elimination`` and ``way`` are the named tuples of ``columns``.
"""

from __future__ import annotations

import numba
import numpy as np

FAST = {"contract", "nsz"}

# Added to every partial sum of a solve: values that die away along a column would otherwise end as
# denormal numbers, which are a hundred times slower. Right-hand sides are of order one (``load``).
FLOOR = np.float32(1.0e-30)


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def stored_row(column, ny, half):
    """Row at which a column is stored."""
    i = column // ny
    return ((i + column - i * ny) & 1) * half + column // 2


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def coloured_column(place, colour, ny):
    """The column at a place within its colour: the inverse of ``stored_row``."""
    if ny & 1:
        return 2 * place + colour
    return 2 * place + ((2 * place // ny + colour) & 1)


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def gather(total, conductance, values):
    """total += g x along a column."""
    for k in range(total.size):
        total[k] += conductance[k] * values[k]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def gather_four(total, conductance, values):
    """total += Σ g x along a column with all four neighbours, in one pass."""
    g0, g1, g2, g3 = conductance
    x0, x1, x2, x3 = values
    for k in range(total.size):
        total[k] += (g0[k] * x0[k] + g1[k] * x1[k]) + (g2[k] * x2[k] + g3[k] * x3[k])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def gather_neighbours(total, column, grid, other):
    """total += Σ g x over the (up to four) columns beside one; ``other`` holds the other colour."""
    ny, gx, gy = grid.ny, grid.gx, grid.gy
    i = column // ny
    j = column - i * ny
    face = column - i
    left, right, front, back = i > 0, i < grid.nx - 1, j > 0, j < ny - 1
    if left and right and front and back:
        beside = (other[(column - ny) // 2], other[(column + ny) // 2])
        along = (other[(column - 1) // 2], other[(column + 1) // 2])
        gather_four(total, (gx[column - ny], gx[column], gy[face - 1], gy[face]), beside + along)
        return
    if left:
        gather(total, gx[column - ny], other[(column - ny) // 2])
    if right:
        gather(total, gx[column], other[(column + ny) // 2])
    if front:
        gather(total, gy[face - 1], other[(column - 1) // 2])
    if back:
        gather(total, gy[face], other[(column + 1) // 2])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def add_lateral(along_x, along_y, column, grid):
    """Add a column's lateral conductances: those along x to one total, those along y to another."""
    ny = grid.ny
    i = column // ny
    j = column - i * ny
    face = column - i
    if i > 0:
        along_x += grid.gx[column - ny]
    if i < grid.nx - 1:
        along_x += grid.gx[column]
    if j > 0:
        along_y += grid.gy[face - 1]
    if j < ny - 1:
        along_y += grid.gy[face]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def solve_column(out, right, ratio, inverse):
    """Solve one column's tridiagonal system; ``right`` is overwritten."""
    last = right.size - 1
    value = right[0]
    for k in range(last):
        value = (right[k + 1] + FLOOR) + ratio[k] * value
        right[k + 1] = value
    value = value * inverse[last]
    out[last] = value
    for k in range(last - 1, -1, -1):
        value = (right[k] * inverse[k] + FLOOR) + ratio[k] * value
        out[k] = value


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def solve_four_columns(out, right, ratio, inverse):
    """Solve four columns side by side: the processor works on one while another waits for its last sum."""
    ra, rb, rc, rd = right[0], right[1], right[2], right[3]
    qa, qb, qc, qd = ratio[0], ratio[1], ratio[2], ratio[3]
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
    pa, pb, pc, pd = inverse[0], inverse[1], inverse[2], inverse[3]
    xa, xb, xc, xd = out[0], out[1], out[2], out[3]
    va, vb, vc, vd = va * pa[last], vb * pb[last], vc * pc[last], vd * pd[last]
    xa[last] = va
    xb[last] = vb
    xc[last] = vc
    xd[last] = vd
    for k in range(last - 1, -1, -1):
        va = (ra[k] * pa[k] + FLOOR) + qa[k] * va
        vb = (rb[k] * pb[k] + FLOOR) + qb[k] * vb
        vc = (rc[k] * pc[k] + FLOOR) + qc[k] * vc
        vd = (rd[k] * pd[k] + FLOOR) + qd[k] * vd
        xa[k] = va
        xb[k] = vb
        xc[k] = vc
        xd[k] = vd


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def eliminate_cell(excess, conductance):
    """(share passed on, one over the pivot) of a cell that loses ``excess`` and has a next cell.

    Only sums and products of non-negative numbers: no digit is lost however thin the cells are, and a cell
    with no way out at all gets zeros instead of a division by zero.
    """
    pivot = excess + conductance
    over = 1 / pivot if pivot > 0 else pivot
    return conductance * over, over


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def eliminate_four_columns(excess, gz, ratio, inverse):
    """Eliminate four columns; ``excess`` (what leaves a cell other than along the column) is overwritten."""
    ea, eb, ec, ed = excess[0], excess[1], excess[2], excess[3]
    last = ea.size - 1
    for k in range(last):
        ratio[0, k], inverse[0, k] = eliminate_cell(ea[k], gz[0, k])
        ratio[1, k], inverse[1, k] = eliminate_cell(eb[k], gz[1, k])
        ratio[2, k], inverse[2, k] = eliminate_cell(ec[k], gz[2, k])
        ratio[3, k], inverse[3, k] = eliminate_cell(ed[k], gz[3, k])
        ea[k + 1] += ea[k] * ratio[0, k]
        eb[k + 1] += eb[k] * ratio[1, k]
        ec[k + 1] += ec[k] * ratio[2, k]
        ed[k + 1] += ed[k] * ratio[3, k]
    for n in range(4):
        inverse[n, last] = 1 / excess[n, last] if excess[n, last] > 0 else 0


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def eliminate_columns(start, stop, grid, sink, elimination):
    """Eliminate every column's own matrix (lateral conductances and sink on the diagonal)."""
    nz = sink.shape[1]
    half = elimination.inverse.shape[0] // 2
    excess, inverse = np.zeros((4, nz), sink.dtype), np.empty((4, nz), sink.dtype)
    gz, ratio = np.zeros((4, nz - 1), sink.dtype), np.empty((4, nz - 1), sink.dtype)
    for begin in range(start, stop, 4):
        count = min(4, stop - begin)
        for n in range(count):
            excess[n] = sink[begin + n]
            add_lateral(excess[n], excess[n], begin + n, grid)
            gz[n] = grid.gz[begin + n]
        eliminate_four_columns(excess, gz, ratio, inverse)
        for n in range(count):
            row = stored_row(begin + n, grid.ny, half)
            elimination.ratio[row] = ratio[n]
            elimination.inverse[row] = inverse[n]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def relax(start, stop, colour, from_zero, grid, elimination, right, x):
    """Solve every column of one colour with its neighbours held (taken as zero if ``from_zero``)."""
    half = x.shape[0] // 2
    other = x[half - colour * half : 2 * half - colour * half]
    ratio, inverse = elimination.ratio, elimination.inverse
    work = np.empty((4, x.shape[1]), x.dtype)
    for begin in range(start, stop, 4):
        count = min(4, stop - begin)
        row = colour * half + begin
        for n in range(count):
            work[n] = right[row + n]
            if not from_zero:
                gather_neighbours(work[n], coloured_column(begin + n, colour, grid.ny), grid, other)
        if count == 4:
            solve_four_columns(x[row : row + 4], work, ratio[row : row + 4], inverse[row : row + 4])
        else:
            for n in range(count):
                solve_column(x[row + n], work[n], ratio[row + n], inverse[row + n])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def residual_of_first(start, stop, grid, x, residual):
    """Residual of colour 0, solved first from zero: what colour 1 has sent since (its own is zero)."""
    other = x[x.shape[0] // 2 :]
    for place in range(start, stop):
        residual[place] = 0.0
        gather_neighbours(residual[place], coloured_column(place, 0, grid.ny), grid, other)


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def restrict(start, stop, way, fine, coarse):
    """Coarse right-hand side: each kept column and its shares of the dropped ones beside it."""
    for row in range(start, stop):
        total = coarse[row]
        if way.kept[row] >= 0:
            total[:] = fine[way.kept[row]]
        else:
            total[:] = 0.0
        before, after = way.before[row], way.after[row]
        if before >= 0:
            gather(total, way.high_weight[before], fine[way.dropped[before]])
        if after >= 0:
            gather(total, way.low_weight[after], fine[way.dropped[after]])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def prolong_kept(start, stop, way, coarse, fine):
    """Add the coarse correction to the kept columns."""
    for row in range(start, stop):
        if way.kept[row] >= 0:
            target, source = fine[way.kept[row]], coarse[row]
            for k in range(source.size):
                target[k] += source[k]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def prolong_dropped(start, stop, way, coarse, fine):
    """Add the interpolated coarse correction to the dropped columns."""
    for n in range(start, stop):
        target = fine[way.dropped[n]]
        if way.low[n] >= 0:
            gather(target, way.low_weight[n], coarse[way.low[n]])
        if way.high[n] >= 0:
            gather(target, way.high_weight[n], coarse[way.high[n]])


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def largest(start, stop, values):
    """Largest magnitude of a flat array."""
    most = 0.0
    for n in range(start, stop):
        most = max(most, abs(values[n]))
    return most


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def load(start, stop, ny, factor, values, right):
    """Store a right-hand side, given column by column, times a factor."""
    half = right.shape[0] // 2
    for column in range(start, stop):
        row = right[stored_row(column, ny, half)]
        for k in range(row.size):
            row[k] = factor * values[column, k]


@numba.njit(cache=True, nogil=True, fastmath=FAST)
def unload(start, stop, ny, factor, x, values):
    """A stored solution, times a factor, column by column."""
    half = x.shape[0] // 2
    for column in range(start, stop):
        row = x[stored_row(column, ny, half)]
        for k in range(row.size):
            values[column, k] = factor * row[k]

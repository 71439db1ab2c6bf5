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

import numpy as np

from sim.machine.compiling import njit

FAST = {"contract", "nsz"}

# Added to every partial sum of a solve: values that die away along a column would otherwise end as
# denormal numbers, which are a hundred times slower. Right-hand sides are of order one (``load``).
FLOOR = np.float32(1.0e-30)


@njit(cache=True, nogil=True, fastmath=FAST)
def stored_row(column, ny, half):
    """Row at which a column is stored."""
    i = column // ny
    return ((i + column - i * ny) & 1) * half + column // 2


@njit(cache=True, nogil=True, fastmath=FAST)
def coloured_column(place, colour, ny):
    """The column at a place within its colour: the inverse of ``stored_row``."""
    if ny & 1:
        return 2 * place + colour
    return 2 * place + ((2 * place // ny + colour) & 1)


@njit(cache=True, nogil=True, fastmath=FAST)
def gather(total, row, conductance, face, x, beside):
    """total[row] += g[face] x[beside]."""
    for k in range(total.shape[1]):
        total[row, k] += conductance[face, k] * x[beside, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def gather_neighbours(total, row, column, grid, other):
    """total[row] += Σ g x over the (up to four) columns beside one; ``other`` holds the other colour."""
    ny, gx, gy = grid.ny, grid.gx, grid.gy
    i = column // ny
    j = column - i * ny
    face = column - i
    x0, x1, x2, x3 = (column - ny) // 2, (column + ny) // 2, (column - 1) // 2, (column + 1) // 2
    if 0 < i < grid.nx - 1 and 0 < j < ny - 1:
        for k in range(total.shape[1]):
            along_x = gx[column - ny, k] * other[x0, k] + gx[column, k] * other[x1, k]
            along_y = gy[face - 1, k] * other[x2, k] + gy[face, k] * other[x3, k]
            total[row, k] += along_x + along_y
        return
    if i > 0:
        gather(total, row, gx, column - ny, other, x0)
    if i < grid.nx - 1:
        gather(total, row, gx, column, other, x1)
    if j > 0:
        gather(total, row, gy, face - 1, other, x2)
    if j < ny - 1:
        gather(total, row, gy, face, other, x3)


@njit(cache=True, nogil=True, fastmath=FAST)
def add_lateral(along_x, along_y, row, column, grid):
    """Add a column's lateral conductances to a row: those along x to one total, those along y to another."""
    ny, gx, gy = grid.ny, grid.gx, grid.gy
    i = column // ny
    j = column - i * ny
    face = column - i
    for k in range(along_x.shape[1]):
        if i > 0:
            along_x[row, k] += gx[column - ny, k]
        if i < grid.nx - 1:
            along_x[row, k] += gx[column, k]
        if j > 0:
            along_y[row, k] += gy[face - 1, k]
        if j < ny - 1:
            along_y[row, k] += gy[face, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def solve_column(x, right, ratio, inverse, row, n):
    """Solve the tridiagonal system of one row; row n of ``right`` is its right-hand side and is overwritten."""
    last = x.shape[1] - 1
    value = right[n, 0]
    for k in range(last):
        value = (right[n, k + 1] + FLOOR) + ratio[row, k] * value
        right[n, k + 1] = value
    value = value * inverse[row, last]
    x[row, last] = value
    for k in range(last - 1, -1, -1):
        value = (right[n, k] * inverse[row, k] + FLOOR) + ratio[row, k] * value
        x[row, k] = value


@njit(cache=True, nogil=True, fastmath=FAST)
def solve_four_columns(x, right, ratio, inverse, row):
    """Solve four rows from ``row`` on; the four rows of ``right`` are overwritten.

    Side by side, because the processor can work on one column while another waits for its last sum.
    """
    a, b, c, d = row, row + 1, row + 2, row + 3
    last = x.shape[1] - 1
    va, vb, vc, vd = right[0, 0], right[1, 0], right[2, 0], right[3, 0]
    for k in range(last):
        va = (right[0, k + 1] + FLOOR) + ratio[a, k] * va
        vb = (right[1, k + 1] + FLOOR) + ratio[b, k] * vb
        vc = (right[2, k + 1] + FLOOR) + ratio[c, k] * vc
        vd = (right[3, k + 1] + FLOOR) + ratio[d, k] * vd
        right[0, k + 1] = va
        right[1, k + 1] = vb
        right[2, k + 1] = vc
        right[3, k + 1] = vd
    va *= inverse[a, last]
    vb *= inverse[b, last]
    vc *= inverse[c, last]
    vd *= inverse[d, last]
    x[a, last] = va
    x[b, last] = vb
    x[c, last] = vc
    x[d, last] = vd
    for k in range(last - 1, -1, -1):
        va = (right[0, k] * inverse[a, k] + FLOOR) + ratio[a, k] * va
        vb = (right[1, k] * inverse[b, k] + FLOOR) + ratio[b, k] * vb
        vc = (right[2, k] * inverse[c, k] + FLOOR) + ratio[c, k] * vc
        vd = (right[3, k] * inverse[d, k] + FLOOR) + ratio[d, k] * vd
        x[a, k] = va
        x[b, k] = vb
        x[c, k] = vc
        x[d, k] = vd


@njit(cache=True, nogil=True, fastmath=FAST)
def eliminate_cell(excess, conductance):
    """(share passed on, one over the pivot) of a cell that loses ``excess`` and has a next cell.

    Only sums and products of non-negative numbers: no digit is lost however thin the cells are, and a cell
    with no way out at all gets zeros instead of a division by zero.
    """
    pivot = excess + conductance
    over = 1 / pivot if pivot > 0 else pivot
    return conductance * over, over


@njit(cache=True, nogil=True, fastmath=FAST)
def eliminate_four_columns(excess, gz, ratio, inverse):
    """Eliminate four columns; ``excess`` (what leaves a cell other than along the column) is overwritten."""
    last = excess.shape[1] - 1
    for k in range(last):
        for n in range(4):
            ratio[n, k], inverse[n, k] = eliminate_cell(excess[n, k], gz[n, k])
            excess[n, k + 1] += excess[n, k] * ratio[n, k]
    for n in range(4):
        inverse[n, last] = 1 / excess[n, last] if excess[n, last] > 0 else 0


@njit(cache=True, nogil=True, fastmath=FAST)
def copy_row(target, row, source, other):
    """target[row] = source[other], without making views."""
    for k in range(target.shape[1]):
        target[row, k] = source[other, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def eliminate_columns(start, stop, grid, sink, elimination):
    """Eliminate every column's own matrix (lateral conductances and sink on the diagonal)."""
    nz = sink.shape[1]
    half = elimination.inverse.shape[0] // 2
    excess, inverse = np.zeros((4, nz), sink.dtype), np.empty((4, nz), sink.dtype)
    gz, ratio = np.zeros((4, nz - 1), sink.dtype), np.empty((4, nz - 1), sink.dtype)
    for begin in range(start, stop, 4):
        count = min(4, stop - begin)
        for n in range(count):
            copy_row(excess, n, sink, begin + n)
            add_lateral(excess, excess, n, begin + n, grid)
            copy_row(gz, n, grid.gz, begin + n)
        eliminate_four_columns(excess, gz, ratio, inverse)
        for n in range(count):
            row = stored_row(begin + n, grid.ny, half)
            copy_row(elimination.ratio, row, ratio, n)
            copy_row(elimination.inverse, row, inverse, n)


@njit(cache=True, nogil=True, fastmath=FAST)
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
            copy_row(work, n, right, row + n)
            if not from_zero:
                gather_neighbours(work, n, coloured_column(begin + n, colour, grid.ny), grid, other)
        if count == 4:
            solve_four_columns(x, work, ratio, inverse, row)
        else:
            for n in range(count):
                solve_column(x, work, ratio, inverse, row + n, n)


@njit(cache=True, nogil=True, fastmath=FAST)
def residual_of_first(start, stop, grid, x, residual):
    """Residual of colour 0, solved first from zero: what colour 1 has sent since (its own is zero)."""
    other = x[x.shape[0] // 2 :]
    for place in range(start, stop):
        for k in range(residual.shape[1]):
            residual[place, k] = 0
        gather_neighbours(residual, place, coloured_column(place, 0, grid.ny), grid, other)


@njit(cache=True, nogil=True, fastmath=FAST)
def restrict(start, stop, way, fine, coarse):
    """Coarse right-hand side: each kept column and its shares of the dropped ones beside it."""
    for row in range(start, stop):
        kept, before, after = way.kept[row], way.before[row], way.after[row]
        for k in range(coarse.shape[1]):
            coarse[row, k] = fine[kept, k] if kept >= 0 else 0
        if before >= 0:
            gather(coarse, row, way.high_weight, before, fine, way.dropped[before])
        if after >= 0:
            gather(coarse, row, way.low_weight, after, fine, way.dropped[after])


@njit(cache=True, nogil=True, fastmath=FAST)
def prolong_kept(start, stop, way, coarse, fine):
    """Add the coarse correction to the kept columns."""
    for row in range(start, stop):
        target = way.kept[row]
        if target >= 0:
            for k in range(fine.shape[1]):
                fine[target, k] += coarse[row, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def prolong_dropped(start, stop, way, coarse, fine):
    """Add the interpolated coarse correction to the dropped columns."""
    for n in range(start, stop):
        if way.low[n] >= 0:
            gather(fine, way.dropped[n], way.low_weight, n, coarse, way.low[n])
        if way.high[n] >= 0:
            gather(fine, way.dropped[n], way.high_weight, n, coarse, way.high[n])


@njit(cache=True, nogil=True, fastmath=FAST)
def largest(start, stop, values):
    """Largest magnitude of a flat array."""
    piece = values[start:stop]
    most = 0.0
    for n in range(piece.size):
        most = max(most, abs(piece[n]))
    return most


@njit(cache=True, nogil=True, fastmath=FAST)
def load(start, stop, ny, factor, values, right):
    """Store a right-hand side, given column by column, times a factor."""
    half = right.shape[0] // 2
    for column in range(start, stop):
        row = stored_row(column, ny, half)
        for k in range(right.shape[1]):
            right[row, k] = factor * values[column, k]


@njit(cache=True, nogil=True, fastmath=FAST)
def unload(start, stop, ny, factor, x, values):
    """A stored solution, times a factor, column by column."""
    half = x.shape[0] // 2
    for column in range(start, stop):
        row = stored_row(column, ny, half)
        for k in range(x.shape[1]):
            values[column, k] = factor * x[row, k]

"""The seven-point conduction operator of a rectilinear grid, as conductances."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.machine.compiling import njit
from sim.solver.threads import share_loop

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

Array = NDArray[np.float64]


@njit(cache=True, nogil=True, fastmath={"contract", "nsz"})
def _apply(start, stop, faces, sink, temperature, flow):
    """Heat flow out of every cell of the columns start ≤ i·ny + j < stop, in flux form.

    Arrays are (columns or lateral faces, nz): ``i·ny + j`` beyond (i, j) along x, ``i·(ny−1) + j`` along y.
    """
    gx, gy, gz, nx, ny = faces
    last = sink.shape[1] - 1
    for column in range(start, stop):
        i = column // ny
        j = column - i * ny
        face = column - i
        if 0 < i < nx - 1 and 0 < j < ny - 1:
            for k in range(last + 1):
                here = temperature[column, k]
                along_x = gx[column - ny, k] * (here - temperature[column - ny, k])
                along_x += gx[column, k] * (here - temperature[column + ny, k])
                along_y = gy[face - 1, k] * (here - temperature[column - 1, k])
                along_y += gy[face, k] * (here - temperature[column + 1, k])
                flow[column, k] = sink[column, k] * here + along_x + along_y
        else:
            for k in range(last + 1):
                flow[column, k] = sink[column, k] * temperature[column, k]
            if i > 0:
                _leave(flow, gx, temperature, column, column - ny, column - ny)
            if i < nx - 1:
                _leave(flow, gx, temperature, column, column, column + ny)
            if j > 0:
                _leave(flow, gy, temperature, column, face - 1, column - 1)
            if j < ny - 1:
                _leave(flow, gy, temperature, column, face, column + 1)
        for k in range(last):
            flow[column, k] += gz[column, k] * (temperature[column, k] - temperature[column, k + 1])
        for k in range(last):
            flow[column, k + 1] += gz[column, k] * (temperature[column, k + 1] - temperature[column, k])


@njit(cache=True, nogil=True, fastmath={"contract", "nsz"})
def _leave(flow, conductance, temperature, column, face, beside):
    """Add the flow that leaves a column through one side towards its neighbour."""
    for k in range(flow.shape[1]):
        flow[column, k] += conductance[face, k] * (temperature[column, k] - temperature[beside, k])


def _frozen(array: Any) -> Array:
    """A contiguous float64 view that cannot be written through."""
    view = np.ascontiguousarray(array, dtype=np.float64).view()
    view.flags.writeable = False
    return view


@dataclass(frozen=True, slots=True, eq=False)
class StencilOperator:
    """Conduction between neighbouring cells plus a sink in each: (A T)_c = Σ g (T_c − T_nb) + s_c T_c.

    Attributes
    ----------
    gx : (nx-1, ny, nz) conductance of the inner x faces [W/K], ≥ 0.
    gy : (nx, ny-1, nz) conductance of the inner y faces [W/K], ≥ 0.
    gz : (nx, ny, nz-1) conductance of the inner z faces [W/K], ≥ 0.
    sink : (nx, ny, nz) conductance from the cell to a fixed temperature [W/K], ≥ 0. A cell that takes no
        part has only zero conductances and a sink of 1.

    Raises
    ------
    ValueError
        Shapes that do not fit, negative or non-finite values.
    """

    gx: Array
    gy: Array
    gz: Array
    sink: Array

    def __post_init__(self) -> None:
        for name in ("gx", "gy", "gz", "sink"):
            object.__setattr__(self, name, _frozen(getattr(self, name)))
        nx, ny, nz = self.sink.shape
        _check_values("gx", self.gx, (nx - 1, ny, nz))
        _check_values("gy", self.gy, (nx, ny - 1, nz))
        _check_values("gz", self.gz, (nx, ny, nz - 1))
        _check_values("sink", self.sink, (nx, ny, nz))

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells along x, y, z."""
        nx, ny, nz = self.sink.shape
        return nx, ny, nz

    def with_sink(self, sink: Array) -> StencilOperator:
        """The same conductances with another sink [W/K] (nx, ny, nz)."""
        new = copy(self)
        object.__setattr__(new, "sink", _frozen(sink))
        _check_values("sink", new.sink, self.shape)
        return new

    def apply(self, temperature: Array) -> Array:
        """Heat flow [W] (nx, ny, nz) leaving each cell at the given temperature [K] (nx, ny, nz)."""
        nx, ny, nz = self.shape
        t = np.ascontiguousarray(temperature, dtype=np.float64).reshape(nx * ny, nz)
        faces = (self.gx.reshape(-1, nz), self.gy.reshape(-1, nz), self.gz.reshape(nx * ny, nz - 1), nx, ny)
        flow = np.empty_like(t)
        share_loop(_apply, nx * ny, t.size, faces, self.sink.reshape(nx * ny, nz), t, flow)
        return flow.reshape(self.shape)

    def diagonal(self) -> Array:
        """Diagonal of the matrix [W/K] (nx, ny, nz)."""
        total = self.sink.copy()
        for axis, g in enumerate((self.gx, self.gy, self.gz)):
            for inner in (slice(0, -1), slice(1, None)):
                total[(slice(None),) * axis + (inner,)] += g
        return total

    def to_sparse(self) -> csr_matrix:
        """The matrix [W/K] as scipy CSR, cells in C order: for direct solves and comparisons."""
        from scipy import sparse

        cells = np.arange(self.sink.size).reshape(self.shape)
        rows, columns, values = [cells.ravel()], [cells.ravel()], [self.diagonal().ravel()]
        for axis, g in enumerate((self.gx, self.gy, self.gz)):
            low = np.take(cells, range(self.shape[axis] - 1), axis).ravel()
            high = np.take(cells, range(1, self.shape[axis]), axis).ravel()
            rows += [low, high]
            columns += [high, low]
            values += [-g.ravel(), -g.ravel()]
        joined = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
        matrix = sparse.csr_matrix(joined, shape=(cells.size, cells.size))
        matrix.eliminate_zeros()
        return matrix

    def __str__(self) -> str:
        nx, ny, nz = self.shape
        largest = max((float(g.max()) for g in (self.gx, self.gy, self.gz) if g.size), default=0.0)
        return (
            f"StencilOperator: {nx} × {ny} × {nz} cells\n"
            f"├─ largest conductance: {largest:.4g} W/K\n"
            f"└─ sink, all cells: {float(self.sink.sum()):.4g} W/K"
        )


def _check_values(name: str, values: Array, shape: tuple[int, int, int]) -> None:
    """Raise unless the shape is as it must be and every value finite and not negative."""
    if values.shape != shape:
        raise ValueError(f"{name} has shape {values.shape}; expected {shape}")
    if values.size and not (values.min() >= 0.0 and np.isfinite(values.max())):
        span = f"{values.min()} to {values.max()}"
        raise ValueError(f"{name} must be finite and not negative; it ranges {span}")

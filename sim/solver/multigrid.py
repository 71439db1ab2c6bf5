"""Multigrid for the seven-point conduction stencil, as a preconditioner for conjugate gradients.

Columns of cells along z are solved exactly, in two colours like a chess board seen from above; levels are
coarsened in x and y only, plane by plane, where the heat of a plane leaves it for the planes beside it
(``coarsen``). Thin layers are lines' work, thin cells in x or y and sheets standing or lying are the
coarsening's. The cycle is symmetric: after the coarse correction the colours are solved in reverse. (A grid
with hardly a cell in z is turned first, so that there are lines to solve.)

The hierarchy is kept in single precision: it only steers the iteration, whose residual is double.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from sim.solver import column_kernels as kernels
from sim.solver.coarsen import choose_drops, coarsen
from sim.solver.columns import Array, ColumnGrid, Elimination, Transfer
from sim.solver.stencil import StencilOperator
from sim.solver.threads import share_loop

__all__ = ["KeptHierarchy", "Multigrid", "MultigridOptions", "StencilOperator", "build_multigrid"]

_ALONE = 1.0 - 1.0e-6
_SHORTEST_LINE = 4


@dataclass(frozen=True, slots=True)
class MultigridOptions:
    """Choices of the hierarchy; the defaults serve every shipped case.

    Attributes
    ----------
    threshold : a plane may be dropped when at least this share of every cell's sideways heat leaves the
        plane [-].
    reduction : the threshold is lowered until a level has at most this share of the columns above it [-].
    precision : ``"single"`` or ``"double"``, of the hierarchy.
    """

    threshold: float = 0.25
    reduction: float = 0.75
    precision: str = "single"

    def __post_init__(self) -> None:
        if self.precision not in ("single", "double"):
            raise ValueError(f'precision must be "single" or "double"; got {self.precision!r}')
        if not 0.5 <= self.reduction < 1.0:
            raise ValueError(f"reduction must be at least 0.5 and below 1; got {self.reduction}")

    @property
    def dtype(self) -> DTypeLike:
        """Number type of the hierarchy."""
        return np.float32 if self.precision == "single" else np.float64


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """One level: coefficients, eliminated columns, the way down, and working vectors.

    Attributes
    ----------
    grid : the level's conductances.
    elimination : every column's own matrix, eliminated.
    coarsenings : coarsenings that lead to the next level, first one first; empty on the last.
    transfers : the same between the levels' stored arrays.
    x, right : (rows, nz) solution and right-hand side, stored by colour.
    residual : (rows / 2, nz) residual of the colour solved first.
    between : working vectors between two transfers.
    """

    grid: ColumnGrid
    elimination: Elimination
    coarsenings: tuple[Transfer, ...]
    transfers: tuple[Transfer, ...]
    x: Array
    right: Array
    residual: Array
    between: tuple[Array, ...]

    def relax(self, colour: int, from_zero: bool = False) -> None:
        """Solve the columns of one colour."""
        count = (self.grid.columns + 1 - colour) // 2
        arguments = (colour, from_zero, self.grid, self.elimination, self.right, self.x)
        share_loop(kernels.relax, count, self.grid.cells, *arguments)

    def restrict_residual(self, coarse: Level) -> None:
        """Residual after both colours were solved from zero, gathered into the coarse right-hand side."""
        cells = self.grid.cells
        share_loop(kernels.residual_of_first, self.grid.half, cells, self.grid, self.x, self.residual)
        vectors = (self.residual, *self.between, coarse.right)
        for transfer, fine, result in zip(self.transfers, vectors[:-1], vectors[1:], strict=True):
            transfer.restrict(fine, result)

    def add_correction(self, coarse: Level) -> None:
        """Add the coarse level's solution to the colour that is not solved next."""
        vectors = (self.x, *self.between, coarse.x)
        for vector in self.between:
            vector.fill(0.0)
        steps = list(zip(self.transfers, vectors[:-1], vectors[1:], strict=True))
        for transfer, fine, correction in reversed(steps):
            transfer.prolong(correction, fine)

    def with_sink(self, sink: Array) -> Level:
        """The same level with its columns eliminated anew; the working vectors are shared."""
        return replace(self, elimination=self.grid.eliminate(sink))

    def coarse_sink(self, sink: Array) -> Array:
        """What the next level inherits of this one's sinks [W/K] (columns, nz)."""
        sink = _inherited(sink, self.grid, self.elimination)
        for coarsening in self.coarsenings:
            sink = coarsening.gather(sink)
        return sink


def _inherited(sink: Array, grid: ColumnGrid, elimination: Elimination) -> Array:
    """The sinks that coarse levels see.

    A cell that loses everything to its own sink is solved exactly where it is; its place on coarser levels
    is free to carry what a dropped neighbour leaves there.
    """
    return np.where(elimination.inverse[grid.rows] * sink < _ALONE, sink, 0)


@dataclass(frozen=True, slots=True, eq=False)
class Multigrid:
    """A hierarchy of levels, finest first, over (nx, ny, nz) cells; lines run along the last of ``axes``.

    One value serves one thread at a time: its working vectors are shared by all its cycles, and by the
    values made from it by ``with_sink``.
    """

    levels: tuple[Level, ...]
    shape: tuple[int, int, int]
    axes: tuple[int, int, int] = (0, 1, 2)

    def _columns(self, values: NDArray[Any]) -> NDArray[Any]:
        """Values over the cells as rows of columns; a view unless the grid was turned."""
        return _turned(values, self.axes).reshape(self.levels[0].grid.columns, -1)

    def cycle(self, residual: Array) -> NDArray[np.float64]:
        """One V-cycle: an approximate solution of A z = r, symmetric and positive in r.

        Parameters
        ----------
        residual : (nx, ny, nz) right-hand side r [W].

        Returns
        -------
        (nx, ny, nz) correction z [K].
        """
        top = self.levels[0]
        flat = self._columns(np.asarray(residual, dtype=np.float64))
        scale = max(share_loop(kernels.largest, flat.size, flat.size, flat.reshape(-1)))
        if scale == 0.0:
            return np.zeros(self.shape)
        arguments = (top.grid.columns, flat.size, top.grid.ny)
        share_loop(kernels.load, *arguments, 1.0 / scale, flat, top.right)
        for level, coarse in zip(self.levels[:-1], self.levels[1:], strict=True):
            level.relax(0, from_zero=True)
            level.relax(1)
            level.restrict_residual(coarse)
        self.levels[-1].relax(0, from_zero=True)
        for level, coarse in reversed(list(zip(self.levels[:-1], self.levels[1:], strict=True))):
            level.add_correction(coarse)
            level.relax(1)
            level.relax(0)
        correction = np.empty_like(flat)
        share_loop(kernels.unload, *arguments, scale, top.x, correction)
        turned = correction.reshape([self.shape[axis] for axis in self.axes])
        return _turned(turned, tuple(np.argsort(self.axes)))

    def with_sink(self, sink: Array) -> Multigrid:
        """The hierarchy for other sinks [W/K] (nx, ny, nz): same planes and weights, new elimination."""
        here = self._columns(sink).astype(self.levels[0].x.dtype)
        levels = []
        for level in self.levels:
            levels.append(level.with_sink(here))
            here = levels[-1].coarse_sink(here)
        return replace(self, levels=tuple(levels))

    @property
    def complexity(self) -> float:
        """Cells of all levels over cells of the finest [-]."""
        return sum(level.grid.cells for level in self.levels) / self.levels[0].grid.cells

    @property
    def memory(self) -> int:
        """Bytes held by the hierarchy."""
        return sum(array.nbytes for level in self.levels for array in _arrays(level))

    def __str__(self) -> str:
        sizes = " ".join(f"{level.grid.nx}×{level.grid.ny}" for level in self.levels)
        doubles = self.memory / 8 / self.levels[0].grid.cells
        return (
            f"Multigrid: {self.shape[0]} × {self.shape[1]} × {self.shape[2]} cells\n"
            f"├─ levels, columns: {sizes}\n"
            f"├─ cells of all levels: {self.complexity:.2f} of the finest\n"
            f"└─ memory: {doubles:.1f} doubles a cell"
        )


@dataclass(slots=True)
class KeptHierarchy:
    """The last hierarchy of systems that conduct alike, which the next solve begins with; for one thread at a time."""

    multigrid: Multigrid | None = None


def _arrays(level: Level) -> list[NDArray]:
    """Every array that a level holds, once."""
    indices = [array for transfer in level.transfers for array in transfer[:-2]]  # the weights are views
    ways = [array for coarsening in level.coarsenings for array in coarsening]
    vectors = [level.x, level.right, level.residual, *level.between]
    return [*level.grid[2:], *level.elimination, *vectors, *ways, *indices]


def _turned(values: NDArray[Any], axes: tuple[int, ...]) -> NDArray[Any]:
    """The array with its axes in another order, contiguous."""
    return np.ascontiguousarray(np.transpose(values, axes))


def _line_axes(shape: tuple[int, int, int]) -> tuple[int, int, int]:
    """Order of the axes that puts the lines last: z, or the longest axis where z has hardly a cell."""
    line = 2 if shape[2] >= _SHORTEST_LINE else int(np.argmax(shape))
    others = [axis for axis in range(3) if axis != line]
    return others[0], others[1], line


def _finest(operator: StencilOperator, axes: tuple[int, int, int], dtype: DTypeLike) -> tuple[ColumnGrid, Array]:
    """The operator as rows of columns, and its sinks."""
    nx, ny, nz = (operator.shape[axis] for axis in axes)
    faces = (operator.gx, operator.gy, operator.gz)
    gx, gy, gz = (_turned(faces[axis], axes).astype(dtype) for axis in axes)
    grid = ColumnGrid(nx, ny, gx.reshape(-1, nz), gy.reshape(-1, nz), gz.reshape(nx * ny, nz - 1))
    return grid, _turned(operator.sink, axes).astype(dtype).reshape(nx * ny, nz)


def _build_level(grid: ColumnGrid, sink: Array, options: MultigridOptions) -> tuple[Level, ColumnGrid, Array]:
    """One level, and the conductances and sinks of the next."""
    elimination = grid.eliminate(sink)
    sink = _inherited(sink, grid, elimination)
    grids, coarsenings, between = [grid], [], []
    for axis, drop in enumerate(choose_drops(grid, elimination, options.threshold, options.reduction)):
        if drop.any():
            coarse, coarsening = coarsen(grids[-1], sink, axis, drop)
            sink = coarsening.gather(sink)
            grids.append(coarse)
            coarsenings.append(coarsening)
            between.append(np.zeros_like(sink))
    ends = [grid, *[None] * (len(grids) - 2), grids[-1]]
    transfers = [c.stored(a, b) for c, a, b in zip(coarsenings, ends[:-1], ends[1:], strict=False)]
    x, right = np.zeros_like(elimination.inverse), np.zeros_like(elimination.inverse)
    vectors = (x, right, np.zeros_like(x[: grid.half]), tuple(between[:-1]))
    return Level(grid, elimination, tuple(coarsenings), tuple(transfers), *vectors), grids[-1], sink


def build_multigrid(operator: StencilOperator, options: MultigridOptions | None = None) -> Multigrid:
    """Set up the hierarchy for an operator.

    Parameters
    ----------
    operator : the seven-point stencil; any size, one cell thick included.
    options : see ``MultigridOptions``.

    Returns
    -------
    Multigrid
        Its ``cycle`` is a symmetric positive preconditioner for ``solve_linear``.
    """
    options = options or MultigridOptions()
    axes = _line_axes(operator.shape)
    grid, sink = _finest(operator, axes, options.dtype)
    levels: list[Level] = []
    while not levels or levels[-1].transfers:
        level, grid, sink = _build_level(grid, sink, options)
        levels.append(level)
    return Multigrid(tuple(levels), operator.shape, axes)

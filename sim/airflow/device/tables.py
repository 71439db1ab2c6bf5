"""Domains side by side: `layout.BatchArrays` gathered from the very lists and tables of the processor's loops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.airflow.cuts import Influence, build_influence
from sim.airflow.device.layout import NOWHERE, VALUE, BatchShape, Lists
from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow
from sim.airflow.grid_tables import axis_tables
from sim.airflow.modes import axis_modes
from sim.airflow.row_lists import RowLists, temperature_lists, velocity_lists
from sim.airflow.walls import WallFaces, find_walls

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

MOST_CODES = 255
"""Different open shares of faces in a batch."""


@dataclass(frozen=True, slots=True, eq=False)
class FlowProblem:
    """One bay of a batch: what `step.build_stepper` takes, and the influence of its closed faces.

    Attributes
    ----------
    domain, air, walls : the problem
    wall_temperature : (n,) [K]
        NaN where adiabatic.
    flow : Flow
        Where it starts; its divergence is taken out first.
    scheme : "central" or "bounded"
    subgrid : float [-]
        Constant of the eddy viscosity; 0 leaves the model out.
    influence : Influence
    """

    domain: Domain
    air: AirProperties
    walls: WallFaces
    wall_temperature: Array
    flow: Flow
    scheme: str
    subgrid: float
    influence: Influence


def flow_problem(
    domain: Domain,
    air: AirProperties,
    wall_temperature: Array,
    flow: Flow,
    scheme: str = "central",
    subgrid: float = 0.0,
) -> FlowProblem:
    """A bay of a batch, with all that takes time to find.

    Parameters
    ----------
    wall_temperature : of every wall face of the domain (n,) [K].
    scheme : of the advection of heat, "central" or "bounded".
    subgrid : Vreman's constant, dimensionless; 0 for none.

    Raises
    ------
    ValueError : no such scheme.
    """
    if scheme not in ("central", "bounded"):
        raise ValueError(f"scheme is {scheme!r}; must be 'central' or 'bounded'")
    return FlowProblem(
        domain, air, find_walls(domain), wall_temperature, flow, scheme, subgrid, build_influence(domain)
    )


def common_grid(problems: Sequence[FlowProblem], chunks: int = 1) -> BatchShape:
    """The shape that holds all bays."""
    shapes = np.array([p.domain.shape for p in problems])
    px, py, pz = (planes_for(int(n)) for n in shapes.max(axis=0))
    faces = max(p.influence.matrix.shape[0] for p in problems)
    bays, longest = len(problems), max(px, py, pz) + 1
    total, span = bays * px * py * pz, 3 * bays * longest
    return BatchShape(bays, px, py, pz, py * pz, 1.0 / pz, longest, span, total, faces, chunks)


def planes_for(cells: int) -> int:
    """Planes along an axis: one more than cells, and an even number, as products of matrices are quicker then."""
    return 2 * (cells // 2 + 1)


def spread(grid: BatchShape, fields: Sequence[Array], fill: float = 0) -> np.ndarray:
    """One field of every bay, each (nx, ny, nz) of its own, in the common shape (total,), `fill` beyond a bay's own."""
    result = np.full((grid.bays, grid.px, grid.py, grid.pz), fill, np.asarray(fields[0]).dtype)
    for own, field in zip(result, fields, strict=True):
        own[: field.shape[0], : field.shape[1], : field.shape[2]] = field
    return result.reshape(-1)


def places(grid: BatchShape, bay: int, cells: ArrayLike) -> Integers:
    """Where some values (n, 3) of a bay lie in their field."""
    i, j, k = np.asarray(cells).T
    return np.asarray(((bay * grid.px + i) * grid.py + j) * grid.pz + k, np.intp)


def build_columns(grid: BatchShape, problems: Sequence[FlowProblem]) -> Array:
    """Lines of every axis of every bay [m], and the modes' eigenvalues [1/m²]: (columns · bays · 3 · lines,), flat."""
    columns = np.zeros((VALUE + 1, grid.bays, 3, grid.lines))
    for bay, problem in enumerate(problems):
        axes = zip(axis_tables(problem.domain), problem.domain.centres, strict=True)
        for axis, (table, centre) in enumerate(axes):
            value, _ = axis_modes(table.width, table.inverse_gap)
            friction = _side_friction(table.width, problem.domain.slip[2 * axis : 2 * axis + 2])
            for column, line in zip(columns, (*table, centre, friction, value), strict=True):
                column[bay, axis, : line.size] = line
    return columns.reshape(-1)


def _side_friction(width: Array, slips: Sequence[bool]) -> Array:
    """Friction (n,) [1/m²] of what moves along the domain's sides of an axis, walls half a cell away."""
    result = np.zeros(width.size)
    for end, slip in zip((0, -1), slips, strict=True):
        result[end] += 0.0 if slip else 2.0 / width[end] ** 2
    return result


def build_modes(grid: BatchShape, problems: Sequence[FlowProblem]) -> list[Array]:
    """Eigenvectors (bays, n, n) of the three axes, zero beyond a bay's own."""
    sizes = (grid.px, grid.py, grid.pz)
    modes = [np.zeros((grid.bays, n, n)) for n in sizes]
    for bay, problem in enumerate(problems):
        for axis, table in enumerate(axis_tables(problem.domain)):
            _, vectors = axis_modes(table.width, table.inverse_gap)
            modes[axis][bay, : len(vectors), : len(vectors)] = vectors
    return modes


def build_codes(grid: BatchShape, problems: Sequence[FlowProblem]) -> tuple[NDArray[np.uint8], Array]:
    """Open shares of all faces (3 · total,) as codes, and the share (codes,) that each code stands for."""
    fields = [spread(grid, [p.domain.openness[axis] for p in problems]) for axis in range(3)]
    shares = np.unique(np.concatenate([[0.0], *fields]))
    if shares.size > MOST_CODES:
        raise ValueError(f"{shares.size} different open shares of sheets in one batch; at most {MOST_CODES}")
    return np.searchsorted(shares, np.concatenate(fields)).astype(np.uint8), shares


@dataclass(frozen=True, slots=True, eq=False)
class _Entries:
    """Entries of one list of all fields: where they act (in four fields of all bays), and their columns."""

    at: Integers
    columns: tuple[Any, ...]

    def by_slot(self, slots: Integers) -> tuple[Any, ...]:
        """Start of every slot's entries, and the columns in that order."""
        order = np.argsort(self.at, kind="stable")
        start = np.searchsorted(self.at[order], np.append(slots, np.iinfo(np.intp).max))
        return start.astype(np.int32), *(column[order] for column in self.columns)


def _gathered(parts: list[tuple[Any, ...]], columns: int) -> _Entries:
    """All parts (places, *columns) in one."""
    empty = (np.zeros(0, np.intp), *[np.zeros(0)] * columns)
    at, *values = (np.concatenate(column) for column in zip(empty, *parts, strict=True))
    return _Entries(at.astype(np.intp), tuple(values))


def _rows_of(start: Any) -> Integers:
    """Row of every entry of a row list."""
    return np.repeat(np.arange(start.size - 1), np.diff(start))


def _flat(start: Any, place: Any, length: int) -> Integers:
    """Flat place, in its own field, of every entry of a row list."""
    return np.asarray(_rows_of(start) * length + place, np.intp)


def build_lists(grid: BatchShape, problems: Sequence[FlowProblem]) -> tuple[Lists, Integers]:
    """Row lists of all fields of all bays by slot, and the places of all values that are fixed.

    The temperature's wall entries come last, bay by bay, a bay's sorted by cell as in `with_wall_temperature`.
    """
    links, walls, losses, fixed = [], [], [], []
    for bay, problem in enumerate(problems):
        for field in range(4):
            lists, shape = _lists_of(problem, field)
            offset = field * grid.total

            def spot(flat: Any, shape: Any = shape, bay: int = bay) -> Integers:
                return places(grid, bay, np.column_stack(np.unravel_index(np.asarray(flat, np.intp), shape)))

            link = spot(_flat(lists.link_start, lists.link_place, shape[2]))
            links.append((link + offset, spot(lists.link_other) + offset, lists.link_factor))
            wall = spot(_flat(lists.wall_start, lists.wall_place, shape[2]))
            walls.append((wall + offset, lists.wall_factor, lists.wall_value))
            loss = spot(_flat(lists.loss_start, lists.loss_place, shape[2]))
            losses.append((loss + offset, lists.loss_factor))
            fixed.append(spot(_flat(lists.fixed_start, lists.fixed_place, shape[2])) + offset)
    every = (_gathered(links, 2), _gathered(walls, 2), _gathered(losses, 1))
    slots = np.unique(np.concatenate([entries.at for entries in every]))
    stays = np.concatenate(fixed)
    listed, owner = np.where(np.isin(slots, stays), NOWHERE, slots), slots % grid.total // (grid.total // grid.bays)
    (link_start, link_other, link_factor), wall_columns, loss_columns = (e.by_slot(slots) for e in every)
    entries = (link_start, link_other.astype(np.int64), link_factor, *wall_columns, *loss_columns)
    return Lists(listed.astype(np.int64), owner.astype(np.int32), *entries), stays


def _lists_of(problem: FlowProblem, field: int) -> tuple[RowLists, tuple[int, ...]]:
    """Row lists of a field (0, 1, 2 velocities, 3 temperature), and its shape.

    Without friction at the domain's own sides, which is in the tables: almost all entries, were they listed.
    """
    domain = problem.domain
    if field < 3:
        return velocity_lists(replace(domain, slip=(True,) * 6), field), domain.openness[field].shape
    warm = temperature_lists(domain, problem.walls, problem.wall_temperature)
    return warm, domain.shape

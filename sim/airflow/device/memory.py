"""All arrays of a batch on its device, filled from the problems."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device.closed import FaceBox
from sim.airflow.device.layout import (
    BUOYANCY,
    CEILING,
    CELLS,
    CENTRAL,
    CROSSING,
    DIFFUSIVITY,
    DURATION,
    EACH,
    EDDIES,
    EDDY,
    FIRST,
    LEFT,
    PARITY,
    RATES,
    SECOND,
    SHARES,
    SOURCE,
    TAKEN,
    VALUES,
    VISCOSITY,
    BatchArrays,
    BatchShape,
    ClosedFaces,
)
from sim.airflow.device.marks import build_marks
from sim.airflow.device.seam import Backend
from sim.airflow.device.tables import (
    FlowProblem,
    build_codes,
    build_columns,
    build_lists,
    spread,
)

Array = NDArray[np.float64]

FACE_THREADS = 600_000
"""Threads that the products of the influence matrices are cut into, so that a small batch fills the device too."""
MOST_CHUNKS = 64
BYTES_A_VALUE = 8 * (EDDY + 2 * 4) + 4 + 3
"""What kernels work on, two sums of four fields, marks and codes; making an inverse takes four more of its size."""
BYTES_OF_EDDIES = 8 * (VALUES - EDDY)


def chunks_for(bays: int, most_faces: int) -> int:
    """Pieces in which each product with an inverse influence matrix is summed."""
    return int(np.clip(FACE_THREADS // max(bays * most_faces, 1), 1, MOST_CHUNKS))


def with_eddies(problems: Sequence[FlowProblem]) -> bool:
    """Whether any bay has the model of eddies."""
    return any(p.subgrid > 0.0 for p in problems)


def check_memory(backend: Backend, grid: BatchShape, problems: Sequence[FlowProblem]) -> None:
    """ValueError when a batch would not fit the device, with the numbers."""
    faces = np.array([p.influence.matrix.shape[0] for p in problems], float)
    largest = float(faces.max(initial=0.0)) ** 2
    each = BYTES_A_VALUE + (BYTES_OF_EDDIES if with_eddies(problems) else 0)
    needed = each * grid.total + 8.0 * float(np.sum(faces**2)) + 4.0 * 8.0 * largest
    free = backend.free_memory()
    if needed > free:
        raise ValueError(
            f"{grid.bays} bays with {grid.total / 1e6:.1f} million cells, up to {int(faces.max(initial=0)):,} closed "
            f"faces need {needed / 1e9:.1f} GB on the device, which has {free / 1e9:.1f} GB left; use fewer bays or "
            'larger cells (air.cell, air.wall_cell), or air.device = "cpu"'
        )


@dataclass(frozen=True, slots=True, eq=False)
class Memory:
    """What a batch keeps on its device: the kernels' arrays, and views of their parts.

    state (2 · 4 · total), source, first, second (total); clock: left, parity, taken, duration, ceiling,
    crossing, one number a bay each, and its three shares.
    """

    seen: BatchArrays
    state: Any
    source: Any
    first: Any
    second: Any
    clock: dict[str, Any]


def fill_memory(backend: Backend, grid: BatchShape, problems: Sequence[FlowProblem], box: FaceBox) -> Memory:
    """A batch at its start, before its divergence is taken out."""
    put, xp, total = backend.xp.asarray, backend.xp, grid.total
    codes, opening = build_codes(grid, problems)
    lists, fixed = build_lists(grid, problems)
    values = xp.zeros((VALUES if with_eddies(problems) else EDDY) * total)
    for field in range(8):
        values[field * total : (field + 1) * total] = put(_start(grid, problems, field % 4))
    seen = BatchArrays(
        grid=grid,
        values=values,
        columns=put(build_columns(grid, problems)),
        whole=put(_whole(problems)),
        real=put(_real(problems)),
        level=xp.zeros(grid.bays * grid.lines),
        marks=put(build_marks(grid, codes, opening, fixed)),
        codes=put(codes),
        opening=put(opening),
        lists=type(lists)(*(put(column) for column in lists)),
        faces=_faces(backend, grid, problems, box),
    )
    source, first, second = (values[n * total : (n + 1) * total] for n in (SOURCE, FIRST, SECOND))
    return Memory(seen, values[: RATES * total], source, first, second, _clock(seen))


def _whole(problems: Sequence[FlowProblem]) -> NDArray[np.int32]:
    """Whole numbers of every bay, as `layout` names them."""
    result = np.zeros((len(problems), EACH), np.int32)
    result[:, CELLS : CELLS + 3] = [p.domain.shape for p in problems]
    result[:, CENTRAL] = [p.scheme == "central" for p in problems]
    return result.reshape(-1)


def _real(problems: Sequence[FlowProblem]) -> Array:
    """Real numbers of every bay, as `layout` names them."""
    result = np.zeros((len(problems), EACH))
    for own, problem in zip(result, problems, strict=True):
        air = problem.air
        own[[VISCOSITY, DIFFUSIVITY, BUOYANCY, EDDIES]] = air.viscosity, air.diffusivity, air.buoyancy, problem.subgrid
    return result.reshape(-1)


def _clock(seen: BatchArrays) -> dict[str, Any]:
    """Views of every bay's clock."""
    whole, real = seen.whole.reshape(-1, EACH), seen.real.reshape(-1, EACH)
    return {
        "left": whole[:, LEFT], "parity": whole[:, PARITY], "taken": whole[:, TAKEN],
        "duration": real[:, DURATION], "ceiling": real[:, CEILING], "crossing": real[:, CROSSING],
        "shares": real[:, SHARES : SHARES + 3],
    }  # fmt: skip


def _start(grid: BatchShape, problems: Sequence[FlowProblem], field: int) -> Array:
    """One field of all bays at the start; closed faces at rest."""
    if field == 3:
        return np.asarray(spread(grid, [p.flow.temperature for p in problems]))
    fields = [np.where(p.domain.openness[field] == 0.0, 0.0, p.flow.velocity[field]) for p in problems]
    return np.asarray(spread(grid, fields))


def _faces(backend: Backend, grid: BatchShape, problems: Sequence[FlowProblem], box: FaceBox) -> ClosedFaces:
    """Closed faces of all bays, and the inverses of their influence matrices, made on the device."""
    put, xp = backend.xp.asarray, backend.xp
    counts = np.array([p.influence.matrix.shape[0] for p in problems], np.int64)
    inverse_at = np.concatenate([[0], np.cumsum(counts**2)])
    inverse = xp.zeros(max(int(inverse_at[-1]), 1))
    for bay, problem in enumerate(problems):
        if counts[bay]:
            inverse[inverse_at[bay] : inverse_at[bay + 1]] = _inverse(xp, put(problem.influence.matrix)).reshape(-1)
    room = max(grid.bays * grid.most_faces, 1)
    below, above = (put(row.reshape(-1)) for row in box.sampled)
    rooms = xp.zeros(room), xp.zeros(room * grid.chunks), xp.zeros(grid.bays * int(np.prod(box.shape)))
    fed = (put(column) for column in (box.fed, box.bay, box.start, box.faces))
    return ClosedFaces(put(counts), below, above, inverse, put(inverse_at), *rooms, *fed)


def _inverse(xp: Any, matrix: Any) -> Any:
    """Inverse of a symmetric matrix, made exactly symmetric: kernels read its columns for its rows."""
    inverse = xp.linalg.inv(matrix)
    return 0.5 * (inverse + inverse.T)

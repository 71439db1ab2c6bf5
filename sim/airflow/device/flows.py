"""Many bays whose flows are followed together on a device: each with its own step, clock, means and end.

    batch = FlowBatch([flow_problem(...), ...], accelerator())
    batch.go_until(0, 3.0)                 # bay 0 to 3 s; others may have other ends, or rest
    while batch.busy: batch.look()         # some steps of all bays that have a way to go

`look` does for every bay what a pass of `box.march_on` does for one: the largest step, some steps, a check, a sample.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.airflow.device import eddies, lists, looks, moves, pressure
from sim.airflow.device.closed import build_face_box
from sim.airflow.device.layout import EDDY, FIRST, SECOND, held_share
from sim.airflow.device.memory import check_memory, chunks_for, fill_memory, with_eddies
from sim.airflow.device.products import Held
from sim.airflow.device.seam import Backend
from sim.airflow.device.sums import FieldSums, Repeated, SheetDecay, WallSums
from sim.airflow.device.tables import FlowProblem, build_modes, common_grid
from sim.airflow.flow import Flow
from sim.airflow.pace import (
    decay_rate,
    finest_cell,
    highest_crossing,
    level_of,
    stable_step,
    wave_rate,
)
from sim.airflow.watch import SMALLEST_PACE, FlowError

Array = NDArray[np.float64]

FEW_PLANES = 8
"""Planes with closed faces along z up to which their last transform is one with the division (measured with two)."""

LOOK_EVERY = 10
"""Steps between two looks, as rounds with solids take them."""


def _both_ways(backend: Backend, matrices: Sequence[Array]) -> tuple[list[Any], list[Any]]:
    """Matrices (bays, n, m) on the device, and their transposes."""
    there = [backend.xp.asarray(m) for m in matrices]
    return there, [backend.xp.ascontiguousarray(m.transpose(0, 2, 1)) for m in there]


class FlowBatch:
    """The state of a batch. Not a value.

    Attributes
    ----------
    problems : the bays
    time, steps : (bays,) the clocks
    failed : FlowError by bay that ran into values that mean nothing; it rests from then on

    Raises
    ------
    ValueError : the batch does not fit the device.
    """

    def __init__(self, problems: Sequence[FlowProblem], backend: Backend) -> None:
        bays = len(problems)
        self.problems, self.backend = tuple(problems), backend
        most = max(p.influence.matrix.shape[0] for p in problems)
        self.grid = common_grid(problems, chunks_for(bays, most))
        check_memory(backend, self.grid, problems)
        modes = build_modes(self.grid, problems)
        box = build_face_box(self.grid, problems, modes)
        self.air = fill_memory(backend, self.grid, problems, box)
        self.seen = backend.kernel_view(self.air.seen)
        self._modes, self._back = _both_ways(backend, modes)
        self._rows, self._rows_back = _both_ways(backend, box.rows)
        self._few = backend.kernel_view((self._rows[2].reshape(-1), self._rows[2].shape[1]))
        self._eddies = with_eddies(problems)
        self._height, self._bad = backend.xp.zeros(bays * self.grid.pz), backend.xp.zeros(bays * self.grid.pz)
        self._by_height = backend.kernel_view((self._height, self._bad))
        self._losses = SheetDecay(self)
        self._step = Repeated(backend, lambda: self._take_step(exactly=False))
        self._last = np.zeros(bays)
        self._sums = Repeated(backend, self._sum_by_height)
        self._most_eddy = Repeated(backend, lambda: self._find_most(EDDY, self.grid.py))
        self.walls = WallSums(self)
        self.means = FieldSums(self)
        self.time = np.array([p.flow.time for p in problems])
        self.steps = np.array([p.flow.steps for p in problems])
        self.until, self.longest = self.time.copy(), np.zeros(bays)
        self.failed: dict[int, FlowError] = {}
        self.levels = [np.zeros(p.domain.shape[2] + 1) for p in problems]
        self._finest = [finest_cell(p.domain) for p in problems]
        self._air_cells = [p.domain.air.sum(axis=(0, 1)) for p in problems]
        self._begin()

    def _begin(self) -> None:
        """Take the start's divergence out, and find how quickly it crosses cells."""
        clock = self.air.clock
        clock["left"][:] = 1
        self._project(1)
        self._find_largest(1)
        self.backend.each(looks.note_crossing, self.grid.bays, 0, self.seen)
        clock["left"][:] = 0
        self._losses.look()
        self.refresh_levels(range(len(self.problems)))

    def _cells(self, body: Any, extra: Any) -> None:
        self.backend.cells(body, extra, self.seen)

    # one step

    def _take_step(self, exactly: bool) -> None:
        """One step of every bay that has steps left; ``exactly``: without divergence after its first stages too."""
        if self._eddies:
            self._cells(eddies.find_eddies, 0)
            self._cells(eddies.hold_rates, 0)
        for stage in range(3):
            self._move(stage)
            if exactly or stage == 2:
                self._project(stage)
        self._find_largest(2)
        self.backend.each(looks.end_step, self.grid.bays, 0, self.seen)

    def _move(self, stage: int) -> None:
        """All fields by one stage, before the pressure acts."""
        if self._eddies:
            self._cells(moves.move_air_and_eddies, stage)
            self._cells(moves.move_heat_and_eddies, stage)
        else:
            self._cells(moves.move_air, stage)
            self._cells(moves.move_heat, stage)
        self.backend.each(lists.amend, self.air.seen.lists.at.size, stage, self.seen)

    def _project(self, stage: int) -> None:
        """Take the divergence out of what a stage wrote."""
        air, rotate = self.air, self.backend.rotate
        self._cells(pressure.find_sources, stage)
        x, y, z = self._modes
        rotate(air.source, x, air.first)
        rotate(air.first, y, air.second)
        rotate(air.second, z, air.first)
        if self.grid.most_faces:
            self._close_faces(stage)
        else:
            self._cells(pressure.divide_modes, FIRST)
        x, y, z = self._back
        rotate(air.first, x, air.second)
        rotate(air.second, y, air.first)
        rotate(air.first, z, air.second)
        self._cells(pressure.subtract_gradients, stage)

    def _close_faces(self, stage: int) -> None:
        """Pressure in modes with the closed faces' flows among the sources, from what it would be without them."""
        backend, faces, source, second = self.backend, self.air.seen.faces, self.air.source, self.air.second
        bays, px, py = self.grid.bays, self.grid.px, self.grid.py
        (_, ny, nz), nx = (rows.shape[1] for rows in self._rows), self._rows[0].shape[1]
        self._cells(pressure.divide_modes, SECOND)
        x, y, z = self._rows_back
        layer, thread, box = bays * px * py * nz, bays * py * nz * nx, bays * nz * nx * ny
        backend.sample(second, z, source[:layer])
        backend.rotate(source[:layer], x, second[:thread])
        backend.rotate(second[:thread], y, source[:box])
        shape = (bays, self.grid.most_faces)
        backend.faces(pressure.find_jumps, (*shape, 1), stage, self.seen)
        backend.faces(pressure.sum_influence, (*shape, self.grid.chunks), stage, self.seen)
        backend.each(pressure.feed_faces, faces.fed.size, stage, self.seen)
        x, y, z = self._rows
        thread = bays * ny * nz * px
        backend.rotate(faces.box, x, second[:thread])
        backend.rotate(second[:thread], y, source[:layer])
        if nz <= FEW_PLANES:
            self._cells(pressure.feed_and_divide, self._few)
        else:
            backend.rotate(source[:layer], z, self.air.first, add=True)
            self._cells(pressure.divide_modes, FIRST)

    def _find_largest(self, stage: int) -> None:
        """Largest crossing rate of every slab."""
        pieces, slabs = -(-self.grid.py // looks.PIECE), self.grid.bays * self.grid.px
        self.backend.each(looks.find_crossing, slabs * pieces * self.grid.pz, (stage, pieces), self.seen)
        self._find_most(FIRST, pieces)

    def _find_most(self, part: int, rows: int) -> None:
        """The largest of every slab of a part of `values`, in rows along y, in the first working array.

        By kernels of ours: the library's reductions keep neither to the stream nor to a recording.
        """
        slabs = self.grid.bays * self.grid.px
        self.backend.each(looks.column_most, slabs * self.grid.pz, (part, rows), self.seen)
        self.backend.each(looks.slab_most, slabs, 0, self.seen)

    # looks

    @property
    def busy(self) -> bool:
        """Whether any bay has a way to go."""
        return bool(self._going().any())

    def _going(self) -> NDArray[np.bool_]:
        """Bays that have not reached their end."""
        alive = np.array([b not in self.failed for b in range(self.grid.bays)])
        return np.asarray(alive & (self.time < self.until * (1.0 - 1e-12)))

    def go_until(self, bay: int, until: float) -> None:
        """Give a bay the time [s] at which it rests."""
        self.until[bay], self.longest[bay] = until, 0.0

    def look(self, most: int = LOOK_EVERY, step: float | None = None) -> list[int]:
        """Some steps of every bay that has a way to go; the bays that have reached their end thereby.

        Parameters
        ----------
        most : int
            Steps of a bay at most.
        step : float, optional [s]
            A fixed step; by default the largest stable one.
        """
        going = np.flatnonzero(self._going())
        if not going.size:
            return []
        counts, durations, ceilings = self._plan(going, most, step)
        taken = self.take_steps(counts, durations, ceilings)
        before = self.time.copy()
        self.time += taken * durations
        self.steps += taken
        self.refresh_levels(going)
        self._check_pace(going, durations)
        self.means.sample(self.time - before)
        self.walls.sample(self.time - before)
        after = self._going()
        return [int(b) for b in going if not after[b]]

    def _plan(self, going: Any, most: int, step: float | None) -> tuple[Any, Array, Array]:
        """Steps to take, their length and the crossing rate at which to stop, of every bay."""
        bays = self.grid.bays
        counts, durations, ceilings = np.zeros(bays, np.int32), np.zeros(bays), np.full(bays, np.inf)
        crossing, eddy = self.backend.to_host(self.air.clock["crossing"]), self._largest_eddies()
        for b in going:
            wave, decay = self._rates(b, eddy[b])
            scheme, way = self.problems[b].scheme, self.until[b] - self.time[b]
            size = stable_step(float(crossing[b]), wave, decay, scheme) if step is None else step
            counts[b] = max(1, int(np.ceil(min(way / size - 1e-9, most))))
            durations[b] = min(size, way / counts[b])
            if step is None:
                ceilings[b] = highest_crossing(durations[b], wave, decay, scheme)
        return counts, durations, ceilings

    def ceiling(self, bay: int, duration: float) -> float:
        """Crossing rate [1/s] up to which steps of a duration [s] are stable in a bay."""
        wave, decay = self._rates(bay, self._largest_eddies()[bay])
        return highest_crossing(duration, wave, decay, self.problems[bay].scheme)

    def largest_step(self, bay: int) -> float:
        """The step [s] that a bay's flow, grid and stratification allow, with some safety."""
        wave, decay = self._rates(bay, self._largest_eddies()[bay])
        crossing = float(self.backend.to_host(self.air.clock["crossing"])[bay])
        return stable_step(crossing, wave, decay, self.problems[bay].scheme)

    def _rates(self, bay: int, eddy: float) -> tuple[float, float]:
        """Rates of waves and of decay [1/s] of a bay."""
        problem = self.problems[bay]
        decay = decay_rate(problem.air, self._finest[bay], float(eddy), self._losses.rate(bay))
        return wave_rate(problem.domain, problem.air, self.levels[bay]), decay

    def _largest_eddies(self) -> Array:
        """Largest eddy viscosity of every bay [m²/s]."""
        if not self._eddies:
            return np.zeros(self.grid.bays)
        self._most_eddy.run()
        slabs = self.backend.to_host(self.air.first[: self.grid.bays * self.grid.px])
        return np.asarray(slabs.reshape(self.grid.bays, -1).max(axis=1))

    def take_steps(self, counts: ArrayLike, durations: Array, ceilings: Array | None = None) -> np.ndarray:
        """Take some steps of equal duration [s] in every bay; how many each took before it became too quick."""
        clock, put, whole = self.air.clock, self.backend.xp.asarray, np.asarray(counts, np.int32)
        high = np.full(self.grid.bays, np.inf) if ceilings is None else ceilings
        moving, sizes = whole > 0, np.asarray(durations, float)
        first = moving & (self._last == 0.0)
        clock["duration"][:], clock["ceiling"][:], clock["taken"][:] = put(sizes), put(high), 0
        clock["shares"][:] = put(self._shares(sizes))
        if first.any():
            clock["left"][:] = put(np.where(first, whole, np.int32(0)))
            self._take_step(exactly=True)
            whole = np.where(first, self.backend.to_host(clock["left"]), whole)
        clock["left"][:] = put(whole)
        for _ in range(int(whole.max())):
            self._step.run()
        self._last[moving] = sizes[moving]
        self._losses.look()
        return self.backend.to_host(clock["taken"])

    def _shares(self, sizes: Array) -> Array:
        """Shares (bays, 3) of the last impulse that the stages of a step give.

        A bay's first step has none: each of its stages finds what was given so far anew, the first from nothing.
        """
        usual = np.array([held_share(stage) for stage in range(3)])
        with np.errstate(divide="ignore", invalid="ignore"):
            scaled = (sizes / self._last)[:, None] * usual
        return np.where(self._last[:, None] > 0.0, scaled, [0.0, 1.0, 1.0])

    def _sum_by_height(self) -> None:
        """Sums of the air's temperature by height, and of what is no number."""
        grid, each = self.grid, self.backend.each
        self._cells(looks.find_levels, 0)
        each(looks.sum_columns, grid.bays * grid.px * grid.pz, 0, self.seen)
        each(looks.sum_heights, grid.bays * grid.pz, self._by_height, self.seen)

    def refresh_levels(self, bays: Iterable[int]) -> None:
        """Let the mean temperature at each height count as hydrostatic; note bays whose values are no numbers."""
        grid, to_host = self.grid, self.backend.to_host
        self._sums.run()
        sums, bad = to_host(self._height).reshape(grid.bays, -1), to_host(self._bad).reshape(grid.bays, -1)
        level = self.backend.to_host(self.air.seen.level).reshape(grid.bays, grid.lines)
        for b in bays:
            if np.any(bad[b] != 0.0):
                self._fail(b, "a value is not a number")
                continue
            self.levels[b] = level_of(self._air_cells[b], sums[b, : self._air_cells[b].size])
            level[b, : self.levels[b].size] = self.levels[b]
        self.air.seen.level[:] = self.backend.xp.asarray(level.reshape(-1))

    def _check_pace(self, going: Any, durations: Array) -> None:
        """Note bays whose stable step has collapsed."""
        self.longest = np.maximum(self.longest, durations)
        for b in going:
            if durations[b] <= SMALLEST_PACE * self.longest[b]:
                self._fail(b, "the stable step has collapsed: the flow ran away")

    def _fail(self, bay: int, why: str) -> None:
        text = f"{why}, in step {self.steps[bay]}, time {self.time[bay]:.6g} s"
        self.failed.setdefault(bay, FlowError(text))

    # what callers take from a bay and give to it

    def fields(self, bay: int) -> tuple[Array, Array, Array, Array]:
        """Velocities [m/s] and temperature [K] of a bay now."""
        at = int(self.backend.to_host(self.air.clock["parity"])[bay]) * 4 * self.grid.total
        x, y, z, t = (self.field_of(self.air.state, at, bay, field) for field in range(4))
        return x, y, z, t

    def field_of(self, arrays: Held, at: int, bay: int, field: int) -> Array:
        """One field of a bay from an array that holds four of all bays."""
        grid, domain = self.grid, self.problems[bay].domain
        size = grid.total // grid.bays
        begin = at + field * grid.total + bay * size
        own = self.backend.to_host(arrays[begin : begin + size]).reshape(grid.px, grid.py, grid.pz)
        shape = domain.openness[field].shape if field < 3 else domain.shape
        return np.ascontiguousarray(own[: shape[0], : shape[1], : shape[2]])

    def flow(self, bay: int, stop_reason: str = "") -> Flow:
        """The present flow of a bay as a value."""
        x, y, z, t = self.fields(bay)
        return Flow((x, y, z), t, float(self.time[bay]), int(self.steps[bay]), stop_reason)

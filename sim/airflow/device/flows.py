"""Many bays whose flows are followed together on a device: each with its own step, clock, means and end.

    batch = FlowBatch([flow_problem(...), ...], accelerator())
    batch.go_until(0, 3.0)                 # bay 0 to 3 s; others may have other ends, or rest
    while batch.busy: batch.look()         # some steps of all bays that have a way to go

`look` does for every bay what a pass of `box.march_on` does for one: the largest step, some steps, a check, a sample.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device import eddies, heat, looks, moves, pressure
from sim.airflow.device.memory import chunks_for, fill_memory
from sim.airflow.device.seam import Backend
from sim.airflow.device.tables import FlowProblem, build_modes, common_grid, flow_problem, places
from sim.airflow.domain import Sheet, build_domain
from sim.airflow.flow import AirProperties, Flow, resting_flow
from sim.airflow.pace import DIFFUSION_LIMIT, diffusion_rate, highest_crossing, hydrostatic, stable_step, wave_rate
from sim.airflow.subgrid import VREMAN
from sim.airflow.walls import find_walls
from sim.airflow.watch import SMALLEST_PACE, FlowError

Array = NDArray[np.float64]

LOOK_EVERY = 10
"""Steps between two looks, as rounds with solids take them."""


class FlowBatch:
    """The state of a batch. Not a value.

    Attributes
    ----------
    problems : the bays
    time, steps : (bays,) the clocks
    failed : FlowError by bay that ran into values that mean nothing; it rests from then on
    """

    def __init__(self, problems: Sequence[FlowProblem], backend: Backend) -> None:
        bays = len(problems)
        self.problems, self.backend = tuple(problems), backend
        most = max(p.influence.matrix.shape[0] for p in problems)
        self.grid = common_grid(problems, chunks_for(bays, most))
        self.air = fill_memory(backend, self.grid, problems)
        self._seen = backend.kernel_view(self.air)
        self._modes = [backend.xp.asarray(m) for m in build_modes(self.grid, problems)]
        self._back = [backend.xp.ascontiguousarray(m.transpose(0, 2, 1)) for m in self._modes]
        self._eddies = any(p.subgrid > 0.0 for p in problems)
        self._slabs, self._largest = backend.xp.zeros(bays * self.grid.px), backend.xp.zeros(bays)
        self._seen_largest = backend.kernel_view(self._largest)
        self._losses = _Losses(self)
        self._step: Any = None
        self.walls = _Walls(self)
        self.means = _Means(self)
        self.time = np.array([p.flow.time for p in problems])
        self.steps = np.array([p.flow.steps for p in problems])
        self.until, self.longest = self.time.copy(), np.zeros(bays)
        self.failed: dict[int, FlowError] = {}
        self.levels = [np.zeros(p.domain.shape[2] + 1) for p in problems]
        self._begin()

    def _begin(self) -> None:
        """Take the start's divergence out, and find how quickly it crosses cells."""
        clock = self.air.clock
        clock.left[:] = 1
        self._project(1)
        self._cells(looks.find_crossing, 1)
        self._find_largest()
        clock.crossing[:] = self._largest
        clock.left[:] = 0
        self._losses.look()
        self._refresh_levels(range(len(self.problems)))

    def _cells(self, body: Any, extra: Any) -> None:
        self.backend.cells(body, extra, self._seen)

    # one step

    def _take_step(self) -> None:
        """One step of every bay that has steps left."""
        for stage in range(3):
            self._move(stage)
            self._project(stage)
        self._cells(looks.find_crossing, 2)
        self._find_largest()
        self.backend.each(looks.end_step, self.grid.bays, self._seen_largest, self._seen)

    def _move(self, stage: int) -> None:
        """All fields by one stage, before the pressure acts."""
        if self._eddies:
            self._cells(eddies.find_eddies, stage)
        for body in (moves.move_x, moves.move_y, moves.move_z, heat.move_heat):
            self._cells(body, stage)

    def _project(self, stage: int) -> None:
        """Take the divergence out of what a stage wrote."""
        self._cells(pressure.find_sources, stage)
        self._solve(stage)
        if self.grid.most_faces:
            shape = (self.grid.bays, self.grid.most_faces)
            self.backend.faces(pressure.find_jumps, (*shape, 1), stage, self._seen)
            self.backend.faces(pressure.sum_influence, (*shape, self.grid.chunks), stage, self._seen)
            self.backend.each(pressure.feed_faces, self.air.faces.fed.size, stage, self._seen)
            self._solve(stage)
        self._cells(pressure.subtract_gradients, stage)

    def _solve(self, stage: int) -> None:
        """The empty boxes' pressures for the sources, in the second working array."""
        air, rotate = self.air, self.backend.rotate
        x, y, z = self._modes
        rotate(air.source, x, air.first)
        rotate(air.first, y, air.second)
        rotate(air.second, z, air.first)
        self._cells(pressure.divide_modes, stage)
        x, y, z = self._back
        rotate(air.first, x, air.second)
        rotate(air.second, y, air.first)
        rotate(air.first, z, air.second)

    def _find_largest(self) -> None:
        """Largest crossing rate of every bay, from the first working array."""
        grid, xp = self.grid, self.backend.xp
        xp.max(self.air.first.reshape(-1, grid.plane), axis=1, out=self._slabs)
        xp.max(self._slabs.reshape(grid.bays, grid.px), axis=1, out=self._largest)

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
        self._refresh_levels(going)
        self._check_pace(going, durations)
        self.means.sample(self.time - before)
        self.walls.sample(self.time - before)
        after = self._going()
        return [int(b) for b in going if not after[b]]

    def _plan(self, going: Any, most: int, step: float | None) -> tuple[Any, Array, Array]:
        """Steps to take, their length and the crossing rate at which to stop, of every bay."""
        bays = self.grid.bays
        counts, durations, ceilings = np.zeros(bays, np.int32), np.zeros(bays), np.full(bays, np.inf)
        crossing, eddy = self.backend.to_host(self.air.clock.crossing), self._largest_eddies()
        for b in going:
            wave, decay = self._rates(b, eddy[b])
            scheme, way = self.problems[b].scheme, self.until[b] - self.time[b]
            size = stable_step(float(crossing[b]), wave, decay, scheme) if step is None else step
            counts[b] = max(1, int(np.ceil(min(way / size - 1e-9, most))))
            durations[b] = min(size, way / counts[b])
            if step is None:
                ceilings[b] = highest_crossing(durations[b], wave, decay, scheme)
        return counts, durations, ceilings

    def largest_step(self, bay: int) -> float:
        """The step [s] that a bay's flow, grid and stratification allow, with some safety."""
        wave, decay = self._rates(bay, self._largest_eddies()[bay])
        crossing = float(self.backend.to_host(self.air.clock.crossing)[bay])
        return stable_step(crossing, wave, decay, self.problems[bay].scheme)

    def _rates(self, bay: int, eddy: float) -> tuple[float, float]:
        """Rates of waves and of decay [1/s] of a bay."""
        problem = self.problems[bay]
        decay = diffusion_rate(problem.domain, problem.air, float(eddy)) + self._losses.rate(bay)
        return wave_rate(problem.domain, problem.air, self.levels[bay]), decay / DIFFUSION_LIMIT

    def _largest_eddies(self) -> Array:
        """Largest eddy viscosity of every bay [m²/s]."""
        if not self._eddies:
            return np.zeros(self.grid.bays)
        return self.backend.to_host(self.backend.xp.max(self.air.eddy.reshape(self.grid.bays, -1), axis=1))

    def take_steps(self, counts: Any, durations: Array, ceilings: Array | None = None) -> Any:
        """Take some steps of equal duration [s] in every bay; how many each took before it became too quick."""
        clock, put = self.air.clock, self.backend.xp.asarray
        high = np.full(self.grid.bays, np.inf) if ceilings is None else ceilings
        clock.left[:], clock.duration[:] = put(np.asarray(counts, np.int32)), put(np.asarray(durations, float))
        clock.ceiling[:], clock.taken[:] = put(high), 0
        for _ in range(int(np.max(counts))):
            self._one_step()
        self._losses.look()
        return self.backend.to_host(clock.taken)

    def _one_step(self) -> None:
        """One step; after the first two the recorded graph of it."""
        if self._step is None:
            self._take_step()
            self._step = False
        elif self._step is False:
            self._step = _Recorded(self)
        else:
            self._step.run()

    def _refresh_levels(self, bays: Any) -> None:
        """Let the mean temperature at each height count as hydrostatic; note bays whose values are no numbers."""
        grid, xp, to_host = self.grid, self.backend.xp, self.backend.to_host
        self._cells(looks.find_levels, 0)
        sums = to_host(xp.sum(self.air.first.reshape(grid.bays, -1, grid.pz), axis=1))
        bad = to_host(xp.sum(self.air.second.reshape(grid.bays, -1), axis=1)) != 0.0
        level = self.backend.to_host(self.air.level).reshape(grid.bays, grid.lines)
        for b in bays:
            if bad[b]:
                self._fail(b, "a value is not a number")
                continue
            domain = self.problems[b].domain
            self.levels[b] = hydrostatic(domain, sums[b, : domain.shape[2]])
            level[b, : self.levels[b].size] = self.levels[b]
        self.air.level[:] = self.backend.xp.asarray(level.reshape(-1))

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
        at = int(self.backend.to_host(self.air.clock.parity)[bay]) * 4 * self.grid.total
        x, y, z, t = (self._field(self.air.state, at, bay, field) for field in range(4))
        return x, y, z, t

    def _field(self, arrays: Any, at: int, bay: int, field: int) -> Array:
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


def warm_up(backend: Backend) -> None:
    """Have all kernels compiled, on the smallest bay that needs them, while there is something else to wait for."""
    planes = np.linspace(0.0, 1.0, 4)
    sheet = Sheet("sheet", 2, float(planes[1]), ((0.0, 1.0), (0.0, float(planes[1])), (0.0, 0.0)))
    domain = build_domain([planes] * 3, sheets=[sheet])
    air = AirProperties(viscosity=1.0, diffusivity=1.0, buoyancy=1.0, conductivity=1.0)
    walls = np.zeros(find_walls(domain).count)
    batch = FlowBatch([flow_problem(domain, air, walls, resting_flow(domain, 0.0), "bounded", VREMAN)], backend)
    batch.means.weights[:] = 1.0
    batch.go_until(0, 1.0)
    batch.look(3)


class _Recorded:
    """A recorded step."""

    def __init__(self, batch: FlowBatch) -> None:
        """Recording takes one step."""
        self.run = batch.backend.record(batch._take_step)


class _Losses:
    """Decay rates at porous sheets."""

    def __init__(self, batch: FlowBatch) -> None:
        bay, at, factor = [], [], []
        for b, problem in enumerate(batch.problems):
            for field, loss in enumerate(problem.domain.loss):
                place = np.argwhere(loss)
                centre, i = problem.domain.centres[field], place[:, field]
                at.append(field * batch.grid.total + places(batch.grid, b, place))
                factor.append(0.5 * loss[tuple(place.T)] / (centre[i] - centre[i - 1]))
                bay.append(np.full(len(place), b))
        columns = [np.concatenate(column) for column in (bay, at, factor)]
        put = batch.backend.xp.asarray
        self.bay, self.batch = columns[0], batch
        self.result = batch.backend.xp.zeros(self.bay.size)
        self._arrays = batch.backend.kernel_view((*(put(c) for c in columns), self.result))
        self.rates = np.zeros(batch.grid.bays)

    def look(self) -> None:
        """Find the rates of the present flow."""
        if self.bay.size:
            self.batch.backend.each(looks.find_losses, self.bay.size, self._arrays, self.batch._seen)
            self.rates = np.zeros(self.batch.grid.bays)
            np.maximum.at(self.rates, self.bay, self.batch.backend.to_host(self.result))

    def rate(self, bay: int) -> float:
        """Fastest decay [1/s] of a bay."""
        return 2.0 * float(self.rates[bay])


class _Walls:
    """Wall faces of all bays: their temperatures, and the heat that they gave in sums over time."""

    def __init__(self, batch: FlowBatch) -> None:
        self.batch, backend = batch, batch.backend
        put, problems = backend.xp.asarray, batch.problems
        counts = [p.walls.count for p in problems]
        self.at = np.concatenate([[0], np.cumsum(counts)]).astype(int)
        self.warm = [~np.isnan(p.wall_temperature) for p in problems]
        warm_counts = np.array([w.sum() for w in self.warm])
        last = int(batch.air.lists.wall_value.size)
        self.entry_at = last - warm_counts.sum() + np.concatenate([[0], np.cumsum(warm_counts)]).astype(int)
        self.order = [
            np.argsort(np.ravel_multi_index(tuple(p.walls.cell[w].T), p.domain.shape), kind="stable")
            for p, w in zip(problems, self.warm, strict=True)
        ]
        bay = np.repeat(np.arange(len(problems)), counts)
        cell = np.concatenate([places(batch.grid, b, p.walls.cell) for b, p in enumerate(problems)])
        conductance = np.concatenate([p.air.conductivity * p.walls.area / p.walls.distance for p in problems])
        given = np.concatenate([p.wall_temperature for p in problems])
        conductance[np.isnan(given)] = 0.0
        self.temperature, self.heat = put(np.nan_to_num(given)), backend.xp.zeros(given.size)
        self.span, self.spans = backend.xp.zeros(len(problems)), np.zeros(len(problems))
        arrays = (put(bay), put(cell), put(conductance), self.temperature, self.heat, self.span)
        self._arrays, self.size = backend.kernel_view(arrays), given.size

    def give(self, bay: int, temperature: Array) -> None:
        """Give a bay's wall faces (n,) new temperatures [K]; faces cannot change between warm and adiabatic."""
        warm, put = self.warm[bay], self.batch.backend.xp.asarray
        if not np.array_equal(~np.isnan(temperature), warm):
            raise ValueError("wall faces changed between adiabatic and given temperature; make a new batch")
        self.temperature[self.at[bay] : self.at[bay + 1]] = put(np.nan_to_num(temperature))
        entries = slice(self.entry_at[bay], self.entry_at[bay + 1])
        self.batch.air.lists.wall_value[entries] = put(temperature[warm][self.order[bay]])

    def sample(self, spans: Array) -> None:
        """Add the heat flows of this moment for some times [s] (bays,)."""
        self.span[:] = self.batch.backend.xp.asarray(spans)
        self.batch.backend.each(looks.add_heat, self.size, self._arrays, self.batch._seen)
        self.spans += spans

    def begin(self, bay: int) -> None:
        """Forget what a bay's walls gave."""
        self.heat[self.at[bay] : self.at[bay + 1]] = 0.0
        self.spans[bay] = 0.0

    def mean(self, bay: int) -> Array:
        """Mean heat flow (n,) [W] of a bay's wall faces into the air since `begin`."""
        own = self.batch.backend.to_host(self.heat[self.at[bay] : self.at[bay + 1]])
        return np.asarray(own / self.spans[bay])


class _Means:
    """Two sums over time of all fields, as `FieldMeans` keeps them."""

    def __init__(self, batch: FlowBatch) -> None:
        self.batch, bays, xp = batch, batch.grid.bays, batch.backend.xp
        self.weights, self.duration = np.zeros((bays, 2)), np.zeros((bays, 2))
        self.sums = [xp.zeros(4 * batch.grid.total) for _ in range(2)]
        self.spans = xp.zeros(2 * bays)
        self._arrays = batch.backend.kernel_view((*self.sums, self.spans))

    def sample(self, spans: Array) -> None:
        """Add the fields of this moment for some times [s] (bays,), to the sums whose weight (bays, 2) is 1."""
        weights = spans[:, None] * self.weights
        if weights.any():
            self.spans[:] = self.batch.backend.xp.asarray(weights.reshape(-1))
            self.batch.backend.cells(looks.add_means, self._arrays, self.batch._seen)
            self.duration += weights

    def move_on(self, bay: int) -> None:
        """Let a bay's second sum become its first."""
        grid = self.batch.grid
        first, second = (s.reshape(4, grid.bays, -1) for s in self.sums)
        first[:, bay], self.duration[bay, 0] = second[:, bay], self.duration[bay, 1]
        second[:, bay], self.duration[bay, 1] = 0.0, 0.0

    def flow(self, bay: int) -> Flow:
        """A bay's mean flow over its first sum."""
        span = self.duration[bay, 0]
        u, v, w, t = (self.batch._field(self.sums[0], 0, bay, field) / span for field in range(4))
        return Flow((u, v, w), t, float(self.batch.time[bay]), int(self.batch.steps[bay]), "mean")


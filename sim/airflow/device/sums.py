"""What is kept of a batch between looks: heat of wall faces, means of fields, decay at porous sheets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device import looks
from sim.airflow.device.memory import Memory
from sim.airflow.device.products import Held
from sim.airflow.device.seam import Backend
from sim.airflow.device.tables import BatchShape, FlowProblem, places
from sim.airflow.flow import Flow

Array = NDArray[np.float64]


class WatchedBatch(Protocol):
    """What is read of a batch of flows: its bays, their shared grid, their arrays on the device, the clocks (bays,)."""

    problems: tuple[FlowProblem, ...]
    backend: Backend
    grid: BatchShape
    air: Memory
    seen: Any
    time: Array
    steps: NDArray[np.int64]

    def field_of(self, arrays: Held, at: int, bay: int, field: int) -> Array:
        """One field of a bay from an array that holds four of all bays."""


class Repeated:
    """Work that is done again and again: as it is the first time, when kernels are made, then as a recorded graph."""

    def __init__(self, backend: Backend, work: Callable[[], None]) -> None:
        self._backend, self._work = backend, work
        self._graph: Callable[[], None] | None = None
        self._done = False

    def run(self) -> None:
        """Do it once."""
        if self._graph is not None:
            self._graph()
        elif self._done:
            self._graph = self._backend.record(self._work)
        else:
            self._work()
            self._done = True


class SheetDecay:
    """Decay rates at porous sheets."""

    def __init__(self, batch: WatchedBatch) -> None:
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
            self.batch.backend.each(looks.find_losses, self.bay.size, self._arrays, self.batch.seen)
            self.rates = np.zeros(self.batch.grid.bays)
            np.maximum.at(self.rates, self.bay, self.batch.backend.to_host(self.result))

    def rate(self, bay: int) -> float:
        """Fastest decay [1/s] of a bay."""
        return 2.0 * float(self.rates[bay])


class WallSums:
    """Wall faces of all bays: their temperatures, and the heat that they gave in sums over time."""

    def __init__(self, batch: WatchedBatch) -> None:
        self.batch, backend = batch, batch.backend
        put, problems = backend.xp.asarray, batch.problems
        counts = [p.walls.count for p in problems]
        self.at = np.concatenate([[0], np.cumsum(counts)]).astype(int)
        self.warm = [~np.isnan(p.wall_temperature) for p in problems]
        warm_counts = np.array([w.sum() for w in self.warm])
        last = int(batch.air.seen.lists.wall_value.size)
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
        self._add = Repeated(backend, lambda: backend.each(looks.add_heat, self.size, self._arrays, batch.seen))

    def give(self, bay: int, temperature: Array) -> None:
        """Give a bay's wall faces (n,) new temperatures [K]; faces cannot change between warm and adiabatic."""
        warm, put = self.warm[bay], self.batch.backend.xp.asarray
        if not np.array_equal(~np.isnan(temperature), warm):
            raise ValueError("wall faces changed between adiabatic and given temperature; make a new batch")
        self.temperature[self.at[bay] : self.at[bay + 1]] = put(np.nan_to_num(temperature))
        entries = slice(self.entry_at[bay], self.entry_at[bay + 1])
        self.batch.air.seen.lists.wall_value[entries] = put(temperature[warm][self.order[bay]])

    def sample(self, spans: Array) -> None:
        """Add the heat flows of this moment for some times [s] (bays,)."""
        self.span[:] = self.batch.backend.xp.asarray(spans)
        self._add.run()
        self.spans += spans

    def begin(self, bay: int) -> None:
        """Forget what a bay's walls gave."""
        self.heat[self.at[bay] : self.at[bay + 1]] = 0.0
        self.spans[bay] = 0.0

    def mean(self, bay: int) -> Array:
        """Mean heat flow (n,) [W] of a bay's wall faces into the air since `begin`."""
        own = self.batch.backend.to_host(self.heat[self.at[bay] : self.at[bay + 1]])
        return np.asarray(own / self.spans[bay])


class FieldSums:
    """Two sums over time of all fields, as `FieldMeans` keeps them."""

    def __init__(self, batch: WatchedBatch) -> None:
        self.batch, bays, xp = batch, batch.grid.bays, batch.backend.xp
        self.weights, self.duration = np.zeros((bays, 2)), np.zeros((bays, 2))
        self.sums = [xp.zeros(4 * batch.grid.total) for _ in range(2)]
        self.spans = xp.zeros(2 * bays)
        self._arrays = batch.backend.kernel_view((*self.sums, self.spans))
        self._add = Repeated(batch.backend, lambda: batch.backend.cells(looks.add_means, self._arrays, batch.seen))

    def sample(self, spans: Array) -> None:
        """Add the fields of this moment for some times [s] (bays,), to the sums whose weight (bays, 2) is 1."""
        weights = spans[:, None] * self.weights
        if weights.any():
            self.spans[:] = self.batch.backend.xp.asarray(weights.reshape(-1))
            self._add.run()
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
        u, v, w, t = (self.batch.field_of(self.sums[0], 0, bay, field) / span for field in range(4))
        return Flow((u, v, w), t, float(self.batch.time[bay]), int(self.batch.steps[bay]), "mean")


"""A bay in time: from cold, from a uniform temperature or from its steady state, driven as the case says."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from sim.jobs.checkpoint import SNAPSHOT, CheckpointWriter, read_checkpoint
from sim.machine.brief import head_of, small_tree
from sim.machine.notebook import card, frame
from sim.machine.threads import single_threaded_blas
from sim.problems.driving import case_drivers
from sim.results.in_time import bay_watch, series_dataset, series_rows, warm_up_values
from sim.results.report import Report
from sim.results.snapshots import make_taker, moment_fields, with_snapshots
from sim.run import Model, Result, prepare, solve_model
from sim.solver.drive import ConstantHeat, Drivers, Now, RoomNode, driven
from sim.solver.march import History, Listener, MarchOptions, Start, Step, Watch, march, uniform_state
from sim.solver.stages import Moment
from sim.solver.steady import solve_steady
from sim.solver.storage import build_storage
from sim.solver.system import System
from sim.solver.thermostat import FloorSensor
from sim.solver.worst import placed

if TYPE_CHECKING:
    import pandas
    import xarray

    from sim.case.bay_case import Case
    from sim.solver.terms.water import RunWater

STEPS_AT_LEAST = 36
"""A run is followed in at least about so many steps, so that its series are smooth."""


@dataclass(frozen=True, slots=True, repr=False)
class WarmUp:
    """A case followed in time: its series over time, its numbers, and the steady state that it is measured against."""

    case: Case
    series: xarray.Dataset
    report: Report
    history: History
    steady: Result[Case]

    def to_pandas(self) -> pandas.DataFrame:
        """The series over time: a line a step, in hours, °C, W/m² and Wh/m²; every column names its unit."""
        return frame(series_rows(self.series), "time_h")

    def __repr__(self) -> str:
        return small_tree(head_of(self), [*self.report.headlines(), ("has", "report, series, steady, case")])

    def _repr_html_(self) -> str:
        return card(f"Warm-up of {self.case.name}", self.report._repr_html_())

    def __str__(self) -> str:
        return f"{self.history}\n{self.report}"


def warm_up(
    case: Case,
    *,
    options: MarchOptions | None = None,
    listener: Listener | None = None,
    model: Model[Case] | None = None,
    checkpoint: Path | None = None,
) -> WarmUp:
    """Follow a joist bay in time, as its sections [time], [control], [weather] and [room.node] say.

    Parameters
    ----------
    case : Case
        A joist bay; where it says nothing about time, water at its supply temperature enters a bay that has the
        temperature of the room, for 12 hours.
    options : how exactly to march; by default the case's tolerance.
    listener : called with the moment and the record of each step.
    model : the case made ready before.
    checkpoint : file that is written every little while; the run goes on from it when it is there at the start, to
        exactly the end that it would have had. Whoever named the file removes it when the results are safe.

    Returns
    -------
    WarmUp; its times to 63 % and 90 % are of the way to the steady state of the case with its fixed room.

    Raises
    ------
    CaseError
        As in `sim.problems.driving.case_drivers`.
    NotConvergedError, BalanceError, MarchError
        As in `sim.solve` and `sim.solver.march.march`.
    """
    case_drivers(case, 1.0)  # refuses what cannot be followed before anything is solved
    model = model or prepare(case)
    steady = solve_model(model)
    area = steady.report["floor_area_m2"]
    system, drivers = with_flows(model.system, steady.solution.flows.waters), case_drivers(case, area)
    storage, options = build_storage(model.cells, system), options or usual_options(case)
    options = replace(options, stops=tuple(sorted(case.time.snapshots)))
    start = _start(case, system, steady, drivers)
    followed = partial(march, system, storage, until=case.time.duration, drivers=drivers)
    with placed(case.name, model.system, model.cells):
        history = _kept(partial(followed, watch=_watch(case, model, drivers)), options, start, listener, checkpoint)
    series = _series(case, model, history, area)
    values = warm_up_values(series, steady.report.values) | _control(case, history, drivers) | _work(history, model)
    return WarmUp(case, series, Report(case.name, MappingProxyType(values)), history, steady)


def _watch(case: Case, model: Model[Case], drivers: Drivers) -> Watch:
    """What is kept of every moment: the bay's temperatures and flows, and the whole bay at its snapshots."""
    sensors = [thermostat.sensor for thermostat in drivers.thermostats]
    sensor = next((sensor for sensor in sensors if isinstance(sensor, FloorSensor)), None)
    watch = bay_watch(model.cells, sensor)
    take = make_taker(model.geometry, model.cells, case.time.snapshots)
    return lambda moment: watch(moment) | {SNAPSHOT: take(moment)}


def _series(case: Case, model: Model[Case], history: History, area: float) -> xarray.Dataset:
    """Everything over time, and the snapshots."""
    named = {"title": case.title or case.name, "span": case.span, "clock": case.time.clock}
    series = series_dataset(model.geometry, model.cells, history, area, **named)
    snapshots = {
        float(time): moment[SNAPSHOT]
        for time, moment in zip(history.time, history.watched, strict=True)
        if moment.get(SNAPSHOT)
    }
    return with_snapshots(series, moment_fields(model.geometry, model.cells, history.end), snapshots)


def _control(case: Case, history: History, drivers: Drivers) -> dict[str, float]:
    """How long the water ran, how often it started or stopped, how long a floor limit alone held it back."""
    heating, lengths = history.series("heating")[1:].astype(bool), np.array([step.length for step in history.steps])
    found = {
        "water_on_h": float(lengths @ heating) / 3600.0,
        "switches": float(np.count_nonzero(np.diff(heating.astype(int)))),
    }
    if case.control.floor_limit is not None:
        *others, limit = np.transpose(history.series("on")[1:])
        ends = history.time[1:] if drivers.allowed is not None else ()
        allowed = [drivers.allowed.value(time, arriving=True) > 0.0 for time in ends]  # type: ignore[union-attr]
        wanted = np.logical_and.reduce([*others, *([allowed] if allowed else [])])
        found["floor_limit_h"] = float(lengths @ (wanted & ~limit.astype(bool))) / 3600.0
    return found


def _kept(
    followed: partial[History], options: MarchOptions, start: Start, listener: Listener | None, path: Path | None
) -> History:
    """A march that writes checkpoints, where a file for them is named."""
    if path is None:
        return followed(start=start, options=options, listener=listener)
    keeper, earlier = CheckpointWriter(path, followed.keywords["watch"]), read_checkpoint(path)
    if earlier is not None:
        keeper.follow(earlier)

    def listen(moment: Moment, step: Step) -> None:
        keeper.listening(moment, step)
        if listener:
            listener(moment, step)

    options, start = replace(options, keep=keeper.keep), earlier.start if earlier else start
    history = followed(start=start, options=options, listener=listen, watch=keeper.watching)
    return earlier.joined(history) if earlier else history


def usual_options(case: Case) -> MarchOptions:
    """Steps for a case: its tolerance, and enough of them for smooth series."""
    return MarchOptions(tolerance=case.time.tolerance, longest_step=min(3600.0, case.time.duration / STEPS_AT_LEAST))


def with_flows(system: System, waters: tuple[RunWater, ...]) -> System:
    """The system with the flows [kg/s] that its steady state has: a pump is set once, not by the hour's heat."""
    return system.with_term(system.water.with_flow(*(water.flow for water in waters)))


def _start(case: Case, system: System, steady: Result[Case], drivers: Drivers) -> Start:
    """The first moment; a steady one belongs to the water and the weather that the drivers begin with."""
    responds = isinstance(drivers.room, RoomNode)
    if case.time.start == "uniform":
        temperature = case.time.start_temperature
        return Start(uniform_state(system, temperature), room=temperature if responds else None)
    state, now = steady.solution.state, Now(0.0, room=case.room.temperature)
    if drivers.heat(now) and not isinstance(drivers.supply, ConstantHeat):
        with single_threaded_blas():
            state = solve_steady(driven(system, drivers, now, state.temperature), start=state).state
    return Start(state, room=now.room if responds else None)


def _work(history: History, model: Model[Case]) -> dict[str, float]:
    """How much work the march was."""
    steps, cells = len(history.steps), model.grid.size
    return {
        "audit_residual": history.residual,
        "cells": float(cells),
        "steps": float(steps),
        "march_time_s": history.seconds,
        "step_cell_us": 1e6 * history.seconds / max(steps * cells, 1),
    }

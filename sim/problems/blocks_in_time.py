"""A case of blocks followed in time: a report at each of its times and at the end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeGuard

import numpy as np

from sim.bay.geometry import needed
from sim.build_up import mesh_fineness
from sim.case.blocks_case import BlocksCase
from sim.case.writing import case_text
from sim.machine.brief import Brief
from sim.problems.blocks import Blocks
from sim.problems.kind import KindInTime, Tell, Values, say_nothing, timed
from sim.results.air_fields import air_coordinates, air_variables
from sim.results.blocks_report import blocks_values
from sim.results.report import Report
from sim.run import Model, Result, air_settings, prepare
from sim.solver.begin import held_at_start
from sim.solver.drive import Drivers
from sim.solver.march import History, Listener, MarchOptions, Start, march, uniform_state
from sim.solver.signals import Wave
from sim.solver.stages import Moment
from sim.solver.storage import build_storage
from sim.solver.system import System
from sim.solver.worst import placed
from sim.store.run_folder import versions, write_run

if TYPE_CHECKING:
    import xarray

    from sim.bay.grid import Fineness
    from sim.case.blocks_parts import Face
    from sim.case.load import AnyCase
    from sim.resolved.in_time import AirInTime

STEPS_AT_LEAST = 36
"""A run, and each of its waves, is followed in at least about so many steps."""

FIRST_STEP = 1e-3
"""First step as a share of the duration: faces and surroundings begin with a jump."""

_BLOCKS = Blocks()


@dataclass(frozen=True, slots=True, repr=False)
class InTime(Brief):
    """A build-up followed in time: reports by time [s] in rising order, the end last, and the march.

    `history` watches a report at the start and after every step, under the name "report". `air` is the computed air;
    with it the reports have bands of the mesh, and `remarks` say what those hold, or why there are none.
    """

    model: Model[BlocksCase]
    reports: Mapping[float, Report]
    history: History
    air: AirInTime | None = None
    remarks: tuple[str, ...] = ()

    @property
    def case(self) -> BlocksCase:
        """The case that was followed."""
        return self.model.case

    def rows(self) -> list[dict[str, float]]:
        """The numbers of the reports at the start and after every step, with `time_s` in front."""
        pairs = zip(self.history.time, self.history.watched, strict=True)
        return [{"time_s": float(time)} | watched["report"].as_dict() for time, watched in pairs]

    @property
    def end(self) -> Result[BlocksCase]:
        """The moment at the end as a result, with its report, fields and flows; its solids still take up heat."""
        model, moment = self.model, self.history.end
        air = {} if self.air is None else _air_values(self.air) | self.means()
        steps = air | {"audit_residual": self.history.residual, "cells": float(model.cells.grid.size)}
        steps |= {"steps": float(len(self.history.steps)), "march_time_s": self.history.seconds}
        *_, last = self.reports.values()
        report = Report(last.name, MappingProxyType(last.as_dict() | steps))
        parts = model.case, model.geometry, model.grid, model.cells
        return Result(*parts, moment.solution, moment.flows.balance, report)

    def stored_fields(self) -> xarray.Dataset:
        """Fields at the end with that moment [s], and the computed air: its means, and how it is then."""
        fields = self.end.fields.assign_attrs(time=self.history.end.time)
        if (air := self.air) is None:
            return fields
        return fields.assign(air_variables(air.domain, air.mean, air.now)).assign_coords(air_coordinates(air.domain))

    def means(self) -> dict[str, float]:
        """Means of a report's numbers over the time from `air.average_from` on, each under `mean_` and its key."""
        since = self.case.air.average_from
        steps = [] if since is None else [n for n, step in enumerate(self.history.steps, 1) if step.time > since]
        if not steps:
            return {}
        weights = [self.history.steps[n - 1].length for n in steps]
        rows = [self.history.watched[n]["report"].values for n in steps]
        return {f"mean_{key}": float(np.average([row[key] for row in rows], weights=weights)) for key in rows[0]}

    def __str__(self) -> str:
        times = ", ".join(f"{time:g}" for time in self.reports)
        return f"{self.history}\nreports at {times} s"


def follow_blocks(
    case: BlocksCase,
    *,
    fineness: Fineness | None = None,
    options: MarchOptions | None = None,
    listener: Listener | None = None,
) -> InTime:
    """Follow a case of blocks in time, as its section [time] and the waves of its faces say.

    Parameters
    ----------
    case : BlocksCase
        One with a section [time].
    fineness : mesh sizes in place of the case's own.
    options : how exactly to march; by default `march_options` of the case.
    listener : called with the moment and the record of each step.

    Returns
    -------
    InTime, every step of which closes its energy audit.

    Raises
    ------
    ValueError
        The case has no section [time].
    MarchError, BalanceError
        As in `sim.solver.march.march`.
    """
    if case.time is None:
        raise ValueError(f"{case.name}: a case is followed in time only with a section [time]")
    model = prepare(case, fineness)
    options = options or march_options(case)
    with placed(case.name, model.system, model.cells):
        history, air = _march(case, model, options, listener)
        reports = _reports(case, history)
        if air is None:
            return InTime(model, reports, history)
        bands, remark = _bands(case, model, options, air, reports)
    return InTime(model, bands, history, air, (remark,))


def _reports(case: BlocksCase, history: History) -> dict[float, Report]:
    """The reports that a case asks for, by time [s]."""
    times = {*needed(case.time).report_at, needed(case.time).duration}
    pairs = zip(history.time, history.watched, strict=True)
    return {float(time): one["report"] for time, one in pairs if time in times}


def _bands(
    case: BlocksCase, model: Model[BlocksCase], options: MarchOptions, air: AirInTime, reports: Mapping[float, Report]
) -> tuple[Mapping[float, Report], str]:
    """Reports with bands of the mesh, from a march on larger cells, and what they hold; or why there are none."""
    from sim.airflow.domain import TooFewCellsError
    from sim.problems.air_in_time_errors import HELD, NONE_TOLD, banded
    from sim.resolved.companion import is_coarser
    from sim.results.air_remarks import TOO_FEW

    if not case.air.companion:
        return reports, NONE_TOLD.format(why="air.companion is false")
    try:
        history, larger = _march(case, model, options, None, larger=True)
    except TooFewCellsError:
        larger = None
    if larger is None or not is_coarser(larger.domain, air.domain):
        return reports, NONE_TOLD.format(why=TOO_FEW)
    return banded(reports, _reports(case, history)), HELD


def _air_values(air: AirInTime) -> dict[str, float]:
    from sim.results.air_report import air_in_time_values

    return air_in_time_values(air)


def _march(
    case: BlocksCase, model: Model[BlocksCase], options: MarchOptions, listener: Listener | None, larger: bool = False
) -> tuple[History, AirInTime | None]:
    """Solids alone, or together with the flow of the air among them, on cells twice as large where asked for."""
    time, storage, drivers = needed(case.time), build_storage(model.cells, model.system), block_drivers(case, model)

    def watch(moment: Moment) -> Mapping[str, Any]:
        return {"report": _report(model, moment)}

    options = replace(options, least_heat=max(options.least_heat, _round_off(model.system) / options.residual))
    if case.air.is_resolved:
        from sim.resolved.in_time import AirStart, march_with_air

        parts = model.system, model.cells, replace(storage, zones=np.empty(0))
        from sim.resolved.companion import companion_settings

        settings = air_settings(case, model.refinement, model.plane)
        settings = companion_settings(settings) if larger else settings
        own = case.air.start_temperature or time.start_temperature
        start = AirStart(time.start_temperature, own, case.air.average_from or np.inf)
        return march_with_air(parts, settings, start, time.duration, drivers, options, listener, watch)
    state = uniform_state(model.system, time.start_temperature)
    begin = Start(held_at_start(state, model.system, drivers.ambients))
    return march(model.system, storage, begin, time.duration, drivers, options, listener, watch), None


def _round_off(system: System) -> float:
    """Heat that round-off leaves over in all cells together [W]: held boxes conduct all but ideally."""
    conductance = sum(float(face.sum()) for face in system.conduction.faces)
    return 4.0 * float(np.finfo(float).eps) * conductance * max(system.reservoirs(), default=0.0)


def march_options(case: BlocksCase) -> MarchOptions:
    """Steps for a case: its tolerance, ends of steps on its reports, and enough steps for its waves."""
    periods = [face.wave.period for face in case.faces if face.wave is not None]
    time = needed(case.time)
    return MarchOptions(
        tolerance=time.tolerance,
        first_step=FIRST_STEP * time.duration,
        longest_step=min([time.duration, *periods]) / STEPS_AT_LEAST,
        stops=tuple(sorted(time.report_at)),
    )


def block_drivers(case: BlocksCase, model: Model[BlocksCase]) -> Drivers:
    """The waves of a case's faces, by the path of each face."""
    pairs = zip(case.faces, model.geometry.exposures, strict=True)
    return Drivers(ambients={exposure.path: _signal(face) for face, exposure in pairs if face.wave is not None})


def _signal(face: Face) -> Wave:
    mean, wave = needed(face.ambient if face.temperature is None else face.temperature), needed(face.wave)
    return Wave(mean, wave.amplitude, wave.period, wave.delay)


def _report(model: Model[BlocksCase], moment: Moment) -> Report:
    """The numbers of a moment, as those of a steady state."""
    return Report(model.case.name, MappingProxyType(blocks_values(model.geometry, model.cells, moment.solution)))


def save_in_time(found: InTime, folder: str | Path) -> Path:
    """Write a march as a run folder: its end as report and fields, the report of every step in `history.csv`.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not a run.
    """
    end = found.end
    return write_run(
        folder,
        case_text=case_text(found.case),
        report=end.report.as_dict(),
        fields=found.stored_fields(),
        history=found.rows(),
        versions=versions() | {"seconds_march": f"{found.history.seconds:.3f}"},
    )


class BlocksInTime(KindInTime[BlocksCase, Model[BlocksCase], InTime]):
    """What `joistbay warmup` follows of blocks."""

    name = "blocks in time"

    def holds(self, case: AnyCase) -> TypeGuard[BlocksCase]:
        """Blocks with a section [time]."""
        return _BLOCKS.holds(case) and case.time is not None

    def check(self, case: BlocksCase, finer: int = 1) -> None:
        """As in the steady state."""
        _BLOCKS.check(case, finer)

    def prepare(self, case: BlocksCase, refinement: int = 1) -> Model[BlocksCase]:
        """As for the steady state."""
        return _BLOCKS.prepare(case, refinement)

    def parts(self, ready: Model[BlocksCase]) -> tuple[object, ...]:
        """As for the steady state."""
        return _BLOCKS.parts(ready)

    def until(self, case: BlocksCase) -> float:
        """As its section [time] says."""
        return needed(case.time).duration

    def follow(self, case: BlocksCase, listener: Listener | None = None) -> InTime:
        """The blocks to the end of their time."""
        return follow_blocks(case, listener=listener)

    def solve(self, case: BlocksCase, refinement: int = 1, tell: Tell = say_nothing) -> InTime:
        """The build-up to the end of its time."""
        options = march_options(case)
        return follow_blocks(
            case,
            fineness=mesh_fineness(case).refined(refinement),
            options=replace(options, tolerance=options.tolerance / refinement**2),
            listener=lambda moment, step: tell(f"{step.time:.4g} s simulated"),
        )

    def summarise(self, found: InTime) -> Values:
        """The report of the end, and those of all times."""
        *_, end = found.reports.values()
        return dict(end.values) | found.means() | {
            timed(key, time): value for time, report in found.reports.items() for key, value in report.values.items()
        }

    def save(self, found: InTime, folder: str | Path) -> Path:
        """Write its end as a run folder, with a line a step."""
        return save_in_time(found, folder)

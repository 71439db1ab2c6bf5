"""A case of blocks followed in time: a report at each of its times and at the end."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sim.results.blocks_report import blocks_values
from sim.results.report import Report
from sim.run import Model, Result, prepare
from sim.solve.drive import Drivers
from sim.solve.march import History, MarchOptions, Start, Step, march, uniform_state
from sim.solve.signals import Wave
from sim.solve.stages import Moment
from sim.solve.storage import build_storage

if TYPE_CHECKING:
    from sim.bay.grid import Fineness
    from sim.case.blocks_case import BlocksCase

STEPS_AT_LEAST = 36
"""A run, and each of its waves, is followed in at least about so many steps."""

FIRST_STEP = 1e-3
"""First step as a share of the duration: faces and surroundings begin with a jump."""

Listener = Callable[[Moment, Step], None]


@dataclass(frozen=True, slots=True)
class InTime:
    """A build-up followed in time: reports by time [s] in rising order, the end last, and the march.

    `history` watches a report at the start and after every step, under the name "report".
    """

    model: Model
    reports: Mapping[float, Report]
    history: History

    @property
    def case(self) -> Any:
        """The case that was followed."""
        return self.model.case

    def rows(self) -> list[dict[str, float]]:
        """The numbers of the reports at the start and after every step, with `time_s` in front."""
        pairs = zip(self.history.time, self.history.watched, strict=True)
        return [{"time_s": float(time)} | watched["report"].as_dict() for time, watched in pairs]

    @property
    def end(self) -> Result:
        """The moment at the end as a result, with its report, fields and flows; its solids still take up heat."""
        model, moment = self.model, self.history.end
        steps = {"audit_residual": self.history.residual, "cells": float(model.cells.grid.size)}
        steps |= {"steps": float(len(self.history.steps)), "march_time_s": self.history.seconds}
        report = _report(model, moment)
        report = Report(report.name, MappingProxyType(report.as_dict() | steps))
        parts = model.case, model.geometry, model.grid, model.cells
        return Result(*parts, moment.solution, moment.flows.balance, report)

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
        As in `sim.solve.march.march`.
    """
    if case.time is None:
        raise ValueError(f"{case.name}: a case is followed in time only with a section [time]")
    model = prepare(case, fineness)
    storage = build_storage(model.cells, model.system)
    start = Start(uniform_state(model.system, case.time.start_temperature))

    def watch(moment: Moment) -> Mapping[str, Any]:
        return {"report": _report(model, moment)}

    options = options or march_options(case)
    history = march(
        model.system, storage, start, case.time.duration, block_drivers(case, model), options, listener, watch
    )
    times = {*case.time.report_at, case.time.duration}
    reports = zip(history.time, history.watched, strict=True)
    return InTime(model, {float(time): one["report"] for time, one in reports if time in times}, history)


def march_options(case: Any) -> MarchOptions:
    """Steps for a case: its tolerance, ends of steps on its reports, and enough steps for its waves."""
    periods = [face.wave.period for face in case.faces if face.wave is not None]
    return MarchOptions(
        tolerance=case.time.tolerance,
        first_step=FIRST_STEP * case.time.duration,
        longest_step=min([case.time.duration, *periods]) / STEPS_AT_LEAST,
        stops=tuple(sorted(case.time.report_at)),
    )


def block_drivers(case: Any, model: Model) -> Drivers:
    """The waves of a case's faces, by the path of each face."""
    pairs = zip(case.faces, model.geometry.exposures, strict=True)
    return Drivers(ambients={exposure.path: _signal(face) for face, exposure in pairs if face.wave is not None})


def _signal(face: Any) -> Wave:
    mean = face.ambient if face.temperature is None else face.temperature
    return Wave(mean, face.wave.amplitude, face.wave.period, face.wave.delay)


def _report(model: Model, moment: Moment) -> Report:
    """The numbers of a moment, as those of a steady state."""
    return Report(model.case.name, MappingProxyType(blocks_values(model.geometry, model.cells, moment.solution)))

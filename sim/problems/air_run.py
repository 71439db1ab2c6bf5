"""A run of air alone: its flow, followed to a steady state or to a steady mean, and its run folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from time import perf_counter
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import march
from sim.airflow.domain import TooFewCellsError
from sim.airflow.flow import Flow, resting_flow, transfer_flow
from sim.airflow.frames import Frames, StartFrames
from sim.airflow.statistics import Averager
from sim.airflow.stepping import FlowListener, FlowStepper, Look
from sim.case.writing import case_text
from sim.machine.brief import head_of, small_tree
from sim.machine.notebook import card, folded, frame
from sim.problems.air_box import AirProblem, air_outlines, build_air_problem, build_grids
from sim.problems.air_ending import follow_to_the_end
from sim.problems.air_numbers import air_values
from sim.problems.air_rest import Unrest, disturbed, unrest_values
from sim.problems.air_watch import Record
from sim.resolved.companion import is_coarser
from sim.results.air_remarks import alone_remarks
from sim.results.report import Report
from sim.store.run_folder import versions, write_run

if TYPE_CHECKING:
    import pandas
    import xarray

    from sim.case.blocks_air import BlocksAir
    from sim.case.blocks_case import BlocksCase

Array = NDArray[np.float64]
COARSE_LOOSENESS = 10.0
"""How much sooner a coarser grid counts as steady."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class AirRun:
    """A case of air alone that has been followed.

    Attributes
    ----------
    case : BlocksCase
    problem : AirProblem
        On the last grid.
    now : Flow
        At the end.
    mean : Flow
        Mean over the averaging time; the same as `now` where the flow became steady.
    heat_flow : (n,) [W]
        Mean heat flow from every wall face into the air.
    history : tuple of mappings
        Readings at every look on the last grid.
    frames : Frames
    report : Report
    seconds : mapping
        By stage.
    unrest : Unrest, optional
        What became of a small disturbance, where the air came to rest.
    remarks : tuple of str
        What a reader has to know of the errors that it tells.
    """

    case: BlocksCase
    problem: AirProblem
    now: Flow
    mean: Flow
    heat_flow: Array
    history: tuple[dict[str, float], ...]
    frames: Frames
    report: Report
    seconds: dict[str, float]
    unrest: Unrest | None = None
    remarks: tuple[str, ...] = ()

    @property
    def fields(self) -> xarray.Dataset:
        """Temperature and velocity, mean and at the end, as a labelled dataset."""
        from sim.results.air_fields import air_dataset

        attributes = {"title": self.case.title or self.case.name, "outlines": air_outlines(self.case)}
        return air_dataset(self.problem.box.domain, self.mean, self.now, **attributes, **self._scales())

    @property
    def frames_dataset(self) -> xarray.Dataset | None:
        """Pictures of the start, if any were asked for."""
        from sim.results.air_fields import frames_dataset

        if not self.frames.times:
            return None
        attributes = {"title": self.case.title or self.case.name, "outlines": air_outlines(self.case)}
        return frames_dataset(
            self.problem.box.domain, self.frames.times, self.frames.fields, **attributes, **self._scales()
        )

    def _scales(self) -> dict[str, Any]:
        return {"dimensionless": int(self.problem.dimensionless)}

    def to_pandas(self) -> pandas.DataFrame:
        """The readings of the flow in time: a line a look, every column with its unit where it has one."""
        return frame(self.history)

    def __repr__(self) -> str:
        return small_tree(head_of(self), [*self.report.headlines(), ("has", "report, fields, history, case")])

    def _repr_html_(self) -> str:
        return card(f"Air of {self.case.name}", self.report._repr_html_(), folded("Case", self.case._repr_html_()))

    def __str__(self) -> str:
        return f"{self.problem}\n{self.now}\n{self.report}"


def solve_air(
    case: BlocksCase,
    listener: FlowListener | None = None,
    *,
    refinement: int = 1,
    grids: Sequence[AirProblem] | None = None,
) -> AirRun:
    """Follow the flow of a case of air alone.

    Parameters
    ----------
    case : BlocksCase
        One whose `air_alone` is true.
    listener : callable(Look, FlowStepper), optional
        Hears of every look, on all grids.
    refinement : float
        All cell sizes of the case are divided by it.
    grids : sequence of AirProblem, optional
        What `build_grids` has made of the case already.

    Raises
    ------
    ValueError
        For another case.
    FlowError
        When the flow runs into values that mean nothing.
    """
    if not case.air_alone:
        raise ValueError(f"{case.name}: is not a case of air alone; sim.solve solves it")
    began = perf_counter()
    problem, start = None, None
    *coarser, own = grids or build_grids(case, refinement)
    for each in coarser:
        problem, start = each, _on_grid(case, each, (problem, start), listener)
    larger = partial(_coarser_numbers, case, refinement, (problem, start), own)
    return _followed(case, own, _next(own, case, (problem, start)), larger, listener, began)


def _next(finer: AirProblem, case: BlocksCase, before: tuple[AirProblem | None, Flow | None]) -> Flow:
    """The flow that a problem starts from: what the grid before ended with, or the case's own start."""
    problem, flow = before
    if problem is None or flow is None:
        return start_flow(case, finer)
    carried = transfer_flow(flow, problem.box.domain, finer.box.domain)
    return replace(carried, time=0.0, steps=0)


def _on_grid(
    case: BlocksCase,
    problem: AirProblem,
    before: tuple[AirProblem | None, Flow | None],
    listener: FlowListener | None,
) -> Flow:
    """The flow on one of the coarser grids, not followed to the very end."""
    start = _next(problem, case, before)
    until, steady = 0.5 * case.air.longest, COARSE_LOOSENESS * case.air.steady
    return march(problem.box, start, until=until, steady=steady, listener=listener)


def _coarser_numbers(
    case: BlocksCase, refinement: float, before: tuple[AirProblem | None, Flow | None], own: AirProblem
) -> dict[str, float] | None:
    """Nusselt numbers by surface on cells twice as large: of the grid before, or of one that is followed for this.

    What the last cells changed in them bounds what they leave open. None where such cells are too few.
    """
    problem, flow = before
    try:
        if problem is None or flow is None:
            problem = build_air_problem(case, 2.0 / refinement)
            flow = _on_grid(case, problem, (None, None), None)
    except TooFewCellsError:
        return None
    if not is_coarser(problem.box.domain, own.box.domain):
        return None
    heat = problem.heat_flow(flow)
    return {surface.name: problem.nusselt(heat, surface) for surface in problem.surfaces}


def start_flow(case: BlocksCase, problem: AirProblem) -> Flow:
    """The flow that a case starts from, on the problem's grid."""
    if case.air.start_from is not None:
        from sim.case.blocks_air_rules import start_folder
        from sim.results.air_fields import read_flow

        return read_flow(start_folder(case), problem.box.domain)
    if case.air.start == "roll":
        return _seeded(problem, case.air.seed)
    if case.air.start == "noise":
        return disturbed(problem, _seeded(problem, 0.0), case.air.seed, case.air.noise)
    if case.air.start_temperature is not None:
        return resting_flow(problem.box.domain, case.air.start_temperature)
    return problem.box.start()


def _seeded(problem: AirProblem, height_of_seed: float) -> Flow:
    """Layers between the floor's and the ceiling's mean temperatures, with a single roll as a small disturbance."""
    domain, warm, side = problem.box.domain, problem.box.wall_temperature, problem.box.walls.side
    floor, ceiling = (_mean_or(warm[side == s], problem) for s in (4, 5))
    x, _, z = domain.centres
    (west, east), (low, high) = (domain.edges[axis][[0, -1]] for axis in (0, 2))
    height, across = ((z - low) / (high - low)), ((x - west) / (east - west))
    seed = height_of_seed * problem.difference * np.cos(np.pi * across)[:, None, None] * np.sin(np.pi * height)
    return resting_flow(domain, floor + (ceiling - floor) * height + seed)


def _mean_or(values: Array, problem: AirProblem) -> float:
    """Mean of the given temperatures; that of all walls where there is none."""
    given = values[~np.isnan(values)]
    everywhere = problem.box.wall_temperature
    return float(given.mean() if given.size else np.nanmean(everywhere))


def _frames(air: BlocksAir) -> Frames:
    """Pictures up to the time that is stated; else for as long as anything changes."""
    return Frames(air.frames, air.frames_until) if air.frames_until else StartFrames(air.frames, air.longest)


def _followed(
    case: BlocksCase,
    problem: AirProblem,
    start: Flow,
    coarser: Callable[[], dict[str, float] | None],
    listener: FlowListener | None,
    began: float,
) -> AirRun:
    """The last grid: followed to the end, watched and averaged; where it became steady, held against larger cells."""
    air = case.air
    average_from = air.average_from or 0.5 * air.longest
    record = Record(problem, tuple((probe.name, probe.point) for probe in case.probes))
    averager, frames = Averager(average_from), _frames(air)
    frames.keep(start.time, (*start.velocity, start.temperature))
    listeners: list[FlowListener] = [record, averager, frames, *([listener] if listener else [])]

    def hear(look: Look, stepper: FlowStepper) -> None:
        for each in listeners:
            each(look, stepper)

    marching = perf_counter()
    now, unrest = follow_to_the_end(problem, air, start, hear)
    seconds = {"prepare": marching - began, "solve": perf_counter() - marching}
    frames.close()
    steady = now.stop_reason == "steady" or not averager.times
    mean, flows = (now, problem.heat_flow(now)) if steady else (averager.flow(), averager.heat_flow())
    larger = coarser() if steady and unrest is None else {}
    values = air_values(case, problem, (now, mean), flows, record.series(average_from), seconds, larger)
    values |= unrest_values(unrest, problem.dimensionless)
    report = Report(case.name, MappingProxyType(values))
    remarks = alone_remarks(steady, larger is None) if unrest is None else []
    told = (report, seconds, unrest, tuple(remarks))
    return AirRun(case, problem, now, mean, flows, tuple(record.history()), frames, *told)


def save_air(run: AirRun, folder: str | Path) -> Path:
    """Write a run of air alone as a run folder; `history.csv` has a line a look at the flow.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not a run.
    """
    seconds = {f"seconds_{stage}": f"{spent:.3f}" for stage, spent in run.seconds.items()}
    return write_run(
        folder,
        case_text=case_text(run.case),
        report=run.report.as_dict(),
        fields=run.fields,
        history=run.history,
        versions=versions() | seconds,
        frames=run.frames_dataset,
    )

"""What the steady states of a bay and of blocks share: both go through the chain of `sim.run`."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from sim.build_up import mesh_fineness
from sim.case.writing import case_text
from sim.problems.buildable import check_buildable
from sim.problems.kind import CaseT, Kind, Tell, Values, say_nothing
from sim.run import Model, Result, prepare, solve, solve_model
from sim.solver.steady import Pass, SteadyOptions
from sim.store.run_folder import versions, write_run

STRICT = SteadyOptions(residual=1e-7, imbalance=1e-8, linear_tolerance=1e-3)
"""Stricter than for everyday runs, so that what differs is the mesh and the model, not the iteration.

Not with resolved air, whose means have a standard error far above that of any iteration.
"""


class Steady(Kind[CaseT, Model[CaseT], Result[CaseT]]):
    """Solids, films or computed air, and water at rest."""

    def check(self, case: CaseT, finer: int = 1) -> None:
        """Its geometry can be built, its mesh is no mistake, and films taught by another run are there."""
        check_buildable(case, finer)

    def prepare(self, case: CaseT, refinement: int = 1) -> Model[CaseT]:
        """Geometry, grid, cells and equations."""
        return prepare(case, None if refinement == 1 else mesh_fineness(case).refined(refinement))

    def sketch(self, case: CaseT) -> Model[CaseT]:
        """Without view factors."""
        return prepare(case, ray_seed=None)

    def parts(self, ready: Model[CaseT]) -> tuple[object, ...]:
        """From geometry to equations, and the air's own grid where its flow is computed."""
        air = (ready.air_domain(),) if ready.case.air.is_resolved else ()
        return ready.geometry, ready.grid, ready.cells, ready.system, *air

    def solve_as_usual(self, case: CaseT) -> Result[CaseT]:
        """Its steady state."""
        return solve(case)

    def solve(self, case: CaseT, refinement: int = 1, tell: Tell = say_nothing) -> Result[CaseT]:
        """Its steady state."""
        return solve_model(
            prepare(case, mesh_fineness(case).refined(refinement)),
            options=None if case.air.is_resolved else STRICT,
            listener=lambda record: tell(f"pass {record.number}, residual {record.residual:.0e}"),
            air_listener=lambda record, evidence, seconds: tell(f"{record.time:.4g} s of air, step {record.steps:,}"),
        )

    def summarise(self, found: Result[CaseT]) -> Values:
        """Its report."""
        return found.report.values

    def save(self, found: Result[CaseT], folder: str | Path) -> Path:
        """Write it as a run folder."""
        return save_run(found, folder)


def save_run(result: Result[CaseT], folder: str | Path) -> Path:
    """Write a solved case as a run folder."""
    seconds = {f"seconds_{stage}": f"{spent:.3f}" for stage, spent in result.solution.seconds.items()}
    return write_run(
        folder,
        case_text=case_text(result.case),
        report=result.report.as_dict(),
        fields=result.fields,
        history=_history(result),
        versions=versions() | seconds,
        frames=result.frames,
    )


def _history(result: Result[CaseT]) -> list[dict[str, Any]]:
    """One line a round with resolved air, else one line a pass."""
    if result.air is None:
        return [history_row(record) for record in result.solution.history]
    starts = result.air.starts
    return [
        ({"start": start} if len(starts) > 1 else {})
        | {"round": r.number, "time_s": r.time, "steps": r.steps, "air_takes_up_W": float(r.heat.sum())}
        | {f"heat_flow_{path.replace(' ', '_')}_W": flow for path, flow in r.flows.items()}
        for start, rounds in enumerate(starts, 1)
        for r in rounds
    ]


def history_row(record: Pass) -> dict[str, object]:
    """One outer pass as a line of `history.csv`; the first has no change before it."""
    return {
        "pass": record.number,
        "residual": record.residual,
        "imbalance": record.imbalance,
        "largest_change_K": record.largest_change if math.isfinite(record.largest_change) else "",
        "linear_iterations": record.linear_iterations,
        "heat_supplied_W": record.heat_supplied,
        "elapsed_s": record.seconds,
    }

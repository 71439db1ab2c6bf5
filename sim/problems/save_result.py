"""A solved case becomes a run folder."""

from __future__ import annotations

import math
import shutil
from pathlib import Path
from typing import Any

from sim.case.writing import case_text
from sim.results.stored import StoredResult
from sim.run import Result
from sim.solve.steady import Pass
from sim.store.run_folder import versions, write_run


def save_result(result: Result | StoredResult, folder: str | Path) -> Path:
    """Write a solved case as a run folder: case, report, fields, history, versions with seconds by stage.

    A result that lies in a folder already is copied.

    Returns
    -------
    Path
        The folder; it appears complete or not at all.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not a run.
    """
    if isinstance(result, StoredResult):
        return Path(shutil.copytree(result.folder, folder))
    if result.air is not None and result.case.kind == "bay":
        return _save_with_films(result, folder)
    return _save_run(result, folder)


def _save_with_films(result: Result, folder: str | Path) -> Path:
    """A run with resolved air keeps the films that it teaches, too."""
    from sim.problems.calibration import calibrate
    from sim.resolved.calibration_file import save_calibration

    taught = calibrate(result)
    kept = _save_run(result, folder)
    save_calibration(taught, kept)
    return kept


def _save_run(result: Result, folder: str | Path) -> Path:
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


def _history(result: Result) -> list[dict[str, Any]]:
    """One line a round with resolved air, else one line a pass."""
    if result.air is None:
        return [history_row(record) for record in result.solution.history]
    return [
        {"round": r.number, "time_s": r.time, "steps": r.steps, "air_takes_up_W": float(r.heat.sum())}
        | {f"heat_flow_{path.replace(' ', '_')}_W": flow for path, flow in r.flows.items()}
        for r in result.air.rounds
    ]


def history_row(record: Pass) -> dict[str, Any]:
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

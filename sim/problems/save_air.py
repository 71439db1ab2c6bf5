"""A run of air alone becomes a run folder: case, report, fields, readings, pictures of the start."""

from __future__ import annotations

from pathlib import Path

from sim.case.writing import case_text
from sim.problems.air_alone import AirRun
from sim.store.run_folder import versions, write_run


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

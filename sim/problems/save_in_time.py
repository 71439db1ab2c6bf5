"""A build-up of blocks followed in time becomes a run folder: its end as report and fields, its steps as history."""

from __future__ import annotations

from pathlib import Path

from sim.case.writing import case_text
from sim.problems.blocks_in_time import InTime
from sim.store.run_folder import versions, write_run


def save_in_time(found: InTime, folder: str | Path) -> Path:
    """Write a march as a run folder; `history.csv` has the numbers of the report at the start and after every step.

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
        fields=end.fields.assign_attrs(time=found.history.end.time),
        history=found.rows(),
        versions=versions() | {"seconds_march": f"{found.history.seconds:.3f}"},
    )

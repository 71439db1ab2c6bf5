"""A solved case becomes a run folder."""

from __future__ import annotations

import shutil
from pathlib import Path

from sim.problems.kinds import kind_of
from sim.results.stored import StoredResult
from sim.run import CaseT, Result


def save_result(result: Result[CaseT] | StoredResult, folder: str | Path) -> Path:
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
    return kind_of(result.case).save(result, folder)

"""Calibrated films as a file of a run folder."""

from __future__ import annotations

import json
from pathlib import Path

from sim.case.errors import CaseError, Problem
from sim.resolved import FILMS_FILE
from sim.resolved.calibration import Calibration


def save_calibration(calibration: Calibration, folder: str | Path) -> Path:
    """Write a calibration into a run folder."""
    path = Path(folder) / FILMS_FILE
    path.write_text(json.dumps(calibration.as_dict(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    return path


def read_calibration(case_path: str | None, named: str) -> Calibration:
    """The calibration that a case names: a run folder, or its file, from the case's own folder or from here.

    Raises
    ------
    CaseError : there is none.
    """
    beside = Path(case_path).parent if case_path else Path()
    tried = [path / FILMS_FILE if path.is_dir() else path for path in (beside / named, Path(named))]
    for path in tried:
        if path.is_file():
            try:
                return Calibration.from_dict(json.loads(path.read_text("utf-8")))
            except (ValueError, KeyError, TypeError) as error:
                rule, way = f"cannot be read: {error}", "make it anew with a run of resolved air"
                raise CaseError(case_path or "case", [Problem("air.calibration", f'"{named}"', rule, way)]) from None
    rule, way = f"no {FILMS_FILE} there", 'name the folder of a run with air.model = "resolved"'
    raise CaseError(case_path or "case", [Problem("air.calibration", f'"{named}"', rule, way)])

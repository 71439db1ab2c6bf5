"""Calibrated films as a file of a run folder."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

from sim.case.errors import CaseError, Problem, shortened
from sim.resolved import FILMS_FILE
from sim.resolved.calibration import Calibration, Words

FACTORS = (1e-3, 1e3)
"""Factors on films beyond these are no film any more; what this program teaches lies within 0.02 and 50 [-]."""

_WAY_OUT = "make it anew with a run of resolved air"


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
    try:
        tried = [path / FILMS_FILE if path.is_dir() else path for path in (beside / named, Path(named))]
        found = next((path for path in tried if path.is_file()), None)
        if found is None:
            raise _refused(case_path, named, f"no {FILMS_FILE} there", _NAME_IT)
        data = json.loads(found.read_text("utf-8-sig"))
    except CaseError:
        raise
    except (ValueError, OSError, RecursionError) as error:
        raise _refused(case_path, named, f"cannot be read: {shortened(str(error))}", _WAY_OUT) from None
    if wrong := next(_faults(data), None):
        raise _refused(case_path, named, wrong, _WAY_OUT)
    return Calibration.from_dict(data)


_NAME_IT = 'name the folder of a run with air.model = "resolved"'


def _refused(case_path: str | None, named: str, rule: str, way_out: str) -> CaseError:
    return CaseError(case_path or "case", [Problem("air.calibration", f'"{shortened(named)}"', rule, way_out)])


def _faults(data: object) -> Iterator[str]:
    """What keeps the content of a file from being taught films; nothing when it is sound."""
    if not isinstance(data, dict) or not isinstance(data.get("films"), list) or not isinstance(data.get("case"), str):
        yield "is not a file of taught films"
        return
    if not _is_number(data.get("misfit")):
        yield "misfit is not a number"
    if not data["films"]:
        yield "holds no films"
    for place, row in enumerate(data["films"]):
        yield from (f"films[{place}]: {fault}" for fault in _row_faults(row))


def _row_faults(row: object) -> Iterator[str]:
    numbers = ("area", "heat", "film", "factor")
    if not isinstance(row, dict):
        yield "is not a table of one class of faces"
        return
    wanted = {name for name in Words._fields if name not in Words._field_defaults} | set(numbers)
    if missing := sorted(wanted - row.keys()):
        yield f"{missing[0]} is missing"
    elif unknown := sorted(row.keys() - set(Words._fields) - set(numbers)):
        yield f"{shortened(unknown[0])} is not known"
    elif wrong := [name for name in numbers if not _is_number(row[name])]:
        yield f"{wrong[0]} is not a number"
    elif wrong := [name for name in Words._fields if not isinstance(row.get(name, ""), str)]:
        yield f"{wrong[0]} is not text"
    elif not FACTORS[0] <= row["factor"] <= FACTORS[1]:
        yield f"the factor {row['factor']:.3g} is not within {FACTORS[0]:g} and {FACTORS[1]:g}"


def _is_number(value: object) -> bool:
    """Whether a value is a number that can be reckoned with."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e30 and math.isfinite(value)

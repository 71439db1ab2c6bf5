"""Results become folders: one run, or a comparison with a run folder for each of its choices.

COMPARISON/
  comparison.json   both tables, every report quantity
  equal_water.csv   one line a choice, at the case's water temperature
  equal_heat.csv    one line a choice, at equal delivered heat
  case.toml         the case that was varied
  versions.json     library versions
  equal_water/      a run folder for each choice
  equal_heat/       the same at the water temperature that each choice needs
  pictures/         what viz draws
"""

from __future__ import annotations

import csv
import json
import math
import re
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomli_w

from sim.results.store import CASE_FILE, PICTURES_FOLDER, VERSIONS_FILE, versions, write_folder, write_run
from sim.run import Result
from sim.solve.steady import Pass
from sim.study.compare import ComparedChoice, Comparison, vary_case
from sim.study.stored import StoredResult
from sim.study.value import shown_key, shown_value

LONGEST_NAME = 80
"""Characters of a name for people that go into a name for files."""

COMPARISON_FILE = "comparison.json"
COMPARISON_ENTRIES = (
    COMPARISON_FILE,
    "equal_water.csv",
    "equal_heat.csv",
    "equal_water",
    "equal_heat",
    CASE_FILE,
    VERSIONS_FILE,
    PICTURES_FOLDER,
)
"""Everything that the folder of a comparison holds."""


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
    from sim.resolved.calibration_file import save_calibration
    from sim.study.calibration import calibrate

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


def case_text(case: Any) -> str:
    """A case as TOML, every key with its value and unit."""
    return tomli_w.dumps(case.resolved())


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


def save_comparison(comparison: Comparison, folder: str | Path) -> Path:
    """Write a comparison: both tables as JSON and CSV, and a run folder for each choice and table.

    Returns
    -------
    Path
        The folder; it appears complete or not at all.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not a comparison.
    """

    def fill(partial: Path) -> None:
        write_frame(partial, comparison.case, COMPARISON_FILE, comparison.as_dict())
        for equal in ("water", "heat"):
            _write_rows(partial / f"equal_{equal}.csv", comparison, equal)
            _save_choices(partial / f"equal_{equal}", comparison, equal)

    return write_folder(folder, fill, owned=COMPARISON_ENTRIES)


def write_frame(folder: Path, case: Any, name: str, values: Mapping[str, Any]) -> None:
    """What every folder of several solves holds: room for pictures, the case, library versions, and the numbers.

    Parameters
    ----------
    name : file for the numbers.
    values : the numbers, ready for JSON.
    """
    (folder / PICTURES_FOLDER).mkdir()
    (folder / CASE_FILE).write_text(case_text(case), encoding="utf-8")
    (folder / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")
    (folder / name).write_text(json_text(values), encoding="utf-8")


def write_table(path: Path, rows: Sequence[Mapping[str, Any]], last: Sequence[str] = ()) -> None:
    """Rows as CSV; the columns of all of them in the order in which they first come up, but `last` at the end."""
    columns = [column for column in dict.fromkeys(column for row in rows for column in row) if column not in last]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [*columns, *last], restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def number_cells(values: Mapping[str, float]) -> dict[str, str]:
    """Report values in seven digits; what is not a number stays empty."""
    return {key: f"{value:.7g}" if math.isfinite(value) else "" for key, value in values.items()}


def json_text(values: Mapping[str, Any]) -> str:
    """Plain JSON, two spaces a level; numbers that are not finite become null."""
    return json.dumps(_finite(values), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _finite(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _finite(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _save_choices(folder: Path, comparison: Comparison, equal: str) -> None:
    """A run folder for each choice, numbered in their order."""
    folder.mkdir()
    for number, choice in enumerate(comparison.choices, start=1):
        result = choice.result(equal)
        if result is not None:
            save_result(result, folder / f"{number}-{file_name(choice.name)}")


def file_name(text: str) -> str:
    """A name for people as a name for files, which have no more than 80 characters of it.

    >>> file_name("plates every 9 in")
    'plates-every-9-in'
    """
    return re.sub(r"[^a-z0-9.]+", "-", text.lower()).strip("-.")[:LONGEST_NAME].rstrip("-.")


def _write_rows(path: Path, comparison: Comparison, equal: str) -> None:
    """One line a choice; every column names its unit."""
    setting = shown_key(comparison.case, comparison.key)
    rows = [
        {
            "choice": choice.name,
            setting: shown_value(vary_case(comparison.case, comparison.key, choice.value), comparison.key),
        }
        | _numbers(choice.result(equal))
        | _note(choice, equal)
        for choice in comparison.choices
    ]
    write_table(path, rows)


def _note(choice: ComparedChoice, equal: str) -> dict[str, str]:
    """Why a row is empty, where it is."""
    note = choice.failure or (choice.shortfall if equal == "heat" else "")
    return {"note": note} if note else {}


def _numbers(result: Result | StoredResult | None) -> dict[str, str]:
    return number_cells(result.report.as_dict() if result else {})

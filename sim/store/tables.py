"""What every folder of several solves holds, and tables of their numbers."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sim.case.spreadsheet import neutral_cell
from sim.case.writing import case_text
from sim.store.run_folder import CASE_FILE, PICTURES_FOLDER, VERSIONS_FILE, versions
from sim.store.texts import json_text

if TYPE_CHECKING:
    from sim.case.load import AnyCase


def write_frame(folder: Path, case: AnyCase, name: str, values: Mapping[str, object]) -> None:
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


def write_table(path: Path, rows: Sequence[Mapping[str, object]], last: Sequence[str] = ()) -> None:
    """Rows as CSV; the columns of all of them in the order in which they first come up, but `last` at the end."""
    columns = [column for column in dict.fromkeys(column for row in rows for column in row) if column not in last]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [*columns, *last], restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows({column: neutral_cell(value) for column, value in row.items()} for row in rows)


def number_cells(values: Mapping[str, float]) -> dict[str, str]:
    """Report values in seven digits; what is not a number stays empty."""
    return {key: f"{value:.7g}" if math.isfinite(value) else "" for key, value in values.items()}

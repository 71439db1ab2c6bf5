"""A comparison becomes a folder, with a run folder for each of its choices.

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

from pathlib import Path

from sim.case.value import shown_key, shown_value
from sim.case.vary import vary_case
from sim.problems.save_result import save_result
from sim.results.stored import StoredResult
from sim.run import Result
from sim.store.run_folder import (
    CASE_FILE,
    PAGE_FILE,
    PAPER_FILE,
    PICTURES_FOLDER,
    VERSIONS_FILE,
    WRITTEN_FILE,
    write_folder,
)
from sim.store.tables import number_cells, write_frame, write_table
from sim.store.texts import file_name
from sim.study.compare import ComparedChoice, Comparison

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
    WRITTEN_FILE,
    PAGE_FILE,
    PAPER_FILE,
)
"""Everything that the folder of a comparison holds."""


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


def _save_choices(folder: Path, comparison: Comparison, equal: str) -> None:
    """A run folder for each choice, numbered in their order."""
    folder.mkdir()
    for number, choice in enumerate(comparison.choices, start=1):
        result = choice.result(equal)
        if result is not None:
            save_result(result, folder / f"{number}-{file_name(choice.name)}")


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

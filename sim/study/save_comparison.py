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
from typing import TYPE_CHECKING, Any

from sim.case.value import shown_key, shown_value
from sim.problems.save_result import save_result
from sim.results.stored import StoredResult
from sim.run import Result
from sim.store.run_folder import CASE_FILE, PAGE_FILE, PAPER_FILE, PICTURES_FOLDER, VERSIONS_FILE, WRITTEN_FILE
from sim.store.tables import number_cells, write_frame, write_table
from sim.store.texts import file_name
from sim.store.whole_folder import write_folder
from sim.study.answer import answer
from sim.study.compare import ComparedChoice, Comparison

if TYPE_CHECKING:
    from sim.case.bay_case import Case

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


def save_comparison(comparison: Comparison, folder: str | Path, *, wish: float | None = None) -> Path:
    """Write a comparison: both tables as JSON and CSV, the answer, and a run folder for each choice and table.

    Parameters
    ----------
    wish : upward heat flux that was asked for [W/m²], if any, as the answer speaks of it.

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
        told = {units: "\n".join(answer(comparison, wish, units)) for units in ("si", "ip")}
        write_frame(partial, comparison.case, COMPARISON_FILE, comparison.as_dict() | {"answer": told})
        for equal in ("water", "heat"):
            _write_rows(partial / f"equal_{equal}.csv", comparison, equal)
            _save_choices(partial / f"equal_{equal}", comparison, equal)

    return write_folder(folder, fill, owned=COMPARISON_ENTRIES)


def _save_choices(folder: Path, comparison: Comparison, equal: str) -> None:
    """A run folder for each choice, numbered in their order."""
    folder.mkdir()
    for number, choice in enumerate(comparison.of(equal), start=1):
        result = choice.result(equal)
        if result is not None:
            save_result(result, folder / f"{number}-{file_name(choice.name)}")


def _write_rows(path: Path, comparison: Comparison, equal: str) -> None:
    """One line a choice; every column names its unit."""
    rows = [
        {"choice": choice.name} | _settings(comparison, choice) | _numbers(choice.result(equal)) | _note(choice, equal)
        for choice in comparison.of(equal)
    ]
    write_table(path, rows)


def _settings(comparison: Comparison, choice: ComparedChoice) -> dict[str, Any]:
    """The value of every key that sets choices apart, or the file where whole cases are compared."""
    if not comparison.keys:
        return {"case": choice.case.path or choice.case.name}
    return {shown_key(comparison.case, key): _shown(choice.case, key) for key in comparison.keys}


def _shown(case: Case, key: str) -> Any:
    """A value as one cell; a whole section says only that it is there."""
    value = shown_value(case, key)
    return value if isinstance(value, (str, int, float, bool)) else "changed"


def _note(choice: ComparedChoice, equal: str) -> dict[str, str]:
    """Why a row is empty, where it is."""
    note = choice.failure or (choice.shortfall if equal == "heat" else "")
    return {"note": note} if note else {}


def _numbers(result: Result | StoredResult | None) -> dict[str, str]:
    return number_cells(result.report.as_dict() if result else {})

"""A study of inputs becomes a folder.

STUDY/
  study.json      intervals, influences, failures
  samples.csv     one line a sample: values of the inputs, every report value, why it failed
  ends.csv        the case itself, and each input at its low and its high end
  case.toml       the case that was studied
  versions.json   library versions
  pictures/       what viz draws
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from pathlib import Path

from sim.results.store import CASE_FILE, PICTURES_FOLDER, VERSIONS_FILE, versions, write_folder
from sim.study.sampling import Done, Study
from sim.study.save import case_text, json_text
from sim.study.value import shown_key, shown_value

STUDY_FILE = "study.json"
STUDY_ENTRIES = (STUDY_FILE, "samples.csv", "ends.csv", CASE_FILE, VERSIONS_FILE, PICTURES_FOLDER)
"""Everything that the folder of a study holds."""


def save_study(study: Study, folder: str | Path) -> Path:
    """Write a study as a folder: JSON, both tables as CSV, the case and the versions.

    Returns
    -------
    Path
        The folder; it appears complete or not at all.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not a study.
    """

    def fill(partial: Path) -> None:
        (partial / PICTURES_FOLDER).mkdir()
        (partial / CASE_FILE).write_text(case_text(study.case), encoding="utf-8")
        (partial / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")
        (partial / STUDY_FILE).write_text(json_text(study.as_dict()), encoding="utf-8")
        _write_rows(partial / "samples.csv", study, study.samples)
        _write_rows(partial / "ends.csv", study, (study.usual, *(done for pair in study.ends for done in pair)))

    return write_folder(folder, fill, owned=STUDY_ENTRIES)


def _write_rows(path: Path, study: Study, rows: Iterable[Done]) -> None:
    """One line a solve; every column names its unit."""
    lines = [_line(study, done) for done in rows]
    columns = list(dict.fromkeys(column for line in lines for column in line if column != "failure"))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [*columns, "failure"], restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(lines)


def _line(study: Study, done: Done) -> dict[str, str]:
    line = {"solve": done.trial.name}
    for each in study.inputs:
        value = done.trial.values.get(each.key)
        own = str(shown_value(study.case, each.key))
        line[shown_key(study.case, each.key)] = own if value is None else f"{each.shown(value):.7g}"
    numbers = {key: f"{value:.7g}" if math.isfinite(value) else "" for key, value in done.report.items()}
    return line | numbers | {"failure": done.failure}

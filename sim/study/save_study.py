"""A study of inputs becomes a folder.

STUDY/
  study.json      intervals, influences, failures
  samples.csv     one line a sample: values of the inputs, every report value, why it failed
  ends.csv        the case itself, and each input at its low and its high end
  case.toml       the case that was studied
  versions.json   library versions
  pictures/       what viz draws
  report.html     the page to hand over
"""

from __future__ import annotations

from pathlib import Path

from sim.case.value import shown_key, shown_value
from sim.store.run_folder import CASE_FILE, PAGE_FILE, PAPER_FILE, PICTURES_FOLDER, VERSIONS_FILE, WRITTEN_FILE
from sim.store.tables import number_cells, write_frame, write_table
from sim.store.whole_folder import write_folder
from sim.study.sampling import Study, TrialResult

STUDY_FILE = "study.json"
STUDY_ENTRIES = (
    STUDY_FILE, "samples.csv", "ends.csv", CASE_FILE, WRITTEN_FILE, VERSIONS_FILE,
    PICTURES_FOLDER, PAGE_FILE, PAPER_FILE,
)  # fmt: skip
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
        write_frame(partial, study.case, STUDY_FILE, study.as_dict())
        ends = (study.usual, *(done for pair in study.ends for done in pair))
        for name, solves in (("samples", study.samples), ("ends", ends)):
            write_table(partial / f"{name}.csv", [_line(study, done) for done in solves], last=("failure",))

    return write_folder(folder, fill, owned=STUDY_ENTRIES)


def _line(study: Study, done: TrialResult) -> dict[str, str]:
    """One solve; every column names its unit."""
    line = {"solve": done.trial.name}
    for each in study.inputs:
        value = done.trial.values.get(each.key)
        own = str(shown_value(study.case, each.key))
        line[shown_key(study.case, each.key)] = own if value is None else f"{each.shown(value):.7g}"
    return line | number_cells(done.report) | {"failure": done.failure}

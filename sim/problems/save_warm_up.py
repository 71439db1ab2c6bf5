"""Warm-ups become a folder, and are solved as jobs: stored as they finish, shared between workers, taken up again.

WARMUP/
  warmup.json     every choice with its numbers
  case.toml       the case that was varied
  versions.json   library versions
  choices/        a folder for each choice:
    case.toml       its resolved case
    report.json     its numbers
    series.nc       series over time, the floor map at every step, the whole bay at its snapshots (netCDF)
    series.csv      the series as a table, in hours and °C
  pictures/       what viz draws
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sim.case.writing import case_text
from sim.jobs.identity import case_identity
from sim.jobs.job import Job, Outcome, Pool
from sim.jobs.jobs import run_jobs
from sim.problems.warm_up import Listener, WarmUp, warm_up
from sim.results.in_time import series_rows
from sim.results.report import Report
from sim.results.snapshots import fields_at, snapshot_times
from sim.store.netcdf import write_netcdf
from sim.store.own_folders import LIST_FILE
from sim.store.read_check import DamagedError, check_fields, intact
from sim.store.run_folder import (
    CASE_FILE,
    PAGE_FILE,
    PAPER_FILE,
    PICTURES_FOLDER,
    REPORT_FILE,
    VERSIONS_FILE,
    VIEW_FILE,
    WRITTEN_FILE,
    StoredRun,
    StoreError,
    read_report,
    read_versions,
    versions,
)
from sim.store.texts import file_name, json_text
from sim.store.whole_folder import write_folder

if TYPE_CHECKING:
    import xarray

    from sim.case.bay_case import Case

WARM_UP_FILE, SERIES_FILE, TABLE_FILE, CHOICES_FOLDER = "warmup.json", "series.nc", "series.csv", "choices"
WARM_UP_ENTRIES = (
    WARM_UP_FILE,
    CASE_FILE,
    WRITTEN_FILE,
    VERSIONS_FILE,
    CHOICES_FOLDER,
    PICTURES_FOLDER,
    PAGE_FILE,
    PAPER_FILE,
    VIEW_FILE,
)
"""Everything that the folder of warm-ups holds."""

SNAPSHOT_SLACK = 1.0
"""A snapshot asked for may lie this far from the time named [s]."""


@dataclass(frozen=True)
class StoredWarmUp:
    """A warm-up that lies in a folder; its report and series are read when they are asked for."""

    name: str
    folder: Path

    @cached_property
    def report(self) -> Report:
        """Its numbers; what was not a number is NaN again."""
        return Report(self.name, MappingProxyType(read_report(self.folder)))

    @cached_property
    def series(self) -> xarray.Dataset:
        """Its series, loaded into memory."""
        from sim.results.in_time import read_series

        return read_series(self.folder / SERIES_FILE)


def read_snapshot(folder: Path, time: float | None) -> StoredRun:
    """A snapshot of a warm-up as if it were a run, for exports and pictures of the whole bay.

    Parameters
    ----------
    folder : of a choice, or of warm-ups with a single choice.
    time : of the snapshot [s]; None where there is only one.

    Raises
    ------
    StoreError
        The folder holds several choices or no snapshot, or none of that time; the message names what there is. Or it
        has a form that only a later version reads.
    """
    home = choice_in(folder)
    stated = read_versions(home)
    series, text = read_choice(home)
    times = snapshot_times(series)
    if not times:
        rule = "its warm-up kept no snapshots; follow it again with --snapshots 1h,2h or time.snapshots in its case"
        raise StoreError(f"{folder}: {rule}")
    near = min(times, key=lambda known: abs(known - (times[0] if time is None else time)))
    if (time is None and len(times) > 1) or (time is not None and abs(near - time) > SNAPSHOT_SLACK):
        known = ", ".join(f"{known / 3600.0:.6g}h" for known in times)
        raise StoreError(f"{folder}: choose one of its snapshots with --at: {known}")
    try:
        fields = intact(SERIES_FILE, lambda: fields_at(series, near))
        intact(SERIES_FILE, lambda: check_fields(SERIES_FILE, fields))
    except DamagedError as error:
        raise StoreError(f"{home}: cannot be read ({error})") from None
    return StoredRun(home, text, {}, (), stated, fields)


def read_choice(home: Path) -> tuple[xarray.Dataset, str]:
    """Series and case text of one choice, of a form that this version reads."""
    read_versions(home)
    try:
        series = intact(SERIES_FILE, lambda: StoredWarmUp(home.name, home).series)
        intact(SERIES_FILE, lambda: snapshot_times(series))
        return series, intact(CASE_FILE, lambda: (home / CASE_FILE).read_text(encoding="utf-8"))
    except DamagedError as error:
        raise StoreError(f"{home}: cannot be read ({error})") from None


def choice_in(folder: Path) -> Path:
    """The folder of the one choice that is meant."""
    if (folder / SERIES_FILE).is_file():
        return folder
    choices = sorted(file.parent for file in (folder / CHOICES_FOLDER).glob(f"*/{SERIES_FILE}"))
    if not choices:
        raise StoreError(f"{folder}: holds no warm-up")
    if len(choices) > 1:
        raise StoreError(f"{folder}: holds several choices; name one of {', '.join(map(str, choices))}")
    return choices[0]


def is_warm_up(folder: Path) -> bool:
    """Whether a folder holds warm-ups, or one choice of them."""
    return (folder / WARM_UP_FILE).is_file() or (folder / SERIES_FILE).is_file()


def warm_ups_in_jobs(
    variants: Mapping[str, Case],
    store: Path,
    pool: Pool | None = None,
    listener: Callable[[Outcome], None] | None = None,
    make_follower: Callable[[str, Case], Listener] | None = None,
) -> list[tuple[str, StoredWarmUp | None, str]]:
    """Follow several cases in time.

    Parameters
    ----------
    variants : cases by the name of the choice.
    store : folder for finished choices and checkpoints; what is in it already is not done again.
    make_follower : makes from a choice's name and case what listens to each of its steps; only for work that is done
        in this process.

    Returns
    -------
    Name, warm-up and reason of failure of each choice; a choice that failed has no warm-up.
    """
    here = make_follower if (pool or Pool()).is_local else None
    jobs = [_job(name, case, store, here(name, case) if here else None) for name, case in variants.items()]
    outcomes = run_jobs(jobs, store, pool, listener)
    return [(o.name, StoredWarmUp(o.name, o.folder) if o.folder else None, o.failure) for o in outcomes]


def _job(name: str, case: Case, store: Path, follower: Listener | None) -> Job:
    text = case_identity(case)
    job = Job(name, solve_warm_up, (), text)
    return Job(name, solve_warm_up, (case, str(store / f"{job.key}.npz"), follower), text)


def solve_warm_up(case: Case, checkpoint: str, follower: Listener | None = None, *, folder: Path) -> None:
    """Follow one case in time and write it into a folder; checkpoints go into a file beside it."""
    write_warm_up(warm_up(case, checkpoint=Path(checkpoint), listener=follower), folder)


def write_warm_up(found: WarmUp, folder: Path) -> None:
    """Fill the folder of one choice."""
    (folder / CASE_FILE).write_text(case_text(found.case), encoding="utf-8")
    (folder / REPORT_FILE).write_text(json_text(found.report.as_dict()), encoding="utf-8")
    write_netcdf(folder / SERIES_FILE, found.series, _compression(found.series))
    rows = series_rows(found.series)
    with (folder / TABLE_FILE).open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows({name: f"{value:.7g}" for name, value in row.items()} for row in rows)


def _compression(series: xarray.Dataset) -> dict[str, dict[str, Any]]:
    """Light compression for what lies in space; series and coordinates stay plain."""
    large = [name for name, values in series.data_vars.items() if values.ndim > 1]
    return {str(name): {"compression": "gzip", "compression_opts": 1, "shuffle": True} for name in large}


def save_warm_ups(case: Case, choices: Sequence[StoredWarmUp], folder: str | Path) -> Path:
    """Write warm-ups as one folder.

    Parameters
    ----------
    case : the case that was varied.

    Raises
    ------
    StoreError
        When the folder cannot be written, or holds something that is not a warm-up.
    """

    def fill(partial: Path) -> None:
        (partial / PICTURES_FOLDER).mkdir()
        (partial / CASE_FILE).write_text(case_text(case), encoding="utf-8")
        (partial / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")
        (partial / WARM_UP_FILE).write_text(json_text(warm_ups_as_dict(choices)), encoding="utf-8")
        (partial / CHOICES_FOLDER).mkdir()
        for number, choice in enumerate(choices, start=1):
            place = partial / CHOICES_FOLDER / f"{number}-{file_name(choice.name)}"
            shutil.copytree(choice.folder, place, ignore=shutil.ignore_patterns(LIST_FILE))

    return write_folder(folder, fill, owned=WARM_UP_ENTRIES)


def warm_ups_as_dict(choices: Sequence[StoredWarmUp]) -> dict[str, object]:
    """The numbers of all choices as plain data."""
    return {"choices": [{"name": choice.name} | choice.report.as_dict() for choice in choices]}

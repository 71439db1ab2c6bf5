"""The run store: one self-describing folder per run, written atomically.

    RUN/
      case.toml       the resolved case, every key with its value and unit
      written.toml    the case file as its author wrote it, where it was at hand
      report.json     the numbers a person wants; keys carry their unit
      fields.nc       temperatures and fluxes on the grid (netCDF, readable by xarray)
      history.csv     one line per outer iteration
      air_films.json  films that resolved air teaches
      air_frames.nc   pictures of the air as its flow starts, where they were asked for
      versions.json   form of the folder (`sim.store.formats`), Python, platform and library versions
      pictures/       what viz draws

`xarray` (and `h5py` beside it) is imported when a dataset is really read or written.
"""

from __future__ import annotations

import math
import platform
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from sim.machine.brief import Brief
from sim.resolved import FILMS_FILE
from sim.store.errors import DamagedError, StoreError, reason_of
from sim.store.formats import FORM, form_of, to_this_form
from sim.store.history import read_history, write_history
from sim.store.netcdf import open_netcdf, write_netcdf
from sim.store.own_folders import PICTURES_FOLDER, VERSIONS_FILE
from sim.store.read_check import KeptTable, check_fields, intact, read_numbers, read_table
from sim.store.texts import json_text
from sim.store.whole_folder import write_folder

if TYPE_CHECKING:
    import xarray

CASE_FILE = "case.toml"
WRITTEN_FILE = "written.toml"
PAGE_FILE, PAPER_FILE, VIEW_FILE = "report.html", "report.pdf", "view.html"
REPORT_FILE = "report.json"
FIELDS_FILE = "fields.nc"
FRAMES_FILE = "air_frames.nc"
HISTORY_FILE = "history.csv"

_REQUIRED = (CASE_FILE, REPORT_FILE, FIELDS_FILE, HISTORY_FILE, VERSIONS_FILE)
RUN_ENTRIES = (*_REQUIRED, WRITTEN_FILE, PICTURES_FOLDER, FRAMES_FILE, FILMS_FILE, PAGE_FILE, PAPER_FILE, VIEW_FILE)
"""Everything that a run folder holds."""

_LIBRARIES = (
    "joistbay",
    "numpy",
    "scipy",
    "numba",
    "pydantic",
    "xarray",
    "h5netcdf",
    "meshio",
    "matplotlib",
    "pyvista",
    "vtk",
)


@dataclass(frozen=True, slots=True, repr=False)
class StoredRun(Brief):
    """A run folder that has been read.

    Attributes
    ----------
    folder : Path
        Where it was read from.
    case_text : str
        The resolved case as TOML text.
    report : mapping
        Report keys (with unit suffix) and values.
    history : tuple of mappings
        One mapping per outer iteration; numbers as floats.
    versions : mapping
        Python, platform and library versions of the run.
    fields : xarray.Dataset
        Arrays are read from disk when they are used. Close them with `close()` or by using the
        run as a context manager.
    """

    folder: Path
    case_text: str
    report: Mapping[str, Any]
    history: tuple[Mapping[str, Any], ...]
    versions: Mapping[str, str]
    fields: xarray.Dataset

    @property
    def name(self) -> str:
        """Name of the run: the name of its folder."""
        return self.folder.name

    def loaded_fields(self) -> xarray.Dataset:
        """The fields in memory.

        Raises
        ------
        StoreError
            Their values cannot be read.
        """
        try:
            return intact(FIELDS_FILE, self.fields.load)
        except DamagedError as error:
            raise StoreError(f"{self.folder}: cannot be read ({error})") from None

    def close(self) -> None:
        """Release the file behind `fields`."""
        self.fields.close()

    def __enter__(self) -> StoredRun:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __str__(self) -> str:
        sizes = " x ".join(str(self.fields.sizes[axis]) for axis in "xyz" if axis in self.fields.sizes)
        return "\n".join(
            [
                f"Run {self.name}",
                f"|-- report    {len(self.report)} values",
                f"|-- fields    {sizes} cells: {', '.join(map(str, self.fields.data_vars))}",
                f"|-- history   {len(self.history)} outer iterations",
                f"`-- versions  joistbay {self.versions.get('joistbay', '?')}, "
                f"python {self.versions.get('python', '?')}",
            ]
        )


def versions() -> dict[str, str]:
    """Collect the versions behind a run: form of the folder, Python, operating system, processor kind, libraries.

    Nothing that identifies the machine or its user is collected.
    """
    found = {
        "form": str(FORM),
        "python": platform.python_version(),
        "platform": f"{platform.system()} {platform.machine()}",
        "joistbay": "not installed",
    }
    for name in _LIBRARIES:
        with suppress(metadata.PackageNotFoundError):
            found[name] = metadata.version(name)
    return found


def write_run(
    folder: str | Path,
    *,
    case_text: str,
    report: Mapping[str, object],
    fields: xarray.Dataset,
    history: Iterable[Mapping[str, object]],
    versions: Mapping[str, str],
    frames: xarray.Dataset | None = None,
) -> Path:
    """Write one run folder; it appears complete or not at all.

    Everything goes into a hidden sibling folder first, which is then renamed. An earlier run of the
    same name is replaced; a folder that is anything else is left alone.

    Parameters
    ----------
    folder : path
        The run folder to make.
    case_text : str
        The resolved case as TOML text.
    report : mapping
        Report keys (with unit suffix) and values; NaN is stored as null.
    fields : xarray.Dataset
        Fields in SI and kelvin.
    history : iterable of mappings
        One mapping per outer iteration.
    versions : mapping
        From `versions()`.
    frames : xarray.Dataset, optional
        Pictures of the air as its flow starts.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    StoreError
        When the folder cannot be written, or holds something that is not a run.
    """

    def fill(partial: Path) -> None:
        (partial / PICTURES_FOLDER).mkdir()
        (partial / CASE_FILE).write_text(case_text, encoding="utf-8")
        (partial / REPORT_FILE).write_text(json_text(report), encoding="utf-8")
        (partial / VERSIONS_FILE).write_text(json_text(versions), encoding="utf-8")
        write_history(partial / HISTORY_FILE, list(history))
        for name, dataset in ((FIELDS_FILE, fields), (FRAMES_FILE, frames)):
            if dataset is not None:
                write_netcdf(partial / name, dataset, _compression(dataset))

    return write_folder(folder, fill, owned=RUN_ENTRIES)


def is_run(folder: str | Path) -> bool:
    """Say whether a folder holds a complete run."""
    return not missing_of_run(folder)


def missing_of_run(folder: str | Path) -> list[str]:
    """Files that a complete run holds and a folder does not."""
    return [name for name in _REQUIRED if not (Path(folder) / name).is_file()]


def read_run(folder: str | Path) -> StoredRun:
    """Read a run folder; arrays of `fields` stay on disk until they are used.

    Raises
    ------
    StoreError
        When the folder is missing or incomplete, or a file in it cannot be understood.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise StoreError(f"{folder}: no such run folder")
    if missing := missing_of_run(folder):
        raise StoreError(f"{folder}: not a run folder (missing {', '.join(missing)})")
    try:
        return _read(folder)
    except (ValueError, OSError) as error:
        raise StoreError(f"{folder}: cannot be read ({reason_of(error)})") from error


def _read(folder: Path) -> StoredRun:
    """Read the files of a complete run folder."""
    fields = intact(FIELDS_FILE, lambda: open_netcdf(folder / FIELDS_FILE))
    try:
        intact(FIELDS_FILE, lambda: check_fields(FIELDS_FILE, fields))
        stated = _stated(folder / VERSIONS_FILE)
        report = to_this_form(read_numbers(folder / REPORT_FILE), form_of(stated))
        return StoredRun(
            folder=folder,
            case_text=intact(CASE_FILE, lambda: (folder / CASE_FILE).read_text(encoding="utf-8")),
            report=KeptTable(folder / REPORT_FILE, report),
            history=intact(HISTORY_FILE, lambda: read_history(folder / HISTORY_FILE)),
            versions=stated,
            fields=fields,
        )
    except BaseException:
        fields.close()
        raise


def read_report(folder: Path) -> dict[str, float]:
    """The numbers of a folder by name; what was not a number is NaN again.

    Raises
    ------
    StoreError
        They cannot be understood.
    """
    try:
        found = read_numbers(folder / REPORT_FILE)
    except (ValueError, OSError) as error:
        raise StoreError(f"{folder}: cannot be read ({reason_of(error)})") from error
    return KeptTable(folder / REPORT_FILE, {name: math.nan if v is None else v for name, v in found.items()})


def read_versions(folder: Path) -> dict[str, str]:
    """The versions behind a folder of any kind, or behind the one that it is a part of; empty where none says.

    Parameters
    ----------
    folder : of a run, of a comparison, of warm-ups or of one choice of them.

    Returns
    -------
    What versions.json says by name.

    Raises
    ------
    StoreError
        They cannot be understood, or the folder's form is one that only a later version of the program reads.
    """
    homes = [home for home in (folder, *folder.absolute().parents[:2]) if (home / VERSIONS_FILE).is_file()]
    if not homes:
        return {}
    try:
        stated = _stated(homes[0] / VERSIONS_FILE)
        form_of(stated)
    except (ValueError, OSError) as error:
        raise StoreError(f"{folder}: cannot be read ({reason_of(error)})") from error
    return stated


def _stated(path: Path) -> dict[str, str]:
    """What a file of versions says, by name."""
    return {name: str(value) for name, value in read_table(path).items()}


def _compression(fields: xarray.Dataset) -> dict[str, dict[str, Any]]:
    """Light compression for arrays of numbers (small arrays stay plain)."""
    return {
        str(name): {"compression": "gzip", "compression_opts": 1, "shuffle": True}
        for name, array in fields.data_vars.items()
        if array.size > 4096 and array.dtype.kind in "iuf"
    }

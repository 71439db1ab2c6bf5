"""`joistbay report`: a stored run, comparison, study or warm-up as a page to hand over, and on paper."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from sim.cli.errors import UsageError, say_error
from sim.cli.folders import no_folder, no_run
from sim.cli.progress import Progress

if TYPE_CHECKING:
    from viz.report.parts import Page

PageUnits = Literal["si", "ip"]


def report(
    folder: Path,
    /,
    *,
    units: Annotated[PageUnits | None, Parameter(show_default=False)] = None,
    no_pdf: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    out: Annotated[Path | None, Parameter(show_default=False)] = None,
) -> int:
    """Write a stored run, comparison, study or warm-up as one page: report.html, and report.pdf on paper.

    Nothing is solved. The page needs no network and changes between SI and inch-pound units by itself.

    Parameters
    ----------
    folder
        Folder of a run, a comparison, a study or a warm-up, such as runs/kitchen-vinyl.
    units
        Units that the page opens with and the paper speaks; as the case file was written when left out.
    no_pdf
        Write the page only.
    out
        Folder for both files; the folder itself when left out.
    """
    from sim.store.run_folder import PAGE_FILE, PAPER_FILE
    from sim.store.target import check_place

    if not folder.is_dir():
        raise UsageError(f"{folder}: {no_folder(folder, 'report')}")
    with Progress() as progress:
        progress.stage(f"reading {folder}", quietly=True)
        page, own = page_of(folder)
        place, system = out or folder, units or own
        for name in (PAGE_FILE, *([] if no_pdf else [PAPER_FILE])):
            check_place(place / name)
        progress.stage("writing the page", quietly=True)
        with _folder_for(place):
            written = [write_html(page, place / PAGE_FILE, system)]
            if not no_pdf:
                from viz.report.paper import write_paper

                progress.stage("setting it on paper", quietly=True)
                written.append(write_paper(page, place / PAPER_FILE, system))
    for path in written:
        print(f"Wrote {path}")
    return 0


@contextmanager
def _folder_for(place: Path) -> Iterator[None]:
    """A folder to write into; one that was made for it and stayed empty, as on a full disk, is gone at the end."""
    new = not place.exists()
    place.mkdir(parents=True, exist_ok=True)
    try:
        yield
    finally:
        if new:
            with suppress(OSError):
                place.rmdir()


def page_of(folder: Path) -> tuple[Page, PageUnits]:
    """The page of a stored folder, and the units that its case file speaks.

    Raises
    ------
    UsageError : it holds nothing that a page could tell.
    StoreError : what it holds is damaged.
    """
    from sim.cli.report_records import comparison_record, run_record, study_record, time_record
    from sim.problems.save_warm_up import is_warm_up
    from sim.results.notation_used import units_written
    from sim.store.run_folder import is_run
    from sim.study.save_comparison import COMPARISON_FILE
    from sim.study.save_study import STUDY_FILE
    from viz.report.compare_page import compare_page
    from viz.report.run_page import run_page
    from viz.report.study_page import study_page
    from viz.report.time_page import time_page

    if (folder / COMPARISON_FILE).is_file():
        compared = comparison_record(folder)
        return compare_page(compared), units_written(compared.written)
    if (folder / STUDY_FILE).is_file():
        studied = study_record(folder)
        return study_page(studied), units_written(studied.written)
    if is_warm_up(folder):
        followed = time_record(folder)
        return time_page(followed), units_written(followed.written)
    if not is_run(folder):
        raise UsageError(f"{folder}: {no_run(folder, 'report')}")
    record = run_record(folder)
    return run_page(record), units_written(record.written)


def write_html(page: Page, path: Path, units: PageUnits) -> Path:
    """Write the page whole or not at all."""
    from viz.report.html import page_html

    return written_whole(path, page_html(page, units))


def written_whole(path: Path, text: str) -> Path:
    """Write a text so that its file appears complete or not at all; an error names that file."""
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_text(text, encoding="utf-8", errors="backslashreplace")  # names of files may be no text
        beside.replace(path)
    except OSError as error:
        raise OSError(error.errno, error.strerror or str(error), str(path)) from None
    finally:
        beside.unlink(missing_ok=True)
    return path


def page_beside(folder: Path, units: str, progress: Progress) -> list[Path]:
    """The page of results that were just kept; one that cannot be written is named and left out."""
    from sim.store.run_folder import PAGE_FILE

    progress.stage(f"writing {PAGE_FILE}")
    try:
        page, own = page_of(folder)
        system: PageUnits = own if units == "both" else "ip" if units == "ip" else "si"
        return [write_html(page, folder / PAGE_FILE, system)]
    except OSError as error:
        say_error(f"{folder / PAGE_FILE} was left out: {error.strerror or error}")
        return []

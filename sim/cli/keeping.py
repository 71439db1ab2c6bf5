"""Saving results without losing any: where their folder fails, they go elsewhere and are shown all the same."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.stopping import say_when_stopped

if TYPE_CHECKING:
    from sim.case.load import AnyCase

Show = Callable[[Path | None, list[Path]], None]
"""Shows results that are kept in a folder (None: nowhere), with these pictures."""


class NotKeptError(Exception):
    """Results could not be saved where they were wanted; the text says where they are, `show` shows them."""

    def __init__(self, text: str, show: Callable[[], None]) -> None:
        super().__init__(text)
        self.show = show


def keep(save: Callable[[Path], object], folder: Path, show: Show, written: str = "") -> None:
    """Save results in a folder.

    Parameters
    ----------
    written : the case file as it was written, kept beside them.

    Raises
    ------
    NotKeptError
        That failed, as on a full disk: they are in the temporary folder where that takes them.
    """
    from sim.store.run_folder import StoreError

    try:
        save(folder)
    except StoreError as error:
        place = _saved_elsewhere(save, folder)
        where = f"the results are in {place}" if place else "the results above are kept nowhere"
        raise NotKeptError(f"{error}; {where}", lambda: show(place, [])) from error
    keep_written(written, folder)
    say_when_stopped(f"the results are in {folder}; pictures and page may be missing")


def written_text(case: AnyCase) -> str:
    """The case file as it was written; empty where the case has none."""
    from sim.store.texts import text_of

    return text_of(Path(case.path)) if case.path else ""


def keep_written(text: str, folder: Path) -> None:
    """Put the case file as it was written beside the results; a disk that does not take it costs no result."""
    from sim.store.run_folder import WRITTEN_FILE

    if text:
        with suppress(OSError):
            (folder / WRITTEN_FILE).write_text(text, encoding="utf-8")


def _saved_elsewhere(save: Callable[[Path], object], folder: Path) -> Path | None:
    """Save in a new folder in the machine's temporary folder; None when that fails too."""
    parent = None
    try:
        parent = Path(tempfile.mkdtemp(prefix="joistbay-kept-"))
        save(parent / folder.absolute().name)
    except OSError:
        if parent is not None:
            shutil.rmtree(parent, ignore_errors=True)
        return None
    return parent / folder.absolute().name


def kept_line(folder: Path | None, pictures: list[Path]) -> str:
    """Where results are kept, for the end of a report."""
    if folder is None:
        return "Not kept."
    from sim.store.run_folder import PAGE_FILE

    drawn = [path for path in pictures if path.name != PAGE_FILE]
    shown = f", {len(drawn)} picture{'s' if len(drawn) > 1 else ''} in {folder / 'pictures'}" if drawn else ""
    page = f"; a page to hand over: {folder / PAGE_FILE}" if len(drawn) < len(pictures) else ""
    return f"Kept in {folder}{shown}{page}"


def folder_entry(folder: Path | None) -> dict[str, str | None]:
    """The same for JSON."""
    return {"folder": None if folder is None else str(folder)}

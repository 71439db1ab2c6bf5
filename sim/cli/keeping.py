"""Saving results without losing any: where their folder fails, they go elsewhere and are shown all the same."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from sim.cli.stopping import say_when_stopped

Show = Callable[[Path | None, list[Path]], None]
"""Shows results that are kept in a folder (None: nowhere), with these pictures."""


class NotKeptError(Exception):
    """Results could not be saved where they were wanted; the text says where they are, `show` shows them."""

    def __init__(self, text: str, show: Callable[[], None]) -> None:
        super().__init__(text)
        self.show = show


def keep(save: Callable[[Path], object], folder: Path, show: Show) -> None:
    """Save results in a folder.

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
    say_when_stopped(f"the results are in {folder}, pictures are missing")


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
    shown = f", {len(pictures)} pictures in {folder / 'pictures'}" if pictures else ""
    return f"Kept in {folder}{shown}"


def folder_entry(folder: Path | None) -> dict[str, str | None]:
    """The same for JSON."""
    return {"folder": None if folder is None else str(folder)}

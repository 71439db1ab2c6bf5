"""A folder of results is there whole or not at all, and never takes the place of what is not ours."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

from sim.machine.gate import whole
from sim.machine.unfinished import unfinished_folder
from sim.store.errors import StoreError, reason_of
from sim.store.own_folders import VERSIONS_FILE, foreign_results, is_marked


def write_folder(folder: str | Path, fill: Callable[[Path], None], *, owned: tuple[str, ...]) -> Path:
    """Make a folder atomically: `fill` writes into a hidden sibling, which is then renamed.

    Parameters
    ----------
    folder : path
        The folder to make; missing parents are made too.
    fill : callable
        Called with the path of the empty sibling folder.
    owned : tuple of str
        Names that such a folder holds. An existing folder is replaced only if it holds nothing else.

    Raises
    ------
    StoreError
        When the folder cannot be written or must not be replaced.
    """
    shown, target = Path(folder), Path(os.path.realpath(folder))
    check_replaceable(shown, target, owned)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with unfinished_folder(target) as partial:
            fill(partial)
            _swap(partial, target)
    except OSError as error:
        raise StoreError(f"{shown}: cannot be written ({reason_of(error)}); choose another folder") from error
    return shown


def check_replaceable(shown: Path, target: Path, owned: tuple[str, ...]) -> None:
    """Refuse a target that is a file, a folder without our mark, or one with anything that we did not write."""
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise StoreError(f"{shown}: exists and is not a folder; choose another folder")
    try:
        strange, names = foreign_results(target, owned), sorted(entry.name for entry in target.iterdir())
    except OSError as error:
        raise StoreError(f"{shown}: cannot be read ({reason_of(error)}); choose another folder") from error
    if strange:
        raise StoreError(
            f"{shown}: holds {', '.join(strange[:3])}{' ...' if len(strange) > 3 else ''}, "
            "so it is not only a run; nothing was overwritten, choose another folder"
        )
    if names and not is_marked(target):
        raise StoreError(
            f"{shown}: holds {names[0]} but no {VERSIONS_FILE} of joistbay, so it is no result; "
            "nothing was overwritten, choose another folder"
        )


def _swap(partial: Path, target: Path) -> None:
    """Put the finished folder in place; the old one stays until the new one is there."""
    if not target.exists():
        partial.rename(target)
        return
    old = partial.with_suffix(".old")
    with whole():
        target.rename(old)
        try:
            partial.rename(target)
        except OSError:
            old.rename(target)
            raise
    shutil.rmtree(old, ignore_errors=True)

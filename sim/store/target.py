"""Look before solving: can the results be written where they are wanted?"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from unicodedata import category

from sim.case.errors import name_shown, shortened
from sim.machine.unfinished import sweep
from sim.store.run_folder import RUN_ENTRIES, StoreError
from sim.store.whole_folder import check_replaceable

_LONGEST_ENDING = 32
"""Bytes that names of files beside a folder add to its own."""

_LONGEST_INSIDE = 200
"""Bytes that names of what lies in a folder add to its path."""

LONGEST_PATH = 4096
"""Bytes that a path may have; few systems take more."""


def check_target(folder: str | Path, owned: tuple[str, ...] = RUN_ENTRIES) -> None:
    """Check that a result folder can be made or replaced; nothing of it is made yet.

    What a killed command left beside it goes first.

    Parameters
    ----------
    folder : path
        The folder that `write_run` or `write_folder` will be asked for.
    owned : tuple of str
        Names that such a folder holds; a folder with anything else in it must not be replaced.

    Raises
    ------
    StoreError
        When the folder holds something else, or its place cannot be written to.
    """
    _check_name(folder)
    shown, target = Path(folder), Path(os.path.realpath(folder))
    here = Path(os.path.realpath(os.curdir))
    if target == here or target in here.parents:
        raise StoreError(f"{shown}: is the folder you are in, or holds it; name one to make, such as --out results")
    sweep(target)
    check_replaceable(shown, target, owned)
    check_place(shown)


def check_place(path: str | Path) -> None:
    """Check that a file or folder of this name can be made, missing parents included.

    Raises
    ------
    StoreError
        When its nearest existing parent is no folder or refuses new entries, or a name is too long for it.
    """
    _check_name(path)
    target = Path(os.path.realpath(path))
    parent = target.parent
    while not os.path.lexists(parent):
        parent = parent.parent
    for name in target.relative_to(parent).parts:
        if len(os.fsencode(name)) + _LONGEST_ENDING > _longest_name(parent):
            shown = f"{name[:20]}...{name[-8:]}"
            raise StoreError(f"{shown}: a name of {len(name)} characters is too long here; choose a shorter one")
    try:
        os.rmdir(tempfile.mkdtemp(prefix=".joistbay-", dir=parent))
    except OSError as error:
        reason = error.strerror or str(error)
        raise StoreError(f"{path}: cannot be written ({reason}); choose another place") from error


def _check_name(path: str | Path) -> None:
    """What no file system takes as a whole, or no terminal shows in one line, is no name for results."""
    if any(category(letter) == "Cc" for letter in str(path)):
        raise StoreError(f"{name_shown(path)}: holds control characters; choose a name in plain letters")
    if not str(path).strip():
        raise StoreError(f'"{path}": is blank; give a name')
    if Path(path).parts[:1] == ("~",):
        raise StoreError(f"{path}: would make a folder named ~ here; write the path of your home in full")
    if (long := len(os.fsencode(os.path.abspath(path)))) + _LONGEST_INSIDE > LONGEST_PATH:
        raise StoreError(f"{shortened(str(path))}: a path of {long} bytes is too long; choose a shorter one")


def _longest_name(folder: Path) -> int:
    """Bytes that a name may have there."""
    try:
        return os.pathconf(folder, "PC_NAME_MAX")
    except (AttributeError, OSError, ValueError):
        return 255

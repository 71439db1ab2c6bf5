"""Look before solving: can the results be written where they are wanted?"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from sim.machine.unfinished import sweep
from sim.store.run_folder import RUN_ENTRIES, StoreError, check_replaceable

_LONGEST_ENDING = 32
"""Bytes that names of files beside a folder add to its own."""


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


def _longest_name(folder: Path) -> int:
    """Bytes that a name may have there."""
    try:
        return os.pathconf(folder, "PC_NAME_MAX")
    except (AttributeError, OSError, ValueError):
        return 255

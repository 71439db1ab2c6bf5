"""Look before solving: can the results be written where they are wanted?"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from sim.results.store import (
    CASE_FILE,
    FIELDS_FILE,
    FRAMES_FILE,
    HISTORY_FILE,
    PICTURES_FOLDER,
    REPORT_FILE,
    VERSIONS_FILE,
    StoreError,
    check_replaceable,
)

RUN_ENTRIES = (CASE_FILE, REPORT_FILE, FIELDS_FILE, HISTORY_FILE, VERSIONS_FILE, PICTURES_FOLDER, FRAMES_FILE)
"""Everything that a run folder holds."""


def check_target(folder: str | Path, owned: tuple[str, ...] = RUN_ENTRIES) -> None:
    """Check that a result folder can be made or replaced; nothing of it is made yet.

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
    check_replaceable(shown, target, owned)
    check_place(shown)


def check_place(path: str | Path) -> None:
    """Check that a file or folder of this name can be made, missing parents included.

    Raises
    ------
    StoreError
        When its nearest existing parent is no folder or refuses new entries.
    """
    parent = Path(os.path.realpath(path)).parent
    while not os.path.lexists(parent):
        parent = parent.parent
    try:
        os.rmdir(tempfile.mkdtemp(prefix=".joistbay-", dir=parent))
    except OSError as error:
        reason = error.strerror or str(error)
        raise StoreError(f"{path}: cannot be written ({reason}); choose another place") from error

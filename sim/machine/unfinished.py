"""Folders that are not finished yet: under a name of their own, gone when a command stops, found when it was killed.

An unfinished folder lies beside the one it will become, as `.NAME.xxxxxxxx.partial`; what it replaces waits as
`.NAME.xxxxxxxx.old` for the moment between two renames. Work in the temporary folder of the machine carries a mark.
Each is locked while its process lives, and the lock ends with the process however that ends: so a later command
tells what a killed one left from what another one is doing.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path

from sim.machine.gate import whole

try:
    import fcntl
except ImportError:  # no such locks on this system: nothing is swept there
    fcntl = None  # type: ignore[assignment]

PREFIX = "joistbay-"
"""How folders in the temporary folder of the machine begin."""

MARK = ".joistbay-unfinished"
"""File that tells a temporary folder of ours from any other."""

UNMARKED = 60.0
"""An empty folder without a mark is left from a killed command after so long [s]: making one takes no time."""

_open: dict[Path, int] = {}
"""Unfinished folders of this process and the files that lock them."""

_passing: dict[Path, None] = {}
"""Files, and folders if they are empty, that are gone with this process; in the order in which they go."""

if hasattr(os, "register_at_fork"):  # a forked child must not remove what its parent writes
    os.register_at_fork(after_in_child=_open.clear)
    os.register_at_fork(after_in_child=_passing.clear)


@contextmanager
def unfinished_folder(target: Path) -> Iterator[Path]:
    """A new, empty, locked folder beside a target; what is left of it at the end is removed."""
    with whole():
        folder = _made(partial(_beside, target))
    try:
        yield folder
    finally:
        _drop(folder)


def temporary_folder() -> Path:
    """A new, marked, locked folder of this user in the machine's temporary folder; `drop_temporary` removes it."""
    with whole():
        folder = _made(lambda: Path(tempfile.mkdtemp(prefix=PREFIX)))
        (folder / MARK).touch()
    return folder


@contextmanager
def passing_folder() -> Iterator[Path]:
    """An empty temporary folder for as long as it takes; what a killed process left, a later command removes."""
    folder = temporary_folder()
    within = folder / "work"  # beside the mark
    within.mkdir()
    try:
        yield within
    finally:
        drop_temporary(folder)


def drop_temporary(folder: Path) -> None:
    """Remove a temporary folder, unless another process made it."""
    if folder in _open:
        _drop(folder)


def remove_unfinished() -> None:
    """Remove every unfinished folder of this process: it is about to end."""
    for folder in list(_open):
        _drop(folder)


def pass_away() -> None:
    """Remove what passes with this process, which ends now."""
    for path in list(_passing):
        with suppress(OSError):
            path.rmdir() if path.is_dir() else path.unlink()


def passes(*paths: Path) -> None:
    """These files, and folders where they are empty, go when this process is stopped."""
    _passing.update(dict.fromkeys(paths))


def passes_no_more(*paths: Path) -> None:
    """Somebody has removed them, or they are to stay."""
    for path in paths:
        _passing.pop(path, None)


def sweep(target: Path) -> list[Path]:
    """Remove what killed commands left beside a target, and put back what one had moved aside; return what went."""
    return _sweep_named(target.parent, re.escape(target.name))


def sweep_inside(store: Path) -> list[Path]:
    """The same for whatever was being written into a folder of our own."""
    return _sweep_named(store, r"[^.]+(\.npz)?")


def _sweep_named(place: Path, name: str) -> list[Path]:
    """Leftovers in a place of targets whose names match: folders with eight hex digits, files without."""
    ours = re.compile(rf"\.(?P<name>{name})(\.[0-9a-f]{{8}})?\.(partial|old)")
    went = []
    with suppress(OSError):
        for path in list(place.iterdir()):
            found = ours.fullmatch(path.name)
            if found and _sweep_one(path, place / found["name"]):
                went.append(path)
    return went


def sweep_temporary() -> list[Path]:
    """Remove what killed commands of this user left in the machine's temporary folder; return what went."""
    with suppress(OSError):
        return [path for path in Path(tempfile.gettempdir()).glob(f"{PREFIX}*") if _is_ours(path) and _sweep_one(path)]
    return []


def _is_ours(path: Path) -> bool:
    """Whether a folder carries our mark; or is empty and not of this moment, as one that died before or after it."""
    if path.is_symlink() or not path.is_dir() or path.stat().st_uid != os.getuid():
        return False
    return (path / MARK).is_file() or (time.time() - path.stat().st_mtime > UNMARKED and not any(path.iterdir()))


def _sweep_one(path: Path, target: Path | None = None) -> bool:
    """Remove one leftover that nobody holds; the old folder goes back when its successor never came."""
    lock = _lock(path)
    if lock is None:
        return False
    try:
        if path.is_file():
            path.unlink(missing_ok=True)
        elif target is not None and path.suffix == ".old" and not os.path.lexists(target):
            path.rename(target)
        else:
            shutil.rmtree(path, ignore_errors=True)
    finally:
        os.close(lock)
    return True


def _beside(target: Path) -> Path:
    folder = target.parent / f".{target.name}.{uuid.uuid4().hex[:8]}.partial"
    folder.mkdir()
    return folder


def _made(make: Callable[[], Path]) -> Path:
    """A new folder that this process holds; another one where a sweeping command was quicker."""
    folder = make()
    while not _hold(folder):
        folder = make()
    return folder


def _hold(folder: Path) -> bool:
    """Lock a folder for this process; False when a sweeping command was quicker."""
    lock = _lock(folder, must=False)
    if lock is None or not folder.is_dir():
        return False
    _open[folder] = lock
    return True


def _drop(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    lock = _open.pop(folder, None)
    if lock is not None:
        os.close(lock)


def _lock(folder: Path, must: bool = True) -> int | None:
    """A file number that locks a folder; None when it is gone or held by somebody.

    A file system without locks gives a number all the same unless the lock `must` be had.
    """
    if fcntl is None:
        return None if must else os.open(os.devnull, os.O_RDONLY)
    if folder.is_symlink():
        return None
    try:
        number = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    try:
        fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(number)
        return None
    except OSError:
        if must:
            os.close(number)
            return None
    return number

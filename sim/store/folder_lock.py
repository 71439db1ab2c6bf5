"""One command at a time on a folder of results: a lock beside it, which ends with the process that holds it.

The lock is the operating system's, on a file that names the process; what a killed process left holds nobody back.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sim.machine.gate import whole
from sim.machine.unfinished import passes, passes_no_more
from sim.store.run_folder import StoreError

try:
    import fcntl
except ImportError:  # no such locks on this system: nobody is held back there
    fcntl = None  # type: ignore[assignment]

_SIGN = "joistbay "


@contextmanager
def locked(folder: str | Path) -> Iterator[None]:
    """Around work on a folder of results, work kept beside it included.

    Raises
    ------
    StoreError
        Another process works on it, or its place cannot be written to.
    """
    target = Path(os.path.realpath(folder))
    path = target.with_name(f".{target.name}.lock")
    made = [parent for parent in target.parents if not parent.exists()]
    try:
        with whole():
            file = _taken(path, folder)
            passes(path, *made)
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        reason = error.strerror or str(error)
        raise StoreError(f"{folder}: cannot be written ({reason}); choose another folder") from error
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink()
        os.close(file)
        with suppress(OSError):  # folders made for the lock stay where anything else has come into them
            for parent in made:
                parent.rmdir()
        passes_no_more(path, *made)


def _taken(path: Path, folder: str | Path) -> int:
    """The lock's file, held and with this process in it; one that its last holder removed meanwhile is made again."""
    path.parent.mkdir(parents=True, exist_ok=True)
    while True:
        file = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _lock(file, path, folder)
            if _is_still(file, path):
                os.ftruncate(file, 0)
                os.write(file, f"{_SIGN}{os.getpid()}\n".encode())
                return file
        except BaseException:
            os.close(file)
            raise
        os.close(file)


def _lock(file: int, path: Path, folder: str | Path) -> None:
    text = os.pread(file, 64, 0).decode("utf-8", "replace")
    if text and not text.startswith(_SIGN):
        raise StoreError(f"{path}: is in the way and not joistbay's; move it, or choose another folder")
    if fcntl is None:
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        who = f"process {text.removeprefix(_SIGN).strip()}" if text.strip() else "another process"
        raise StoreError(
            f"{folder}: joistbay works on it already ({who}); wait until it is done, or choose another folder"
        ) from None


def _is_still(file: int, path: Path) -> bool:
    """Whether the path still leads to the file that is held."""
    try:
        return os.path.samestat(os.fstat(file), os.stat(path))
    except FileNotFoundError:
        return False

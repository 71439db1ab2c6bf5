"""Where compiled kernels are kept, and what happens where they cannot be.

Of a checkout Numba keeps them beside the source. Of an installed package they go into the user's cache folder: files
that the installer does not know would outlive the package as folders of its name, which hide a later editable install.
Where neither takes files, Numba refuses to compile; then a temporary folder serves for one command, whose helpers
share it.
"""

from __future__ import annotations

import atexit
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

from sim.machine.unfinished import drop_temporary, temporary_folder

ASK = "NUMBA_CACHE_DIR"
"""The variable by which a user names a folder for kernels."""

_MINE = "JOISTBAY_KERNELS_OF"
"""Holds the number of the process whose temporary folder serves."""


def find_place(package: Path) -> None:
    """Make sure that kernels of a package's folders can be compiled; call it before Numba is imported.

    Parameters
    ----------
    package : the folder whose subfolders hold kernels.
    """
    beside = [source.parent / "__pycache__" for source in package.glob("*/__init__.py")]
    asked = os.environ.get(ASK)
    if asked and _takes_files(Path(asked)):
        return
    if _is_installed(package) and _takes_files(place := _users_own().with_name("joistbay")):
        _use(place)
        return
    if all(map(_takes_files, beside)) or _takes_files(_users_own()):
        return
    with suppress(OSError):  # nothing at all can be written: Numba says so when it is asked to compile
        place = temporary_folder()
        atexit.register(drop_temporary, place)
        os.environ[_MINE] = str(os.getpid())
        _use(place)


def _is_installed(package: Path) -> bool:
    """Whether a package lies where an installer put it; a checkout has the project's file beside it."""
    return not (package.parent / "pyproject.toml").is_file()


def _use(place: Path) -> None:
    """Have kernels kept in a folder, by this process and those that it begins."""
    os.environ[ASK] = str(place)
    if "numba" in sys.modules:
        sys.modules["numba"].config.CACHE_DIR = str(place)


def are_kept() -> bool:
    """Whether compiled kernels outlive this command."""
    return _MINE not in os.environ


def forgive_full_cache() -> None:
    """A kernel that was compiled but cannot be stored, as on a full disk, is used all the same."""
    from numba.core import caching

    usual = getattr(caching.Cache, "save_overload", None)
    if usual is None or getattr(usual, "forgives", False):
        return

    def save_overload(self: Any, *arguments: Any) -> None:
        with suppress(OSError):
            usual(self, *arguments)

    save_overload.forgives = True  # type: ignore[attr-defined]
    caching.Cache.save_overload = save_overload  # type: ignore[method-assign]


def _users_own() -> Path:
    """Numba's folder below the user's cache folder."""
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "numba"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "numba"


def _takes_files(folder: Path) -> bool:
    """Whether a folder takes new files; it is made where it is missing, as Numba would."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK | os.X_OK)

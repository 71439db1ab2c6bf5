"""Compiled kernels on disk must not outlive the source that they were inlined from.

Numba stores a compiled function under the date of its own file. A function that calls kernels of other files keeps
their old code when those change; here any newer source file of the package discards all of its stored kernels.
"""

from __future__ import annotations

import contextlib
from pathlib import Path


def drop_stale_kernels(folder: Path) -> int:
    """Remove the stored kernels of a package folder if a source file in it is newer; return how many files went."""
    stored = [*folder.glob("__pycache__/*.nbi"), *folder.glob("__pycache__/*.nbc")]
    with contextlib.suppress(OSError):  # another process may be at it too, or the folder be read-only
        newest = max(path.stat().st_mtime for path in folder.glob("*.py"))
        if stored and newest > min(path.stat().st_mtime for path in stored):
            for path in stored:
                path.unlink(missing_ok=True)
            return len(stored)
    return 0

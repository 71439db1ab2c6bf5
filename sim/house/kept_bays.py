"""Solved bays kept beside the results of a house, to be taken up by its next run where nothing in them has changed.

A bay's folder is named by all that its answer follows from: the resolved case, the water asked for, what taught its
films, the code that solves it. What no run has asked for the longest goes first when too many are kept.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from pathlib import Path

MOST = 2000
"""Bays kept beside one result; some kilobytes each."""

_SOLVES = (
    *("case", "bay", "physics", "solver", "airflow", "resolved", "results", "study", "house"),
    *("run.py", "build_up.py"),
)
_NOT_HOUSE = "house"
_HOUSE_FILES = ("bay_solver.py", "bay_jobs.py", "curve.py", "crossing.py")
_WORDS = ("house_words.py", "people.py", "page_units.py", "lines.py")
"""Files of the program that only put numbers into words."""


def kept_folder(results: Path) -> Path:
    """Where the bays of a result are kept: beside it."""
    return results.with_name(f"{results.name}.bays")


@cache
def code_identity() -> str:
    """A text that changes with any file of the program that an answer follows from."""
    digest = hashlib.sha256()
    root = Path(str(files("sim")))
    for part in _SOLVES:
        place = root / part
        found = [place] if place.is_file() else sorted(place.rglob("*"))
        for path in found:
            wanted = part != _NOT_HOUSE or path.name in _HOUSE_FILES
            wanted = wanted and path.name not in _WORDS and not path.name.startswith("house_")
            if wanted and path.suffix in (".py", ".toml", ".csv", ".json"):
                digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def keep_newest(store: Path, used: Iterable[str], most: int = MOST) -> int:
    """Mark the folders that were used, and drop the longest unused ones beyond `most`; how many were dropped."""
    if not store.is_dir():
        return 0
    for name in set(used):
        if (store / name).is_dir():
            os.utime(store / name)
    ordered = sorted((path for path in store.iterdir() if path.is_dir()), key=lambda path: path.stat().st_mtime)
    dropped = ordered[: max(0, len(ordered) - most)]
    for path in dropped:
        shutil.rmtree(path, ignore_errors=True)
    return len(dropped)

"""How fast this machine was at some kind of work, kept from run to run in the user's cache folder.

An estimate and nothing more: nothing rests on it, and a folder that cannot be written or a damaged file is no error.
"""

from __future__ import annotations

import json
import math
import os
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

_BEGAN = time.monotonic(), time.process_time()

MOST_BUSY = 20.0
"""How many times slower than alone a process is taken to run at most [-]."""

LARGEST = 100_000
"""Bytes above which the file is not ours."""


@dataclass(frozen=True, slots=True)
class Pace:
    """What a unit of work (a cell of a solve, say) took [s], and the most memory of the whole process [bytes]."""

    seconds: float
    memory: float


def known_pace(work: str) -> Pace | None:
    """What a kind of work took in the last runs here; None where it has not been done yet."""
    row = _read().get(work)
    if not isinstance(row, list) or len(row) != 2:
        return None
    if not all(isinstance(number, (int, float)) and math.isfinite(number) and number > 0.0 for number in row):
        return None
    return Pace(float(row[0]), float(row[1]))


def learn_pace(work: str, seconds: float) -> None:
    """Keep what a unit of work took [s]: half of it, half of what was known."""
    if not (math.isfinite(seconds) and seconds > 0.0):
        return
    known = known_pace(work)
    mixed = seconds if known is None else math.sqrt(seconds * known.seconds)
    rows = {name: row for name, row in _read().items() if isinstance(row, list)} | {work: [mixed, peak_memory()]}
    with suppress(OSError):
        place = _file()
        place.parent.mkdir(parents=True, exist_ok=True)
        part = place.with_name(f"{place.name}.{os.getpid()}")
        part.write_text(json.dumps(rows), encoding="utf-8")
        part.replace(place)


def busyness() -> float:
    """How many times slower than on an idle machine this process has run so far, by its share of a processor [-].

    Counted from when this was imported; what it waited for disks counts too, so it is rather too much.
    """
    spent, worked = time.monotonic() - _BEGAN[0], time.process_time() - _BEGAN[1]
    return min(max(spent / worked, 1.0), MOST_BUSY) if spent > 0.2 and worked > 0.0 else 1.0


def peak_memory() -> float:
    """Most memory that this process has held [bytes]; 1 where the machine does not say."""
    try:
        import resource
    except ImportError:
        return 1.0
    return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss) * (1.0 if sys.platform == "darwin" else 1024.0)


def _file() -> Path:
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "joistbay" / "paces.json"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "joistbay" / "paces.json"


def _read() -> dict[str, object]:
    with suppress(OSError, ValueError, RuntimeError):
        if _file().stat().st_size <= LARGEST:
            found = json.loads(_file().read_text("utf-8"))
            return found if isinstance(found, dict) else {}
    return {}

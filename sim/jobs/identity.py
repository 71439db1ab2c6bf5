"""What a piece of work is, as a text that differs whenever its result may: for work that is taken up again.

The resolved case, what the files that it names hold, the program's version and its tables of materials and fluids.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from sim.case.writing import case_text
from sim.resolved import FILMS_FILE
from sim.store.run_folder import FIELDS_FILE

if TYPE_CHECKING:
    from sim.case.load import AnyCase

_INSIDE = {"weather.file": "", "air.calibration": FILMS_FILE, "air.start_from": FIELDS_FILE}
"""What is read of a folder that a key names."""


def case_identity(case: AnyCase) -> str:
    """The identity of a case with everything that it rests on."""
    return "\n".join([case_text(case), *side_files(case), program_identity()])


def side_files(case: AnyCase) -> Iterator[str]:
    """One line for each file that a case names: its key, and a digest of what it holds."""
    beside = Path(case.path).parent if case.path else Path()
    for key, name in case.named_files.items():
        if name is not None:
            found = next((path for path in (beside / name, Path(name)) if path.exists()), beside / name)
            yield f"{key} {_digest(found / _INSIDE[key] if found.is_dir() else found)}"


@cache
def program_identity() -> str:
    """Version of the program, and a digest of its tables of materials and fluids."""
    try:
        own = version("joistbay")
    except PackageNotFoundError:
        own = "not installed"
    tables = sorted((entry.name, entry.read_bytes()) for entry in files("sim.case").iterdir() if _is_table(entry.name))
    return f"joistbay {own}, tables {sha256(repr(tables).encode()).hexdigest()[:16]}"


def _is_table(name: str) -> bool:
    return name.endswith((".toml", ".csv"))


def _digest(path: Path) -> str:
    """Of a file's contents; whoever reads it says what is wrong with one that cannot be read."""
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError:
        return "cannot be read"

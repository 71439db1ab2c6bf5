"""The cases that come with the program: beside it in a checkout, within it where it is installed."""

from __future__ import annotations

from pathlib import Path

FOLDER = "cases"
"""First part of their paths, as documentation and examples write them."""

_SIM = Path(__file__).resolve().parents[1]
SHIPPED = next((place for place in (_SIM / FOLDER, _SIM.parent / FOLDER) if place.is_dir()), _SIM / FOLDER)
"""Where they lie."""


def shipped(path: str) -> Path | None:
    """The shipped file or folder that a path such as cases/demo/family-oak.toml means where nothing of that name is.

    None for any other path: what lies in the working folder, what begins otherwise, what does not come with us.
    """
    asked = Path(path)
    if asked.is_absolute() or asked.parts[:1] != (FOLDER,) or ".." in asked.parts or asked.exists():
        return None
    found = SHIPPED.joinpath(*asked.parts[1:])
    return found if found.exists() else None

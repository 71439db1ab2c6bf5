"""house.json of the folder of a house, read and checked: what its page and drawings are made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TypeVar

from sim.case.errors import shortened
from sim.store.errors import StoreError
from sim.store.read_check import KeptTable, read_shaped
from sim.store.run_folder import read_versions

HOUSE_FILE = "house.json"

_SHAPE: Mapping[str, type | tuple[type]] = {
    "house": dict, "storeys": (dict,), "bays": (dict,), "needs": (dict,), "layouts": (dict,), "items": (dict,),
    "pressure_test": dict, "ask": str, "set_by": str, "solves": float, "asked": float, "taken_up": float,
}  # fmt: skip

Made = TypeVar("Made")


def made_of_house(folder: str | Path, make: Callable[[KeptTable], Made]) -> Made:
    """What is made of the house.json of a folder, which `sim.house.record` wrote.

    Raises
    ------
    StoreError
        It is missing or cannot be understood, or has a form that only a later version of the program reads.
    """
    place = Path(folder)
    read_versions(place)
    record = read_shaped(place / HOUSE_FILE, _SHAPE)
    if not record["layouts"]:
        raise StoreError(f"{place}: cannot be read ({HOUSE_FILE} is damaged: it holds no layout)")
    try:
        return make(record)
    except (TypeError, ValueError, KeyError, IndexError, AttributeError, ArithmeticError) as error:
        said = shortened(f"{type(error).__name__}: {error}", 120)
        raise StoreError(f"{place}: {HOUSE_FILE} is damaged ({said}); solve the house again") from error

"""Whole houses: read and solved with nothing to set up."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sim.case.house_case import House
from sim.case.house_load import load_house as load
from sim.machine.shipped import shipped

if TYPE_CHECKING:
    from sim.house.plan import HousePlan


def load_house(path: str | Path) -> House:
    """Read and check a house file.

    Parameters
    ----------
    path : a TOML file; one below "cases/" that is not there is taken from the cases that come with the program

    Raises
    ------
    CaseError : it cannot be read, is not TOML, or breaks a rule; all problems of one stage together.
    """
    return load(shipped(str(path)) or path)


def solve_house(
    house: House | str | Path,
    *,
    variant: str = "",
    fineness: str | None = None,
    workers: int = 1,
    keep: str | Path | None = None,
) -> HousePlan:
    """Lay a house out for each of its heat sources: plates, water, output against load, circuits, pump.

    Parameters
    ----------
    house : as `load_house` gives it, or its file
    variant : one of its variants; the house as written by default
    fineness : mesh word for its bays ("coarse" … "finest") in place of those of their cases
    workers : processes that share the bays
    keep : folder for solved bays, which are not solved again by the next call; forgotten by default

    Returns
    -------
    HousePlan; `.layouts` by heat source, `.to_pandas("rooms")` and other tables.

    Raises
    ------
    CaseError : the file breaks a rule, or there is no such variant.
    HouseError : a bay could not be solved.
    """
    from sim.house.bay_solver import BaySolver
    from sim.house.solve_house import HouseWish
    from sim.house.solve_house import solve_house as lay_out
    from sim.jobs.job import Pool
    from sim.machine.unfinished import passing_folder

    asked = house if isinstance(house, House) else load_house(house)
    with passing_folder() as own:
        solver = BaySolver(Path(keep or own), Pool(workers))
        return lay_out(asked, solver, HouseWish(variant, fineness))

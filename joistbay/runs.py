"""Cases and run folders: reading, following in time, keeping."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast, overload

from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.case.errors import CaseError, Problem
from sim.case.load import AnyCase, no_case
from sim.case.load import load_case as load
from sim.case.whole import WholeCase
from sim.machine.shipped import shipped

if TYPE_CHECKING:
    from sim.problems.blocks_in_time import InTime
    from sim.problems.warm_up import WarmUp
    from sim.results.stored import KeptRun


def load_case(path: str | Path) -> AnyCase:
    """Read and check a case file of any kind.

    Parameters
    ----------
    path : a TOML file; one below "cases/" that is not there is taken from the cases that come with the program

    Returns
    -------
    Case of a joist bay, BlocksCase of blocks or air alone, by its key `kind`. Lengths in m, temperatures in K.

    Raises
    ------
    CaseError : it cannot be read, is not TOML, or breaks a rule; all problems of one stage together.
    """
    return load(shipped(str(path)) or path)


def load_bay(path: str | Path) -> Case:
    """Read and check the case file of a joist bay; as `load_case`, for bays alone.

    Raises
    ------
    CaseError : it cannot be read, breaks a rule, or is of another kind.
    """
    return bay_of(load_case(path))


def load_blocks(path: str | Path) -> BlocksCase:
    """Read and check the case file of blocks or of air alone; as `load_case`, for these alone.

    Raises
    ------
    CaseError : it cannot be read, breaks a rule, or is of a joist bay.
    """
    case = load_case(path)
    if case.joist_bay is None:
        return case
    problem = Problem("kind", '"bay"', "blocks or air alone are wanted here", "load_bay and load_case read it")
    raise CaseError(case.path or case.name, [problem])


def bay_of(case: object) -> Case:
    """The case itself where it is one of a joist bay.

    Raises
    ------
    CaseError : it is of another kind.
    TypeError : it is no case.
    """
    whole = case_of(case)
    if (bay := whole.joist_bay) is not None:
        return bay
    problem = Problem("kind", f'"{whole.kind}"', "a joist bay is wanted here", "solve and solve_many take blocks too")
    raise CaseError(whole.path or whole.name, [problem])


def case_of(case: object) -> AnyCase:
    """The case itself, of whatever kind.

    Raises
    ------
    TypeError : it is no case.
    """
    if isinstance(case, WholeCase):
        return cast(AnyCase, case)
    raise no_case(case)


@overload
def warm_up(case: Case) -> WarmUp: ...
@overload
def warm_up(case: BlocksCase) -> InTime: ...


def warm_up(case: Any) -> Any:
    """Follow a case in time, as its section [time] says; a bay without one for 12 hours from the room's temperature.

    Parameters
    ----------
    case : a joist bay, or blocks with a section [time]

    Returns
    -------
    WarmUp of a bay: `series` over time [s], `report`, `steady`; InTime of blocks.

    Raises
    ------
    ValueError : blocks without a section [time].
    MarchError, BalanceError, NotConvergedError : it could not be followed.
    """
    from sim.problems.kinds import kind_in_time, kind_of

    whole = case_of(case)
    if (kind := kind_in_time(whole)) is None:
        raise ValueError(f"{whole.path or whole.name}: {kind_of(whole).untimed}")
    return kind.follow(whole)


def read_run(folder: str | Path) -> KeptRun:
    """Read a run folder: `case`, `report`, `fields`, `floor` and `balance` as a solve gives them, all in memory.

    Raises
    ------
    StoreError : there is no complete run in the folder, or a file in it cannot be understood; of a comparison or a
        warm-up the message names what in it can be read.
    """
    from sim.results.stored import read_kept
    from sim.store.run_folder import StoreError

    try:
        return read_kept(folder)
    except StoreError as error:
        if way_out := _inside(Path(folder)):
            raise StoreError(f"{error}; {way_out}") from None
        raise


def _inside(folder: Path) -> str:
    """What a folder holds that is no run itself: the runs of a comparison, or the series of a warm-up."""
    from sim.store.run_folder import FIELDS_FILE

    if runs := sorted(str(file.parent) for file in folder.glob(f"*/*/{FIELDS_FILE}")):
        return f"it holds runs, of which one can be read: {', '.join(runs)}"
    series = sorted(map(str, folder.glob("choices/*/series.nc")))
    return f"it is a warm-up, whose series xarray.open_dataset reads: {', '.join(series)}" if series else ""


def save(found: object, folder: str | Path) -> Path:
    """Keep what was solved as a folder, which appears complete or not at all.

    Parameters
    ----------
    found : Result, AirRun, WarmUp, InTime, Comparison, SideBySide or HousePlan

    Raises
    ------
    StoreError : it cannot be written, or holds something that is not ours.
    TypeError : nothing that is kept as a folder.
    """
    from sim.house.plan import HousePlan
    from sim.house.save_house import save_house
    from sim.problems.air_run import AirRun
    from sim.problems.blocks_in_time import InTime, save_in_time
    from sim.problems.kinds import BAY_IN_TIME, kind_of
    from sim.problems.warm_up import WarmUp
    from sim.run import Result
    from sim.study.compare import Comparison
    from sim.study.save_comparison import save_comparison
    from sim.study.side_by_side import SideBySide, save_side_by_side

    if isinstance(found, HousePlan):
        return Path(save_house(found, folder) or folder)
    if isinstance(found, Comparison):
        return save_comparison(found, folder)
    if isinstance(found, SideBySide):
        return save_side_by_side(found, folder)
    if isinstance(found, InTime):
        return save_in_time(found, folder)
    if isinstance(found, WarmUp):
        return BAY_IN_TIME.save(found, folder)
    if isinstance(found, (Result, AirRun)):
        return kind_of(found.case).save(found, folder)
    raise TypeError(f"a result is wanted, not {type(found).__name__}")

"""The state in which a run ended, from its folder or from memory: what a scene or a picture of the whole bay shows."""

from __future__ import annotations

from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from sim.problems.save_warm_up import choice_in, is_warm_up, read_choice
from sim.results.last_state import LastState
from sim.results.notation_used import units_written
from sim.results.report import Report
from sim.results.snapshots import fields_at, snapshot_times
from sim.results.stored import kept_case, read_kept
from sim.store.house_file import HOUSE_FILE
from sim.store.own_folders import is_marked
from sim.store.run_folder import FIELDS_FILE, WRITTEN_FILE, StoreError, is_run
from sim.store.texts import text_of

if TYPE_CHECKING:
    import xarray

    from sim.case.bay_case import Case
    from sim.case.blocks_case import BlocksCase
    from sim.case.load import AnyCase
    from sim.problems.air_run import AirRun
    from sim.problems.blocks_in_time import InTime
    from sim.problems.warm_up import WarmUp
    from sim.results.stored import KeptRun
    from sim.run import Result

    Ended = Result[Case] | Result[BlocksCase] | KeptRun | AirRun | WarmUp | InTime


def last_state_in(folder: str | Path) -> LastState:
    """The state at the end of the run, or of the one choice of a warm-up, in a folder.

    Raises
    ------
    StoreError : it holds several runs, a house, none, or what cannot be read.
    """
    folder = Path(folder)
    if is_warm_up(folder):
        home = choice_in(folder)
        series, text = read_choice(home)
        return last_of_series(kept_case(home, text), series, Report(home.name, {}))
    if folder.is_dir() and not is_run(folder):
        _refuse(folder)
    return _of_run(read_kept(folder))


def units_of(folder: Path) -> Literal["si", "ip"]:
    """Units of the case file behind a run, which a comparison or a warm-up keeps for all its runs."""
    homes = [folder, *folder.resolve().parents[:2]]
    return units_written(next((text for home in homes if (text := text_of(home / WRITTEN_FILE))), ""))


def last_state_of(ended: Ended) -> LastState:
    """The same of what a solve, a march or `read_run` gave.

    Raises
    ------
    TypeError : it is none of these.
    """
    found: Any = ended
    if hasattr(found, "series"):
        return last_of_series(found.case, found.series, found.report)
    if hasattr(found, "stored_fields"):
        return _of_run(found.end, found.stored_fields())
    if not hasattr(found, "fields") or not hasattr(found, "report"):
        raise TypeError(f"a result or the folder of a run is wanted, not {type(found).__name__}")
    return _of_run(found)


def last_of_series(case: AnyCase, series: xarray.Dataset, report: Report) -> LastState:
    """The last snapshot of a bay in time; of one without, the floor of its last step."""
    times = snapshot_times(series)
    time = times[-1] if times else float(series["time"].values[-1])
    step = series.sel(time=time, method="nearest")
    room = float(step["room"]) if "room" in series else None
    moment = f"after {time / 3600.0:.3g} h{', its last snapshot' if times else ''}"
    if times:
        return LastState(case, fields_at(series, time), report, room, moment)
    lacks = "This run kept no snapshots of the whole bay; follow it again with --snapshots 1h,2h"
    others = [name for name in step.data_vars if name not in ("floor_temperature", "x_edge", "y_edge")]
    return LastState(case, step.drop_vars([*others, "time"]), report, room, moment, (lacks,))


def _of_run(found: Any, fields: xarray.Dataset | None = None) -> LastState:
    fields = found.fields if fields is None else fields
    ends = fields.attrs.get("time")
    return LastState(found.case, fields, found.report, moment="" if ends is None else f"at the end, after {ends:.4g} s")


def _refuse(folder: Path) -> None:
    """StoreError for a folder of ours that holds several runs, or a house; it says which there are."""
    if not is_marked(folder):
        return
    inside = sorted(islice((f.parent for f in folder.glob(f"*/*/{FIELDS_FILE}")), 50)) or sorted(
        islice((f.parent for f in folder.glob(f"*/{FIELDS_FILE}")), 50)
    )
    if inside:
        more = f" and {len(inside) - 3} more" if len(inside) > 3 else ""
        raise StoreError(f"{folder}: holds several runs; name one of {', '.join(map(str, inside[:3]))}{more}")
    if (folder / HOUSE_FILE).is_file():
        raise StoreError(f"{folder}: is a house, whose page is house.html; name the folder of a run of one bay")

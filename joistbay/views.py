"""A run as a scene that a person turns."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sim.results.people import Units
from viz.view.scene import Scene

if TYPE_CHECKING:
    from sim.problems.last_state import Ended


def view(found: Ended | str | Path, *, units: Units | None = None) -> Scene:
    """What was solved as a scene to turn: cutaway, floor through a thermal camera, plates, tube, streamlines.

    A notebook shows it as a page that turns; `.save("page.html")` writes that page, `.show()` draws it by PyVista.

    Parameters
    ----------
    found : Result, KeptRun, WarmUp, InTime or AirRun, or the folder of a run or a warm-up; of those in time the end
    units : "si" or "ip"; of a folder those of its case file when left out, else SI

    Raises
    ------
    StoreError : the folder holds no single run, or a damaged one.
    TypeError : nothing that can be shown.
    """
    from sim.problems.last_state import last_state_in, last_state_of, units_of
    from viz.view.build import scene_of

    if isinstance(found, str | Path):
        return scene_of(last_state_in(found), units or units_of(Path(found)))
    return scene_of(last_state_of(found), units or "si")

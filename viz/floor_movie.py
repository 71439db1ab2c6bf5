"""The floor map of a warm-up as a movie on one fixed temperature scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import Units
from viz.choice import Choice
from viz.floor_map import draw_floor_maps
from viz.movie import save_movie
from viz.scales import Scale, shared_scale

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FRAMES = 30
FRAME_TIME = 140
"""How many pictures a movie has, and how long each is shown [ms]; the last stays for a while."""
LAST_TIME = 2500


def movie_times(choices: Sequence[Choice], frames: int) -> Any:
    """Times of the pictures [s], evenly from the start to the end of the longest warm-up."""
    return np.linspace(0.0, max(float(choice.fields["time"][-1]) for choice in choices), frames)


def movie_scale(choices: Sequence[Choice], units: Units = "si") -> Scale:
    """The scale of all pictures: from the coolest to the warmest spot of any floor at any time."""
    return shared_scale([choice.fields["floor_temperature"].values for choice in choices], units)


def draw_frame(choices: Sequence[Choice], time: float, scale: Scale, *, title: str = "") -> Figure:
    """The floor maps at one time [s], straight between the steps."""
    now = [_at(choice, time) for choice in choices]
    headline = title or choices[0].case or "Floor surface"
    when = f"{headline}: after {time / 3600.0:.2f} h"
    return draw_floor_maps(now, title=when, units=scale.units, scale=scale, finding="")


def _at(choice: Choice, time: float) -> Choice:
    """A choice whose floor is that of one time."""
    times, maps = choice.fields["time"].values, choice.fields["floor_temperature"]
    after = int(np.clip(np.searchsorted(times, time), 1, len(times) - 1))
    share = float(np.clip((time - times[after - 1]) / (times[after] - times[after - 1]), 0.0, 1.0))
    floor = (1.0 - share) * maps[after - 1].values + share * maps[after].values
    fields = choice.fields.drop_vars("floor_temperature").assign(floor_temperature=(("x", "y"), floor))
    mean = (1.0 - share) * float(choice.fields["surface_mean"][after - 1])
    mean += share * float(choice.fields["surface_mean"][after])
    report = {"surface_mean_C": mean - 273.15, "ripple_K": float(np.nanmax(floor) - np.nanmin(floor))}
    return replace(choice, fields=fields, report=report, limits=())  # lines about them would come and go between frames


def save_floor_movie(
    choices: Sequence[Choice], path: str | Path, *, title: str = "", units: Units = "si", frames: int | None = None
) -> Path:
    """Write the movie of one or several warm-ups, of FRAMES pictures unless said otherwise; parents are made.

    Raises
    ------
    ValueError
        When there is nothing to draw.
    """
    if not choices:
        raise ValueError("no warm-up to draw")
    times, scale = movie_times(choices, frames or FRAMES), movie_scale(choices, units)
    figures = (draw_frame(choices, float(time), scale, title=title) for time in times)
    return save_movie(figures, path, frame_time=FRAME_TIME, last_time=LAST_TIME)

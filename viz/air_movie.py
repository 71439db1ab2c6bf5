"""The flow of air as it starts, as a movie of one upright section on one fixed temperature scale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import Units
from viz.air_section import draw_section_on, drawing_size
from viz.air_view import AirSection, PlainScale, air_scale, is_dimensionless
from viz.choice import Choice
from viz.layout import PictureSheet, caption_of, colour_bar, head_height, headline_of
from viz.movie import save_movie
from viz.scales import Scale

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FRAME_TIME, LAST_TIME = 120, 2500
"""How long each picture is shown [ms]; the last stays for a while."""
_LEFT, _BELOW, _RIGHT = 0.85, 0.95, 1.45


def frame_section(frames: Any, number: int) -> AirSection:
    """One of the stored pictures as a section; `frames` is the dataset of `air_frames.nc`."""
    warmth, across, up = (np.asarray(frames[f"air_{name}"].values[number], dtype=float) for name in _NAMES)
    x_edge, z_edge = (np.asarray(frames[f"air_{axis}_edge"].values, dtype=float) for axis in "xz")
    flat, y = bool(frames.attrs.get("two_dimensional", 1)), float(frames.attrs.get("section_y", 0.0))
    return AirSection(x_edge, z_edge, warmth, across, up, y, flat, is_dimensionless(frames))


_NAMES = ("temperature", "velocity_x", "velocity_z")


def draw_frame(choice: Choice, number: int, scale: Scale, *, title: str = "") -> Figure:
    """One picture of the movie: section, streamlines, time."""
    section, time = frame_section(choice.fields, number), float(choice.fields["time"].values[number])
    headline = title or headline_of(choice)
    when = f"{time:.4f} L²/α" if isinstance(scale, PlainScale) else f"{time:.1f} s"
    width, height = drawing_size(section)
    whole = _LEFT + width + _RIGHT
    sheet = PictureSheet(whole, head_height(headline, when, whole) + 0.3 + height + _BELOW)
    sheet.head(headline, f"Temperature and flow of the air after {when}")
    axes = sheet.axes(_LEFT, _BELOW, width, height)
    draw_section_on(axes, choice, section, scale, strongest=strongest(choice.fields))
    colour_bar(sheet, (_LEFT + width + 0.3, _BELOW, 0.2, height - 0.4), scale, "temperature")
    sheet.foot(caption_of([choice], headline))
    return sheet.figure


def strongest(frames: Any) -> float:
    """Largest |stream function| of all pictures [m²/s]: lines mean the same flow in each of them."""
    across = np.nan_to_num(frames["air_velocity_x"].values) * np.diff(frames["air_z_edge"].values)
    return float(np.abs(np.cumsum(across, axis=2)).max())


def save_air_movie(choice: Choice, path: str | Path, *, title: str = "", units: Units = "si") -> Path:
    """Write the movie of a run's stored pictures; parents of the path are made.

    Parameters
    ----------
    choice : Choice
        Its fields are those of `air_frames.nc`.

    Raises
    ------
    ValueError
        When there are fewer than two pictures.
    """
    count = int(choice.fields.sizes.get("time", 0))
    if count < 2:
        raise ValueError(f"{choice.name or 'this run'}: has {count} pictures of its start; a movie needs at least 2")
    scale = air_scale([choice.fields["air_temperature"].values], is_dimensionless(choice.fields), units)
    figures = (draw_frame(choice, number, scale, title=title) for number in range(count))
    return save_movie(figures, path, frame_time=FRAME_TIME, last_time=LAST_TIME)

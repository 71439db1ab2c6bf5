"""Moving air of several cases side by side as a movie, with the heat that each carries."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.air_motion import WEAK
from sim.results.people import UNITS, Units
from viz.air_history import column
from viz.air_movie import frame_section, strongest
from viz.air_section import draw_section_on
from viz.air_view import DIFFUSIVITY, AirSection, air_scale, shown_length
from viz.choice import Choice
from viz.layout import INK
from viz.lesson_sections import axis_of_lengths, length_number, temperature_bar
from viz.lesson_sheet import COLOURS, DASHES, DPI, SMALL, TEXT, LessonSheet, name_axes
from viz.movie import save_movie
from viz.scales import Scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FRAME_TIME, LAST_TIME = 160, 4000
"""How long each picture is shown [ms]; the last stays for a while."""


def save_lesson_movie(
    choices: Sequence[Choice], frames: Sequence[Any], histories: Sequence[Any], title: str, folder: Path, units: Units
) -> list[Path]:
    """Write a movie, evenly over the time in which any of the flows changes, and its last picture beside it.

    Raises
    ------
    ValueError
        When a case kept no pictures of its air.
    """
    if any(kept is None or kept.sizes["time"] < 2 for kept in frames):
        raise ValueError("a movie needs pictures of every case's air; set air.frames in the cases")
    numbers = shown_frames(frames, histories)
    figures = (_frame(choices, frames, histories, title, number, units) for number in numbers)
    movie = save_movie(figures, folder / "movie", frame_time=FRAME_TIME, last_time=LAST_TIME)
    last = folder / "picture.png"
    _frame(choices, frames, histories, title, numbers[-1], units).savefig(last, dpi=DPI, facecolor="white")
    return [movie, last]


def shown_frames(frames: Sequence[Any], histories: Sequence[Any]) -> list[int]:
    """Numbers of the pictures: every one until the last flow rests or turns evenly, with a third of that time more."""
    last, count = 0, min(int(kept.sizes["time"]) for kept in frames)
    for kept, history in zip(frames, histories, strict=True):
        energy = np.interp(kept["time"].values, column(history, "time"), column(history, "kinetic_energy"))
        top = float(np.nanmax(energy))
        off = np.flatnonzero(np.abs(energy - energy[-1]) > 0.05 * top)
        last = max(last, int(1.33 * (off[-1] + 1)) if off.size else 0)
    return list(range(min(count, max(last, 12))))


def _frame(
    choices: Sequence[Choice], frames: Sequence[Any], histories: Sequence[Any], title: str, number: int, units: Units
) -> Figure:
    time = float(frames[0]["time"].values[number])
    sheet = LessonSheet(title, f"after {time:.1f} s")
    scale = air_scale([kept["air_temperature"].values for kept in frames], False, units)
    highest = max(strongest(kept) for kept in frames)
    room = 0.84 / len(choices)
    for place, (choice, kept) in enumerate(zip(choices, frames, strict=True)):
        section = frame_section(kept, number)
        axes = sheet.axes(0.08 + place * (room + 0.02), 0.45, room - 0.05, 0.34)
        shown = Choice(choice.name, kept, {}, "")
        draw_section_on(axes, shown, section, scale, strongest=highest)
        axes.set_aspect("auto")
        axes.grid(False)
        _number_lengths(axes, units)
        name_axes(axes, axis_of_lengths("across", units), axis_of_lengths("height", units) if place == 0 else "")
        peclet = section.fastest * float(np.ptp(section.z_edge)) / DIFFUSIVITY
        rest = peclet < WEAK
        _name_walls(axes, section, scale)
        words = "at rest" if rest else _speed_words(section.fastest, units)
        sheet.text(0.08 + place * (room + 0.02), 0.81, f"{choice.name}: {words}", TEXT, color=COLOURS[place])
    until = float(frames[0]["time"].values[shown_frames(frames, histories)[-1]])
    _heat_in_time(sheet, choices, histories, (time, until))
    temperature_bar(sheet, (0.925, 0.45, 0.014, 0.30), scale)
    return sheet.figure


def _speed_words(fastest: float, units: Units) -> str:
    """How fast the air is at most; slower than 1 mm/s no number is told."""
    bound, places = (1e-3, 0) if units == "si" else (0.00127, 2)
    unit, shown = UNITS["mm_s"].name(units), UNITS["mm_s"].convert(1000 * max(fastest, bound), units)
    return f"{'up to' if fastest > bound else 'below'} {shown:.{places}f} {unit}"


def _name_walls(axes: Axes, section: AirSection, scale: Scale) -> None:
    """Which of the two level walls is the warm one."""
    x, z = shown_length(section.x_edge, scale), shown_length(section.z_edge, scale)
    middle = 0.5 * float(x[0] + x[-1])
    style: dict[str, Any] = {"ha": "center", "fontsize": SMALL, "color": INK, "weight": "bold", "zorder": 6}
    style["bbox"] = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 2.0}
    warm_below = float(np.nanmean(section.temperature[:, 0])) > float(np.nanmean(section.temperature[:, -1]))
    words = ("warm", "cool") if warm_below else ("cool", "warm")
    for word, height, side in zip(words, (z[0], z[-1]), ("bottom", "top"), strict=True):
        axes.text(middle, height, f"{word} wall", va=side, **style)


def _number_lengths(axes: Any, units: Units) -> None:
    from matplotlib.ticker import FuncFormatter

    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: length_number(value, units)))


def _heat_in_time(
    sheet: LessonSheet, choices: Sequence[Choice], histories: Sequence[Any], times: tuple[float, float]
) -> None:
    """Nusselt numbers so far, of the floor of each case; `times`: now, and the end of the movie [s]."""
    axes = sheet.axes(0.08, 0.10, 0.60, 0.20)
    (now, until), top = times, 1.0
    for number, (choice, history) in enumerate(zip(choices, histories, strict=True)):
        time, heat = column(history, "time"), column(history, "nusselt_floor")
        past = time <= now
        look: dict[str, Any] = {"color": COLOURS[number], "linestyle": DASHES[number], "linewidth": 4.0}
        axes.plot(time[past], heat[past], label=choice.name, **look)
        top = max(top, float(np.nanmax(heat[len(heat) // 20 :])))
    axes.set(xlim=(0.0, until), ylim=(0.0, 1.1 * top))
    axes.set_xlabel("time, s", fontsize=SMALL, color=INK)
    axes.set_ylabel("Nu", fontsize=TEXT, color=INK)
    axes.legend(loc="center left", bbox_to_anchor=(1.02, 0.5), frameon=False, fontsize=SMALL)
    sheet.text(0.72, 0.31, "heat carried, over\nconduction alone (Nu)", SMALL, va="top")

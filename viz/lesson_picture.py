"""The picture of a lesson, from its solved cases: which kind its file asks for.

    movie      sections of moving air side by side            onset     Nusselt against Rayleigh number
    bars       what each case gives (`keys`, `unit`)          courses   a `series` in time
    sections   bays side by side, the floor above each        plume     computed air, the floor's stripe above it
    balance    one bay, its parts named, and where heat goes  depths    a slab at several `heights_mm`
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import UNITS, Units, convert
from sim.results.spelling import told
from viz.choice import Choice
from viz.layout import INK, display_length
from viz.lesson_charts import draw_bars, draw_bars_on, draw_courses, draw_depths, draw_onset
from viz.lesson_sections import (
    across_as_below,
    axis_of_lengths,
    draw_solids,
    floor_line,
    name_parts,
    section_scale,
    temperature_bar,
)
from viz.lesson_sheet import COLOURS, DPI, HEIGHT, SMALL, TEXT, WIDTH, LessonSheet, fitted, name_axes
from viz.lesson_words import told_choices, told_picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KINDS = ("movie", "onset", "bars", "courses", "sections", "plume", "balance", "depths")
NUMBERS_ROOM = 1.2
"""Room for a number over a bar of a balance [in]."""


def save_lesson_picture(
    choices: Sequence[Choice], asked: Mapping[str, Any], title: str, folder: Path, *,
    frames: Sequence[Any] = (), histories: Sequence[Any] = (), added: Sequence[bool] = (), units: Units = "si",
) -> list[Path]:  # fmt: skip
    """Draw a lesson's picture into a folder: `picture.png`, and for moving air a movie.

    Parameters
    ----------
    choices : the solved cases
    asked : table [picture] of the lesson's file
    frames : pictures of moving air of every case, for a movie
    histories : courses of every case
    added : which cases the class asked for
    units : "si" or "ip"; of numbers, axes and words

    Raises
    ------
    ValueError
        For an unknown kind.
    """
    kind, title = asked["kind"], told(title, units)
    choices, asked = told_choices(choices, units), told_picture(asked, units)
    if kind == "movie":
        from viz.lesson_movie import save_lesson_movie

        return save_lesson_movie(choices, frames, histories, title, folder, units)
    if kind == "onset":
        figure = draw_onset(choices, asked, title, added)
    elif kind in _DRAW:
        figure = _DRAW[kind](choices, asked, title, units)
    else:
        raise ValueError(f'picture kind "{kind}": there are {", ".join(KINDS)}')
    path = folder / "picture.png"
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=DPI, facecolor="white")
    return [path]


def _draw_sections(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, units: Units) -> Figure:
    """Bays side by side: the temperature of the floor above, the section below, one scale for all."""
    sheet, scale = LessonSheet(title, asked.get("note", "")), section_scale(list(choices), units)
    lines = [floor_line(choice, units) for choice in choices]
    low, high = min(float(t.min()) for _, t in lines), max(float(t.max()) for _, t in lines)
    edge = UNITS["K"].convert(0.4, units)
    room = 0.80 / len(choices)
    cut = (room - 0.15) * max(_shape(choice) for choice in choices)
    for number, (choice, (x, warmth)) in enumerate(zip(choices, lines, strict=True)):
        left, width = 0.07 + number * (room + 0.04), room - 0.15
        above = sheet.axes(left, 0.16 + cut, width, 0.65 - cut)
        above.plot(x, warmth, color=COLOURS[0], linewidth=4.5)
        above.set_ylim(low - edge, high + edge)
        across_as_below(above, choice, units)
        sheet.text(left, 0.825, choice.name, TEXT, weight="bold")
        axes = sheet.axes(left, 0.12, width, cut)
        draw_solids(axes, choice, scale)
        name_axes(axes, axis_of_lengths("across", units), axis_of_lengths("height", units) if number == 0 else "")
        name_parts(sheet, axes, choice, 0.13, units)
        if number == 0:
            above.set_ylabel(f"floor, {scale.unit}", fontsize=TEXT, color=INK)
    temperature_bar(sheet, (0.945, 0.12, 0.012, cut - 0.05), scale)
    return sheet.figure


def _shape(choice: Choice) -> float:
    """Height of a section over its width, both as shares of the sheet."""
    wide, tall = (float(np.ptp(choice.edges(axis))) for axis in "xz")
    return tall / wide * WIDTH / HEIGHT


def _draw_balance(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, units: Units) -> Figure:
    """One bay with its parts named, and bars of where its heat goes."""
    sheet, scale = LessonSheet(title, asked.get("note", "")), section_scale([choices[0]], units)
    cut = 0.40 * _shape(choices[0])
    axes = sheet.axes(0.07, 0.82 - cut, 0.40, cut)
    draw_solids(axes, choices[0], scale)
    name_axes(axes, axis_of_lengths("across", units), axis_of_lengths("height", units))
    name_parts(sheet, axes, choices[0], 0.14, units)
    temperature_bar(sheet, (0.625, 0.82 - cut, 0.014, cut - 0.05), scale)
    bars = sheet.axes(0.74, 0.14, 0.24, 0.68)
    values = [convert(part[1], float(choices[0].report[part[1]]), units) for part in asked["keys"]]
    total = values[0]
    for place, value in enumerate(values):
        bars.bar(place, value, width=0.7, color=COLOURS[place], edgecolor="white")
        label = f"{value:.{2 if units == 'si' else 1}f} {asked['unit']}"
        size, share = fitted(label, NUMBERS_ROOM, SMALL), f"\n{100 * value / total:.0f} %" if place else ""
        bars.text(place, value + 0.015 * total, label + share, ha="center", va="bottom", fontsize=size, color=INK)
    bars.set_xticks(range(len(values)), [part[0] for part in asked["keys"]], fontsize=SMALL)
    bars.set_ylim(0.0, 1.2 * total)
    bars.set_ylabel(f"heat, {asked['unit']}", fontsize=TEXT, color=INK)
    return sheet.figure


def _draw_plume(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, units: Units) -> Figure:
    """Computed air around a hung plate, the floor's temperature above it at the same places across."""
    from viz.air_section import _draw_stream_function, _draw_streams
    from viz.air_view import air_section

    choice = choices[0]
    section, scale = air_section(choice), section_scale([choice], units)
    sheet = LessonSheet(title, asked.get("note", ""))
    wide, tall = (float(np.ptp(choice.edges(axis))) for axis in "xz")
    width = min(0.66, 0.47 * HEIGHT / WIDTH * wide / tall)
    above, axes = sheet.axes(0.14, 0.63, width, 0.20), sheet.axes(0.14, 0.12, width, 0.47)
    x, warmth = floor_line(choice, units)
    above.plot(x, warmth, color=COLOURS[0], linewidth=5.0)
    across_as_below(above, choice, units)
    above.set_ylabel(f"floor, {scale.unit}", fontsize=TEXT, color=INK)
    draw_solids(axes, choice, scale)
    _colour_air(axes, section, scale)
    if section.flat:
        _draw_stream_function(axes, section, scale, None)
    else:
        _draw_streams(axes, choice, section, scale)
    for part in choice.outlines:
        if part.name == "plate":
            x0, x1, _, _, z0, z1 = display_length(part.box, units)
            axes.fill([x0, x1, x1, x0], [z0, z0, z1, z1], color=INK, zorder=5)
    name_axes(axes, axis_of_lengths("across", units), axis_of_lengths("height", units))
    name_parts(sheet, axes, choice, 0.15, units)
    sheet.text(0.16 + width, 0.72, "the stripe\non the floor", TEXT, color=COLOURS[0])
    temperature_bar(sheet, (0.88, 0.12, 0.014, 0.42), scale)
    return sheet.figure


def _colour_air(axes: Any, section: Any, scale: Any) -> None:
    from viz.air_view import shown_length, shown_temperature
    from viz.scales import temperature_colours

    values = np.ma.masked_invalid(shown_temperature(section.temperature, scale))
    colours = temperature_colours().with_extremes(bad=(0, 0, 0, 0))
    edges = shown_length(section.x_edge, scale), shown_length(section.z_edge, scale)
    axes.pcolormesh(*edges, values.T, cmap=colours, norm=scale.norm, rasterized=True)


_DRAW = {
    "bars": draw_bars,
    "courses": draw_courses,
    "sections": _draw_sections,
    "plume": _draw_plume,
    "balance": _draw_balance,
    "depths": draw_depths,
}
__all__ = ["KINDS", "draw_bars_on", "save_lesson_picture"]

"""Charts of lessons: bars of what cases give, the onset of convection, courses in time, stripes by depth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import UNITS, Units, convert
from viz.choice import Choice
from viz.layout import INK, SOFT, display_length
from viz.lesson_sections import MM, across_as_below, axis_of_lengths, shown_places
from viz.lesson_sheet import COLOURS, DASHES, HEIGHT, SMALL, TEXT, WIDTH, LessonSheet, fitted, name_axes
from viz.scales import display_temperature

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ONSET = 1707.762
"""Critical Rayleigh number between rigid plates: Chandrasekhar 1961, table III."""

NAMES_ROOM = 3.4
"""Room for the names of bars [in]."""

HATCHES = ("", "//", "..", "xx")


def draw_bars_on(axes: Axes, choices: Sequence[Choice], asked: Mapping[str, Any], units: Units) -> None:
    """Bars of one case each, stacked of `keys` [label, report key, factor or key of a factor in percent].

    A part [label, key, whole] is `key` percent of `whole`.
    """
    places = np.arange(len(choices))
    under = np.zeros(len(choices))
    widest = max(sum(parts_of(choice.report, asked["keys"], units)) for choice in choices)
    totals = [part[0] for part in asked["keys"]]
    for number in range(len(totals)):
        values = np.array([parts_of(choice.report, asked["keys"], units)[number] for choice in choices])
        look: dict[str, Any] = {"color": COLOURS[number], "edgecolor": "white", "linewidth": 0.0}
        look["hatch"] = HATCHES[number % 4]
        bars = axes.barh(places, values, left=under, height=0.62, label=totals[number], **look)
        for bar, value in zip(bars, values, strict=True):
            if value > 0.07 * widest:
                middle = bar.get_x() + bar.get_width() / 2
                box = {"facecolor": "white", "edgecolor": "none", "pad": 2.5, "alpha": 0.85}
                axes.text(
                    middle, bar.get_y() + bar.get_height() / 2, f"{value:.1f}", ha="center", va="center",
                    fontsize=TEXT, color=INK, bbox=box,
                )  # fmt: skip
        under += values
    names = [choice.name for choice in choices]
    size = min(fitted(name, NAMES_ROOM, TEXT) for name in names)
    axes.set_yticks(places, names, fontsize=size)
    axes.invert_yaxis()
    axes.set_xlim(0.0, 1.06 * widest)
    axes.set_xlabel(asked["unit"], fontsize=TEXT, color=INK)
    axes.legend(
        loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=min(3, len(totals)), frameon=False, fontsize=SMALL
    )


def parts_of(report: Mapping[str, Any], keys: Sequence[Sequence[str]], units: Units = "si") -> list[float]:
    """Numbers of a report, or the percent that they are of another, in the wanted units.

    What flows backwards is taken off the first.
    """
    found = [float(report.get(part[1], 0.0)) * (float(report[part[2]]) / 100 if part[2:] else 1.0) for part in keys]
    found = [convert(part[-1], value, units) for part, value in zip(keys, found, strict=True)]
    back = sum(min(0.0, value) for value in found)
    first, *others = (max(0.0, value) for value in found)
    return [first + back, *others]


def draw_bars(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, units: Units) -> Figure:
    """The bars as a picture of their own."""
    sheet = LessonSheet(title, asked.get("note", ""))
    draw_bars_on(sheet.axes(0.24, 0.14, 0.72, 0.60), choices, asked, units)
    return sheet.figure


def draw_onset(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, added: Sequence[bool]) -> Figure:
    """Nusselt against Rayleigh number: given points filled, those of the class as open diamonds, the onset a line."""
    sheet = LessonSheet(title, asked.get("note", ""))
    axes = sheet.axes(0.10, 0.14, 0.86, 0.69)
    axes.axvspan(1.0, ONSET, color="#e9eef2", zorder=0)
    axes.axvline(ONSET, color=COLOURS[1], linewidth=3.0, linestyle=DASHES[1])
    axes.axhline(1.0, color=SOFT, linewidth=2.0)
    numbers = [(float(c.report["rayleigh"]), float(c.report[asked["key"]])) for c in choices]
    for own, marker, face, label in ((False, "o", COLOURS[0], "computed"), (True, "D", "white", "the class's")):
        shown = [n for n, a in zip(numbers, added, strict=True) if a == own]
        if shown:
            x, y = zip(*shown, strict=True)
            look: dict[str, Any] = {"markerfacecolor": face, "markeredgecolor": COLOURS[0], "markeredgewidth": 3}
            axes.plot(x, y, marker, markersize=16, label=label, zorder=4, linestyle="none", **look)
    for choice, point, shift in zip(choices, numbers, _label_places(numbers), strict=True):
        side = "left" if shift[0] > 0 else "right" if shift[0] < 0 else "center"
        annotated: dict[str, Any] = {"textcoords": "offset points", "fontsize": SMALL, "color": INK, "ha": side}
        axes.annotate(choice.name, point, shift, **annotated)
    axes.set_xscale("log")
    low, high = min(n[0] for n in numbers), max(n[0] for n in numbers)
    ticks = [t for power in range(1, 9) for t in (10.0**power, 2 * 10.0**power, 5 * 10.0**power)]
    marked = [tick for tick in ticks if 0.6 * low < tick < 1.9 * high]
    axes.set_xticks(marked, [f"{tick:,.0f}" for tick in marked])
    axes.minorticks_off()
    axes.set(xlim=(0.6 * low, 1.9 * high), ylim=(0.85, 1.12 * max(n[1] for n in numbers)))
    top = axes.get_ylim()[1]
    style: dict[str, Any] = {"fontsize": SMALL, "color": COLOURS[1], "va": "top"}
    axes.text(ONSET * 1.06, 0.90, "onset: Ra 1708", fontsize=SMALL, color=COLOURS[1], va="bottom")
    axes.text(0.65 * low, 0.98 * top, "air at rest: heat is only conducted", **style)
    axes.text(1.8 * high, 0.98 * top, "air turns over", ha="right", **style)
    name_axes(axes, "Rayleigh number Ra", "Nusselt number Nu\n(heat, over conduction alone)")
    axes.legend(loc="center left", frameon=False, fontsize=TEXT)
    return sheet.figure


def _label_places(numbers: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Where names stand at their points [pt]: below onset above them, raised where the next is near; else beside."""
    places: list[tuple[float, float]] = []
    level, last = 0, 0.0
    for rayleigh, _ in numbers:
        if rayleigh > ONSET:
            places.append((16.0, -7.0))
            continue
        level = level + 1 if last and rayleigh / last < 1.5 else 0
        places.append((-2.0 if rayleigh > 0.8 * ONSET else 0.0, 18.0 + 24.0 * level))
        last = rayleigh
    return places


def draw_courses(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, units: Units) -> Figure:
    """A series [K] of several warm-ups in time."""
    sheet = LessonSheet(title, asked.get("note", ""))
    axes = sheet.axes(0.09, 0.14, 0.66, 0.69)
    for number, choice in enumerate(choices):
        hours = choice.fields["time"].values / 3600.0
        values = display_temperature(choice.fields[asked["series"]].values, units)
        axes.plot(hours, values, color=COLOURS[number], linestyle=DASHES[number], linewidth=4.5)
        label: dict[str, Any] = {"fontsize": TEXT, "color": COLOURS[number], "va": "center"}
        axes.annotate(choice.name, (hours[-1], values[-1]), (12, 0), textcoords="offset points", **label)
    axes.set_xlim(0.0, max(float(choice.fields["time"].values[-1]) for choice in choices) / 3600.0)
    name_axes(axes, "hours after the water comes on", asked["label"])
    return sheet.figure


def draw_depths(choices: Sequence[Choice], asked: Mapping[str, Any], title: str, units: Units) -> Figure:
    """Temperature along a slab at several heights over its pipes: stripes fade; at the right how high they are."""
    from viz.lesson_sections import draw_solids, section_scale

    choice = choices[0]
    sheet = LessonSheet(title, asked.get("note", ""))
    wide, tall = (float(np.ptp(choice.edges(axis))) for axis in "xz")
    cut = 0.70 * tall / wide * WIDTH / HEIGHT
    axes = sheet.axes(0.09, 0.16 + cut, 0.70, 0.68 - cut)
    across, z = shown_places(choice.fields["x"].values, units), choice.fields["z"].values
    kelvin = np.asarray(choice.fields["temperature"].values[:, 0, :], dtype=float)
    for number, height in enumerate(asked["heights_mm"]):
        k = int(np.abs(MM * z - height).argmin())
        shown = display_temperature(kelvin[:, k], units)
        axes.plot(across, shown, color=COLOURS[number], linestyle=DASHES[number], linewidth=4.0)
        swing = float(np.nanmax(shown) - np.nanmin(shown))
        over = UNITS["mm"].write(MM * z[k] - asked["pipes_mm"], units)
        label = f"{over} over: {swing:.2f} {UNITS['K'].name(units)}"
        axes.annotate(
            label, (across[-1], float(np.nanmean(shown))), (12, 0), textcoords="offset points", fontsize=SMALL,
            color=COLOURS[number], va="center", annotation_clip=False,
        )  # fmt: skip
    across_as_below(axes, choice, units)
    name_axes(axes, "", f"temperature, {UNITS['C'].name(units)}")
    below = sheet.axes(0.09, 0.12, 0.70, cut)
    scale = section_scale(list(choices), units)
    draw_solids(below, choice, scale)
    below.set_aspect("auto")
    for number, height in enumerate(asked["heights_mm"]):
        level = float(display_length(height / MM, units))
        below.axhline(level, color=COLOURS[number], linestyle=DASHES[number], linewidth=3.0)
    name_axes(below, axis_of_lengths("across the pipes", units), axis_of_lengths("height", units))
    sheet.text(0.80, 0.12 + 0.4 * cut, "slab with three pipes,\ncut through: bright is\nwarm, dark is cool", SMALL)
    return sheet.figure

"""What a floor passes of its limits, on its map: hatching with a rim, a line across the scale, lines of text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sim.results.people import Units
from viz.choice import Array, Choice, FloorLimit, FloorPlan
from viz.floor_limits import bound_spans, hidden_words, kept_words, passed, under_rugs
from viz.layout import FAINT, INK, MARGIN, SMALL_SIZE, PictureSheet, display_length, line_height, text_width, wrap
from viz.scales import ZERO_CELSIUS, Scale, display_temperature

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HATCHES = ("////", "\\\\\\\\", "....")
"""Hatching of what is warmer than the first, the second, a further limit."""

MOST_LIMIT_LINES = 6
"""Limits and rugs that are told of under the maps."""


def hatch_above(axes: Axes, limit: FloorLimit, hatch: str, celsius: tuple[Array, Array, Array]) -> None:
    """Hatch and outline where a floor is warmer than a limit."""
    highest = float(np.nanmax(celsius[2])) + 1.0
    area = axes.contourf(*celsius, levels=[limit.highest, highest], colors="none", hatches=[hatch])
    area.set(edgecolor=INK, linewidth=0.0)
    axes.contour(*celsius, levels=[limit.highest], colors="white", linewidths=2.6)
    axes.contour(*celsius, levels=[limit.highest], colors=INK, linewidths=1.1)


def hatchings(choices: Sequence[Choice], plans: Sequence[FloorPlan]) -> dict[str, str]:
    """Hatching by the words of each limit that some floor passes, lowest first."""
    found = {limit for choice, plan in zip(choices, plans, strict=True) for limit in passed(plan, choice.limits)}
    words = dict.fromkeys(limit.words() for limit in sorted(found, key=lambda limit: limit.highest))
    return {text: HATCHES[min(k, len(HATCHES) - 1)] for k, text in enumerate(words)}


def limit_lines(
    choices: Sequence[Choice], plans: Sequence[FloorPlan], hatched: Mapping[str, str], units: Units, width: float
) -> list[tuple[str, str]]:
    """What is said of limits under maps on a sheet of a width [in], as hatching and text.

    Those that a floor passes, those passed under rugs, or that all are kept.
    """
    limits = {limit.words(): limit for choice in choices for limit in choice.limits}
    told = [(hatch, f"warmer than {limits[words].words(units)}") for words, hatch in hatched.items()]
    told += [("", line) for line in _under_rugs(choices, plans, units)]
    if limits and not told:
        told = [("", kept_words(sorted(limits.values(), key=lambda limit: limit.highest), units))]
    room = width - 2 * MARGIN - 0.45
    lines = []
    for hatch, text in told[:MOST_LIMIT_LINES]:
        first, *more = wrap(text, room, SMALL_SIZE)
        lines += [(hatch, first), *(("", line) for line in more)]
    return lines


def _under_rugs(choices: Sequence[Choice], plans: Sequence[FloorPlan], units: Units) -> list[str]:
    """Of each limit that is passed under rugs, where it is passed by most, and by how many choices."""
    hidden: dict[str, list[tuple[float, str, FloorLimit]]] = {}
    for choice, plan in zip(choices, plans, strict=True):
        for limit in under_rugs(plan, choice.limits):
            hidden.setdefault(limit.words(), []).append((float(limit.found or 0.0), choice.name, limit))
    lines = []
    for each in hidden.values():
        _, name, limit = max(each, key=lambda row: row[0])
        whose = f"{name}: " if len(choices) > 1 else ""
        others = f"; less in {len(each) - 1} other choice{'s' * (len(each) > 2)}" if len(each) > 1 else ""
        lines.append(whose + hidden_words(limit, units) + others)
    return lines


def write_limits(sheet: PictureSheet, lines: Sequence[tuple[str, str]]) -> None:
    """The lines about limits, a patch of its hatching before each that has one."""
    from matplotlib.patches import Rectangle

    level = 0.36 + len(lines) * line_height(SMALL_SIZE)
    for hatch, text in lines:
        level -= line_height(SMALL_SIZE)
        if hatch:
            corner, size = (MARGIN / sheet.width, level / sheet.height), (0.33 / sheet.width, 0.12 / sheet.height)
            patch = Rectangle(corner, *size, facecolor="#f7d65a", edgecolor=INK, hatch=2 * hatch, linewidth=0.8)
            patch.set_transform(sheet.figure.transFigure)
            sheet.figure.add_artist(patch)
        sheet.text(MARGIN + (0.45 if hatch else 0.0), level + 0.02, text, SMALL_SIZE)


def mark_limit(axes: Axes, limit: FloorLimit, scale: Scale) -> None:
    """A limit that a floor passes, as a line across the scale."""
    (level,) = display_temperature([limit.highest + ZERO_CELSIUS], scale.units)
    if scale.low < level < scale.high:
        axes.plot([0.0, 1.0], [level, level], color="white", linewidth=3.0)
        axes.plot([0.0, 1.0], [level, level], color=INK, linewidth=1.3)
    axes.set(xlim=(0.0, 1.0), ylim=(scale.low, scale.high))


def mark_on_profile(
    axes: Axes, choices: Sequence[Choice], plans: Sequence[FloorPlan], axis: int, units: Units
) -> None:
    """A line at every limit that some floor passes, hatched above it, with its name where the figure is wide."""
    hatched, named, names = hatchings(choices, plans), set[str](), list[tuple[str, float]]()
    bottom, top = axes.get_ylim()
    for choice, plan in zip(choices, plans, strict=True):
        for limit in passed(plan, choice.limits):
            if limit.words() in named:
                continue
            named.add(limit.words())
            (level,) = display_temperature([limit.highest + ZERO_CELSIUS], units)
            bottom = min(bottom, float(level) - 0.04 * (top - bottom))
            for span in bound_spans(plan, limit, axis):
                ends = display_length(span, units)
                axes.plot(ends, [level, level], color=INK, lw=1.2, zorder=2.5)
                axes.fill_between(
                    ends, level, top, hatch=hatched[limit.words()], facecolor="none", edgecolor=FAINT, linewidth=0.0
                )
            if axis == 1:
                names.append((f"at most {limit.words(units)}", float(level)))
    axes.set_ylim(bottom, top)
    for text, level in names:
        _name_limit(axes, text, level)


def _name_limit(axes: Axes, text: str, level: float) -> None:
    """The name of a limit on its line, above or below it, where it hides least of the curves."""
    box = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0}
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    step, lift = (right - left) / 24.0, (top - bottom) / axes_inches(axes)[1]
    wide = text_width(text, SMALL_SIZE) / axes_inches(axes)[0] * (right - left)
    starts = [left + 0.3 * step + k * step for k in range(24) if left + (k + 0.6) * step + wide < right] or [left]
    place = clearest(axes, [(x, level + shift * lift) for shift in (0.07, -0.16) for x in starts], text, "left")
    axes.text(*place, text, fontsize=SMALL_SIZE, color=INK, bbox=box, zorder=4)


def axes_inches(axes: Axes) -> tuple[float, float]:
    """Width and height of axes [in]."""
    box, figure = axes.get_position(), axes.figure
    wide, tall = figure.get_size_inches()  # type: ignore[union-attr]
    return float(box.width * wide), float(box.height * tall)


def clearest(axes: Axes, places: Sequence[tuple[float, float]], text: str, side: str) -> tuple[float, float]:
    """Of places for a text (its baseline at the left or right), the first at which it hides least of the curves."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    wide, tall = axes_inches(axes)
    size = text_width(text, SMALL_SIZE) / wide * (right - left), line_height(SMALL_SIZE) / tall * (top - bottom)
    along = np.linspace(left, right, 600)
    curves = [np.interp(along, *line.get_data(orig=False)) for line in axes.get_lines() if len(line.get_xdata()) > 2]  # type: ignore[arg-type]

    def hidden(place: tuple[float, float]) -> int:
        start = place[0] - (size[0] if side == "right" else 0.0)
        under = (along > start - 0.01 * (right - left)) & (along < start + size[0] + 0.01 * (right - left))
        low, high = place[1] - 0.4 * size[1], place[1] + size[1]
        return sum(int(((curve > low) & (curve < high) & under).sum()) for curve in curves)

    return min(places, key=hidden)

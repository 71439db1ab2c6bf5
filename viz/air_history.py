"""How a flow of air alone came about: Nusselt numbers and kinetic energy in time, so that growth and decay are seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.air_motion import motion_words
from viz.air_view import is_dimensionless
from viz.choice import Array, Choice
from viz.layout import FAINT, INK, SMALL_SIZE, SOFT, TEXT_SIZE, PictureSheet, caption_of, head_height, headline_of
from viz.scales import line_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_LEFT, _RIGHT, _PANEL, _GAP, _BELOW = 1.0, 1.6, 2.6, 0.4, 0.85
FLATTEST = 0.02
"""Least height of the axis of Nusselt numbers, so that round-off is not drawn as an event."""

Rows = Sequence[Mapping[str, Any]]


def draw_air_history(choice: Choice, history: Rows, *, title: str = "") -> Figure:
    """Draw Nusselt numbers of all surfaces above the kinetic energy, on a logarithmic scale, in time.

    Parameters
    ----------
    choice : Choice
        A run of air alone; its report says how it ended.
    history : lines of its history
        With `time`, `kinetic_energy` and a column `nusselt_NAME` a surface.

    Raises
    ------
    ValueError
        When there are fewer than two lines.
    """
    if len(history) < 2:
        raise ValueError(f"{choice.name or 'this run'}: has no course in time to draw")
    headline = title or headline_of(choice)
    note = f"Heat carried and kinetic energy in time; at the end: {motion_words(choice.report)}"
    sheet = PictureSheet(SHEET_WIDTH, head_height(headline, note, SHEET_WIDTH) + 2 * _PANEL + _GAP + _BELOW + 0.1)
    sheet.head(headline, note)
    width, plain = SHEET_WIDTH - _LEFT - _RIGHT, is_dimensionless(choice.fields)
    time = column(history, "time")
    above = sheet.axes(_LEFT, _BELOW + _PANEL + _GAP, width, _PANEL)
    below = sheet.axes(_LEFT, _BELOW, width, _PANEL)
    _draw_nusselt(above, time, history)
    _draw_energy(below, time, history, plain)
    _mark_disturbance((above, below), choice.report)
    below.set_xlabel("time, L²/α" if plain else "time, s", fontsize=TEXT_SIZE, color=INK)
    for axes in (above, below):
        axes.set_xlim(0.0, time[-1])
        axes.grid(color=FAINT, linewidth=0.6)
        axes.set_axisbelow(True)
    sheet.foot(caption_of([choice]))
    return sheet.figure


def _mark_disturbance(both: tuple[Axes, Axes], report: Mapping[str, Any]) -> None:
    """When air at rest was disturbed, and when what grew was raised: no jump of a curve goes unexplained."""
    marks = [("disturbance_set_at", "rest with noise")]
    marks += [("disturbance_raised_at", f"raised {float(report.get('disturbance_raised', 1.0)):.0f}-fold")]
    for key, words in marks:
        at = report.get(key, report.get(f"{key}_s"))
        if at is None:
            continue
        for axes in both:
            axes.axvline(float(at), color=SOFT, lw=1.0, ls=":")
        look: dict[str, Any] = {"rotation": 90, "va": "top", "ha": "left", "fontsize": SMALL_SIZE, "color": SOFT}
        both[0].annotate(words, (float(at), 0.97), (3, 0), both[0].get_xaxis_transform(), "offset points", **look)


def column(history: Rows, name: str) -> Array:
    """One column of a history; NaN where a line lacks it."""
    return np.array([float(row.get(name, np.nan)) for row in history])


def _draw_nusselt(axes: Axes, time: Array, history: Rows) -> None:
    names = [name for name in history[-1] if name.startswith("nusselt_")]
    for name, (colour, dash) in zip(names, line_colours(len(names)), strict=True):
        axes.plot(time, column(history, name), color=colour, ls=dash, lw=1.8, label=name.removeprefix("nusselt_"))
    middle = np.median(np.concatenate([column(history, name)[len(time) // 10 :] for name in names]))
    low, high = axes.get_ylim()
    low, high = max(low, middle - 4.0 * abs(middle) - 1.0), min(high, middle + 4.0 * abs(middle) + 1.0)
    spare = max(0.0, FLATTEST - (high - low)) / 2
    axes.set_ylim(low - spare, high + spare)
    axes.set_ylabel("Nusselt number", fontsize=TEXT_SIZE, color=INK)
    axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize=SMALL_SIZE)


def _draw_energy(axes: Axes, time: Array, history: Rows, plain: bool) -> None:
    energy = column(history, "kinetic_energy")
    moving = energy > 0.0
    if moving.any():
        axes.plot(time[moving], energy[moving], color=INK, lw=1.8)
        axes.set_yscale("log")
        top = float(energy[moving].max())
        axes.set_ylim(max(float(energy[moving].min()), 1e-14 * top) / 2, 3 * top)
    else:
        axes.text(0.5, 0.5, "no motion", transform=axes.transAxes, ha="center", fontsize=TEXT_SIZE, color=INK)
    unit = "(α/L)²" if plain else "m²/s²"
    axes.set_ylabel(f"kinetic energy per mass, {unit}", fontsize=TEXT_SIZE, color=INK)

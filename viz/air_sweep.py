"""A sweep of air alone: Nusselt numbers of every surface with their error, over Rayleigh numbers or by choice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from sim.results.air_motion import air_headline
from sim.results.people import BAND, full_name
from viz.layout import FAINT, INK, SMALL_SIZE, TEXT_SIZE, PictureSheet, head_height
from viz.scales import line_colours

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_LEFT, _RIGHT, _PANEL, _BELOW = 1.0, 1.9, 4.2, 0.95
_SHAPES = "osD^v"
"""Hollow and one within the other: surfaces often carry the same heat. No lines join them: onset may lie between."""

Rows = Sequence[Mapping[str, Any]]


class Swept(Protocol):
    """Flows of air alone that were compared."""

    @property
    def title(self) -> str:
        """Of the case that they start from."""

    def rows(self) -> list[dict[str, Any]]:
        """Their reports, each with its name as `choice`."""


def draw_air_sweep(found: Rows | Swept, *, title: str = "") -> Figure:
    """Draw the Nusselt numbers of flows of air alone, over their Rayleigh numbers where these rise.

    Parameters
    ----------
    found : what `joistbay.compare` gives of air alone; or reports of flows, each with its name as `choice`
    title : in place of the case's own
    """
    if not isinstance(found, Sequence) and not hasattr(found, "rows"):
        raise TypeError(f"flows of air alone are wanted, as compare gives them, not {type(found).__name__}")
    rows = found if isinstance(found, Sequence) else found.rows()
    title = title or getattr(found, "title", "")
    walls = [key for key in air_headline(rows[0]) if key.startswith("nusselt_")]
    note = "Heat carried over what conduction alone would carry (Nusselt number), with its numerical error"
    sheet = PictureSheet(SHEET_WIDTH, head_height(title, note, SHEET_WIDTH) + _PANEL + _BELOW + 0.1)
    sheet.head(title, note)
    axes = sheet.axes(_LEFT, _BELOW, SHEET_WIDTH - _LEFT - _RIGHT, _PANEL)
    places, names = _places(rows)
    for number, (key, (colour, _)) in enumerate(zip(walls, line_colours(len(walls)), strict=True)):
        values, bands = ([float(row.get(name, np.nan)) for row in rows] for name in (key, key + BAND))
        label = full_name(key).removeprefix("Nusselt ")
        look: dict[str, Any] = {"color": colour, "ls": "", "marker": _SHAPES[number % len(_SHAPES)], "capsize": 3}
        look |= {"ms": 7 + 2 * number, "mfc": "none", "mew": 1.8}
        axes.errorbar(places, values, np.nan_to_num(bands), label=label, **look)
    if names:
        axes.set_xticks(places, names, fontsize=SMALL_SIZE, rotation=20 if len(names) > 4 else 0)
    else:
        axes.set_xlabel("Rayleigh number", fontsize=TEXT_SIZE, color=INK)
        axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.set_ylabel("Nusselt number", fontsize=TEXT_SIZE, color=INK)
    axes.grid(color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize=SMALL_SIZE)
    sheet.foot("joistbay")
    return sheet.figure


def _places(rows: Rows) -> tuple[list[float], list[str]]:
    """Where the flows stand: at their Rayleigh numbers where these rise, else one beside the other with their names."""
    numbers = [float(row["rayleigh"]) for row in rows]
    if len(rows) > 1 and all(b > a * (1.0 + 1e-6) for a, b in zip(numbers, numbers[1:], strict=False)):
        return numbers, []
    return [float(number) for number in range(len(rows))], [str(row["choice"]) for row in rows]

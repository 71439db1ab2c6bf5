"""A solved bay as its page draws it: the floor as numbers, the section as drawings."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from viz.choice import Choice, FloorPlan, floor_plans, seen_from_above
from viz.report.build_up import build_up_figure, place_of_section, warmth_figure
from viz.report.maps import hover_grid
from viz.report.parts import NARROW, Figure
from viz.scales import WINDOW_ABOVE, WINDOW_BELOW, colour_table

if TYPE_CHECKING:
    import xarray

SECTION_WIDTH = 560.0
"""Width that the sections are drawn for [px]; the page scales them. On phones it takes those for `NARROW`."""

OUTLINED = ("plate", "tube", "joist", "rug", "rim")
"""Parts that a floor map outlines."""


def bay_picture(fields: xarray.Dataset, report: Mapping[str, Any], title: str) -> dict[str, Any]:
    """The floor and the sections of a result, ready for JSON.

    `floor` holds edges [mm], temperatures in hundredths of °C and outlines [mm]; `section` and `warm` are SVG with both
    unit systems, wide and narrow.
    """
    choice = Choice("", fields, report, title)
    plan, y = floor_plans([choice])[0], place_of_section(choice)
    built, warm = build_up_figure(choice, y), warmth_figure(choice, y)
    return {
        "floor": _floor(plan),
        "section": _drawn(built),
        "warm": _drawn(warm),
    }


def _drawn(figure: Figure) -> dict[str, str]:
    """A figure for desks and for phones, on which letters of the wide one would be too small to read."""
    wide, narrow = (figure.draw(width).svg() for width in (SECTION_WIDTH, NARROW))
    return {"svg": wide, "narrow": narrow, **_words(figure.caption)}


def _floor(plan: FloorPlan) -> dict[str, Any]:
    parts = [
        {"kind": part.kind, "box": [round(1000.0 * v, 2) for v in part.box[:4]]}
        for part in seen_from_above(plan, OUTLINED)
    ]
    return hover_grid(plan) | {"parts": parts}


def _words(told: Any) -> dict[str, str]:
    return {"si": told.si, "ip": told.ip}


def look() -> dict[str, Any]:
    """What all floor maps share: the colours, and the window round the room that they span [K]."""
    table = base64.b64encode(np.ascontiguousarray(colour_table()).tobytes()).decode()
    return {"colours": table, "below": WINDOW_BELOW, "above": WINDOW_ABOVE}

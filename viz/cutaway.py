"""A cutaway of the bay in three dimensions, in temperature colours, with every part named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.results.people import Units
from viz.choice import Choice
from viz.drawable import takes_result
from viz.findings import way_finding
from viz.layout import (
    MARGIN,
    PictureSheet,
    caption_of,
    colour_bar,
    display_length,
    head_height,
    headline_of,
    length_unit,
    spread,
    wrap,
)
from viz.scales import Scale, shared_scale
from viz.scene import View, render, shown_plan

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SHEET_WIDTH = 11.0
_LABELS, _SCALE, _BELOW, _GAP, _LABEL_SIZE = 1.75, 1.05, 0.5, 0.26, 9.5


@takes_result
def draw_cutaway(
    choice: Choice, *, title: str = "", units: Units = "si", pixels: tuple[int, int] = (1500, 1050)
) -> Figure:
    """Draw the bay cut open, seen from its end and from above.

    Parameters
    ----------
    choice : Choice
        The run; its parts are the outlines of its fields.
    title : str, optional
        Headline; default: case title and name of the choice.
    units : "si" or "ip"
        °C or °F.
    pixels : tuple of int
        Size in which the scene is rendered.

    Raises
    ------
    DisplayError
        When the machine cannot draw in three dimensions; the text says what to install.
    """
    plan, _ = shown_plan(choice)
    scale = shared_scale([plan.temperature], units)
    view = _trimmed(render(choice, scale, size=pixels))
    headline, finding = title or headline_of(choice), "" if title else way_finding(choice, units)
    shown = f"{display_length(plan.length, units):.{2 if units == 'si' else 3}g} {length_unit(units)}"
    note = f"Temperature in a cutaway of {shown} of the bay; floor layers are taken away towards the front"
    width = SHEET_WIDTH - 2 * _LABELS - _SCALE - 2 * MARGIN
    height = width * view.picture.shape[0] / view.picture.shape[1]
    sheet = PictureSheet(SHEET_WIDTH, head_height(headline, note, SHEET_WIDTH, finding) + height + _BELOW)
    sheet.head(headline, note, finding)
    left = MARGIN + _LABELS
    axes = sheet.axes(left, _BELOW, width, height)
    axes.imshow(view.picture, interpolation="antialiased", aspect="auto")
    axes.set_axis_off()
    _label(sheet, view, (left, _BELOW, width, height))
    _draw_scale(sheet, height, scale)
    sheet.foot(caption_of([choice], headline))
    return sheet.figure


def visible_spot(view: View, number: int) -> tuple[float, float, float]:
    """Return column and row [pixels] of the visible spot farthest inside a part, and that distance.

    The distance is 0 when the part is hidden.
    """
    from scipy.ndimage import distance_transform_edt

    seen = np.pad(view.part == number, 1)
    inside = distance_transform_edt(seen)[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(inside)), inside.shape)
    return float(column), float(row), float(inside[row, column])


def _trimmed(view: View) -> View:
    """Cut the white margins off."""
    seen = view.part >= 0
    rows, columns = (np.flatnonzero(seen.any(axis=axis)) for axis in (1, 0))
    window = np.s_[
        max(0, rows[0] - 6) : rows[-1] + 7,
        max(0, columns[0] - 6) : columns[-1] + 7,
    ]
    return View(view.picture[window], view.part[window], view.names)


def _label(sheet: PictureSheet, view: View, place: tuple[float, float, float, float]) -> None:
    """Name every visible part at the left or right of the scene, with a line to it."""
    left, bottom, width, height = place
    rows, columns = view.part.shape
    spots = [(name, *visible_spot(view, number)) for number, name in enumerate(view.names)]
    points = [
        (name, left + width * column / columns, bottom + height * (1 - row / rows))
        for name, column, row, depth in spots
        if depth >= 2.0
    ]
    middle = float(np.median([x for _, x, _ in points])) if points else 0.0
    for on_left in (True, False):
        side = [point for point in points if (point[1] < middle) == on_left]
        levels = spread([y for _, _, y in side], _GAP, bottom + 0.1, bottom + height - 0.1)
        for (name, x, y), level in zip(side, levels, strict=True):
            _write_label(sheet, name, (x, y), level, left if on_left else left + width)


def _write_label(sheet: PictureSheet, name: str, spot: tuple[float, float], level: float, edge: float) -> None:
    """Write one label beside the scene and draw its line."""
    (line, *_) = wrap(name, _LABELS - 0.15, _LABEL_SIZE, most=1)
    way = -1 if edge < spot[0] else 1
    sheet.leader(spot, (edge + 0.03 * way, level))
    sheet.text(edge + 0.09 * way, level - 0.045, line, _LABEL_SIZE, ha="right" if way < 0 else "left")


def _draw_scale(sheet: PictureSheet, height: float, scale: Scale) -> None:
    """Draw the temperature scale at the right."""
    tall = min(3.6, height - 0.6)
    colour_bar(
        sheet, (SHEET_WIDTH - MARGIN - 0.72, _BELOW + (height - tall) / 2, 0.2, tall), scale, "temperature"
    )

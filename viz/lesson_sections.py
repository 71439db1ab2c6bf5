"""Sections of lessons: temperatures of solids and air in millimetres, the parts named, flow where air is computed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from viz.choice import Array, Choice
from viz.layout import INK
from viz.lesson_sheet import SMALL, LessonSheet
from viz.scales import Scale, display_temperature, shared_scale, temperature_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MM = 1000.0
_WORDS = {
    "sheathing": "subfloor",
    "plywood subfloor": "subfloor",
    "glass wool batt": "insulation",
    "gypsum board ceiling": "ceiling",
    "softwood joist": "joist",
}
"""Shorter words for a classroom."""


def section_scale(choices: list[Choice]) -> Scale:
    """One scale for the sections of several runs, their water included."""
    fields = [choice.fields["temperature"].values for choice in choices]
    waters = [c.fields["water_temperature"].values for c in choices if "water_temperature" in c.fields]
    airs = [c.fields["air_temperature"].values for c in choices if "air_temperature" in c.fields]
    return shared_scale([*fields, *waters, *airs], "si")


def draw_solids(axes: Axes, choice: Choice, scale: Scale) -> None:
    """Temperature of solids, and of the air's zones, in the section through a plate; axes in mm, true to shape."""
    from viz.section import _draw_slice

    _draw_slice(axes, choice, section_number(choice), scale)
    _in_millimetres(axes, choice)


def section_number(choice: Choice) -> int:
    """Number along y of the section that a lesson shows: through the middle of a plate, else the warmest floor."""
    from viz.section import _slice_at

    plates = [part.box for part in choice.outlines if part.kind == "plate"]
    return _slice_at(choice, 0.5 * (plates[0][2] + plates[0][3]) if plates else None)


def _in_millimetres(axes: Axes, choice: Choice) -> None:
    from matplotlib.ticker import FuncFormatter

    x, z = choice.edges("x"), choice.edges("z")
    axes.set(xlim=(x[0], x[-1]), ylim=(z[0], z[-1]))
    axes.set_aspect("equal", adjustable="box", anchor="N")
    for axis, edges in ((axes.xaxis, x), (axes.yaxis, z)):
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{round(MM * value)}"))
        step = 0.1 if np.ptp(edges) < 0.55 else 0.2
        axis.set_ticks(step * np.arange(np.ceil(edges[0] / step - 1e-9), edges[-1] / step + 1e-9))
    axes.grid(False)


def name_parts(sheet: LessonSheet, axes: Axes, choice: Choice, room: float) -> None:
    """Names of the parts at the right of a section, each with a line to it; `room`: share of the width."""
    from matplotlib.lines import Line2D

    from viz.layout import spread
    from viz.section import _anchors

    y = float(choice.fields["y"].values[section_number(choice)])
    anchors = [(_word(name), x, z) for name, x, z in _anchors(choice, y, "si")]
    axes.apply_aspect()
    figure = sheet.figure
    points = figure.transFigure.inverted().transform(axes.transData.transform([a[1:] for a in anchors]))
    box = axes.get_position()
    levels = spread(points[:, 1].tolist(), 0.048, box.y0 + 0.01, box.y1 - 0.01)
    from viz.lesson_sheet import WIDTH, fitted

    for (name, _, _), (x, up), level in zip(anchors, points, levels, strict=True):
        ends = [x, box.x1 + 0.012], [up, level]
        for colour, width in (("white", 4.0), (INK, 1.6)):
            line = Line2D(*ends, color=colour, linewidth=width, marker="o", markersize=6, markevery=[0])
            figure.add_artist(line)
        size = fitted(name, (room - 0.02) * WIDTH, SMALL)
        sheet.text(box.x1 + 0.016, level, name, size, va="center")


def _word(name: str) -> str:
    return _WORDS.get(name, name.replace("cavity air, ", "air, "))


def floor_line(choice: Choice, along: bool = False) -> tuple[Array, Array]:
    """Places [mm] and floor-surface temperature [°C], across the bay (or along it) through its warmest spot."""
    if "floor_temperature" not in choice.fields:
        return surface_line(choice)
    floor = np.asarray(choice.fields["floor_temperature"].values, dtype=float)
    i, j = np.unravel_index(int(np.nanargmax(floor)), floor.shape)
    places = choice.fields["y" if along else "x"].values
    return MM * places, display_temperature(floor[i] if along else floor[:, j], "si")


def surface_line(choice: Choice) -> tuple[Array, Array]:
    """The same for blocks: the topmost cells of the solids."""
    kelvin = np.asarray(choice.fields["temperature"].values[:, 0, :], dtype=float)
    return MM * choice.fields["x"].values, display_temperature(kelvin[:, -1], "si")


def temperature_bar(sheet: LessonSheet, place: tuple[float, float, float, float], scale: Scale) -> None:
    """The temperature scale, upright, with °C above it."""
    axes = sheet.axes(*place)
    ramp = np.linspace(scale.low, scale.high, 256)[:, None]
    extent = (0.0, 1.0, scale.low, scale.high)
    look: dict[str, Any] = {"cmap": temperature_colours(), "norm": scale.norm}
    axes.imshow(ramp, origin="lower", aspect="auto", extent=extent, **look)
    axes.grid(False)
    axes.set_xticks([])
    axes.yaxis.tick_right()
    axes.set_yticks(scale.ticks(), [f"{tick:.5g}" for tick in scale.ticks()])
    sheet.text(place[0], place[1] + place[3] + 0.02, "°C", SMALL, weight="bold")

"""Sections of lessons: temperatures of solids and air in millimetres or inches, parts named, the floor's line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sim.results.people import UNITS, Units
from sim.results.spelling import spelled
from viz.choice import Array, Choice
from viz.layout import INK, display_length
from viz.lesson_sheet import SMALL, LessonSheet
from viz.scales import Scale, display_temperature, shared_scale, temperature_colours

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MM = 1000.0
_STEPS = {"si": ((0.55, 0.1), (np.inf, 0.2)), "ip": ((8.0, 2.0), (22.0, 4.0), (np.inf, 8.0))}
"""Steps of ticks, each for spans below a bound [m or in]."""
_WORDS = {
    "sheathing": "subfloor",
    "plywood subfloor": "subfloor",
    "glass wool batt": "insulation",
    "gypsum board ceiling": "ceiling",
    "softwood joist": "joist",
}
"""Shorter words for a classroom."""


def section_scale(choices: list[Choice], units: Units) -> Scale:
    """One scale for the sections of several runs, their water included."""
    fields = [choice.fields["temperature"].values for choice in choices]
    waters = [c.fields["water_temperature"].values for c in choices if "water_temperature" in c.fields]
    airs = [c.fields["air_temperature"].values for c in choices if "air_temperature" in c.fields]
    return shared_scale([*fields, *waters, *airs], units)


def draw_solids(axes: Axes, choice: Choice, scale: Scale) -> None:
    """Temperature of solids, and of the air's zones, in the section through a plate; axes true to shape."""
    from viz.section import _draw_slice

    _draw_slice(axes, choice, section_number(choice), scale)
    _rule(axes, choice, scale.units)


def section_number(choice: Choice) -> int:
    """Number along y of the section that a lesson shows: through the middle of a plate, else the warmest floor."""
    from viz.section import _slice_at

    plates = [part.box for part in choice.outlines if part.kind == "plate"]
    return _slice_at(choice, 0.5 * (plates[0][2] + plates[0][3]) if plates else None)


def shown_places(metres: Array, units: Units) -> Array:
    """Places [m] as the curves of a lesson have them: in millimetres or inches."""
    return MM * metres if units == "si" else display_length(metres, units)


def axis_of_lengths(words: str, units: Units) -> str:
    """The name of an axis of lengths: "height, mm" or "height, in"."""
    return f"{words}, {UNITS['mm'].name(units)}"


def length_number(place: float, units: Units) -> str:
    """The number at a tick of an axis that is in `display_length`: whole millimetres, or inches without a "-0"."""
    return f"{round(MM * place)}" if units == "si" else f"{place + 0.0:g}"


def across_as_below(axes: Axes, choice: Choice, units: Units) -> None:
    """Let a curve above a section share its places across, whose numbers stand at the section."""
    ends = shown_places(choice.edges("x")[[0, -1]], units)
    axes.set_xlim(*ends)
    axes.tick_params(labelbottom=False)
    if units == "ip":  # the grid would else stand at tens, which the rule of a section in inches does not have
        axes.set_xticks(_round_places(ends, units))


def _round_places(edges: Array, units: Units) -> Array:
    """Ticks of a section in `display_length`, a round step apart that its span asks for."""
    span = float(np.ptp(edges))
    step = next(step for below, step in _STEPS[units] if span < below)
    return np.asarray(step * np.arange(np.ceil(edges[0] / step - 1e-9), edges[-1] / step + 1e-9))


def _rule(axes: Axes, choice: Choice, units: Units) -> None:
    from matplotlib.ticker import FuncFormatter

    x, z = (display_length(choice.edges(axis), units) for axis in "xz")
    axes.set(xlim=(x[0], x[-1]), ylim=(z[0], z[-1]))
    axes.set_aspect("equal", adjustable="box", anchor="N")
    for axis, edges in ((axes.xaxis, x), (axes.yaxis, z)):
        axis.set_major_formatter(FuncFormatter(lambda value, _: length_number(value, units)))
        axis.set_ticks(_round_places(edges, units))
    axes.grid(False)


def name_parts(sheet: LessonSheet, axes: Axes, choice: Choice, room: float, units: Units) -> None:
    """Names of the parts at the right of a section, each with a line to it; `room`: share of the width."""
    from matplotlib.lines import Line2D

    from viz.layout import spread
    from viz.section import _anchors

    y = float(choice.fields["y"].values[section_number(choice)])
    anchors = [(spelled(_word(name), units), x, z) for name, x, z in _anchors(choice, y, units)]
    axes.apply_aspect()
    figure = sheet.figure
    places = axes.transData.transform(display_length([a[1:] for a in anchors], units))
    points = figure.transFigure.inverted().transform(places)
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


def floor_line(choice: Choice, units: Units) -> tuple[Array, Array]:
    """Places [mm or in] and floor-surface temperature [°C or °F], across the bay through its warmest spot."""
    if "floor_temperature" not in choice.fields:
        return surface_line(choice, units)
    floor = np.asarray(choice.fields["floor_temperature"].values, dtype=float)
    _, j = np.unravel_index(int(np.nanargmax(floor)), floor.shape)
    return shown_places(choice.fields["x"].values, units), display_temperature(floor[:, j], units)


def surface_line(choice: Choice, units: Units) -> tuple[Array, Array]:
    """The same for blocks: the topmost cells of the solids."""
    kelvin = np.asarray(choice.fields["temperature"].values[:, 0, :], dtype=float)
    return shown_places(choice.fields["x"].values, units), display_temperature(kelvin[:, -1], units)


def temperature_bar(sheet: LessonSheet, place: tuple[float, float, float, float], scale: Scale) -> None:
    """The temperature scale, upright, its unit above it."""
    axes = sheet.axes(*place)
    ramp = np.linspace(scale.low, scale.high, 256)[:, None]
    extent = (0.0, 1.0, scale.low, scale.high)
    look: dict[str, Any] = {"cmap": temperature_colours(), "norm": scale.norm}
    axes.imshow(ramp, origin="lower", aspect="auto", extent=extent, **look)
    axes.grid(False)
    axes.set_xticks([])
    axes.yaxis.tick_right()
    axes.set_yticks(scale.ticks(), [f"{tick:.5g}" for tick in scale.ticks()])
    sheet.text(place[0], place[1] + place[3] + 0.02, scale.unit, SMALL, weight="bold")

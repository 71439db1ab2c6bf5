"""Floor maps of the page: one honest scale, plates and tubes outlined, values that can be read under a pointer."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sim.results.people import UNITS, Units
from viz.choice import Array, FloorLimit, FloorPlan, Outline, seen_from_above
from viz.fine_section import raster
from viz.floor_limits import hidden_words, kept_words, passed, under_a_rug, under_rugs
from viz.report.drawing import Drawing, fitting
from viz.report.parts import Figure
from viz.report.told import Told, difference, listed, of_report, same, say, told, verbatim
from viz.scales import ZERO_CELSIUS, colour_table, floor_window

CLEAR = 255
"""Number of the colour that lets the paper through."""
LIMITED = 254
"""Number of the colour of the hatching where a floor is warmer than its limit."""
MOST_CELLS = 40_000
"""Values of a map that can be read; of finer floors every few cells, the warmest and coolest among them."""
_LOOKS: Mapping[str, tuple[float, tuple[float, ...]]] = {
    "plate": (1.3, ()), "joist": (1.0, (7, 4)), "rim": (1.0, (7, 4)), "rug": (1.6, (6, 2, 1.5, 2)),
    "tube": (1.5, (1.5, 2)),
}
SMALL_HEIGHT, SMALL_UPRIGHT = 150.0, 420.0
"""Most height of the map of one choice of several, on desks and on phones [px]."""
SMALL_FLAT = 6.0
"""Lengths over widths up to which such a map lies on its side on a phone too: one under the other they compare."""
_HATCHES = (1, -1)
"""Which way dots are hatched for the first and for a second limit."""
SYSTEMS: tuple[Units, Units] = ("si", "ip")
_BAR = 64.0
"""Height of the scale under a map [px]."""


@dataclass(frozen=True, slots=True)
class MappedFloor:
    """One floor as a map shows it.

    Attributes
    ----------
    plan : FloorPlan
    room : float
        Room temperature [K].
    report : mapping
        Mean, peak, trough, ripple.
    limits : tuple of FloorLimit
        How warm it may get.
    name : str
        What the map is called.
    """

    plan: FloorPlan
    room: float
    report: Mapping[str, Any]
    limits: tuple[FloorLimit, ...] = ()
    name: str = ""


def floor_figure(floor: MappedFloor, share: float = 1.0) -> Figure:
    """A floor on the scale of its room; `share` of the values that can be read are kept."""
    return Figure(lambda width: draw_floor(floor, width), _caption(floor), hover_grid(floor.plan, share))


def small_figure(floor: MappedFloor, share: float, *, alike: bool = False) -> Figure:
    """The same for one choice of several: lower, its name above it, a short caption under it.

    `alike` : limits were told once for all.
    """
    caption = _values(floor) + ("" if alike else hatching(floor))
    return Figure(lambda width: draw_floor(floor, width, small=True), caption, hover_grid(floor.plan, share))


def ripple_figure(floor: MappedFloor) -> Figure:
    """The same floor on a scale of its own, in grey, so that a small pattern is seen and not taken for a large one."""
    words = say(
        "The pattern alone, from white at the coolest spot to dark at the warmest, {} apart: how far, not how warm.",
        difference(float(floor.report["ripple_K"])),
    )
    return Figure(
        lambda width: _draw(
            floor, (width, 440.0 if width > 500 else 780.0), (_grey_dots(floor.plan), _greys(), None), words
        ),
        words,
    )


def draw_floor(floor: MappedFloor, width: float, *, small: bool = False) -> Drawing:
    """The map in colours with its scale under it; one of several is lower, lies on its side and bears its name."""
    shown = _warm_dots(floor), colours(), _draw_scale
    high, highest = (SMALL_HEIGHT, SMALL_UPRIGHT) if small else (440.0, 780.0)
    return _draw(floor, (width, high if width > 500 else highest), shown, _label(floor), small)


def colours() -> npt.NDArray[np.uint8]:
    """Colours of floor maps: 254 of the temperature, one for hatching, one that is not drawn."""
    table = colour_table()[np.linspace(0, 255, 254).round().astype(int)]
    return np.concatenate([table, [[20, 24, 28], [0, 0, 0]]]).astype(np.uint8)


def colour_numbers(celsius: Array, low: float, high: float) -> npt.NDArray[np.uint8]:
    """Numbers of the colours of temperatures on a scale; clear where there is none."""
    share = np.clip((np.nan_to_num(celsius, nan=low) - low) / (high - low), 0.0, 1.0)
    return np.where(np.isfinite(celsius), np.round(253 * share), CLEAR).astype(np.uint8)


def hover_grid(plan: FloorPlan, share: float = 1.0) -> dict[str, Any]:
    """Values for the page's script: edges [mm] as float32, temperatures as hundredths of °C in int16, in base64."""
    x, y = _picked(plan, MOST_CELLS * share)
    celsius = plan.temperature[np.ix_(x, y)] - ZERO_CELSIUS
    hundredths = np.where(np.isfinite(celsius), np.round(100.0 * np.nan_to_num(celsius)), -32768).astype("<i2")
    edges = [1000.0 * _edges_of(e, picked) for e, picked in ((plan.x_edge, x), (plan.y_edge, y))]
    packed = [base64.b64encode(np.asarray(e, "<f4").tobytes()).decode() for e in edges]
    return {"x": packed[0], "y": packed[1], "t": base64.b64encode(hundredths.tobytes()).decode()}


def _picked(plan: FloorPlan, most: float) -> list[npt.NDArray[np.intp]]:
    """Rows and columns of cells that are kept: all, or every few with the warmest and coolest spot among them."""
    nx, ny = plan.temperature.shape
    shrink = min(1.0, float(np.sqrt(most / (nx * ny))))
    ends = [np.unravel_index(f(plan.temperature), (nx, ny)) for f in (np.nanargmax, np.nanargmin)]
    kept = []
    for axis, count in enumerate((nx, ny)):
        even = np.linspace(0, count - 1, max(2, int(count * shrink))).round().astype(int)
        kept.append(np.unique([*even, *(int(end[axis]) for end in ends)]))
    return kept


def _edges_of(edges: Array, picked: npt.NDArray[np.intp]) -> Array:
    """Limits between the cells that are kept: half-way between their centres."""
    centres = (edges[1:] + edges[:-1])[picked] / 2.0
    return np.concatenate([edges[:1], (centres[1:] + centres[:-1]) / 2.0, edges[-1:]])


def _on_side(plan: FloorPlan, width: float, small: bool = False) -> bool:
    """Whether the length of a bay runs from left to right; on phones long bays stand upright."""
    return plan.length > plan.width * (1.15 if width > 500 else 1.0) and not (
        width < 500 and plan.length > (SMALL_FLAT if small else 3.0) * plan.width
    )


Bytes = npt.NDArray[np.uint8]
Scaled = Callable[[Drawing, MappedFloor, float, float], None]


def _draw(
    floor: MappedFloor,
    room: tuple[float, float],
    shown: tuple[Bytes, Bytes, Scaled | None],
    label: Told,
    small: bool = False,
) -> Drawing:
    """Map, outlines, spots, measures, and the scale; over a small one its name."""
    (width, highest), (dots, table, scale) = room, shown
    plan, side = floor.plan, _on_side(floor.plan, width, small)
    across, up = (plan.length, plan.width) if side else (plan.width, plan.length)
    per_metre = min((width - 60.0) / across, highest / up)
    wide, tall = across * per_metre, up * per_metre
    left, top = 44.0, 34.0 if small else 8.0
    drawing = Drawing(width, top + tall + 34.0 + (_BAR if scale else 0.0), label)
    picture = dots if side else dots.T[::-1]
    drawing.cells(
        (left, top), (wide, tall), picture[::-1] if side else picture, table, "field side" if side else "field"
    )

    def at(x: float, y: float) -> tuple[float, float]:
        u, v = (y - plan.y_edge[0], x - plan.x_edge[0]) if side else (x - plan.x_edge[0], y - plan.y_edge[0])
        return left + u * per_metre, top + tall - v * per_metre

    if small:
        drawing.text((0.0, 14.0), fitting(verbatim(floor.name), width, 14.0), 14.0, bold=True)
    for part in seen_from_above(plan, tuple(_LOOKS)):
        _outline(drawing, part, plan, at)
    drawing.box((left, top), (wide, tall), colour="soft")
    _spots(drawing, plan, at)
    _measures(drawing, (left, top, wide, tall), (across, up), side)
    if scale:
        scale(drawing, floor, left, top + tall + 34.0)
    return drawing


def _warm_dots(floor: MappedFloor) -> npt.NDArray[np.uint8]:
    """Numbers of colours (across, along), hatched where the floor is warmer than it may be."""
    celsius = _fine(floor.plan) - ZERO_CELSIUS
    scale = floor_window(floor.room)
    dots = colour_numbers(celsius, scale.low, scale.high)
    i, j = np.indices(dots.shape)
    for limit, way in zip(passed(floor.plan, floor.limits), _HATCHES, strict=False):
        above = celsius > limit.highest
        if limit.covering:
            above &= ~under_a_rug(floor.plan, *_raster(floor.plan))
        dots[above & (((i + way * j) % 7 < 2) | _rim(above))] = LIMITED
    return dots


def _rim(area: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """The outermost dots of an area, those at the edge of the map left out."""
    inner = np.pad(area, 1, mode="edge")
    return area & ~(inner[:-2, 1:-1] & inner[2:, 1:-1] & inner[1:-1, :-2] & inner[1:-1, 2:])


def _grey_dots(plan: FloorPlan) -> npt.NDArray[np.uint8]:
    kelvin = _fine(plan)
    low, high = float(np.nanmin(plan.temperature)), float(np.nanmax(plan.temperature))
    return colour_numbers(kelvin, low, max(high, low + 1e-6))


def _greys() -> npt.NDArray[np.uint8]:
    """White to dark, evenly."""
    ramp = np.append(np.linspace(250, 70, 254), [20, 0])
    return np.stack([ramp, ramp, ramp], axis=1).astype(np.uint8)


def _fine(plan: FloorPlan) -> Array:
    """The floor on an even raster (across, along) of up to 900 dots along its longer side, interpolated."""
    x, y = _raster(plan)
    rows = np.array([np.interp(y, plan.y, row) for row in plan.temperature])
    return np.array([np.interp(x, plan.x, column) for column in rows.T]).T


def _raster(plan: FloorPlan) -> tuple[Array, Array]:
    """Places of that raster (across, along) [m]."""
    longest = max(plan.width, plan.length)
    x, y = (
        raster(float(e[0]), float(e[-1]), max(24, int(900 * float(np.ptp(e)) / longest)))
        for e in (plan.x_edge, plan.y_edge)
    )
    return x, y


def _outline(
    drawing: Drawing, part: Outline, plan: FloorPlan, at: Callable[[float, float], tuple[float, float]]
) -> None:
    """One part as lines, dark on a pale rim, so that they show on every colour."""
    width, dash = _LOOKS[part.kind]
    for line in _strokes(part, plan):
        points = [at(x, y) for x, y in line]
        drawing.path(points, "#ffffff", width + 1.4)
        drawing.path(points, "#1d2327", width, dash=dash)


def _strokes(part: Outline, plan: FloorPlan) -> list[list[tuple[float, float]]]:
    """Lines [m] that draw a part: the centre line of a tube, a plate's four sides, others without the map's edge."""
    x0, x1, y0, y1 = part.box[:4]
    if part.kind == "tube":
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        return [[(x, y0), (x, y1)]] if y1 - y0 >= x1 - x0 else [[(x0, y), (x1, y)]]
    if part.kind == "plate":
        return [[(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]]
    upright = [[(x, y0), (x, y1)] for x in (x0, x1) if not np.isclose(x, plan.x_edge[[0, -1]]).any()]
    return upright + [[(x0, y), (x1, y)] for y in (y0, y1) if not np.isclose(y, plan.y_edge[[0, -1]]).any()]


def _spots(drawing: Drawing, plan: FloorPlan, at: Callable[[float, float], tuple[float, float]]) -> None:
    """A white triangle at the warmest spot, a dark one pointing down at the coolest."""
    for find, way, fill, edge in (
        (np.nanargmax, -1.0, "#ffffff", "#1d2327"), (np.nanargmin, 1.0, "#1d2327", "#ffffff")
    ):
        i, j = np.unravel_index(find(plan.temperature), plan.temperature.shape)
        u, v = at(float(plan.x[i]), float(plan.y[j]))
        drawing.path([(u, v + 6 * way), (u - 5.5, v - 4 * way), (u + 5.5, v - 4 * way)], edge, 1.2, fill=fill)


def _measures(
    drawing: Drawing, place: tuple[float, float, float, float], spans: tuple[float, float], side: bool
) -> None:
    """Length and width of the floor that is shown."""
    left, top, wide, tall = place
    names = ("along the joists", "across") if side else ("across the joists", "along")
    drawing.text(
        (left + wide / 2, top + tall + 17.0), listed([names[0], span_of(spans[0])]), 12, "soft", anchor="middle"
    )
    drawing.text((left - 6.0, top + tall / 2 - 3.0), names[1], 11, "soft", anchor="end")
    drawing.text((left - 6.0, top + tall / 2 + 10.0), span_of(spans[1]), 11, "soft", anchor="end")


def span_of(metres: float) -> Told:
    """A distance along or across the bay; 19.2 in is a joist spacing of the trade, so inches keep a decimal."""
    return Told(f"{metres:.2f} m", f"{metres / 0.0254:.3g} in" if metres < 1.0 else f"{metres / 0.3048:.1f} ft")


def _draw_scale(drawing: Drawing, floor: MappedFloor, left: float, top: float) -> None:
    """The stated window with the room and, as a bracket, what this floor takes of it."""
    scale, wide = floor_window(floor.room), min(drawing.width - left - 30.0, 420.0)
    ramp = np.tile(np.arange(254, dtype=np.uint8), (1, 1))
    drawing.cells((left, top + 16.0), (wide, 13.0), ramp, colours(), "scale")

    def at(celsius: float) -> float:
        return left + wide * min(max((celsius - scale.low) / (scale.high - scale.low), 0.0), 1.0)

    room = floor.room - ZERO_CELSIUS
    for celsius in (room - 4.0, room, room + 4.0, room + 8.0, room + 12.0):
        drawing.line((at(celsius), top + 29.0), (at(celsius), top + 33.0), "soft")
        text = Told(f"{celsius:.4g}", f"{celsius * 1.8 + 32:.4g}") + ("" if celsius < room + 12 else Told(" °C", " °F"))
        drawing.text((at(celsius), top + 45.0), text, 11, "ink", anchor="middle", bold=celsius == room)
    for limit in passed(floor.plan, floor.limits):
        drawing.line((at(limit.highest), top + 13.0), (at(limit.highest), top + 32.0), "#ffffff", 3.4)
        drawing.line((at(limit.highest), top + 13.0), (at(limit.highest), top + 32.0), "#1d2327", 1.6)
    drawing.text((at(room), top + 57.0), "room", 10.5, "soft", anchor="middle")
    low, high = (at(float(floor.report[key])) for key in ("surface_trough_C", "surface_peak_C"))
    drawing.path([(low, top + 14.0), (low, top + 9.0), (high, top + 9.0), (high, top + 14.0)], "ink", 1.3)
    drawing.text((high + 5.0 if high < left + 0.55 * wide else low - 5.0, top + 12.0), "this floor", 11, "ink",
                 anchor="start" if high < left + 0.55 * wide else "end")  # fmt: skip


def _caption(floor: MappedFloor) -> Told:
    kinds = {part.kind for part in floor.plan.outlines}
    names = {"plate": "solid: plates", "tube": "dotted: tubes", "joist": "dashed: joists", "rug": "dash and dot: rug"}
    lines = ", ".join(words for kind, words in names.items() if kind in kinds)
    form = "{}{} Colours: {} {}."
    name = f"{floor.name}: " if floor.name else ""
    said = say(form, name, _values(floor), colours_in_words(), lines[:1].upper() + lines[1:]) + _known(floor)
    return said + hatching(floor)


def _known(floor: MappedFloor) -> Told:
    """How well a spot of a floor over computed air is known."""
    band = floor.report.get("surface_map_band_K")
    if band is None:
        return same("")
    known = told("surface_map_band_K", float(band))
    return say(" A spot is known to about ± {}: chance and the air's mesh together.", known)


def colours_in_words() -> Told:
    """What the colours of every map mean."""
    return say("the same for every floor, from {} below the room to {} above it.", _whole(4.0), _whole(12.0))


def _values(floor: MappedFloor) -> Told:
    values = [of_report(floor.report, f"surface_{key}_C") for key in ("mean", "peak", "trough")]
    return say("mean {}, warmest {} (△), coolest {} (▼).", *values)


def hatching(floor: MappedFloor) -> Told:
    """What is hatched and why; what a rug hides; or that all limits of the floor are kept."""
    over = passed(floor.plan, floor.limits)
    ways = ("hatched", "hatched the other way", "not hatched")
    parts = [
        say(f"{ways[min(k, 2)]}: warmer than {{}}", Told(*(limit.words(units) for units in SYSTEMS)))
        for k, limit in enumerate(over)
    ]
    hidden = under_rugs(floor.plan, floor.limits)
    parts += [Told(*(hidden_words(limit, units) for units in SYSTEMS)) for limit in hidden]
    if floor.limits and not parts:
        parts = [Told(*(kept_words(floor.limits, units) for units in SYSTEMS))]
    return Told(*(_sentence("; ".join(part.pick(units) for part in parts)) for units in SYSTEMS))


def _sentence(text: str) -> str:
    return f" {text[:1].upper()}{text[1:]}." if text else ""


def _whole(kelvin: float) -> Told:
    return Told(f"{kelvin:.0f} K", f"{UNITS['K'].convert(kelvin, 'ip'):.1f} °F")


def _label(floor: MappedFloor) -> Told:
    values = [of_report(floor.report, f"surface_{key}_C") for key in ("mean", "peak", "trough")]
    return say("Map of the floor's surface temperature{}: mean {}, warmest {}, coolest {}",
               f" of {floor.name}" if floor.name else "", *values)  # fmt: skip

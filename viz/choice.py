"""What a picture is drawn from: one run of a comparison under a name, its outlines, its floor plan."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sim.case.constants import ZERO_CELSIUS
from sim.results.people import Units, format_value

if TYPE_CHECKING:
    import xarray

Array = npt.NDArray[np.float64]
Box = tuple[float, float, float, float, float, float]

REPEATED_LENGTH = 1.2
"""Length of floor [m] over which a one-pitch cut is repeated in pictures."""


@dataclass(frozen=True, slots=True)
class Outline:
    """One part of the bay: its name, its kind ("plate", "joist", "tube", ...) and its box [m]."""

    name: str
    kind: str
    box: Box

    @property
    def label(self) -> str:
        """What a picture calls the part: one word for all plates, tubes and rims, else its material."""
        if self.kind in ("plate", "tube", "rug", "rim insulation"):
            return self.kind
        if self.kind == "rim":
            return "rim joist"
        spoken = self.kind in ("sheathing", "ceiling") and self.kind not in self.name
        kind = "subfloor" if self.kind == "sheathing" else self.kind
        return f"{self.name} {kind}" if spoken else self.name


@dataclass(frozen=True, slots=True)
class FloorLimit:
    """How warm a floor's surface may get.

    Attributes
    ----------
    what : str
        What it protects, such as "occupied floor".
    highest : float
        [°C].
    covering : bool
        Whether it is the covering's, which a rug hides: the map shows it beside rugs only.
    found : float, optional
        What the report holds against it [°C].
    """

    what: str
    highest: float
    covering: bool = False
    found: float | None = None

    def words(self, units: Units = "si") -> str:
        """Its value and its name."""
        return f"{format_value('surface_peak_C', self.highest, units)}, {self.what}"


@dataclass(frozen=True, slots=True)
class Choice:
    """One run as a picture names it.

    Attributes
    ----------
    name : str
        What sets this choice apart, such as "plates every 300 mm".
    fields : xarray.Dataset
        Fields of the run (SI, kelvin).
    report : mapping
        Report keys and values of the run.
    case : str
        Title of the case, for captions.
    limits : tuple of FloorLimit
        How warm its floor's surface may get, for those who know the rules; drawn where the floor passes one.
    """

    name: str
    fields: xarray.Dataset
    report: Mapping[str, Any]
    case: str = ""
    limits: tuple[FloorLimit, ...] = ()

    @property
    def outlines(self) -> tuple[Outline, ...]:
        """Parts of the bay in the order in which they were painted."""
        parts = json.loads(self.fields.attrs.get("outlines", "[]"))
        return tuple(Outline(part["name"], part["kind"], _box(part["box"])) for part in parts)

    @property
    def is_pitch(self) -> bool:
        """Whether the run covers one plate pitch, between two planes of symmetry."""
        return self.fields.attrs.get("span") == "pitch"

    @property
    def room(self) -> float | None:
        """Room temperature [K]; None where the run tells none."""
        if "room" in self.fields.attrs:
            return float(self.fields.attrs["room"])
        return _room_behind(self.report)

    def plate_by(self, spot: float) -> float:
        """The middle of the plate nearest to a place along the bay, or that place where there are no plates [m]."""
        middles = [(part.box[2] + part.box[3]) / 2 for part in self.outlines if part.kind == "plate"]
        return min(middles, key=lambda at: abs(at - spot), default=spot)

    def edges(self, axis: str) -> Array:
        """Cell edges along an axis (cells + 1,) [m]."""
        return np.asarray(self.fields[f"{axis}_edge"].values, dtype=float)


def _room_behind(report: Mapping[str, Any]) -> float | None:
    """Room temperature [K] of a run whose fields are older than their word on it, from its ripple and its ratio."""
    mean, ripple, ratio = (report.get(key) for key in ("surface_mean_C", "ripple_K", "ripple_ratio"))
    if mean is None or not ripple or not ratio or not math.isfinite(ratio):
        return None
    return round(float(mean) - float(ripple) / float(ratio), 3) + ZERO_CELSIUS


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """The floor seen from above.

    Attributes
    ----------
    x_edge, y_edge : (nx + 1,), (ny + 1,) arrays
        Cell edges [m].
    temperature : (nx, ny) array
        Floor surface [K]; NaN where there is no floor.
    outlines : tuple of Outline
        Parts to outline.
    """

    x_edge: Array
    y_edge: Array
    temperature: Array
    outlines: tuple[Outline, ...]

    @property
    def width(self) -> float:
        """Extent across the joists [m]."""
        return float(self.x_edge[-1] - self.x_edge[0])

    @property
    def length(self) -> float:
        """Extent along the joists [m]."""
        return float(self.y_edge[-1] - self.y_edge[0])

    @property
    def x(self) -> Array:
        """Cell centres across (nx,) [m]."""
        return (self.x_edge[1:] + self.x_edge[:-1]) / 2.0

    @property
    def y(self) -> Array:
        """Cell centres along (ny,) [m]."""
        return (self.y_edge[1:] + self.y_edge[:-1]) / 2.0


def floor_plans(choices: Sequence[Choice]) -> list[FloorPlan]:
    """Return the floor of each choice; one-pitch cuts are repeated so that all show as much floor.

    A one-pitch cut ends in planes of symmetry, so the floor beyond is its mirror image.
    """
    plans = [_plan(choice) for choice in choices]
    target = max([REPEATED_LENGTH, *(plan.length for plan in plans)])
    return [
        repeat_along(plan, target) if choice.is_pitch else plan
        for choice, plan in zip(choices, plans, strict=True)
    ]


def seen_from_above(plan: FloorPlan, kinds: Sequence[str]) -> list[Outline]:
    """Parts of some kinds as a plan shows them: of parts of one kind above each other only the widest."""
    parts = {outline.box[:4]: outline for outline in plan.outlines if outline.kind in kinds}
    return [part for part in parts.values() if not any(_hides(other, part) for other in parts.values())]


def repeat_along(plan: FloorPlan, length: float) -> FloorPlan:
    """Return a plan mirrored again and again at its ends, until it is `length` [m] long."""
    count = max(1, int(np.ceil(length / plan.length - 1e-9)))
    widths, field = np.diff(plan.y_edge), plan.temperature
    order = [slice(None, None, 1 if k % 2 == 0 else -1) for k in range(count)]
    y_edge = np.append(0.0, np.cumsum(np.concatenate([widths[way] for way in order])))
    temperature = np.concatenate([field[:, way] for way in order], axis=1)
    keep = int(np.searchsorted(y_edge, length - 1e-9))
    tiles = [_moved(o, plan, k) for k in range(count) for o in plan.outlines]
    y_edge = np.append(y_edge[:keep], min(length, float(y_edge[-1])))
    outlines = _joined(_clipped(tiles, 0.0, float(y_edge[-1])))
    return replace(plan, y_edge=y_edge, temperature=temperature[:, :keep], outlines=outlines)


def _hides(upper: Outline, lower: Outline) -> bool:
    """Whether one part covers another of its kind, seen from above."""
    (a0, a1, b0, b1), (c0, c1, d0, d1) = upper.box[:4], lower.box[:4]
    inside = a0 <= c0 and c1 <= a1 and b0 <= d0 and d1 <= b1
    return upper.kind == lower.kind and upper is not lower and inside


def _box(values: Sequence[float]) -> Box:
    """Six numbers as a box."""
    x0, x1, y0, y1, z0, z1 = map(float, values)
    return x0, x1, y0, y1, z0, z1


def _plan(choice: Choice) -> FloorPlan:
    """The floor of one run as it was computed, without ends (over a rim joist) that have no floor."""
    if "floor_temperature" not in choice.fields:
        raise ValueError(f"{choice.name}: this run has no floor surface to draw")
    kelvin = np.asarray(choice.fields["floor_temperature"].values, dtype=float)
    floor = np.flatnonzero(np.isfinite(kelvin).any(axis=0))
    first, last = int(floor[0]), int(floor[-1]) + 1
    y_edge = choice.edges("y")[first : last + 1]
    outlines = tuple(_clipped(choice.outlines, float(y_edge[0]), float(y_edge[-1])))
    return FloorPlan(choice.edges("x"), y_edge, kelvin[:, first:last], outlines)


def _moved(outline: Outline, plan: FloorPlan, tile: int) -> Outline:
    """The outline in the tile-th repetition (every second one is a mirror image)."""
    x0, x1, y0, y1, z0, z1 = outline.box
    low, high = (min(max(float(y - plan.y_edge[0]), 0.0), plan.length) for y in (y0, y1))
    if tile % 2:
        low, high = plan.length - high, plan.length - low
    start = tile * plan.length
    return replace(outline, box=(x0, x1, start + low, start + high, z0, z1))


def _clipped(outlines: Iterable[Outline], low: float, high: float) -> list[Outline]:
    """Cut outlines off outside two places along the bay [m]."""
    inside = [o for o in outlines if o.box[2] < high - 1e-9 and o.box[3] > low + 1e-9]
    return [replace(o, box=(*o.box[:2], max(o.box[2], low), min(o.box[3], high), *o.box[4:])) for o in inside]


def _joined(outlines: list[Outline]) -> tuple[Outline, ...]:
    """Merge parts of one kind that continue each other across a plane of symmetry."""
    joined: list[Outline] = []
    for outline in sorted(outlines, key=lambda o: o.box[2]):
        for k, other in enumerate(joined):
            if _continues(other, outline):
                joined[k] = replace(other, box=(*other.box[:3], outline.box[3], *other.box[4:]))
                break
        else:
            joined.append(outline)
    return tuple(joined)


def _continues(first: Outline, second: Outline) -> bool:
    """Whether the second part starts where the first one ends, with the same cross-section."""
    across = np.array([0, 1, 4, 5])
    same = np.allclose(np.array(first.box)[across], np.array(second.box)[across], rtol=0.0, atol=1e-7)
    return (
        first.kind == second.kind
        and first.name == second.name
        and same
        and abs(first.box[3] - second.box[2]) < 1e-7
    )

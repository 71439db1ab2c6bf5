"""The described build-up as plain boxes, tubes and surfaces, before any mesh exists.

Both case kinds end here: a joist bay and a free arrangement of blocks become the same value, so the
grid, the equations and the pictures never ask which kind of case they came from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

from sim.case.constants import ATMOSPHERE
from sim.case.fluids import Fluid, tube_fluid
from sim.case.materials import Material
from sim.machine.brief import Brief
from sim.physics.surroundings import SurfaceLaw

Present = TypeVar("Present")
Point = tuple[float, float, float]
Range = tuple[float, float]

Focus = tuple[tuple[float, float], ...]
"""Planes [m], each with the size wanted beside it as a share of the mesh's focus size."""

WALL = "wall"
"""Kind of the box that stands for a face of cavity air itself: a skin that people are told of as a face."""

SHEET = "sheet"
"""Kind of the box that stands for a sheet without thickness."""

SPOKEN = {"sheathing": "subfloor"}
"""What people call a kind, where that is not its word in files."""

SIDES = ("x-", "x+", "y-", "y+", "z-", "z+")
"""Names of the outward normals; a side's number is its place in this tuple."""


@dataclass(frozen=True, slots=True, repr=False)
class Box(Brief):
    """An axis-aligned box of one material; later boxes are painted over earlier ones.

    `material` None means cavity air. `emissivities` holds one value for each of SIDES.
    A `sheet` axis (0, 1, 2) marks a thin body that the mesh resolves with one cell along that axis. A body with a
    `temperature` [K] is held at it throughout.
    """

    name: str
    kind: str
    low: Point
    high: Point
    material: Material | None = None
    emissivities: tuple[float, float, float, float, float, float] = (0.9,) * 6
    sheet: int | None = None
    temperature: float | None = None

    def span(self, axis: int) -> Range:
        """Extent along one axis [m]."""
        return self.low[axis], self.high[axis]


@dataclass(frozen=True, slots=True)
class Feed:
    """Water entering a tube run: temperature [K] and either flow [kg/s] or circuit drop [K] over a length [m].

    `film_factor` multiplies the water's film: it asks how much the film's law matters. `fluid` "air" is air at a
    `pressure` [Pa] in the water's place.
    """

    supply: float
    flow: float | None
    drop: float | None
    circuit_length: float
    glycol: float = 0.0
    film_factor: float = 1.0
    fluid: str = "water"
    pressure: float = ATMOSPHERE

    def fluid_at(self, temperature: float) -> Fluid:
        """What flows, at a temperature [K]; raises `ValueError` outside its table."""
        return tube_fluid(self.fluid, temperature, self.glycol, self.pressure)


@dataclass(frozen=True, slots=True)
class Joint:
    """What lies between a tube and the bodies of one kind that it touches.

    Either `per_metre`, the resistance for one metre of tube however wide the touching outline is [m K/W], or
    `contact`, the resistance where the round tube touches a plane [m² K/W].
    """

    kind: str
    per_metre: float = 0.0
    contact: float = 0.0


@dataclass(frozen=True, slots=True, repr=False)
class Tube(Brief):
    """A straight round tube along an axis.

    `centre` holds the two other coordinates in axis order [m]. Either `feed` (water inside, wall between
    `inner_diameter` and `outer_diameter`) or `temperature` (isothermal outer surface) is given. `joints` say
    what lies between the tube and what it touches (bodies of other kinds touch it directly), `flats` marks a tube
    that touches planes: its section gets four flats half a diameter wide, whatever the mesh. `order` is the place
    of this run in the series of runs that share the water (None: fed on its own), `reverse` its flow direction.
    `wall_capacity` is the heat that the wall's matter takes up [J/(m³ K)], for warm-up only. `detail` multiplies the
    mesh's cells across this tube.
    """

    name: str
    axis: int
    centre: tuple[float, float]
    along: Range
    outer_diameter: float
    inner_diameter: float | None = None
    conductivity: float = 0.0
    feed: Feed | None = None
    temperature: float | None = None
    joints: tuple[Joint, ...] = ()
    flats: bool = False
    emissivity: float = 0.9
    order: int | None = None
    reverse: bool = False
    wall_capacity: float = 0.0
    detail: int = 1

    def bounds(self, axis: int) -> Range:
        """Extent of the tube's circumscribed box along one axis [m]."""
        if axis == self.axis:
            return self.along
        others = [a for a in range(3) if a != self.axis]
        middle, radius = self.centre[others.index(axis)], self.outer_diameter / 2
        return middle - radius, middle + radius

    def flat_edges(self, axis: int) -> Range:
        """From and to along an axis across the tube of the flats that face the other one [m]."""
        low, high = self.bounds(axis)
        return low + self.outer_diameter / 4, high - self.outer_diameter / 4


@dataclass(frozen=True, slots=True)
class Contact:
    """A thermal resistance [m² K/W] on a plane normal to `axis` at `at` [m], within a rectangle."""

    axis: int
    at: float
    ranges: tuple[Range, Range]
    resistance: float


class BayPath(StrEnum):
    """Where the heat of a joist bay goes: into the room, below, and out at its rim joists."""

    UP = "up"
    DOWN = "down"
    EDGE = "edge"


@dataclass(frozen=True, slots=True)
class Exposure:
    """An outer surface and what it faces.

    `path` names the sum that the surface's heat belongs to in the audit and report: a BayPath in a bay, any name in an
    arrangement of blocks.
    """

    path: str
    side: int
    at: float
    ranges: tuple[Range, Range]
    law: SurfaceLaw


@dataclass(frozen=True, slots=True)
class AirZone:
    """A part of the cavity whose air is taken as mixed by the `films` model; later zones overpaint earlier ones."""

    name: str
    low: Point
    high: Point


@dataclass(frozen=True, slots=True, repr=False)
class Geometry(Brief):
    """Everything the mesh and the equations need to know about the build-up.

    `focus` lists, per axis, planes beside which cells must be small, and how small; `layered` the
    axes along which every body gets the mesh's least number of cells. Where air is `stirred`, temperature varies
    upwards and across the bay even if the bodies do not.
    """

    name: str
    low: Point
    high: Point
    boxes: tuple[Box, ...]
    tubes: tuple[Tube, ...] = ()
    contacts: tuple[Contact, ...] = ()
    exposures: tuple[Exposure, ...] = ()
    zones: tuple[AirZone, ...] = ()
    probes: tuple[tuple[str, Point], ...] = ()
    focus: tuple[Focus, Focus, Focus] = ((), (), ())
    layered: tuple[int, ...] = (2,)
    stirred: bool = False

    def with_(self, **changes: object) -> Geometry:
        """A copy with some fields replaced."""
        return replace(self, **changes)  # type: ignore[arg-type]

    def of_kind(self, kind: str) -> tuple[Box, ...]:
        """The boxes of one kind, in paint order."""
        return tuple(box for box in self.boxes if box.kind == kind)

    def _without_walls(self, axis: int) -> Range:
        """From and to along an axis of what people know of [m]."""
        if not self.of_kind(WALL):
            return self.low[axis], self.high[axis]
        lows, highs = zip(*(box.span(axis) for box in self.boxes if box.kind != WALL), strict=True)
        return min(lows), max(highs)

    def __str__(self) -> str:
        size = " × ".join(f"{1000 * (b - a):.0f}" for a, b in map(self._without_walls, range(3)))
        lines = [f"Geometry {self.name}: {size} mm (across × along × deep)"]
        for box in (box for box in self.boxes if not _thin(box)):
            lines.append(f"├── {SPOKEN.get(box.kind, box.kind)}: {box.name} {_size(box)}{_as_sheet(box)}")
        lines += [f"├── {box.kind} of the air: {box.name} {_size(box)}" for box in self.of_kind(WALL)]
        lines += [f"├── {box.kind} in the air: {box.name} {_size(box)}" for box in self.of_kind(SHEET)]
        lines += [f"├── tube: {tube.name} {1000 * tube.outer_diameter:.1f} mm" for tube in self.tubes]
        zones = f"{len(self.zones)} air zone{'s' * (len(self.zones) != 1)}"
        lines.append(f"└── {len(self.exposures)} outer surface{'' if len(self.exposures) == 1 else 's'}, {zones}")
        return "\n".join(lines)


def needed(value: Present | None) -> Present:
    """What the checks of a case have seen to be there."""
    assert value is not None
    return value


def _thin(box: Box) -> bool:
    """Whether people are told of a box as of something without thickness."""
    return box.kind in (WALL, SHEET)


def _as_sheet(box: Box) -> str:
    return "" if box.sheet is None else f", a sheet across {'xyz'[box.sheet]}"


def _size(box: Box) -> str:
    sides = [1000 * (b - a) for a, b in zip(box.low, box.high, strict=True)]
    if _thin(box) and box.sheet is not None:
        sides.pop(box.sheet)
    return " × ".join(f"{side:.4g}" for side in sides) + " mm"

"""What a scene holds: plain values that a page, a window and a notebook draw, each in its own way."""

from __future__ import annotations

from dataclasses import dataclass, field

from sim.results.people import Units
from viz.choice import Array, Box

OPENED_LENGTH = 1.2
"""Length of a bay [m] over which its layers are taken away towards the viewer."""


@dataclass(frozen=True, slots=True)
class Solid:
    """One box-shaped part.

    Attributes
    ----------
    label : what a person calls it
    kind : "plate", "joist", ...
    box : (x0, x1, y0, y1, z0, z1) [m]
    peel : share of `OPENED_LENGTH` by which it stands back when the scene is cut open
    floor : whether its top is what is walked on
    """

    label: str
    kind: str
    box: Box
    peel: float
    floor: bool = False


@dataclass(frozen=True, slots=True)
class Volume:
    """Temperatures [K] of the solids' cells (nx, ny, nz), NaN where air is; edges [m] of the cells."""

    x_edge: Array
    y_edge: Array
    z_edge: Array
    kelvin: Array


@dataclass(frozen=True, slots=True)
class SeenFloor:
    """The floor's surface as computed and as a thermal camera reads it (nx, ny) [K], and its fixed scale.

    `coverings` are what is seen: material, emissivity, and where that comes from.
    """

    x_edge: Array
    y_edge: Array
    surface: Array
    apparent: Array
    room: float
    reflected: float
    reflected_source: str
    coverings: tuple[tuple[str, float, str], ...]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class WaterTube:
    """One run of tube: its ends [m], radius [m], and water temperatures [K] at places along it, from start to end.

    `flows_on` says whether the water flows from start to end; None where the cut is too short to tell.
    """

    label: str
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    radius: float
    places: Array
    kelvin: Array
    flows_on: bool | None


@dataclass(frozen=True, slots=True)
class StreamLine:
    """Points (n, 3) [m] of a streamline, with the air's temperature [K] and its travel time [s] at each."""

    points: Array
    kelvin: Array
    seconds: Array


@dataclass(frozen=True, slots=True)
class MovingAir:
    """Computed air: its streamlines, fastest speed [m/s], and which flow it is; or why there are no lines."""

    lines: tuple[StreamLine, ...] = ()
    fastest: float = 0.0
    which: str = ""
    why_none: str = ""


@dataclass(frozen=True, repr=False)
class SceneParts:
    """All that is shown of a run that can be turned.

    Attributes
    ----------
    title, note : str
        Its headline, and one line on what is shown.
    solids : tuple of Solid
        In paint order.
    volume : Volume or None
        Temperatures of the solids; None where the run kept none.
    floor : SeenFloor or None
    tubes : tuple of WaterTube
    air : MovingAir
    bounds : Box
        Of all that is shown [m].
    units : "si" or "ip"
        Units that it opens with.
    scales : mapping
        Limits of the colours [K] by layer: "plates", "water", "solids", "air".
    dimensionless : bool
        Whether temperatures are shares of ΔT and lengths multiples of L.
    missing : tuple of str
        Why layers are not there, one line each.
    """

    title: str
    note: str
    solids: tuple[Solid, ...]
    volume: Volume | None
    floor: SeenFloor | None
    tubes: tuple[WaterTube, ...]
    air: MovingAir
    bounds: Box
    units: Units = "si"
    scales: dict[str, tuple[float, float]] = field(default_factory=dict)
    dimensionless: bool = False
    missing: tuple[str, ...] = ()

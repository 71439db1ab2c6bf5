"""The mesh filled with matter: which body, which material, which air zone each cell belongs to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.geometry import SHEET, SPOKEN, WALL, Box, Geometry, Tube
from sim.bay.grid import SNAP, Grid
from sim.machine.brief import Brief

TUBE_CONDUCTIVITY = 300.0
"""Conductivity across a tube's section [W/m K].

The water film and wall are resistances between the water and these cells, so the cells only stand for the
tube's outer surface, which is taken as isothermal round its circumference. Along the tube they do not conduct.
"""

VOID = -1


@dataclass(frozen=True, slots=True, repr=False)
class Cells(Brief):
    """What fills each cell (arrays of shape (nx, ny, nz)).

    `body` numbers `bodies` (boxes, then tubes); VOID marks cells outside the build-up. `air` marks cavity
    air. `zone` numbers `zone_names` in air cells, -1 elsewhere.
    """

    grid: Grid
    bodies: tuple[Box | Tube, ...]
    body: NDArray[np.int16]
    air: NDArray[np.bool_]
    zone: NDArray[np.int16]
    zone_names: tuple[str, ...]

    def __post_init__(self) -> None:
        for array in (self.body, self.air, self.zone):
            array.flags.writeable = False

    @property
    def solid(self) -> NDArray[np.bool_]:
        """Cells of solid matter, tubes included (nx, ny, nz)."""
        return (self.body != VOID) & ~self.air

    def kinds(self) -> list[str]:
        """The kind of every body, in body order."""
        return ["tube" if isinstance(body, Tube) else body.kind for body in self.bodies]

    def of_kind(self, *kinds: str) -> NDArray[np.bool_]:
        """Cells of the bodies of some kinds (nx, ny, nz)."""
        chosen = [number for number, kind in enumerate(self.kinds()) if kind in kinds]
        return np.isin(self.body, chosen)

    def of_body(self, body: Box | Tube) -> NDArray[np.bool_]:
        """Cells of one body (nx, ny, nz)."""
        number = next(i for i, other in enumerate(self.bodies) if other is body)
        return self.body == number

    def conductivity(self, axis: int, air: float) -> NDArray[np.float64]:
        """Conductivity along an axis [W/m K] (nx, ny, nz), cavity air taken as `air`, void as 0."""
        return np.append(self._table(air)[:, axis], 0.0)[self.body]

    def normal_conductivity(self, body: NDArray, axis: NDArray) -> NDArray[np.float64]:
        """Conductivity of some bodies, each along an axis of its own [W/m K] (n,)."""
        return self._table(0.0)[body, axis]

    def _table(self, air: float) -> NDArray[np.float64]:
        rows = [[_conductivity(body, axis, air) for axis in range(3)] for body in self.bodies]
        return np.array(rows).reshape(-1, 3)

    def __str__(self) -> str:
        volumes = self.grid.volumes()
        lines = [f"Cells: {self.grid.size:,}, of them {int(self.solid.sum()):,} solid"]
        for number, body in enumerate(self.bodies):
            if self.kinds()[number] in (WALL, SHEET):
                continue
            share = volumes[self.body == number].sum()
            kind = SPOKEN.get(self.kinds()[number], self.kinds()[number])
            told = body.name if body.name.startswith(kind) else f"{kind} {body.name}"
            lines.append(f"├── {told}: {1000 * share:.3g} litres")
        lines.append(f"└── {len(self.zone_names)} air zone{'s' * (len(self.zone_names) != 1)}")
        return "\n".join(lines)


def _conductivity(body: Box | Tube, axis: int, air: float) -> float:
    if isinstance(body, Tube):
        return 0.0 if axis == body.axis else TUBE_CONDUCTIVITY
    return air if body.material is None else float(body.material.conductivity[axis])


def fill_cells(geometry: Geometry, grid: Grid) -> Cells:
    """Paint boxes in order, then tubes, into the grid, and number the air zones."""
    body = np.full(grid.shape, VOID, np.int16)
    for number, box in enumerate(geometry.boxes):
        body[_inside(grid, box.low, box.high)] = number
    for number, tube in enumerate(geometry.tubes, start=len(geometry.boxes)):
        _paint_tube(body, grid, tube, number)
    airy = [i for i, box in enumerate(geometry.boxes) if box.material is None]
    air = np.isin(body, airy)
    zone, names = _zones(geometry, grid, air)
    return Cells(grid, (*geometry.boxes, *geometry.tubes), body, air, zone, names)


def _inside(grid: Grid, low, high) -> tuple[slice, slice, slice]:
    ranges = tuple(grid.index_range(axis, low[axis] - SNAP, high[axis] + SNAP) for axis in range(3))
    return ranges  # type: ignore[return-value]


def _paint_tube(body: NDArray[np.int16], grid: Grid, tube: Tube, number: int) -> None:
    """Mark the cells whose centres lie inside the round section."""
    others = [axis for axis in range(3) if axis != tube.axis]
    a, b = (grid.centres(axis) - middle for axis, middle in zip(others, tube.centre, strict=True))
    radius = tube.outer_diameter / 2
    disc = a[:, None] ** 2 + b[None, :] ** 2 < radius**2
    if tube.flats:
        near_a, near_b = np.abs(a)[:, None] < radius / 2, np.abs(b)[None, :] < radius / 2
        within = (np.abs(a)[:, None] < radius) & (np.abs(b)[None, :] < radius)
        disc |= within & (near_a | near_b)
    if not disc.any():
        disc[np.argmin(np.abs(a)), np.argmin(np.abs(b))] = True
    along = grid.index_range(tube.axis, tube.along[0] - SNAP, tube.along[1] + SNAP)
    target = np.moveaxis(body, tube.axis, 0)
    target[along, disc] = number


def _zones(geometry: Geometry, grid: Grid, air: NDArray[np.bool_]) -> tuple[NDArray[np.int16], tuple[str, ...]]:
    """Zone numbers: the stated zones, or else one for each connected region of air; empty ones are dropped."""
    zone = np.full(grid.shape, -1, np.int16)
    for number, part in enumerate(geometry.zones):
        zone[_inside(grid, part.low, part.high)] = number
    names = [part.name for part in geometry.zones]
    zone[~air] = -1
    if (left := air & (zone < 0)).any():
        from scipy import ndimage  # a tenth of a second, and zones are stated for most build-ups

        regions, count = ndimage.label(left)
        zone[regions > 0] = (len(names) + regions - 1)[regions > 0]
        names += [f"air {number + 1}" for number in range(count)]
    used = np.unique(zone[zone >= 0])
    renumber = np.full(len(names) + 1, -1, np.int16)
    renumber[used] = np.arange(len(used))
    return renumber[zone], tuple(names[number] for number in used)

"""The space that air can fill: a rectilinear grid with solid blocks, thin sheets, walls and planes of symmetry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.airflow.sheet_loss import perforated_plate_loss
from sim.machine.brief import Brief

Place = TypeVar("Place")
Array = NDArray[np.float64]
Box = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]

SIDES = ("x-", "x+", "y-", "y+", "z-", "z+")
"""Sides of the domain; also the side of an air cell on which a wall lies, in this order."""

SNAP = 1e-9
"""How far a part may lie from a grid plane, relative to the domain."""

MOST_CELLS = 4e6
"""Cells above which a grid of air is taken for a mistake: at 0.1 µs a cell and step it takes hours."""


class TooFewCellsError(ValueError):
    """A grid has too few cells to make a flow."""


def check_size(edges: Sequence[ArrayLike]) -> None:
    """ValueError when a grid with these edges along the three axes would be absurdly large."""
    cells = float(np.prod([np.size(own) - 1.0 for own in edges]))
    if cells > MOST_CELLS:
        raise ValueError(
            f"the air would have {cells / 1e6:,.0f} million cells, more than {MOST_CELLS / 1e6:.0f}; "
            "use larger cells (air.cell, air.wall_cell)"
        )


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A solid box that air cannot enter.

    Attributes
    ----------
    name : str
    box : ((x0, x1), (y0, y1), (z0, z1)) [m]
        Must lie on grid planes.
    """

    name: str
    box: Box


@dataclass(frozen=True, slots=True)
class Sheet:
    """A plane sheet without thickness, no-slip on both faces.

    Attributes
    ----------
    name : str
    axis : int
        Its normal: 0, 1 or 2.
    at : float [m]
        Its place along the normal; must be a grid plane.
    box : ((x0, x1), (y0, y1), (z0, z1)) [m]
        Its extent; the entry of `axis` is not read.
    open_area : float [-]
        Share of holes: 0 tight, below 1. Holes are spread evenly and much smaller than a cell.
    loss : float, optional [-]
        Pressure loss K of the holes, Δp = K ρ u²/2 with the approach speed u; by default that of a perforated
        plate with this open area.
    """

    name: str
    axis: int
    at: float
    box: Box
    open_area: float = 0.0
    loss: float | None = None

    def __post_init__(self) -> None:
        if self.axis not in (0, 1, 2):
            raise ValueError(f"sheet {self.name!r}: axis is {self.axis}; must be 0, 1 or 2")
        if not 0.0 <= self.open_area < 1.0:
            raise ValueError(f"sheet {self.name!r}: open_area is {self.open_area}; must be in 0 ≤ open_area < 1")

    @property
    def pressure_loss(self) -> float:
        """K [-] of the holes; 0 for a tight sheet, which lets nothing through."""
        if self.open_area == 0.0:
            return 0.0
        return perforated_plate_loss(self.open_area) if self.loss is None else self.loss


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Domain(Brief):
    """Grid and obstacles of a flow, as arrays.

    Attributes
    ----------
    edges : three arrays (nx+1,), (ny+1,), (nz+1,) [m]
    solid : (nx, ny, nz) int
        0 where there is air, else the number of the part that fills the cell.
    openness : three arrays (nx+1, ny, nz), (nx, ny+1, nz), (nx, ny, nz+1) [-]
        Open share of every cell face; 0 on the domain's sides and on solids.
    sheet : three int arrays like `openness`
        Number of the part that forms a sheet there, or 0.
    loss : three arrays like `openness` [-]
        Pressure loss K of porous sheets.
    slip : six bools
        Whether a side, in the order of SIDES, is a plane of symmetry instead of a wall.
    parts : tuple of str
        Names; part number n is parts[n − 1].
    """

    edges: tuple[Array, Array, Array]
    solid: NDArray[np.int16]
    openness: tuple[Array, Array, Array]
    sheet: tuple[NDArray[np.int16], NDArray[np.int16], NDArray[np.int16]]
    loss: tuple[Array, Array, Array]
    slip: tuple[bool, bool, bool, bool, bool, bool]
    parts: tuple[str, ...] = field(default=())

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells along each axis."""
        nx, ny, nz = self.solid.shape
        return nx, ny, nz

    @property
    def cells(self) -> int:
        """Number of cells."""
        return self.solid.size

    @property
    def widths(self) -> tuple[Array, Array, Array]:
        """Cell widths along each axis [m]."""
        x, y, z = (np.diff(e) for e in self.edges)
        return x, y, z

    @property
    def centres(self) -> tuple[Array, Array, Array]:
        """Cell centres along each axis [m]."""
        x, y, z = (0.5 * (e[1:] + e[:-1]) for e in self.edges)
        return x, y, z

    @property
    def air(self) -> NDArray[np.bool_]:
        """Cells that air fills (nx, ny, nz)."""
        return self.solid == 0

    @property
    def volumes(self) -> Array:
        """Cell volumes (nx, ny, nz) [m³]."""
        dx, dy, dz = self.widths
        return dx[:, None, None] * dy[:, None] * dz

    def __str__(self) -> str:
        nx, ny, nz = self.shape
        spans = " × ".join(f"{e[-1] - e[0]:.4g}" for e in self.edges)
        smallest = min(float(w.min()) for w in self.widths)
        symmetric = ", ".join(s for s, slips in zip(SIDES, self.slip, strict=True) if slips) or "none"
        return "\n".join([
            f"air domain {spans} m",
            f"├─ cells     {nx} × {ny} × {nz}, smallest width {smallest:.3g} m",
            f"├─ parts     {', '.join(self.parts) or 'none'}",
            f"└─ symmetry  {symmetric}",
        ])


def axis_slice(axis: int, place: Place) -> tuple[Place | slice, ...]:
    """Index that takes `place` along one axis and everything along the others."""
    return tuple(place if a == axis else slice(None) for a in range(3))


def build_domain(
    edges: Sequence[object],
    blocks: Sequence[Obstacle] = (),
    sheets: Sequence[Sheet] = (),
    slip: Sequence[str] = (),
    masks: Mapping[str, NDArray[np.bool_]] | None = None,
) -> Domain:
    """Grid, blocks and sheets as one Domain.

    Parameters
    ----------
    edges : three increasing arrays [m]
        One cell along y makes the flow two-dimensional; its y sides are then planes of symmetry.
    blocks, sheets : sequences
        Later parts lie over earlier ones.
    slip : names of SIDES
        Planes of symmetry; all other sides are walls.
    masks : mapping of str to (nx, ny, nz), optional
        More parts of any shape by name: the cells they take up, as far as nothing before them does.

    Raises
    ------
    ValueError
        For edges that do not increase, unknown sides and parts off the grid planes.
    """
    planes = _checked_edges(edges)
    unknown = set(slip) - set(SIDES)
    if unknown:
        raise ValueError(f"slip names {sorted(unknown)}; the sides are {SIDES}")
    names = {*slip, *(side for axis in (0, 1, 2) if len(planes[axis]) == 2 for side in SIDES[2 * axis : 2 * axis + 2])}
    solid = np.zeros(tuple(len(e) - 1 for e in planes), np.int16)
    for number, block in enumerate(blocks, 1):
        solid[_cells_in(planes, block.box, block.name)] = number
    parts = (*(b.name for b in blocks), *(s.name for s in sheets))
    for name, cells in (masks or {}).items():
        parts = (*parts, name)
        solid[cells & (solid == 0)] = len(parts)
    openness = [_open_faces(solid, axis) for axis in range(3)]
    sheet = [np.zeros(o.shape, np.int16) for o in openness]
    loss = [np.zeros(o.shape) for o in openness]
    for number, part in enumerate(sheets, len(blocks) + 1):
        place = _faces_of(planes, part)
        inside = openness[part.axis][place] > 0.0
        openness[part.axis][place] = np.where(inside, part.open_area, openness[part.axis][place])
        sheet[part.axis][place] = np.where(inside, number, 0)
        loss[part.axis][place] = np.where(inside, part.pressure_loss, 0.0)
    return Domain(
        edges=planes,
        solid=_frozen(solid),
        openness=_three(openness),
        sheet=_three(sheet),
        loss=_three(loss),
        slip=tuple(side in names for side in SIDES),  # type: ignore[arg-type]
        parts=parts,
    )


def _three(arrays: list[Any]) -> tuple[Any, Any, Any]:
    """Three read-only arrays."""
    x, y, z = map(_frozen, arrays)
    return x, y, z


def _frozen(array: Any) -> Any:
    """The array, read-only from now on."""
    array.flags.writeable = False
    return array


def _checked_edges(edges: Sequence[Any]) -> tuple[Array, Array, Array]:
    """Three read-only arrays of increasing plane coordinates."""
    if len(edges) != 3:
        raise ValueError(f"edges has {len(edges)} axes; must have 3")
    planes = [np.array(e, dtype=np.float64) for e in edges]
    for name, plane in zip("xyz", planes, strict=True):
        if plane.ndim != 1 or plane.size < 2 or not np.all(np.diff(plane) > 0.0):
            raise ValueError(f"edges along {name} must be at least two increasing numbers")
    if planes[0].size < 3 or planes[2].size < 3:
        raise TooFewCellsError("x and z need at least two cells; only y may have a single one")
    return _three(planes)


def _open_faces(solid: NDArray[np.int16], axis: int) -> Array:
    """1 on faces between two air cells, 0 on all others (domain sides too)."""
    air = np.pad(solid == 0, [(1, 1) if a == axis else (0, 0) for a in range(3)])
    return (air[axis_slice(axis, slice(1, None))] & air[axis_slice(axis, slice(None, -1))]).astype(np.float64)


def _plane(planes: Sequence[Array], axis: int, at: float, name: str) -> int:
    """Index of the grid plane at a coordinate."""
    edges = planes[axis]
    index = int(np.abs(edges - at).argmin())
    if abs(edges[index] - at) > SNAP * (edges[-1] - edges[0]):
        raise ValueError(f"{name!r}: {'xyz'[axis]} = {at:g} m is not a grid plane; the nearest is {edges[index]:g} m")
    return index


def _range(planes: Sequence[Array], axis: int, span: tuple[float, float], name: str) -> slice:
    """Cells between two grid planes."""
    cells = slice(_plane(planes, axis, span[0], name), _plane(planes, axis, span[1], name))
    if cells.stop <= cells.start:
        raise ValueError(f"{name!r}: {'xyz'[axis]} spans {span[0]:g} to {span[1]:g} m and holds no cell")
    return cells


def _cells_in(planes: Sequence[Array], box: Box, name: str) -> tuple[slice, ...]:
    """Cells of a box."""
    return tuple(_range(planes, axis, box[axis], name) for axis in range(3))


def _faces_of(planes: Sequence[Array], sheet: Sheet) -> tuple[Any, ...]:
    """Faces that a sheet covers."""
    place = _plane(planes, sheet.axis, sheet.at, sheet.name)
    return tuple(
        place if axis == sheet.axis else _range(planes, axis, sheet.box[axis], sheet.name) for axis in range(3)
    )

"""The air's own grid: the cavity of a build-up without its thin layers, with plates as sheets and tubes as blocks.

Plates that air passes on both sides become sheets without thickness; those that lie against a solid are part of its
surface. A round tube becomes a square block with the tube's circumference, so that heat crosses the tube's area.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.airflow.cuts import MOST_FACES, closed_faces
from sim.airflow.domain import Domain, Obstacle, Sheet, build_domain, check_size
from sim.bay.cells import Cells
from sim.bay.geometry import SIDES, Box, Tube
from sim.bay.grid import fill_interval

Array = NDArray[np.float64]

AIR_SIZES = {
    "coarse": (0.014, 0.0050),
    "normal": (0.010, 0.0035),
    "fine": (0.007, 0.0025),
    "finest": (0.005, 0.0018),
}
"""Per mesh word: largest cell of the air and its cell at walls [m]."""

GROWTH = 0.25
"""Growth of the wanted cell size per distance from a wall [-]."""

MERGE = 1.2e-3
"""Planes of lesser parts closer than this to a wall are moved onto it [m]: more than plates are thick, less than air
gaps are wide."""

FLUSH = 1.6e-3
"""How much farther than its radius a tube's centre may lie from a sheet's middle and still touch it [m]: half of the
thickest sheet, and a little."""

EDGE_SIZE = 1.5
"""Cell size at the edges of a sheet over that at walls."""


@dataclass(frozen=True, slots=True)
class AirSizes:
    """Largest cell and cell at walls [m], and growth of the wanted size per distance from a wall [-]."""

    cell: float
    wall: float
    growth: float = GROWTH

    def refined(self, factor: float) -> AirSizes:
        """Both sizes [m] divided by a factor [-]."""
        return replace(self, cell=self.cell / factor, wall=self.wall / factor)


def air_sizes(fineness: str, cell: float | None = None, wall: float | None = None) -> AirSizes:
    """Sizes of the air's cells by the mesh word, or as stated [m]; a cell at the wall is never larger than others."""
    usual = AIR_SIZES[fineness]
    largest = cell or usual[0]
    return AirSizes(largest, min(wall or usual[1], largest))


@dataclass(frozen=True, slots=True)
class _Planes:
    """Planes of one axis that the grid must have [m], each with the cell size wanted beside it (infinite: none)."""

    at: list[float]
    size: list[float]

    def add(self, at: float, size: float) -> None:
        """Add a plane, unless one lies within MERGE of it already; the smaller size then counts."""
        for number, known in enumerate(self.at):
            if abs(known - at) < MERGE:
                self.size[number] = min(self.size[number], size)
                return
        self.at.append(at)
        self.size.append(size)

    def nearest(self, at: float) -> float:
        """The plane closest to a coordinate [m]."""
        return min(self.at, key=lambda known: abs(known - at))

    def inside(self, span: tuple[float, float]) -> tuple[float, float]:
        """The planes closest to the ends of a span, kept within the domain."""
        return self.nearest(span[0]), self.nearest(span[1])


def build_air_domain(cells: Cells, sizes: AirSizes, slip: Sequence[str] = ()) -> Domain:
    """Grid and obstacles of the cavity air of a build-up.

    Parameters
    ----------
    cells : the filled mesh of the solids.
    sizes : of the air's cells.
    slip : sides of the air (names of `SIDES`) that are planes of symmetry.

    Raises
    ------
    ValueError : the build-up holds no cavity air, or too few cells of it.
    """
    if not cells.air.any():
        raise ValueError("the build-up holds no cavity air")
    hung, tubes = hung_sheets(cells), [body for body in cells.bodies if isinstance(body, Tube) and _airy(cells, body)]
    cavity = _cavity(cells, hung, tubes)
    planes = [_structure(cells, cavity, axis, sizes, slip) for axis in range(3)]
    for sheet in hung:
        planes[_normal(sheet)].add(0.5 * sum(sheet.span(_normal(sheet))), sizes.wall)
    blocks = [_tube_block(tube, planes, sizes) for tube in tubes]
    for sheet in hung:
        for axis in (a for a in range(3) if a != _normal(sheet)):
            for edge in _within(sheet.span(axis), planes[axis]):
                planes[axis].add(edge, EDGE_SIZE * sizes.wall)
    _refuse_lost(cells, planes, hung, tubes)
    edges = [_edges(planes[axis], sizes, cells.grid.shape[axis] == 1) for axis in range(3)]
    check_size(edges)
    filled = ~cavity[cells_under(cells, [0.5 * (own[1:] + own[:-1]) for own in edges])]
    snapped = [Obstacle(tube.name, _snapped(block, planes)) for tube, block in zip(tubes, blocks, strict=True)]
    sheets = [_as_sheet(sheet, planes) for sheet in hung]
    kept, covering = [b for b in snapped if _holds(b.box)], [s for s in sheets if _covers(s)]
    return build_domain(edges, kept, covering, slip, {"filled": filled})


def check_obstacles(domain: Domain) -> Domain:
    """The domain itself; ValueError when its obstacles close more faces than the pressure solver can carry."""
    closed = closed_faces(domain)
    if closed > MOST_FACES:
        raise ValueError(
            f"plates, tubes and joists close {closed:,} faces of the air's grid, more than {MOST_FACES:,}; "
            'use span = "pitch", or larger air.cell and air.wall_cell'
        )
    return domain


def hung_sheets(cells: Cells) -> list[Box]:
    """Thin bodies with cavity air (or a tube in it) on both sides."""
    open_cells = cells.air | cells.of_kind("tube")
    found = []
    for body in cells.bodies:
        if isinstance(body, Box) and body.sheet is not None:
            own = cells.of_body(body)
            below, above = (_beside(own, body.sheet, step) & open_cells for step in (-1, 1))
            if below.any() and above.any():
                found.append(body)
    return found


def _normal(sheet: Box) -> int:
    assert sheet.sheet is not None
    return sheet.sheet


def _beside(own: NDArray[np.bool_], axis: int, step: int) -> NDArray[np.bool_]:
    """The cells next to some cells along an axis."""
    moved = np.roll(own, step, axis)
    border: list[slice | int] = [slice(None)] * 3
    border[axis] = 0 if step > 0 else -1
    moved[tuple(border)] = False
    return moved


def _cavity(cells: Cells, hung: list[Box], tubes: list[Tube]) -> NDArray[np.bool_]:
    """Cells that the air's grid takes for air before sheets and blocks are put in."""
    cavity = cells.air.copy()
    bodies: list[Box | Tube] = [*tubes, *hung]
    for body in bodies:
        cavity |= cells.of_body(body)
    return cavity


def _structure(cells: Cells, cavity: NDArray[np.bool_], axis: int, sizes: AirSizes, slip: Sequence[str]) -> _Planes:
    """Where the cavity begins and ends along an axis, and where it meets solids in between."""
    edges = cells.grid.edges[axis]
    others = tuple(a for a in range(3) if a != axis)
    spans = np.flatnonzero(np.any(cells.air, axis=others))
    low, high = int(spans[0]), int(spans[-1]) + 1
    changes = np.any(np.diff(cavity, axis=axis), axis=others)
    planes = _Planes([], [])
    for number in (low, high, *(np.flatnonzero(changes) + 1)):
        if low <= number <= high:
            free = f"{SIDES[2 * axis + (number == high)]}" in slip and number in (low, high)
            planes.add(float(edges[number]), np.inf if free else sizes.wall)
    return planes


def _airy(cells: Cells, tube: Tube) -> bool:
    """Whether a tube meets air; one that solids hold all round is no obstacle of the flow."""
    own = cells.of_body(tube)
    return any(bool((_beside(own, axis, step) & cells.air).any()) for axis in range(3) for step in (-1, 1))


def _refuse_lost(cells: Cells, planes: list[_Planes], hung: list[Box], tubes: list[Tube]) -> None:
    """ValueError for solids with air on two sides that are no sheets and too thin for planes of their own."""
    open_cells = _cavity(cells, [], tubes)
    for body in cells.bodies:
        if isinstance(body, Tube):
            lost = body in tubes and np.pi * body.outer_diameter / 4.0 < MERGE
        else:
            own = cells.of_body(body)
            lost = body.material is not None and body not in hung and any(
                (_beside(own, axis, -1) & open_cells).any() and (_beside(own, axis, 1) & open_cells).any()
                and planes[axis].nearest(body.low[axis]) == planes[axis].nearest(body.high[axis])
                for axis in range(3)
            )  # fmt: skip
        if lost:
            raise ValueError(
                f"{body.name} is too thin for computed air round it and no sheet: make it {1e3 * MERGE:g} mm thick, or "
                "five times as wide and long as thick, or leave it out"
            )


def _within(span: tuple[float, float], planes: _Planes) -> list[float]:
    """Ends of a span that lie inside the domain."""
    return [end for end in span if min(planes.at) < end < max(planes.at)]


def _tube_block(tube: Tube, planes: list[_Planes], sizes: AirSizes) -> list[tuple[float, float]]:
    """The square block of a tube, flush with what the tube touches; its planes join the grid's."""
    half, radius = np.pi * tube.outer_diameter / 8.0, tube.outer_diameter / 2.0
    block = [tube.along] * 3
    for axis, centre in zip((a for a in range(3) if a != tube.axis), tube.centre, strict=True):
        wall = planes[axis].nearest(centre)
        away = centre - wall
        if half / 2.0 < abs(away) <= radius + FLUSH:
            centre = wall + np.copysign(half, away)
        block[axis] = (centre - half, centre + half)
        for end in _within(block[axis], planes[axis]):
            planes[axis].add(end, sizes.wall)
    for end in _within(tube.along, planes[tube.axis]):
        planes[tube.axis].add(end, sizes.wall)
    return block


def _edges(planes: _Planes, sizes: AirSizes, single: bool) -> Array:
    """Cell edges of one axis: every plane, small cells at walls, growing away from them."""
    order = np.argsort(planes.at)
    at, size = np.array(planes.at)[order], np.array(planes.size)[order]
    if single:
        return np.array([at[0], at[-1]])
    anchors = [(float(a), float(s)) for a, s in zip(at, size, strict=True) if np.isfinite(s)]
    spans = [(float(a), float(b)) for a, b in zip(at, at[1:], strict=False)]
    pieces = [fill_interval(span, sizes.cell, anchors, 1, sizes.growth) for span in spans]
    return np.concatenate([at[:1], *(piece[1:] for piece in pieces)])


def cells_under(cells: Cells, middles: Sequence[Array]) -> tuple[NDArray[np.intp], ...]:
    """Index into the solids' mesh of the cells in which the middles of another grid's cells lie [m]."""
    pairs = zip(cells.grid.edges, middles, strict=True)
    return np.ix_(*(np.clip(np.searchsorted(e, m) - 1, 0, len(e) - 2) for e, m in pairs))


def _snapped(block: list[tuple[float, float]], planes: list[_Planes]) -> tuple:
    return tuple(planes[axis].inside(block[axis]) for axis in range(3))


def _as_sheet(sheet: Box, planes: list[_Planes]) -> Sheet:
    normal = _normal(sheet)
    box = tuple(planes[axis].inside(sheet.span(axis)) for axis in range(3))
    return Sheet(sheet.name, normal, planes[normal].nearest(0.5 * sum(sheet.span(normal))), box)  # type: ignore[arg-type]


def _holds(box: Sequence[tuple[float, float]]) -> bool:
    return all(high > low for low, high in box)


def _covers(sheet: Sheet) -> bool:
    return all(high > low for axis, (low, high) in enumerate(sheet.box) if axis != sheet.axis)

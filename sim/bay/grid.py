"""The rectilinear mesh: edges on three axes, snapped to every interface and graded in between.

Between two neighbouring snap planes the wanted cell size is the smallest of a ceiling, the interval shared
by the fewest cells allowed in it, and sizes that grow linearly away from planes where temperature bends
sharply. The number of cells is the integral of 1/size, and edges sit at its equal parts, so sizes change
smoothly and every plane is hit exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.geometry import Geometry
from sim.machine.brief import Brief

SNAP = 1e-6
"""Planes closer than this are one plane [m]."""

SAMPLES_A_CELL = 3
"""Samples of the wanted size per smallest cell, at least: cells of a long span then grow evenly too."""

GROWTH = 0.35
"""Usual growth of the wanted cell size per unit of distance from a focus plane or a fine neighbour [-]."""

SIZES = {
    "coarse": (0.016, 0.050, 0.025, 2, 0.0050, 4),
    "normal": (0.010, 0.025, 0.015, 4, 0.0025, 8),
    "fine": (0.007, 0.018, 0.010, 6, 0.0018, 8),
    "finest": (0.005, 0.012, 0.0075, 8, 0.00125, 12),
}
"""Per fineness: largest cell across, along, through [m]; cells in a layer; focus cell [m]; cells across a tube."""


@dataclass(frozen=True, slots=True)
class Fineness:
    """Wanted mesh sizes.

    `largest` cell per axis [m], fewest `layer_cells` through any layer, `focus` size beside sharp edges [m],
    `tube_cells` across a tube's diameter, and `growth` of the size per unit of distance from an edge [-].
    """

    largest: tuple[float, float, float]
    layer_cells: int
    focus: float
    tube_cells: int
    growth: float = GROWTH

    def refined(self, factor: int = 2) -> Fineness:
        """The same with every size divided by `factor`, also where sizes grow."""
        return self.scaled(1.0 / factor)

    def scaled(self, factor: float) -> Fineness:
        """The same with every size multiplied by `factor` [-]; numbers of cells become the nearest whole ones."""
        across, along, through = (size * factor for size in self.largest)
        return Fineness(
            (across, along, through),
            max(1, round(self.layer_cells / factor)),
            self.focus * factor,
            max(1, round(self.tube_cells / factor)),
            self.growth * factor,
        )


def fineness_from_word(word: str) -> Fineness:
    """The sizes behind "coarse", "normal", "fine" or "finest"."""
    across, along, through, layer, focus, tube = SIZES[word]
    return Fineness((across, along, through), layer, focus, tube)


@dataclass(frozen=True, slots=True, repr=False)
class Grid(Brief):
    """Cell edges on the three axes [m], each strictly increasing."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    z: NDArray[np.float64]

    def __post_init__(self) -> None:
        for edges in self.edges:
            edges.flags.writeable = False

    @property
    def edges(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """The three edge arrays [m], one longer than there are cells."""
        return self.x, self.y, self.z

    @property
    def shape(self) -> tuple[int, int, int]:
        """Number of cells per axis."""
        return len(self.x) - 1, len(self.y) - 1, len(self.z) - 1

    @property
    def size(self) -> int:
        """Number of cells."""
        return int(np.prod(self.shape))

    def widths(self, axis: int) -> NDArray[np.float64]:
        """Cell widths along an axis [m]."""
        return np.diff(self.edges[axis])

    def centres(self, axis: int) -> NDArray[np.float64]:
        """Cell centres along an axis [m]."""
        edges = self.edges[axis]
        return 0.5 * (edges[:-1] + edges[1:])

    def face_areas(self, axis: int) -> NDArray[np.float64]:
        """Area of the cell faces normal to `axis`, broadcastable to the cell shape [m²]."""
        a, b = (self.spread(other) for other in range(3) if other != axis)
        return a * b

    def spread(self, axis: int) -> NDArray[np.float64]:
        """Cell widths along an axis, shaped to broadcast over the cells [m]."""
        shape = [1, 1, 1]
        shape[axis] = -1
        return self.widths(axis).reshape(shape)

    def volumes(self) -> NDArray[np.float64]:
        """Cell volumes [m³] (nx, ny, nz)."""
        return self.spread(0) * self.spread(1) * self.spread(2)

    def index_range(self, axis: int, low: float, high: float) -> slice:
        """Cells whose centres lie between two coordinates [m]."""
        centres = self.centres(axis)
        return slice(int(np.searchsorted(centres, low)), int(np.searchsorted(centres, high)))

    def plane(self, axis: int, at: float) -> int:
        """Index of the edge at a coordinate [m]; ValueError when no edge lies there."""
        edges = self.edges[axis]
        index = int(np.argmin(np.abs(edges - at)))
        if abs(edges[index] - at) > 2 * SNAP:
            raise ValueError(f"no mesh plane at {at:.6g} m on axis {'xyz'[axis]}")
        return index

    def __str__(self) -> str:
        rows = [f"Grid {' × '.join(map(str, self.shape))} = {self.size:,} cells"]
        for axis, name in enumerate("xyz"):
            widths = 1000 * self.widths(axis)
            mark = "└──" if axis == 2 else "├──"
            # even cells have one width; a metre is 1000 mm and not 1e+03
            ends = dict.fromkeys(f"{width:.0f}" if width >= 100.0 else f"{width:.3g}" for width in _ends(widths))
            rows.append(f"{mark} {name}: {len(widths)} cell{'s' * (len(widths) != 1)}, {' to '.join(ends)} mm")
        return "\n".join(rows)


def _ends(widths: NDArray[np.float64]) -> tuple[float, float]:
    return float(widths.min()), float(widths.max())


def build_grid(geometry: Geometry, fineness: Fineness) -> Grid:
    """Mesh a geometry: every interface on a cell face, sizes graded between them."""
    return Grid(*(_axis_edges(geometry, fineness, axis) for axis in range(3)))


def _axis_edges(geometry: Geometry, fineness: Fineness, axis: int) -> NDArray[np.float64]:
    planes = _merge(_planes(geometry, axis))
    if len(planes) == 2 and axis in geometry.layered and _uniform(geometry, axis):
        return np.array(planes)
    least = [_least_cells(geometry, fineness, axis, a, b) for a, b in zip(planes, planes[1:], strict=False)]
    thin = _sheet_intervals(geometry, axis, planes)
    gaps = [b - a for a, b in zip(planes, planes[1:], strict=False)]
    ceiling = [
        gap if i in thin else min(fineness.largest[axis], gap / n)
        for i, (gap, n) in enumerate(zip(gaps, least, strict=True))
    ]
    anchors = _anchors(geometry, fineness, axis, planes, ceiling, thin)
    pieces = [
        fill_interval((planes[i], planes[i + 1]), ceiling[i], [] if i in thin else anchors, least[i], fineness.growth)
        for i in range(len(least))
    ]
    return np.concatenate([np.array(planes[:1]), *(piece[1:] for piece in pieces)])


def _planes(geometry: Geometry, axis: int) -> list[float]:
    """Every coordinate on which a cell face must lie, inside the domain."""
    found = [geometry.low[axis], geometry.high[axis]]
    for box in geometry.boxes:
        found += box.span(axis)
    for tube in geometry.tubes:
        found += tube.bounds(axis)
    for zone in geometry.zones:
        found += (zone.low[axis], zone.high[axis])
    found += [place for place, _ in geometry.focus[axis]]
    for contact in geometry.contacts:
        found += _rectangle_planes(contact.axis, contact.at, contact.ranges, axis)
    for exposure in geometry.exposures:
        found += _rectangle_planes(exposure.side // 2, exposure.at, exposure.ranges, axis)
    low, high = geometry.low[axis] - SNAP, geometry.high[axis] + SNAP
    return [value for value in found if low <= value <= high]


def _rectangle_planes(normal: int, at: float, ranges: Sequence[Sequence[float]], axis: int) -> list[float]:
    if axis == normal:
        return [at]
    others = [a for a in range(3) if a != normal]
    return list(ranges[others.index(axis)])


def _merge(values: list[float]) -> list[float]:
    """Sorted coordinates without near-duplicates."""
    merged: list[float] = []
    for value in sorted(values):
        if not merged or value - merged[-1] > SNAP:
            merged.append(value)
    return merged


def _least_cells(geometry: Geometry, fineness: Fineness, axis: int, low: float, high: float) -> int:
    """Fewest cells in an interval: one in a sheet, the tube's share in a tube, else by its layer."""
    middle = 0.5 * (low + high)
    holders = [box for box in geometry.boxes if box.low[axis] < middle < box.high[axis]]
    sheets = [box for box in holders if box.sheet == axis]
    if sheets:
        return 1
    for tube in geometry.tubes:
        start, stop = tube.bounds(axis)
        if tube.axis != axis and start < middle < stop:
            return max(1, round(fineness.tube_cells * tube.detail * (high - low) / (stop - start)))
    if axis not in geometry.layered:
        return 1 if high - low < fineness.focus else 2
    thinnest = min((box.high[axis] - box.low[axis] for box in holders), default=high - low)
    return max(1, int(np.ceil(fineness.layer_cells * (high - low) / thinnest - 1e-9)))


def _uniform(geometry: Geometry, axis: int) -> bool:
    """Whether nothing varies along an axis without inner planes: no surface across it, no water along it, and no air
    that is stirred in the plane of x and z."""
    crossed = {exposure.side // 2 for exposure in geometry.exposures}
    watered = any(tube.axis == axis and tube.feed is not None for tube in geometry.tubes)
    return axis not in crossed and not watered and not (geometry.stirred and axis != 1)


def _sheet_intervals(geometry: Geometry, axis: int, planes: list[float]) -> set[int]:
    """Numbers of the intervals that lie within the thickness of a sheet."""
    middles = [0.5 * (a + b) for a, b in zip(planes, planes[1:], strict=False)]
    sheets = [box.span(axis) for box in geometry.boxes if box.sheet == axis]
    return {i for i, middle in enumerate(middles) if any(low < middle < high for low, high in sheets)}


def _anchors(
    geometry: Geometry,
    fineness: Fineness,
    axis: int,
    planes: list[float],
    ceiling: list[float],
    thin: set[int],
) -> list[tuple[float, float]]:
    """(plane, size there): focus planes at the focus size, other planes at their finer neighbour's size.

    Sheets do not ask their neighbours to be fine: heat crosses them through their faces, where nothing bends.
    """
    sizes = dict.fromkeys(planes, np.inf)
    for i, size in enumerate(ceiling):
        if i not in thin:
            for plane in (planes[i], planes[i + 1]):
                sizes[plane] = min(sizes[plane], size)
    for plane in planes:
        for focus, share in geometry.focus[axis]:
            if abs(plane - focus) < 2 * SNAP:
                sizes[plane] = min(sizes[plane], share * fineness.focus)
    return list(sizes.items())


def fill_interval(
    span: tuple[float, float], ceiling: float, anchors: list[tuple[float, float]], least: int, growth: float
) -> NDArray[np.float64]:
    """Edges from one end of the span to the other, following the wanted size [m].

    `anchors` are (plane, size there); sizes grow by `growth` per distance from them, up to `ceiling`.
    """
    low, high = span
    smallest = min([ceiling, *(at_plane for _, at_plane in anchors)])
    samples = np.linspace(low, high, max(257, int(np.ceil(SAMPLES_A_CELL * (high - low) / smallest)) + 1))
    size = np.full_like(samples, ceiling)
    for plane, at_plane in anchors:
        size = np.minimum(size, at_plane + growth * np.abs(samples - plane))
    density = 1.0 / size
    steps = np.diff(samples)
    count_at = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * steps)])
    cells = max(least, int(np.ceil(count_at[-1] - 0.02)))
    edges = np.interp(np.linspace(0.0, count_at[-1], cells + 1), count_at, samples)
    edges[0], edges[-1] = low, high
    return edges

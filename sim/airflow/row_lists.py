"""Where a field meets obstacles: short lists, row by row, that amend the plain stencil of an empty box.

The compiled loops treat the domain as an empty box whose sides let nothing through. What differs is listed here
for each field, sorted by rows along z:

* links: rate += factor (neighbour − here), with a negative factor taking the plain stencil's diffusion back
  where a sheet or a solid parts two cells;
* walls: rate += factor (value − here), friction at a no-slip wall or heat from a wall face;
* losses: rate −= factor |here| here, the pressure loss of a porous sheet;
* fixed: places whose rate is zero (blocked faces, cells inside solids).

Factors lack the diffusivity: they are 1/m².
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain, axis_slice
from sim.airflow.walls import WallFaces

Array = NDArray[np.float64]


class RowLists(NamedTuple):
    """Lists of one field, as the compiled loops read them: entries of row r lie at start[r]:start[r+1].

    ``*_place`` is k within the row, ``link_other`` a flat index into the field.
    """

    link_start: Any
    link_place: Any
    link_other: Any
    link_factor: Any
    wall_start: Any
    wall_place: Any
    wall_factor: Any
    wall_value: Any
    loss_start: Any
    loss_place: Any
    loss_factor: Any
    fixed_start: Any
    fixed_place: Any


class _Entries:
    """Entries of one list while it is gathered: flat places and their columns."""

    def __init__(self, columns: int) -> None:
        self.places: list[Any] = []
        self.columns: list[list[Any]] = [[] for _ in range(columns)]

    def add(self, mask: Any, *values: Any) -> None:
        """Add an entry at every place of a mask, given as (flat places); values broadcast."""
        self.places.append(mask)
        for column, value in zip(self.columns, values, strict=True):
            column.append(np.broadcast_to(value, mask.shape))

    def rows(self, shape: tuple[int, ...]) -> tuple[Any, ...]:
        """(start, place, *columns) sorted by rows."""
        empty = np.zeros(0)
        places = np.concatenate([np.zeros(0, np.intp), *self.places]).astype(np.intp)
        order = np.argsort(places, kind="stable")
        places = places[order]
        start = np.searchsorted(places, np.arange(shape[0] * shape[1] + 1) * shape[2])
        columns = [np.concatenate([empty, *column])[order] for column in self.columns]
        return start, places % shape[2], *columns


def _row_lists(shape: tuple[int, ...], links: _Entries, walls: _Entries, losses: _Entries, fixed: Array) -> RowLists:
    """The four lists of a field in their compiled form."""
    start, place, other, factor = links.rows(shape)
    blocked = _Entries(0)
    blocked.add(np.flatnonzero(fixed))
    return RowLists(
        start, place, other.astype(np.intp), factor, *walls.rows(shape), *losses.rows(shape), *blocked.rows(shape)
    )


def temperature_lists(domain: Domain, walls: WallFaces, wall_temperature: Array) -> RowLists:
    """Lists of the temperature: parted neighbours, wall faces with a temperature, cells inside solids.

    Parameters
    ----------
    wall_temperature : (n,) [K]
        NaN where a wall face is adiabatic.
    """
    shape = domain.shape
    links, heat = _Entries(2), _Entries(2)
    flat = np.arange(domain.cells).reshape(shape)
    for axis in range(3):
        _part_cells(domain, axis, flat, links)
    warm = ~np.isnan(wall_temperature)
    at = tuple(walls.cell[warm].T)
    factor = walls.area[warm] / (walls.distance[warm] * domain.volumes[at])
    heat.add(flat[at], factor, wall_temperature[warm])
    return _row_lists(shape, links, heat, _Entries(1), domain.solid != 0)


def with_wall_temperature(lists: RowLists, domain: Domain, walls: WallFaces, wall_temperature: Array) -> RowLists:
    """Temperature lists with other wall temperatures (n,) [K] at the same faces."""
    warm = ~np.isnan(wall_temperature)
    order = np.argsort(np.ravel_multi_index(tuple(walls.cell[warm].T), domain.shape), kind="stable")
    return lists._replace(wall_value=wall_temperature[warm][order])


def _part_cells(domain: Domain, axis: int, flat: Any, links: _Entries) -> None:
    """Take conduction back through the closed share of the inner faces normal to an axis."""
    width, centre = domain.widths[axis], domain.centres[axis]
    here, beyond = axis_slice(axis, slice(None, -1)), axis_slice(axis, slice(1, None))
    closed = 1.0 - domain.openness[axis][axis_slice(axis, slice(1, -1))]
    place = np.nonzero(closed > 0.0)
    lower, upper = flat[here][place], flat[beyond][place]
    i = place[axis]
    gap = centre[i + 1] - centre[i]
    links.add(lower, upper, -closed[place] / (gap * width[i]))
    links.add(upper, lower, -closed[place] / (gap * width[i + 1]))


def velocity_lists(domain: Domain, component: int) -> RowLists:
    """Lists of one velocity component: friction at walls and sheets, porous losses, blocked faces."""
    openness = domain.openness[component]
    shape = openness.shape
    links, walls, losses = _Entries(2), _Entries(2), _Entries(1)
    for axis in range(3):
        if axis != component:
            _edge_friction(domain, component, axis, links, walls)
    porous = np.nonzero(domain.loss[component])
    centre = domain.centres[component]
    i = porous[component]
    losses.add(
        np.ravel_multi_index(porous, shape), 0.5 * domain.loss[component][porous] / (centre[i] - centre[i - 1])
    )
    return _row_lists(shape, links, walls, losses, openness == 0.0)


def _edge_friction(domain: Domain, component: int, axis: int, links: _Entries, walls: _Entries) -> None:
    """Friction between faces of a component that neighbour along another axis.

    Each edge between two such faces lies between two faces normal to `axis`; their open share, weighted by half
    widths, lets the plain stencil act, the rest is a no-slip wall half a width away.
    """
    openness = domain.openness[component]
    flat = np.arange(openness.size).reshape(openness.shape)
    closed = 1.0 - _edge_openness(domain, component, axis)
    width, centre = domain.widths[axis], domain.centres[axis]
    moving = openness > 0.0
    for upper in (0, 1):
        edges = closed[axis_slice(axis, slice(1, None) if upper else slice(None, -1))].copy()
        if domain.slip[2 * axis + upper]:
            edges[axis_slice(axis, -1 if upper else 0)] = 0.0
        place = np.nonzero(moving & (edges > 0.0))
        here, share, j = flat[place], edges[place], place[axis]
        walls.add(here, 2.0 * share / width[j] ** 2, 0.0)
        inner = (j < width.size - 1) if upper else (j > 0)
        beside = tuple(p[inner] + (1 if upper else -1) * (a == axis) for a, p in enumerate(place))
        gap = np.abs(centre[beside[axis]] - centre[j[inner]])
        links.add(here[inner], flat[beside], -share[inner] / (gap * width[j[inner]]))


def _edge_openness(domain: Domain, component: int, axis: int) -> Array:
    """Open share of the faces normal to `axis` on either side of every face plane of `component`."""
    width = domain.widths[component]
    before, after = half_width_shares(width)
    faces = domain.openness[axis]
    pad = [(1, 1) if a == component else (0, 0) for a in range(3)]
    padded = np.pad(faces, pad)
    broadcast = tuple(slice(None) if a == component else None for a in range(3))
    lower = padded[axis_slice(component, slice(None, -1))]
    upper = padded[axis_slice(component, slice(1, None))]
    return before[broadcast] * lower + after[broadcast] * upper


def half_width_shares(width: Array) -> tuple[Array, Array]:
    """Shares (n+1,) of the half cells below and above every face in the distance between cell centres."""
    below, above = np.append(0.0, width), np.append(width, 0.0)
    return below / (below + above), above / (below + above)

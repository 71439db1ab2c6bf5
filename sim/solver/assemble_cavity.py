"""The cavity's walls, air zones, openings and radiation patches, from filled cells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.bay.air_layers import closed_layers
from sim.bay.cells import Cells
from sim.bay.faces import Faces, air_distance, cavity_faces
from sim.bay.geometry import Tube
from sim.bay.outline import stepped_perimeter
from sim.bay.patches import number_patches
from sim.case.constants import STILL_AIR
from sim.machine.threads import single_threaded_blas
from sim.physics.cavity import Openings, Patches, Walls
from sim.solver.feet import Feet
from sim.solver.terms.cavity import Cavity

RAYS_PER_PATCH = 4000
"""Rays traced from each patch; the exchange between two patches is then good to a few per mille."""

SEED = 20260101
"""Usual seed of the ray directions: the same case always gets the same view factors."""

REPEATS = 3
"""Answers with other rays that tell their scatter."""

LEAST_EMISSIVITY = 1e-6
"""Taken for a perfect mirror: a patch that emits nothing would have no radiation balance of its own."""

ORIENTATION = np.array([0, 0, 0, 0, -1, 1], np.int8)


def build_cavity(
    cells: Cells, air_model: str, film_factor: float = 1.0, ray_seed: int | None = SEED, rays: int = RAYS_PER_PATCH
) -> Cavity | None:
    """Walls and their exchange, or None where the build-up holds no air.

    Parameters
    ----------
    air_model : "films" or "still"; with the latter air only conducts.
    film_factor : multiplies every film [-].
    ray_seed : of the ray directions behind the view factors; None traces none, and what needs them is NaN.
    rays : sent from each patch; fewer are quicker and scatter more.
    """
    faces = _walled(cells)
    if len(faces) == 0:
        return None
    round_share = _round_share(cells, faces)
    patch, count = number_patches(cells, faces)
    walls, feet = _walls(cells, faces, air_model == "still", round_share, patch)
    patches, lost = _patches(cells, faces, walls, count, (ray_seed, rays))
    return Cavity(
        walls=replace(walls, film_factor=film_factor),
        feet=feet,
        zone_names=cells.zone_names,
        openings=_openings(cells),
        patches=patches,
        cell=faces.cell,
        body=faces.body,
        side=faces.side,
        centre=faces.centre,
        lost_rays=lost,
    )


def with_other_rays(cavity: Cavity, cells: Cells, seed: int) -> Cavity:
    """The same cavity with view factors traced by other rays: what that changes is their scatter."""
    count = len(cavity.patches.emitting_area)
    patches, lost = _patches(cells, _walled(cells), cavity.walls, count, (seed, RAYS_PER_PATCH))
    return replace(cavity, patches=patches, lost_rays=lost)


def _walled(cells: Cells) -> Faces:
    """The cavities' wall faces, without the ends of tubes."""
    faces = cavity_faces(cells)
    return faces.take(~_tube_ends(cells, faces))


def _tube_ends(cells: Cells, faces: Faces) -> NDArray[np.bool_]:
    axes = np.array([body.axis if isinstance(body, Tube) else -1 for body in cells.bodies])
    return axes[faces.body] == faces.side // 2


def _round_share(cells: Cells, faces: Faces) -> NDArray[np.float64]:
    """Round over stepped circumference for tube faces, 1 elsewhere."""
    share = np.ones(len(cells.bodies))
    for number, body in enumerate(cells.bodies):
        if isinstance(body, Tube) and np.any(faces.body == number):
            share[number] = np.pi * body.outer_diameter / stepped_perimeter(cells, body)
    return share[faces.body]


def _walls(cells: Cells, faces: Faces, still: bool, round_share, patch) -> tuple[Walls, Feet]:
    """The wall arrays and their feet: one solid cell behind each face, and the air cell when air conducts."""
    solid = cells.normal_conductivity(faces.body, faces.side // 2) * faces.area / faces.depth
    here = np.ravel_multi_index(faces.index(), cells.grid.shape)
    zone = np.full(len(faces), -1, np.int64)
    if still:
        there = np.ravel_multi_index(tuple(faces.neighbour.T), cells.grid.shape)
        air = STILL_AIR * faces.area / _air_depth(cells, faces)
        half = solid + air
        feet = Feet(np.stack([here, there], 1), np.stack([solid, air], 1) / half[:, None], cells.grid.size)
    else:
        feet = Feet(here[:, None], np.ones((len(faces), 1)), cells.grid.size)
        half, zone = solid, cells.zone[tuple(faces.neighbour.T)].astype(np.int64)
    walls = Walls(
        half_conductance=half,
        area=faces.area * round_share,
        orientation=ORIENTATION[faces.side],
        distance=air_distance(cells, faces),
        diameter=_diameter(cells, faces),
        emissivity=_emissivity(cells, faces),
        zone=zone,
        patch=patch,
        closed=closed_layers(cells)[cells.zone[tuple(faces.neighbour.T)]],
    )
    return walls, feet


def _air_depth(cells: Cells, faces: Faces) -> NDArray[np.float64]:
    """From the face to the centre of the air cell in front of it [m]."""
    depth, beyond = np.empty(len(faces)), faces.neighbour
    for axis in range(3):
        on = faces.side // 2 == axis
        depth[on] = 0.5 * cells.grid.widths(axis)[beyond[on, axis]]
    return depth


def _diameter(cells: Cells, faces: Faces) -> NDArray[np.float64]:
    table = [body.outer_diameter if isinstance(body, Tube) else 0.0 for body in cells.bodies]
    return np.array(table)[faces.body]


def _emissivity(cells: Cells, faces: Faces) -> NDArray[np.float64]:
    table = [(body.emissivity,) * 6 if isinstance(body, Tube) else body.emissivities for body in cells.bodies]
    return np.maximum(np.array(table)[faces.body, faces.side], LEAST_EMISSIVITY)


@single_threaded_blas()
def _patches(
    cells: Cells, faces: Faces, walls: Walls, count: int, rays: tuple[int | None, int]
) -> tuple[Patches, float]:
    """Total-exchange areas between patches, and the share of rays that found no wall; `rays` are seed and number."""
    seed, each = rays
    area = np.bincount(walls.patch, walls.area, count)
    emitting = np.bincount(walls.patch, walls.area * walls.emissivity, count)
    if seed is None:
        return Patches(np.full((count, count), np.nan), np.asarray(emitting, np.float64)), float("nan")
    from sim.physics.radiation import enforce, total_exchange
    from sim.solver.traced import traced_exchange

    scene = (*cells.grid.edges, ~cells.air, faces.neighbour, faces.side ^ 1, walls.patch)
    traced, lost = traced_exchange(scene, each, seed)
    tubes = np.bincount(walls.patch, walls.diameter > 0.0, count) > 0
    exchange = enforce(traced, area, zero_diagonal=tubes)
    total = total_exchange(exchange, area, emitting / area)
    return Patches(total, np.asarray(emitting, np.float64)), float(np.sum(lost) / np.sum(area))


def _openings(cells: Cells) -> Openings:
    """Where air zones meet: area, height and the distance between their middles."""
    found = [row for axis in range(3) for row in _openings_normal_to(cells, axis)]
    table = np.array(found, float).reshape(-1, 6).T
    first, second = table[:2].astype(np.int64)
    return Openings(first, second, table[2], table[3], table[4], table[5] > 0.0)


def _openings_normal_to(cells: Cells, axis: int) -> list[tuple[int, int, float, float, float, bool]]:
    """(first, second, area, height, path, level) of every pair of zones that meets across an axis."""
    grid, zone = cells.grid, cells.zone
    count = zone.shape[axis]
    low, high = np.take(zone, range(count - 1), axis), np.take(zone, range(1, count), axis)
    meeting = (low >= 0) & (high >= 0) & (low != high)
    index = np.nonzero(meeting)
    a, b = low[index].astype(np.int64), high[index].astype(np.int64)
    area = np.broadcast_to(grid.face_areas(axis), zone.shape)[index]
    z_low, z_high = grid.z[index[2]], grid.z[index[2] + 1]
    rows = []
    for pair in np.unique(np.column_stack([a, b]), axis=0):
        own = (a == pair[0]) & (b == pair[1])
        total = float(area[own].sum())
        height = float(z_high[own].max() - z_low[own].min()) if axis != 2 else float(np.sqrt(total))
        path = max(_zone_extent(cells, int(z), axis) for z in pair)
        rows.append((int(pair[0]), int(pair[1]), total, height, path, axis == 2))
    return rows


def _zone_extent(cells: Cells, zone: int, axis: int) -> float:
    """Extent of a zone along an axis [m]."""
    where = np.flatnonzero(np.any(cells.zone == zone, axis=tuple(a for a in range(3) if a != axis)))
    edges = cells.grid.edges[axis]
    return float(edges[where[-1] + 1] - edges[where[0]])

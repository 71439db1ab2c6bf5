"""From filled cells to the discrete problem: the one place where geometry meets the equations."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import Cells
from sim.bay.faces import Faces, exposed_faces
from sim.bay.geometry import Box, Contact, Exposure, Geometry, Joint, Tube
from sim.bay.grid import SNAP
from sim.bay.outline import either, outline_shift, sides, touching_perimeter
from sim.case.constants import STILL_AIR
from sim.physics.conduction import face_conductance
from sim.physics.contact import line_contact_conductance
from sim.solver.assemble_cavity import RAYS_PER_PATCH, SEED, build_cavity
from sim.solver.system import System
from sim.solver.terms.conduction import Conduction
from sim.solver.terms.surfaces import Surface, Surfaces
from sim.solver.terms.water import TubeRun, Water

AIR_MODELS = ("films", "correlations", "still", "resolved")


def build_system(
    geometry: Geometry,
    cells: Cells,
    air_model: str = "films",
    film_factor: float = 1.0,
    ray_seed: int | None = SEED,
    rays: int = RAYS_PER_PATCH,
) -> System:
    """Assemble conduction and every term for a geometry on its cells.

    Parameters
    ----------
    air_model : "films" (cavity air is zones with films), "still" (cavity air only conducts) or "resolved" (films for a
        start, until its flow is known).
    film_factor : multiplies every film of the cavities' walls [-].
    ray_seed : of the ray directions behind the cavities' view factors; None traces none: a system to look at.
    rays : sent from each patch of the cavities' walls for them.

    Raises
    ------
    ValueError : nothing holds the temperature anywhere, a surface lies on no solid face, or the air model is unknown.
    """
    if air_model not in AIR_MODELS:
        raise ValueError(f'no air model "{air_model}"; known are {", ".join(AIR_MODELS)}')
    cavity = build_cavity(cells, air_model, film_factor, ray_seed, rays)
    system = System(
        cells.grid.shape,
        (
            _conduction(geometry, cells, air_model),
            Surfaces(tuple(_surfaces(geometry, cells))),
            *(() if cavity is None else (cavity,)),
            Water(_runs(geometry, cells)),
        ),
    )
    if not system.reservoirs():
        raise ValueError("nothing in the case has a known temperature: no surface, water or isothermal tube")
    return system


def _conduction(geometry: Geometry, cells: Cells, air_model: str) -> Conduction:
    air = STILL_AIR if air_model == "still" else 0.0
    grid = cells.grid

    def across(axis: int) -> NDArray[np.float64]:
        """Conductances of all faces between cells along an axis [W/K]."""
        conductivity, resistance = cells.conductivity(axis, air), _resistance(geometry, cells, axis)
        return face_conductance(conductivity, grid.widths(axis), grid.face_areas(axis), axis, resistance)

    active = cells.solid | (cells.air if air > 0.0 else np.zeros_like(cells.air))
    return Conduction(across(0), across(1), across(2), active)


def _resistance(geometry: Geometry, cells: Cells, axis: int) -> NDArray[np.float64] | None:
    """Contact resistance on the inner faces normal to an axis [m² K/W]."""
    if not geometry.contacts and not geometry.tubes:
        return None
    shape = list(cells.grid.shape)
    shape[axis] -= 1
    resistance = np.zeros(shape)
    for contact in geometry.contacts:
        if contact.axis == axis:
            _add_contact(resistance, cells, contact)
    for tube in geometry.tubes:
        if tube.axis != axis:
            _add_joints(resistance, cells, tube, axis)
            _round_off(resistance, cells, tube, axis)
    return resistance


def _add_contact(resistance: NDArray, cells: Cells, contact: Contact) -> None:
    grid, ranges = cells.grid, iter(contact.ranges)
    plane = grid.plane(contact.axis, contact.at) - 1
    where = []
    for axis in range(3):
        if axis == contact.axis:
            where.append(slice(plane, plane + 1))
        else:
            low, high = next(ranges)
            where.append(grid.index_range(axis, low - SNAP, high + SNAP))
    resistance[tuple(where)] += contact.resistance


def _add_joints(resistance: NDArray, cells: Cells, tube: Tube, axis: int) -> None:
    """Resistance between a tube and the bodies that it touches, spread over the touching faces."""
    own = cells.of_body(tube)
    low, high = sides(own, axis)
    for joint in tube.joints:
        others = cells.of_kind(joint.kind) & ~own
        chord = touching_perimeter(cells, tube, others)
        if chord > 0.0:
            touching = (low ^ high) & either(*sides(others, axis), low, high)
            resistance[touching] += chord * _joint_resistance(joint, tube, chord)


def _round_off(resistance: NDArray, cells: Cells, tube: Tube, axis: int) -> None:
    """Let heat between a tube and what lies round it begin at the round outline instead of at its cells' faces.

    Not where its flats touch something flat: the shape of what lies between is in the joint.
    """
    jointed = cells.of_kind(*(joint.kind for joint in tube.joints if tube.flats))
    around = cells.solid & ~cells.of_body(tube) & ~jointed
    conductivity = np.where(around, cells.conductivity(axis, 0.0), 0.0)
    count = conductivity.shape[axis]
    beside = np.maximum(np.take(conductivity, range(count - 1), axis), np.take(conductivity, range(1, count), axis))
    low, high = sides(cells.of_body(tube), axis)
    outer = (low ^ high) & (beside > 0.0)
    resistance[outer] += outline_shift(cells, tube, axis)[outer] / beside[outer]


def _joint_resistance(joint: Joint, tube: Tube, chord: float) -> float:
    """For one metre of tube [m K/W]."""
    if joint.contact <= 0.0:
        return joint.per_metre
    return 1.0 / line_contact_conductance(tube.outer_diameter / 2, joint.contact, chord, STILL_AIR)


def _surfaces(geometry: Geometry, cells: Cells) -> list[Surface]:
    surfaces = []
    for exposure in geometry.exposures:
        faces = exposed_faces(cells, exposure)
        if len(faces):
            surfaces.append(_surface(cells, exposure, faces))
    return surfaces


def _surface(cells: Cells, exposure: Exposure, faces: Faces) -> Surface:
    conductivity = cells.normal_conductivity(faces.body, faces.side // 2)
    return Surface(
        path=exposure.path,
        side=exposure.side,
        cell=np.ravel_multi_index(faces.index(), cells.grid.shape),
        conductance=conductivity * faces.area / faces.depth,
        area=faces.area,
        law=exposure.law,
        centre=faces.centre,
    )


def _runs(geometry: Geometry, cells: Cells) -> tuple[TubeRun, ...]:
    series = {tube.order: i for i, tube in enumerate(geometry.tubes) if tube.order is not None}
    runs = []
    for tube in geometry.tubes:
        after = series.get(tube.order - 1) if tube.order else None
        runs.append(_run(cells, tube, after))
    held = (box for box in geometry.boxes if box.temperature is not None)
    return (*runs, *(_held_run(cells, box) for box in held if cells.of_body(box).any()))


def _held_run(cells: Cells, box: Box) -> TubeRun:
    """A box held at a temperature, as an isothermal tube along y with the box's cells."""
    index = np.argwhere(cells.of_body(box))
    slices, segment = np.unique(index[:, 1], return_inverse=True)
    segment = segment.reshape(-1)
    return TubeRun(
        name=box.name,
        cell=np.asarray(np.ravel_multi_index(tuple(index.T), cells.grid.shape)),
        segment=segment,
        share=np.ones(len(index)) / np.bincount(segment)[segment],
        length=cells.grid.widths(1)[slices],
        position=cells.grid.centres(1)[slices],
        outer_diameter=0.0,
        inner_diameter=None,
        conductivity=0.0,
        temperature=box.temperature,
        feed=None,
        after=None,
    )


def _run(cells: Cells, tube: Tube, after: int | None) -> TubeRun:
    index = np.argwhere(cells.of_body(tube))
    slices, segment = np.unique(index[:, tube.axis], return_inverse=True)
    segment = segment.reshape(-1)
    share = np.ones(len(index)) / np.bincount(segment)[segment]
    length = cells.grid.widths(tube.axis)[slices]
    position = cells.grid.centres(tube.axis)[slices]
    if tube.reverse:
        segment, length, position = len(slices) - 1 - segment, length[::-1], position[::-1]
    return TubeRun(
        name=tube.name,
        cell=np.asarray(np.ravel_multi_index(tuple(index.T), cells.grid.shape)),
        segment=segment,
        share=share,
        length=length,
        position=position,
        outer_diameter=tube.outer_diameter,
        inner_diameter=tube.inner_diameter,
        conductivity=tube.conductivity,
        temperature=tube.temperature,
        feed=tube.feed,
        after=after,
    )

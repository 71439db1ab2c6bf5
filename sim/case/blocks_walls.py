"""Faces of blocks that are walls of the air itself: where cavity air among solids reaches the outermost plane."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from sim.case.blocks_parts import Block, Face
from sim.case.errors import Problem
from sim.case.fields import given

if TYPE_CHECKING:
    from sim.case.blocks_air import AirSheet
    from sim.case.blocks_keys import BlocksKeys

AXES = ("x", "y", "z")
SAME = 1e-9
"""Planes closer together than this are one [m]."""

Rectangle = tuple[tuple[float, float], tuple[float, float]]
Mask = NDArray[np.bool_]
Cuts = tuple[NDArray[np.float64], NDArray[np.float64]]
Plane: TypeAlias = "Face | AirSheet"


@dataclass(frozen=True, slots=True)
class Behind:
    """What lies right behind a face's rectangle, with nothing before it, in the pieces that box edges cut it into.

    `cuts` are the edges of the pieces along the two axes of the plane [m], `solid` and `air` say what ends in each.
    """

    cuts: Cuts
    solid: Mask
    air: Mask

    def air_rectangle(self) -> Rectangle | None:
        """From and to, along both axes, of the air that ends there [m]; None where that is no single rectangle."""
        spans = [np.flatnonzero(self.air.any(axis=1 - n)) for n in (0, 1)]
        if not all(map(len, spans)):
            return None
        ends = [slice(int(span[0]), int(span[-1]) + 1) for span in spans]
        if not self.air[ends[0], ends[1]].all():
            return None
        first, second = (
            (float(cut[end.start]), float(cut[end.stop])) for cut, end in zip(self.cuts, ends, strict=True)
        )
        return first, second


def behind(boxes: tuple[Block, ...], face: Face) -> Behind:
    """What lies right behind a face: the topmost box there, where none lies before it."""
    up, cuts = face.on[1] == "+", cuts_of(boxes, face)
    solid, air = topmost(boxes, face, cuts, not up)
    covered = np.logical_or(*topmost(boxes, face, cuts, up))
    return Behind(cuts, solid & ~covered, air & ~covered)


def topmost(boxes: tuple[Block, ...], plane: Plane, cuts: Cuts, above: bool) -> tuple[Mask, Mask]:
    """In which pieces of a plane a solid, and in which air, was painted last right above or below it."""
    solid, air = (np.zeros(tuple(len(cut) - 1 for cut in cuts), bool) for _ in range(2))
    for box in (box for box in boxes if _touches(box, plane, above)):
        spans = zip(across(plane), cuts, strict=True)
        part = tuple(slice(*np.searchsorted(cut, np.array(getattr(box, axis)) - SAME)) for axis, cut in spans)
        solid[part], air[part] = not box.air, box.air
    return solid, air


def across(plane: Plane) -> list[str]:
    """The two axes of a plane."""
    return [axis for axis in AXES if axis != plane.axis]


def _touches(box: Block, plane: Plane, above: bool) -> bool:
    """Whether a box lies right above or below a plane, seen along its axis."""
    low, high = getattr(box, plane.axis)
    return bool(low <= plane.at + SAME < high if above else low < plane.at - SAME <= high)


def cuts_of(boxes: tuple[Block, ...], plane: Plane) -> Cuts:
    """Edges along both axes of a plane of the pieces that the boxes at it cut its rectangle into [m]."""
    near = [box for box in boxes if _touches(box, plane, False) or _touches(box, plane, True)] or list(boxes)
    first, second = (_cuts(near, plane, axis) for axis in across(plane))
    return first, second


def _cuts(boxes: list[Block], plane: Plane, axis: str) -> NDArray[np.float64]:
    """Edges of boxes within the rectangle of a plane along an axis, its ends included [m]."""
    edges = np.unique([edge for box in boxes for edge in getattr(box, axis)])
    low, high = getattr(plane, axis) or (edges[0], edges[-1])
    inside = edges[(edges > low + SAME) & (edges < high - SAME)]
    return np.concatenate([[low], inside, [high]])


def wall_of_air(case: BlocksKeys, face: Face) -> Rectangle | None:
    """Rectangle of the wall of cavity air that a face is [m]; None where solids end there, or the air is alone."""
    if case.air_alone or not is_outermost(case, face):
        return None
    found = behind(case.boxes, face)
    return None if found.solid.any() else found.air_rectangle()


def is_outermost(case: BlocksKeys, face: Face) -> bool:
    """Whether a face lies on the outermost plane of the build-up on its side."""
    return bool(abs(face.at - case.extent[AXES.index(face.axis)][face.on[1] == "+"]) <= SAME)


def wall_problems(case: BlocksKeys) -> Iterator[Problem]:
    """What walls of air cannot be, and what only they use."""
    walls = {index: wall for index, face in enumerate(case.faces) if (wall := wall_of_air(case, face))}
    solids = {box.name for box in case.boxes if not box.air and box.name}
    for index, face in enumerate(case.faces):
        where = f"face[{index}]"
        if index not in walls:
            yield from _only_walls(case, face, where)
            continue
        yield from _of_wall(case, face, where)
        if face.name in solids:
            yield Problem(f"{where}.name", f'"{face.name}"', "is the name of a box too", "give each its own name")
        before = [n for n in range(index) if n in walls and _overlap(case, (n, index), walls)]
        for other in before[:1]:
            rule = f"lies on the wall of air that face[{other}] is"
            yield Problem(where, f'"{face.name or face.on}"', rule, "give each a rectangle of its own")


def _only_walls(case: BlocksKeys, face: Face, where: str) -> Iterator[Problem]:
    """An emissivity towards a cavity of a face that lies at none."""
    if face.towards_cavity is not None and not case.air_alone:
        rule = "a face on solids has one condition; only a wall of air radiates into its cavity as well"
        way = "leave it out; where solids and air end in one plane, give the air a face with a rectangle of its own"
        yield Problem(f"{where}.emissivity", f"{face.towards_cavity:g}", rule, way)


def _of_wall(case: BlocksKeys, face: Face, where: str) -> Iterator[Problem]:
    if face.condition == "radiation":
        rule = "of a wall of air it says how the wall radiates into its cavity, beside one of the other conditions"
        way = "add temperature, flux, film or adiabatic = true, and leave ambient out unless film needs it"
        yield Problem(f"{where}.emissivity", f"{face.emissivity:g}", rule, way)
    if given(case.air, "symmetry") and face.on in case.air.symmetry:
        yield Problem(f"{where}.on", f'"{face.on}"', "is a plane of symmetry (air.symmetry)", "choose one")


def _overlap(case: BlocksKeys, pair: tuple[int, int], walls: dict[int, Rectangle]) -> bool:
    one, other = (case.faces[index] for index in pair)
    spans = zip(*(walls[index] for index in pair), strict=True)
    return one.on == other.on and all(max(a[0], b[0]) < min(a[1], b[1]) - SAME for a, b in spans)

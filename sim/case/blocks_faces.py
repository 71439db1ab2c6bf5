"""Whether the faces of a case of blocks lie where something ends, and can do anything there."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sim.case.blocks_keys import BlocksKeys
from sim.case.blocks_parts import Block, Face
from sim.case.errors import Problem

AXES = ("x", "y", "z")
SAME = 1e-9
"""Planes closer together than this are one [m]."""

WALL_OF_AIR = (
    "lay a thin box there instead: one with a temperature is a wall that is held at it, one with insulating = true a "
    "wall that radiates and lets no heat through"
)


def face_problems(case: BlocksKeys) -> Iterator[Problem]:
    """Faces on whose plane and rectangle no box ends, and faces that other boxes cover all over."""
    for index, face in enumerate(case.faces):
        place = f"{face.axis} = {face.at:g} m"
        if not any(_ends_on(box, face) for box in case.boxes if box.air == case.air_alone):
            yield Problem(f"face[{index}].at", place, *_nothing_there(case, face))
        elif not case.air_alone and not _is_bare(case.boxes, face):
            rule = f'boxes cover it all over, so that nothing faces "{face.on}" there'
            yield Problem(f"face[{index}].at", place, rule, "move it to where the build-up ends, or leave it out")


def _nothing_there(case: BlocksKeys, face: Face) -> tuple[str, str]:
    """The rule that a face breaks where nothing that could have one ends, and the way out."""
    if not case.air_alone and any(_ends_on(box, face) for box in case.boxes):
        return "only air ends there, which has no faces of its own among solids", WALL_OF_AIR
    kind = "air" if case.air_alone else "solid"
    return f'no {kind} box ends there towards "{face.on}"', "check at, the side in on, and the face's extent"


def _ends_on(box: Block, face: Face) -> bool:
    """Whether a box has a side on the plane of a face, and within its rectangle."""
    if abs(getattr(box, face.axis)[face.on[1] == "+"] - face.at) > SAME:
        return False
    for axis in _across(face):
        (low, high), span = getattr(box, axis), getattr(face, axis)
        if span is not None and not max(low, span[0]) < min(high, span[1]) - SAME:
            return False
    return True


def _is_bare(boxes: tuple[Block, ...], face: Face) -> bool:
    """Whether anywhere on a face's rectangle the topmost box behind it is solid and none lies before it."""
    up = face.on[1] == "+"
    near = [box for box in boxes if _touches(box, face, False) or _touches(box, face, True)]
    cuts = [_cuts(near, face, axis) for axis in _across(face)]
    solid, covered = (np.zeros(tuple(len(cut) - 1 for cut in cuts), bool) for _ in range(2))
    for box in near:
        spans = zip(_across(face), cuts, strict=True)
        part = tuple(slice(*np.searchsorted(cut, np.array(getattr(box, axis)) - SAME)) for axis, cut in spans)
        if _touches(box, face, not up):
            solid[part] = not box.air
        if _touches(box, face, up):
            covered[part] = True
    return bool(np.any(solid & ~covered))


def _across(face: Face) -> list[str]:
    return [axis for axis in AXES if axis != face.axis]


def _touches(box: Block, face: Face, above: bool) -> bool:
    """Whether a box lies right above or below the plane of a face, seen along its axis."""
    low, high = getattr(box, face.axis)
    return low <= face.at + SAME < high if above else low < face.at - SAME <= high


def _cuts(boxes: list[Block], face: Face, axis: str) -> np.ndarray:
    """Edges of boxes within the rectangle of a face along an axis, its ends included [m]."""
    edges = np.unique([edge for box in boxes for edge in getattr(box, axis)])
    low, high = getattr(face, axis) or (edges[0], edges[-1])
    inside = edges[(edges > low + SAME) & (edges < high - SAME)]
    return np.concatenate([[low], inside, [high]])

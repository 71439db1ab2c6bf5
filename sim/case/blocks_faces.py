"""Whether the faces of a case of blocks lie where something ends, and can do anything there."""

from __future__ import annotations

from collections.abc import Iterator

from sim.case.blocks_keys import BlocksKeys
from sim.case.blocks_parts import Block, Face
from sim.case.blocks_walls import SAME, across, behind, is_outermost, wall_of_air, wall_problems
from sim.case.errors import Problem

WALL_OF_AIR = (
    "lay a thin box there instead: one with a temperature is a wall that is held at it, one with insulating = true a "
    "wall that radiates and lets no heat through"
)


def face_problems(case: BlocksKeys) -> Iterator[Problem]:
    """Faces on whose plane and rectangle no box ends, and faces that other boxes cover all over."""
    lost = False
    for index, face in enumerate(case.faces):
        place = f"{face.axis} = {face.at:g} m"
        if not any(_ends_on(box, face) for box in case.boxes if box.air == case.air_alone):
            if wall_of_air(case, face) is None:
                yield Problem(f"face[{index}].at", place, *_nothing_there(case, face))
                lost = True
        elif not case.air_alone and not _is_bare(case, face):
            rule = f'boxes cover it all over, so that nothing faces "{face.on}" there'
            yield Problem(f"face[{index}].at", place, rule, "move it to where the build-up ends, or leave it out")
            lost = True
    if not lost:
        yield from wall_problems(case)


def _is_bare(case: BlocksKeys, face: Face) -> bool:
    """Whether a solid ends anywhere on a face's rectangle with nothing before it, or the face is a wall of air."""
    return bool(behind(case.boxes, face).solid.any()) or wall_of_air(case, face) is not None


def _nothing_there(case: BlocksKeys, face: Face) -> tuple[str, str]:
    """The rule that a face breaks where nothing that could have one ends, and the way out."""
    if not case.air_alone and any(_ends_on(box, face) for box in case.boxes):
        if not is_outermost(case, face):
            return "air among solids has walls of its own only on the outermost planes of all boxes", WALL_OF_AIR
        found = behind(case.boxes, face)
        if found.air.any():
            return "the air that ends there is no single rectangle", "give each rectangle of it a face of its own"
    kind = "air" if case.air_alone else "solid"
    return f'no {kind} box ends there towards "{face.on}"', "check at, the side in on, and the face's extent"


def _ends_on(box: Block, face: Face) -> bool:
    """Whether a box has a side on the plane of a face, and within its rectangle."""
    if abs(getattr(box, face.axis)[face.on[1] == "+"] - face.at) > SAME:
        return False
    for axis in across(face):
        (low, high), span = getattr(box, axis), getattr(face, axis)
        if span is not None and not max(low, span[0]) < min(high, span[1]) - SAME:
            return False
    return True

"""A joist bay as boxes, tubes and surfaces.

x runs from joist centre to joist centre, y along the joists (0 at the inner face of the rim joist, or at a
cut between plates), z up with 0 at the sheathing's underside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.bay.bay_air import place_zones
from sim.bay.bay_frame import Frame, build_frame
from sim.bay.bay_heating import find_focus, place_plates, place_tubes, plate_contacts
from sim.bay.geometry import BayPath, Box, Exposure, Geometry, Range, needed
from sim.physics.surroundings import FixedFilm, SplitFloor, StandardFloor, SurfaceLaw

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.conditions import Below, Room
    from sim.case.materials import Material


def build_bay_geometry(case: Case) -> Geometry:
    """Place every part of the bay."""
    frame = build_frame(case)
    plates = place_plates(case, frame)
    tubes = place_tubes(case, frame)
    boxes = (*_floor(case, frame), *_cavity(case, frame), *_joists(case, frame), *_ends(case, frame), *plates)
    return Geometry(
        name=case.name,
        low=(0.0, frame.outer[0], frame.bottom),
        high=(frame.width, frame.outer[1], max(box.high[2] for box in boxes)),
        boxes=boxes,
        tubes=tubes,
        contacts=plate_contacts(case, plates),
        exposures=(*_room(case, frame), *_below(case, frame), *_edges(case, frame)),
        zones=place_zones(case, frame, plates),
        focus=find_focus(plates, tubes, case.floor.rugs),
    )


def _floor(case: Case, frame: Frame) -> list[Box]:
    """Sheathing, coverings from the sheathing up, and rugs."""
    sheathing = case.floor.sheathing.solid
    boxes = [_slab(frame, "sheathing", sheathing, frame.outer, (0.0, frame.sheathing_top))]
    base = frame.sheathing_top
    for layer in reversed(case.floor.coverings):
        boxes.append(_slab(frame, "covering", layer.solid, frame.along, (base, base + layer.thickness)))
        base += layer.thickness
    for rug in case.floor.rugs:
        x, y = rug.x, (max(rug.y[0], frame.along[0]), min(rug.y[1], frame.along[1]))
        if y[0] < y[1]:
            boxes.append(Box("rug", "rug", (x[0], y[0], base), (x[1], y[1], base + rug.thickness), rug.solid))
    return boxes


def _slab(frame: Frame, kind: str, material: Material, y: Range, z: Range) -> Box:
    return Box(material.name, kind, (0.0, y[0], z[0]), (frame.width, y[1], z[1]), material)


def _cavity(case: Case, frame: Frame) -> list[Box]:
    """Air between the joists, the insulation in it and the ceiling under it."""
    low = -frame.depth
    if case.ceiling is None and frame.insulation is not None:
        low = frame.insulation[0]
    boxes = [Box("cavity air", "air", (0.0, frame.along[0], low), (frame.width, frame.along[1], 0.0))]
    batt = case.cavity.insulation
    if batt is not None and frame.insulation is not None:
        z, solid = frame.insulation, batt.solid
        faces = (0.9, 0.9, 0.9, 0.9, 0.9, batt.facing_emissivity)
        boxes.append(
            Box(
                solid.name,
                "insulation",
                (0.0, frame.along[0], z[0]),
                (frame.width, frame.along[1], z[1]),
                solid,
                faces,
            )
        )
    if case.ceiling:
        boxes.append(_slab(frame, "ceiling", case.ceiling.solid, frame.outer, (frame.bottom, -frame.depth)))
    return boxes


def _joists(case: Case, frame: Frame) -> list[Box]:
    bay = case.bay
    if bay.joist_kind == "sawn":
        return _pair(case, frame, bay.joist_width, (-frame.depth, 0.0), "joist")
    top, bottom = (-bay.flange_height, 0.0), (-frame.depth, -frame.depth + bay.flange_height)
    web = _pair(case, frame, bay.web_thickness, (bottom[1], top[0]), "joist")
    return [
        *web,
        *_pair(case, frame, bay.flange_width, top, "joist"),
        *_pair(case, frame, bay.flange_width, bottom, "joist"),
    ]


def _pair(case: Case, frame: Frame, width: float, z: Range, kind: str) -> list[Box]:
    """The two halves of a member that stands on both edges of the bay."""
    wood, half = case.bay.solid, width / 2
    spans = ((0.0, half), (frame.width - half, frame.width))
    y = frame.along
    return [Box(wood.name, kind, (x[0], y[0], z[0]), (x[1], y[1], z[1]), wood) for x in spans]


def _ends(case: Case, frame: Frame) -> list[Box]:
    """Rim joists with their insulation, or solid blocking, where the span has ends."""
    if case.span != "bay":
        return []
    boxes = _rim(case, frame, (frame.outer[0], 0.0), inward=+1)
    end = frame.along[1]
    if case.bay.far_end == "rim":
        boxes += _rim(case, frame, (end, frame.outer[1]), inward=-1)
    if case.bay.far_end == "blocked":
        boxes.append(_end_box(frame, "rim", case.bay.solid, (end - case.bay.joist_width, end)))
    return boxes


def _rim(case: Case, frame: Frame, y: Range, inward: int) -> list[Box]:
    boxes = [_end_box(frame, "rim", case.rim.solid, y)]
    if case.rim.insulation:
        face, thick = (y[1] if inward > 0 else y[0]), inward * case.rim.insulation.thickness
        span = (min(face, face + thick), max(face, face + thick))
        boxes.append(_end_box(frame, "rim insulation", case.rim.insulation.solid, span, clear=True))
    return boxes


def _end_box(frame: Frame, kind: str, material: Material, y: Range, clear: bool = False) -> Box:
    x = frame.clear if clear else (0.0, frame.width)
    return Box(material.name, kind, (x[0], y[0], -frame.depth), (x[1], y[1], 0.0), material)


def _room(case: Case, frame: Frame) -> list[Exposure]:
    """The floor surface, and the top of every rug on it."""
    law = floor_law(case.room)
    whole = ((0.0, frame.width), frame.along)
    tops = [(frame.floor_top, whole)]
    tops += [(frame.floor_top + rug.thickness, (rug.x, rug.y)) for rug in case.floor.rugs]
    return [Exposure(BayPath.UP, 5, at, ranges, law) for at, ranges in tops]


def floor_law(room: Room) -> SurfaceLaw:
    """The law of a floor under a room.

    Raises
    ------
    ValueError : no such law is known.
    """
    if room.law == "standard":
        return StandardFloor(room.temperature)
    if room.law == "fixed":
        return FixedFilm(room.temperature, needed(room.coefficient))
    if room.law == "split":
        radiant = room.temperature if room.radiant_temperature is None else room.radiant_temperature
        return SplitFloor(room.temperature, radiant, needed(room.convective), room.emissivity)
    raise ValueError(f'room.law: no floor law "{room.law}"')


def _below(case: Case, frame: Frame) -> list[Exposure]:
    """The underside of ceiling, insulation and joists, and joist sides that stand free below insulation."""
    law = law_below(case.below)
    if law is None:
        return []
    whole = ((0.0, frame.width), frame.outer)
    if case.ceiling or frame.insulation is None:
        return [Exposure(BayPath.DOWN, 4, frame.bottom, whole, law)]
    heights = {frame.bottom, frame.insulation[0]}
    faces = [Exposure(BayPath.DOWN, 4, z, whole, law) for z in sorted(heights)]
    free = (frame.along, (-frame.depth, frame.insulation[0]))
    for x, side in ((frame.clear[0], 1), (frame.clear[1], 0)):
        faces.append(Exposure(BayPath.DOWN, side, x, free, law))
    return faces


def law_below(below: Below) -> SurfaceLaw | None:
    """The law of a bay's underside; None where nothing passes.

    Raises
    ------
    ValueError : no law is known for what lies below.
    """
    if below.kind == "adiabatic":
        return None
    if below.kind in ("heated room", "unheated space", "outdoors"):
        return FixedFilm(below.temperature, below.film)
    raise ValueError(f'below.kind: no law for "{below.kind}"')


def _edges(case: Case, frame: Frame) -> list[Exposure]:
    """The outer face of each rim joist."""
    if case.span != "bay":
        return []
    law = FixedFilm(needed(case.rim.outdoor_temperature), case.rim.film)
    ranges = ((0.0, frame.width), (-frame.depth, 0.0))
    ends = [(2, frame.outer[0])]
    if case.bay.far_end == "rim":
        ends.append((3, frame.outer[1]))
    return [Exposure(BayPath.EDGE, side, at, ranges, law) for side, at in ends]

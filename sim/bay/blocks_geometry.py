"""A free arrangement of blocks as boxes, tubes and surfaces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from sim.bay.air_walls import lay_sheet, lay_skin
from sim.bay.geometry import SIDES, Box, Contact, Exposure, Feed, Focus, Geometry, Joint, Range, Tube, needed
from sim.bay.grid import SNAP
from sim.bay.thin_boxes import mark_sheets
from sim.bay.tube_air import check_tube_air
from sim.case.blocks_sheets import sheet_rectangle
from sim.case.blocks_walls import wall_of_air
from sim.physics.surroundings import FixedFilm, FixedFlux, FixedTemperature, RadiantOnly, StandardFloor, SurfaceLaw

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase
    from sim.case.blocks_parts import Block, BlockContact, Face
    from sim.case.blocks_tube import BlockTube

AXES = ("x", "y", "z")


def build_blocks_geometry(case: BlocksCase) -> Geometry:
    """Boxes in paint order with their faces, tubes, contacts and probes.

    Raises
    ------
    CaseError : air in a tube would be compressed.
    """
    check_tube_air(case)
    extent = case.extent
    stirred = case.air.is_resolved and any(block.air for block in case.boxes)
    boxes = tuple(_box(block, number) for number, block in enumerate(case.boxes))
    boxes = mark_sheets(boxes) if stirred else boxes
    placed = [_placed(case, number) for number in range(len(case.faces))]
    skins = tuple(skin for _, skin in placed if skin is not None)
    rectangles = [needed(sheet_rectangle(case, sheet)) for sheet in case.sheets]
    hung = (lay_sheet(sheet, n, place) for n, (sheet, place) in enumerate(zip(case.sheets, rectangles, strict=True)))
    return Geometry(
        name=case.name,
        low=tuple(min([low, *(skin.low[n] for skin in skins)]) for n, (low, _) in enumerate(extent)),  # type: ignore[arg-type]
        high=tuple(max([high, *(skin.high[n] for skin in skins)]) for n, (_, high) in enumerate(extent)),  # type: ignore[arg-type]
        boxes=(*boxes, *skins, *hung),
        tubes=tuple(_tube(tube, number, boxes) for number, tube in enumerate(case.tubes)),
        contacts=tuple(_contact(contact, extent) for contact in case.contacts),
        exposures=tuple(exposure for exposure, _ in placed),
        probes=tuple((probe.name, probe.point) for probe in case.probes),
        focus=_focus(boxes),
        layered=(0, 1, 2),
        stirred=stirred,
    )


def _box(block: Block, number: int) -> Box:
    name = block.name or block.material or f"box {number + 1}"
    low, high = zip(block.x, block.y, block.z, strict=True)
    if block.air:
        return Box(name, "air", low, high)
    solid = block.solid
    return Box(name, "block", low, high, solid, (solid.emissivity,) * 6, temperature=block.temperature)


def _tube(tube: BlockTube, number: int, boxes: Sequence[Box]) -> Tube:
    feed = None
    if tube.supply is not None:
        length = tube.along[1] - tube.along[0]
        feed = Feed(
            tube.supply, tube.flow, None, length, tube.glycol, fluid=tube.fluid, pressure=tube.pressure
        )
    return Tube(
        name=tube.name or f"tube {number + 1}",
        axis=AXES.index(tube.axis),
        centre=tube.centre,
        along=tube.along,
        outer_diameter=tube.outer_diameter,
        inner_diameter=tube.inner_diameter,
        conductivity=tube.conductivity,
        feed=feed,
        temperature=tube.temperature,
        joints=(Joint("block", per_metre=tube.resistance),),
        flats=_in_air(tube, boxes) and any(_rests_on(tube, box) for box in boxes if box.material is not None),
    )


def _in_air(tube: BlockTube, boxes: Sequence[Box]) -> bool:
    """Whether what was painted last round a tube's axis is air; an embedded one has its whole outline in a solid."""
    point = list(tube.centre)
    point.insert(AXES.index(tube.axis), 0.5 * sum(tube.along))
    around = [box for box in boxes if all(a <= p <= b for a, p, b in zip(box.low, point, box.high, strict=True))]
    return not around or around[-1].material is None


def _rests_on(tube: BlockTube, box: Box) -> bool:
    """Whether a round tube outside a solid box touches one of its sides along a line."""
    radius, axis = tube.outer_diameter / 2, AXES.index(tube.axis)
    across = [other for other in range(3) if other != axis]
    if box.low[axis] >= tube.along[1] - SNAP or box.high[axis] <= tube.along[0] + SNAP:
        return False
    for this, centre, other, beside in zip(across, tube.centre, across[::-1], tube.centre[::-1], strict=True):
        low, high = box.span(this)
        touches = abs(low - centre - radius) < SNAP or abs(centre - radius - high) < SNAP
        if touches and box.low[other] < beside < box.high[other]:
            return True
    return False


def _ranges(part: Face | BlockContact, axis: str, extent: tuple[Range, ...]) -> tuple[Range, Range]:
    """The rectangle of a face or contact, the whole extent where it is left out."""
    spans = [getattr(part, other) or extent[AXES.index(other)] for other in AXES if other != axis]
    return spans[0], spans[1]


def _contact(contact: BlockContact, extent: tuple[Range, ...]) -> Contact:
    ranges = _ranges(contact, contact.axis, extent)
    return Contact(AXES.index(contact.axis), contact.at, ranges, contact.resistance)


def _placed(case: BlocksCase, number: int) -> tuple[Exposure, Box | None]:
    """A face on what ends there; on cavity air on the outside of a skin that is laid there for it."""
    face = case.faces[number]
    path, side, law = face.group or face.name or f"face {number + 1}", SIDES.index(face.on), face_law(face)
    if (rectangle := wall_of_air(case, face)) is None:
        return Exposure(path, side, face.at, _ranges(face, face.axis, case.extent), law), None
    skin = lay_skin(face, number, rectangle)
    return Exposure(path, side, skin.span(side // 2)[side % 2], rectangle, law), skin


def face_law(face: Face) -> SurfaceLaw:
    """The law of a face; a stated flux is positive into the solid, a law's flux positive outward.

    Raises
    ------
    ValueError : no such law is known.
    """
    laws: dict[str, Callable[[], SurfaceLaw]] = {
        "temperature": lambda: FixedTemperature(needed(face.temperature)),
        "flux": lambda: FixedFlux(-needed(face.flux)),
        "adiabatic": lambda: FixedFlux(0.0),
        "film": lambda: FixedFilm(needed(face.ambient), needed(face.film)),
        "floor": lambda: StandardFloor(needed(face.ambient)),
        "radiation": lambda: RadiantOnly(needed(face.ambient), needed(face.emissivity)),
    }
    if face.condition not in laws:
        raise ValueError(f'no law "{face.condition}" for a face; known are {", ".join(laws)}')
    return laws[face.condition]()


def _focus(boxes: tuple[Box, ...]) -> tuple[Focus, Focus, Focus]:
    """Every box face: heat flow bends at the edges of boxes."""
    planes = (tuple((edge, 1.0) for edge in sorted({e for box in boxes for e in box.span(axis)})) for axis in range(3))
    return tuple(planes)  # type: ignore[return-value]

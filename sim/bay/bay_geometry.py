"""A joist bay as boxes, tubes and surfaces.

x runs from joist centre to joist centre, y along the joists (0 at the inner face of the rim joist, or at a
cut between plates), z up with 0 at the sheathing's underside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.bay.geometry import AirZone, Box, Contact, Exposure, Feed, Geometry, Joint, Range, Tube

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.parts import Rug

NO_PLATE_PITCH = 0.3
"""Length of the cut when there is no plate pitch to cut at [m]; nothing varies along it but the water."""

AIR_SEGMENT = 0.45
"""Longest stretch of bay whose air is taken as one zone where plates do not divide it [m]."""

STILL_AIR_CONDUCTIVITY = 0.026
"""Air at about 30 °C [W/m K], for the clearance of a bored hole (dry air table, CoolProp)."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The few measures that every part of the bay is placed by [m]."""

    width: float
    clear: Range
    along: Range
    outer: Range
    depth: float
    sheathing_top: float
    floor_top: float
    bottom: float
    insulation: Range | None


def build_bay_geometry(case: Case) -> Geometry:
    """Place every part of the bay."""
    frame = _frame(case)
    plates = _plates(case, frame)
    tubes = _tubes(case, frame)
    boxes = (*_floor(case, frame), *_cavity(case, frame), *_joists(case, frame), *_ends(case, frame), *plates)
    return Geometry(
        name=case.name,
        low=(0.0, frame.outer[0], frame.bottom),
        high=(frame.width, frame.outer[1], max(box.high[2] for box in boxes)),
        boxes=boxes,
        tubes=tubes,
        contacts=_contacts(case, plates),
        exposures=(*_room(case, frame), *_below(case, frame), *_edges(case, frame)),
        zones=_zones(case, frame, plates),
        focus=_focus(plates, tubes, case.floor.rugs),
    )


def _frame(case: Case) -> Frame:
    bay, floor = case.bay, case.floor
    half = 0.5 * (bay.joist_width if bay.joist_kind == "sawn" else bay.web_thickness)
    along = (0.0, bay.length if case.span == "bay" else _pitch(case))
    starts, ends = (case.span == "bay"), (case.span == "bay" and bay.far_end == "rim")
    outer = (-case.rim.thickness if starts else 0.0, along[1] + (case.rim.thickness if ends else 0.0))
    top = floor.sheathing.thickness
    ceiling = case.ceiling.thickness if case.ceiling else 0.0
    return Frame(
        width=bay.joist_spacing,
        clear=(half, bay.joist_spacing - half),
        along=along,
        outer=outer,
        depth=bay.joist_depth,
        sheathing_top=top,
        floor_top=top + sum(layer.thickness for layer in floor.coverings),
        bottom=-bay.joist_depth - ceiling,
        insulation=_insulation_range(case),
    )


def _pitch(case: Case) -> float:
    """Length of the repeating cut along the joists [m]."""
    if case.tube.direction == "across":
        return float(case.tube.across_spacing)
    return float(case.plates.spacing) if case.plates else NO_PLATE_PITCH


def _insulation_range(case: Case) -> Range | None:
    batt = case.cavity.insulation
    if batt is None:
        return None
    if case.cavity.air_gap is None:
        return -case.bay.joist_depth, -case.bay.joist_depth + batt.thickness
    return -case.cavity.air_gap - batt.thickness, -case.cavity.air_gap


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


def _slab(frame: Frame, kind: str, material, y: Range, z: Range) -> Box:
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
        boxes.append(
            _slab(frame, "ceiling", case.ceiling.solid, frame.outer, (frame.bottom, -frame.depth))
        )
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


def _end_box(frame: Frame, kind: str, material, y: Range, clear: bool = False) -> Box:
    x = frame.clear if clear else (0.0, frame.width)
    return Box(material.name, kind, (x[0], y[0], -frame.depth), (x[1], y[1], 0.0), material)


def usable_length(case: Case, frame: Frame) -> Range:
    """Stretch of the bay along y that tube and plates can occupy [m]."""
    start, end = frame.along
    if case.span != "bay":
        return start, end
    thickness = case.rim.insulation.thickness if case.rim.insulation else 0.0
    far = {"rim": thickness, "blocked": case.bay.joist_width, "open": 0.0}[case.bay.far_end]
    return start + thickness, end - far


def run_positions(case: Case) -> tuple[float, ...]:
    """x of every run along the joists [m], measured from the left joist's centre."""
    tube, bay = case.tube, case.bay
    if tube.positions:
        return tuple(tube.positions)
    start = bay.timber_width / 2
    return tuple(start + bay.clear_width * (run + 0.5) / tube.runs for run in range(tube.runs))


def crossing_positions(case: Case, frame: Frame) -> tuple[float, ...]:
    """y of every crossing tube [m], centred in the usable length."""
    return _centred(usable_length(case, frame), case.tube.across_spacing)


def _centred(span: Range, pitch: float) -> tuple[float, ...]:
    """Centres of as many pitches as fit into a span, in its middle (at least one)."""
    count = max(1, int((span[1] - span[0]) / pitch + 1e-9))
    start = 0.5 * (span[0] + span[1]) - 0.5 * (count - 1) * pitch
    return tuple(start + i * pitch for i in range(count))


def _plates(case: Case, frame: Frame) -> list[Box]:
    if case.plates is None:
        return []
    if case.tube.direction == "across":
        edge = case.bay.timber_width / 2
        lines, axis = crossing_positions(case, frame), 0
        centres = _centred((edge, frame.width - edge), case.plates.spacing)
    else:
        lines, axis = run_positions(case), 1
        centres = _centred(usable_length(case, frame), case.plates.spacing)
    return [
        _plate(case, axis, line, centre, f"plate {run + 1}.{number + 1}")
        for run, line in enumerate(lines)
        for number, centre in enumerate(centres)
    ]


def _plate(case: Case, axis: int, line: float, centre: float, name: str) -> Box:
    """One plate on the tube line at `line`, its middle at `centre` along the tube."""
    plates = case.plates
    top = -plates.drop if plates.position == "hung" else 0.0
    across, height = (line - plates.width / 2, line + plates.width / 2), (top - plates.thickness, top)
    up, down = plates.emissivity_up, plates.emissivity_down
    faces, sheet = (down, down, down, down, down, up), 2
    if plates.orientation == "upright":
        across = (line - plates.thickness / 2, line + plates.thickness / 2)
        height, sheet = (top - plates.width, top), 1 - axis
        faces = (down, up, down, up, down, up)
    along = (centre - plates.length / 2, centre + plates.length / 2)
    x, y = (along, across) if axis == 0 else (across, along)
    return Box(
        name,
        "plate",
        (x[0], y[0], height[0]),
        (x[1], y[1], height[1]),
        plates.solid,
        faces,
        sheet,
    )


def tube_centre_height(case: Case) -> float:
    """z of the tube's axis [m]."""
    radius, plates = case.tube.outer_diameter / 2, case.plates
    if plates is None:
        return -case.tube.depth - radius
    top = -plates.drop if plates.position == "hung" else 0.0
    height = plates.thickness if plates.orientation == "flat" else plates.width
    placed = {"below": top - height - radius, "in": top - height / 2, "above": top + radius}
    return placed[case.tube.placement]


def _tubes(case: Case, frame: Frame) -> tuple[Tube, ...]:
    across = case.tube.direction == "across"
    lines = crossing_positions(case, frame) if across else run_positions(case)
    span = (0.0, frame.width) if across else usable_length(case, frame)
    return tuple(_tube(case, number, line, span, across) for number, line in enumerate(lines))


def _tube(case: Case, number: int, line: float, span: Range, across: bool) -> Tube:
    tube, water = case.tube, case.water
    return Tube(
        name=f"tube run {number + 1}",
        axis=0 if across else 1,
        centre=(line, tube_centre_height(case)),
        along=span,
        outer_diameter=tube.outer_diameter,
        inner_diameter=tube.inner_diameter,
        conductivity=tube.solid.conductivity[2],
        feed=Feed(water.supply, water.flow, water.drop, water.circuit_length, water.glycol),
        joints=_joints(case),
        emissivity=tube.emissivity,
        order=None if across else number,
        reverse=not across and number % 2 == 1,
    )


def _joints(case: Case) -> tuple[Joint, ...]:
    """Bond to plates, line contact with the sheathing, and the clearance in bored holes."""
    tube = case.tube
    clearance = max(0.0, tube.hole_diameter - tube.outer_diameter) / 2 / STILL_AIR_CONDUCTIVITY
    bond = case.plates.bond if case.plates else 0.0
    return (
        Joint("plate", per_metre=bond),
        Joint("sheathing", contact=tube.contact),
        Joint("joist", per_metre=clearance / (math.pi * tube.outer_diameter)),
    )


def _contacts(case: Case, plates: list[Box]) -> tuple[Contact, ...]:
    if case.plates is None or case.plates.position != "fastened":
        return ()
    return tuple(Contact(2, 0.0, (plate.span(0), plate.span(1)), case.plates.contact) for plate in plates)


def _room(case: Case, frame: Frame) -> list[Exposure]:
    """The floor surface, and the top of every rug on it."""
    room = case.room
    values = {"ambient": room.temperature}
    if room.law == "fixed":
        values["coefficient"] = room.coefficient
    if room.law == "split":
        radiant = room.temperature if room.radiant_temperature is None else room.radiant_temperature
        values |= {"coefficient": room.convective, "emissivity": room.emissivity, "radiant": radiant}
    law = {"standard": "floor", "fixed": "film", "split": "split"}[room.law]
    whole = ((0.0, frame.width), frame.along)
    tops = [(frame.floor_top, whole)]
    tops += [(frame.floor_top + rug.thickness, (rug.x, rug.y)) for rug in case.floor.rugs]
    return [Exposure("up", 5, at, ranges, law, dict(values)) for at, ranges in tops]


def _below(case: Case, frame: Frame) -> list[Exposure]:
    """The underside of ceiling, insulation and joists, and joist sides that stand free below insulation."""
    below = case.below
    if below.kind == "adiabatic":
        return []
    values = {"ambient": below.temperature, "coefficient": below.film}
    whole = ((0.0, frame.width), frame.outer)
    if case.ceiling or frame.insulation is None:
        return [Exposure("down", 4, frame.bottom, whole, "film", values)]
    heights = {frame.bottom, frame.insulation[0]}
    faces = [Exposure("down", 4, z, whole, "film", values) for z in sorted(heights)]
    free = (frame.along, (-frame.depth, frame.insulation[0]))
    for x, side in ((frame.clear[0], 1), (frame.clear[1], 0)):
        faces.append(Exposure("down", side, x, free, "film", values))
    return faces


def _edges(case: Case, frame: Frame) -> list[Exposure]:
    """The outer face of each rim joist."""
    if case.span != "bay":
        return []
    values = {"ambient": case.rim.outdoor_temperature, "coefficient": case.rim.film}
    ranges = ((0.0, frame.width), (-frame.depth, 0.0))
    ends = [(2, frame.outer[0])]
    if case.bay.far_end == "rim":
        ends.append((3, frame.outer[1]))
    return [Exposure("edge", side, at, ranges, "film", values) for side, at in ends]


def _zones(case: Case, frame: Frame, plates: list[Box]) -> tuple[AirZone, ...]:
    """Air zones: stretches of the bay, above and below hung plates, the layer over each plate, and below the batt."""
    low, high = (0.0, -frame.depth), (frame.width, 0.0)
    hung = [plate for plate in plates if plate.sheet == 2 and plate.high[2] < -1e-9]
    level = 0.5 * (hung[0].low[2] + hung[0].high[2]) if hung else None
    zones: list[AirZone] = []
    for number, (y0, y1) in enumerate(_segments(frame, plates)):
        levels = [("air", low[1], high[1])]
        if level is not None:
            levels = [("upper air", level, high[1]), ("lower air", low[1], level)]
        for name, z0, z1 in levels:
            zones.append(AirZone(f"{name} {number + 1}", (low[0], y0, z0), (high[0], y1, z1)))
    for plate in hung:
        zones.append(
            AirZone(f"gap over {plate.name}", (*plate.low[:2], plate.high[2]), (*plate.high[:2], 0.0))
        )
    if frame.insulation and frame.insulation[0] > -frame.depth + 1e-9 and case.ceiling:
        zones.append(
            AirZone(
                "air under insulation",
                (0.0, frame.along[0], -frame.depth),
                (frame.width, frame.along[1], frame.insulation[0]),
            )
        )
    return tuple(zones)


def _segments(frame: Frame, plates: list[Box]) -> list[Range]:
    """Stretches along y that begin and end at plate ends, none longer than AIR_SEGMENT."""
    cuts = {frame.along[0], frame.along[1]}
    for plate in plates:
        cuts |= {y for y in plate.span(1) if frame.along[0] < y < frame.along[1]}
    edges = sorted(cuts)
    edges = [edges[0]] + [b for a, b in zip(edges, edges[1:], strict=False) if b - a > 1e-6]
    pieces: list[Range] = []
    for a, b in zip(edges, edges[1:], strict=False):
        count = max(1, int(np.ceil((b - a) / AIR_SEGMENT - 1e-9)))
        inner = np.linspace(a, b, count + 1)
        pieces += [(float(p), float(q)) for p, q in zip(inner[:-1], inner[1:], strict=True)]
    return pieces


def _focus(
    plates: list[Box], tubes: tuple[Tube, ...], rugs: tuple[Rug, ...]
) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    """Planes near which temperature bends sharply and cells must be small: plate edges and ends,
    rug edges, and the sheathing's underside where a bare tube may touch it."""
    x = {edge for plate in plates for edge in plate.span(0)} | {e for tube in tubes for e in tube.bounds(0)}
    y = {edge for plate in plates for edge in plate.span(1)}
    for rug in rugs:
        x, y = x | set(rug.x), y | set(rug.y)
    return tuple(sorted(x)), tuple(sorted(y)), (() if plates else (0.0,))

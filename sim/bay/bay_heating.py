"""Plates and tube of a joist bay: where they lie and what they touch."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from sim.bay.bay_frame import Frame, centred, crossing_positions, usable_length
from sim.bay.geometry import Box, Contact, Feed, Focus, Joint, Range, Tube
from sim.bay.grid import SNAP
from sim.case.bay_settle import tube_top
from sim.case.constants import STILL_AIR

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.bay_parts import Rug
    from sim.case.heating import Plates

RUG_EDGE = 0.2
"""Mesh size beside a rug's edge as a share of the focus size."""

LINE_CONTACT = 0.25
"""The same beside the strip in which a tube wrapped in insulation touches the sheathing: heat crowds at its edges."""

WRAPPED = 2
"""Cells across such a tube as a multiple of the usual: a third of its heat goes through the wedge beside that strip."""


def place_plates(case: Case, frame: Frame) -> list[Box]:
    """Every plate, run by run."""
    if case.plates is None:
        return []
    if case.tube.direction == "across":
        lines, axis = crossing_positions(case, frame), 0
        centres: tuple[float, ...] = (frame.width / 2,)
    else:
        lines, axis = case.tube.positions, 1
        centres = centred(usable_length(case, frame), case.plates.spacing)
    return [
        _plate(case.plates, axis, line, centre, f"plate {run + 1}.{number + 1}")
        for run, line in enumerate(lines)
        for number, centre in enumerate(centres)
    ]


def _plate(plates: Plates, axis: int, line: float, centre: float, name: str) -> Box:
    """One plate on the tube line at `line`, its middle at `centre` along the tube."""
    top = -plates.drop if plates.hung else 0.0
    across, height = (line - plates.width / 2, line + plates.width / 2), (top - plates.thickness, top)
    up, down = plates.emissivity_up, plates.emissivity_down
    faces, sheet = (down, down, down, down, down, up), 2
    if plates.upright:
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
    depth = case.tube.depth if case.plates is None else tube_top(case.plates, case.tube)
    return float(-depth - case.tube.outer_diameter / 2)


def place_tubes(case: Case, frame: Frame) -> tuple[Tube, ...]:
    """Every run: along the joists in series, or across them each on its own."""
    across = case.tube.direction == "across"
    lines = crossing_positions(case, frame) if across else case.tube.positions
    span = (0.0, frame.width) if across else usable_length(case, frame)
    wrapped = _is_wrapped(case, frame)
    return tuple(_tube(case, number, line, span, across, wrapped) for number, line in enumerate(lines))


def _tube(case: Case, number: int, line: float, span: Range, across: bool, wrapped: bool) -> Tube:
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
        flats=True,
        emissivity=tube.emissivity,
        order=None if across else number,
        reverse=not across and number % 2 == 1,
        wall_capacity=tube.solid.density * tube.solid.specific_heat,
        detail=WRAPPED if wrapped else 1,
    )


def _is_wrapped(case: Case, frame: Frame) -> bool:
    """Whether insulation is pressed round a bare tube at the sheathing."""
    if case.plates is not None or frame.insulation is None:
        return False
    diameter = case.tube.outer_diameter
    return tube_centre_height(case) > -0.5 * diameter - SNAP and frame.insulation[1] > SNAP - diameter


def _joints(case: Case) -> tuple[Joint, ...]:
    """Bond to plates, line contact with the sheathing, and the clearance in bored holes."""
    tube = case.tube
    clearance = max(0.0, tube.hole_diameter - tube.outer_diameter) / 2 / STILL_AIR
    bond = case.plates.bond if case.plates else 0.0
    return (
        Joint("plate", per_metre=bond),
        Joint("sheathing", contact=tube.contact),
        Joint("joist", per_metre=clearance / (math.pi * tube.outer_diameter)),
    )


def plate_contacts(case: Case, plates: list[Box]) -> tuple[Contact, ...]:
    """Contact of fastened plates with the sheathing."""
    if case.plates is None or case.plates.hung:
        return ()
    return tuple(Contact(2, 0.0, (plate.span(0), plate.span(1)), case.plates.contact) for plate in plates)


def find_focus(plates: list[Box], tubes: tuple[Tube, ...], rugs: tuple[Rug, ...]) -> tuple[Focus, Focus, Focus]:
    """Planes beside which temperature bends sharply: plate edges and ends, tubes, the underside where a bare tube
    may touch it, and rug edges, where the floor is hottest within millimetres."""
    x = {edge: 1.0 for plate in plates for edge in plate.span(0)}
    x |= {edge: 1.0 for tube in tubes for edge in tube.bounds(0)}
    wrapped = [tube for tube in tubes if tube.detail > 1]
    x |= {edge: LINE_CONTACT for tube in wrapped for edge in tube.flat_edges(0)}
    y = {edge: 1.0 for plate in plates for edge in plate.span(1)}
    for rug in rugs:
        x, y = x | dict.fromkeys(rug.x, RUG_EDGE), y | dict.fromkeys(rug.y, RUG_EDGE)
    underside = LINE_CONTACT if wrapped else 1.0
    return tuple(x.items()), tuple(y.items()), (() if plates else ((0.0, underside),))

"""The kinds of bays of a layout as they are built: what a section and a plan of the plates are drawn from.

Rooms whose bays are built alike share one. Parts come from the same description that the model is solved from, so a
drawing shows what was simulated.
"""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_uppercase
from typing import TYPE_CHECKING

from sim.bay.bay_geometry import build_bay_geometry

if TYPE_CHECKING:
    from sim.bay.geometry import Box, Tube
    from sim.case.bay_case import Case
    from sim.house.layout import SourceLayout

Values = dict[str, object]

DRAWN = ("sheathing", "covering", "joist", "insulation", "ceiling", "plate")


def bay_types(layout: SourceLayout) -> list[Values]:
    """The kinds of bays of a layout, lettered in the order of its rooms.

    Returns
    -------
    list of dict
        name, rooms, parts (name, kind, x_mm, z_mm from the sheathing's underside), tubes (x_mm, z_mm, diameter_mm, or
        across), and the measures of joists, plates, tube, insulation and holes [mm].
    """
    found: list[tuple[Values, list[str]]] = []
    for room in layout.rooms:
        built = _built(room.case)
        rooms = next((rooms for kind, rooms in found if kind == built), None)
        if rooms is None:
            found.append((built, [room.need.name]))
        else:
            rooms.append(room.need.name)
    return [
        {"name": _letter(place), "rooms": rooms, **built} for place, (built, rooms) in enumerate(found)
    ]


def _letter(place: int) -> str:
    return ascii_uppercase[place % 26] * (1 + place // 26)


def _built(case: Case) -> Values:
    """Everything of a bay that is drawn or measured."""
    geometry = build_bay_geometry(case)
    plates = [box for box in geometry.boxes if box.kind == "plate"]
    cut = sum(plates[0].span(1)) / 2.0 if plates else 0.0
    bay, tube, cavity = case.bay, case.tube, case.cavity
    return {
        "parts": [_part(box) for box in geometry.boxes if box.kind in DRAWN and box.low[1] <= cut <= box.high[1]],
        "tubes": [_tube(run) for run in geometry.tubes],
        "across": tube.direction == "across",
        "joist_spacing_mm": 1e3 * bay.joist_spacing,
        "joist_depth_mm": 1e3 * bay.joist_depth,
        "joist_kind": bay.joist_kind,
        "tube_size": tube.size,
        "runs": tube.runs,
        "across_spacing_mm": 1e3 * tube.across_spacing,
        "hole_mm": 1e3 * tube.hole_diameter,
        "insulation": None if cavity.insulation is None else cavity.insulation.material,
        "air_gap_mm": None if cavity.air_gap is None else 1e3 * cavity.air_gap,
        "plates": _plates(case, plates),
    }


def _part(box: Box) -> Values:
    (x, z) = (box.span(axis) for axis in (0, 2))
    return {"name": box.name, "kind": box.kind, "x_mm": _millimetres(x), "z_mm": _millimetres(z)}


def _tube(run: Tube) -> Values:
    """A run by its centre in the section; across the joists it lies in the plane of the section."""
    z = 1e3 * run.centre[1]
    x = None if run.axis == 0 else 1e3 * run.centre[0]
    return {"x_mm": x, "z_mm": z, "diameter_mm": 1e3 * run.outer_diameter}


def _plates(case: Case, boxes: Sequence[Box]) -> Values | None:
    """The plates' own measures, none without plates."""
    plates = case.plates
    if plates is None:
        return None
    return {
        "width_mm": 1e3 * plates.width,
        "length_mm": 1e3 * plates.length,
        "thickness_mm": 1e3 * plates.thickness,
        "spacing_mm": 1e3 * plates.spacing,
        "material": plates.material,
        "position": plates.position,
        "orientation": plates.orientation,
        "drop_mm": 1e3 * plates.drop,
        "placement": case.tube.placement,
        "rows_mm": sorted({tuple(_millimetres(box.span(0))) for box in boxes}),
    }


def _millimetres(span: tuple[float, float]) -> list[float]:
    return [round(1e3 * end, 3) for end in span]

"""The few measures that every part of a joist bay is placed by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.bay.geometry import Range

if TYPE_CHECKING:
    from sim.case.bay_case import Case

NO_PLATE_PITCH = 0.3
"""Length of the cut when there is no plate pitch to cut at [m]; nothing varies along it but the water."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Extents of the bay [m]: joist spacing, clear width, heights and the stretch that is modelled."""

    width: float
    clear: Range
    along: Range
    outer: Range
    depth: float
    sheathing_top: float
    floor_top: float
    bottom: float
    insulation: Range | None


def build_frame(case: Case) -> Frame:
    """Measure a case out."""
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


def usable_length(case: Case, frame: Frame) -> Range:
    """Stretch of the bay along y that tube and plates can occupy [m]."""
    start, end = frame.along
    if case.span != "bay":
        return start, end
    thickness = case.rim.insulation.thickness if case.rim.insulation else 0.0
    far = {"rim": thickness, "blocked": case.bay.joist_width, "open": 0.0}[case.bay.far_end]
    return start + thickness, end - far


def crossing_positions(case: Case, frame: Frame) -> tuple[float, ...]:
    """y of every crossing tube [m], centred in the usable length."""
    return centred(usable_length(case, frame), case.tube.across_spacing)


def centred(span: Range, pitch: float) -> tuple[float, ...]:
    """Centres [m] of as many pitches [m] as fit into a span [m], in its middle (at least one)."""
    count = max(1, int((span[1] - span[0]) / pitch + 1e-9))
    start = 0.5 * (span[0] + span[1]) - 0.5 * (count - 1) * pitch
    return tuple(start + i * pitch for i in range(count))

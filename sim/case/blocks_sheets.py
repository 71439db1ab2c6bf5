"""Sheets of a temperature in cavity air among solids: where they lie, and what they cannot be there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sim.case.blocks_walls import Behind, Rectangle, cuts_of, topmost
from sim.case.errors import Problem

if TYPE_CHECKING:
    from sim.case.blocks_air import AirSheet
    from sim.case.blocks_keys import BlocksKeys


def sheet_rectangle(case: BlocksKeys, sheet: AirSheet) -> Rectangle | None:
    """From and to, along both axes of its plane, of the air on both sides of a sheet [m]; None if no rectangle."""
    cuts = cuts_of(case.boxes, sheet)
    below, above = (topmost(case.boxes, sheet, cuts, upper)[1] for upper in (False, True))
    return Behind(cuts, ~(below & above), below & above).air_rectangle()


def sheet_problems(case: BlocksKeys) -> Iterator[Problem]:
    """What a sheet cannot be in air among solids."""
    names = {box.name for box in case.boxes if not box.air and box.name} | {face.name for face in case.faces}
    for index, sheet in enumerate(case.sheets):
        where = f"sheet[{index}]"
        if sheet.temperature is None:
            way = "give temperature, or make it a thin box with its conductivity or insulating = true"
            yield Problem(f"{where}.temperature", "", "missing; a sheet in air among solids has one", way)
        if sheet.open_area > 0.0:
            rule = "a sheet with holes needs air alone"
            yield Problem(f"{where}.open_area", f"{sheet.open_area:g}", rule, "leave it out, or leave a gap beside it")
        if sheet_rectangle(case, sheet) is None:
            rule = "must have air on both sides over one rectangle"
            way = "state its x, y or z; where air ends in that plane, a wall of it is a face"
            yield Problem(f"{where}.at", f"{sheet.axis} = {sheet.at:g} m", rule, way)
        if sheet.name in names - {""}:
            yield Problem(f"{where}.name", f'"{sheet.name}"', "is the name of another part", "give each its own name")

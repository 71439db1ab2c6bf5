"""Walls of cavity air where it reaches the outermost plane of a free arrangement, and sheets in it: skins.

A skin is a sheet right outside the air that conducts well through its thickness and hardly along it, so that
the condition of its face acts on the air's side place by place: a held wall has that temperature, an insulated one the
temperature at which convection and radiation balance there. It bears the face's name.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sim.bay.geometry import SHEET, SIDES, WALL, Box, Range
from sim.case.blocks_parts import INSULATING, USUAL_EMISSIVITY
from sim.case.materials import Material

if TYPE_CHECKING:
    from sim.case.blocks_air import AirSheet
    from sim.case.blocks_parts import Face

THICKNESS, OF_SHEETS = 1e-4, 1e-5
"""Of skins of walls, and of sheets, whose rims lie in the air [m]."""

CONDUCTANCE = 5e5
"""Of a skin through its thickness [W/(m² K)]: 2e-5 of the resistance of a film of 10 W/(m² K). A better conductor would
make round-off in kelvin heat that a balance misses."""

LIGHT = 1000.0
"""Density [kg/m³] and specific heat [J/(kg K)] of a skin: in time it takes up 100 J/(m² K), as a sheet of paper does
(80 g/m² of some 1.3 kJ/(kg K)). A floating wall of far less would follow the flow faster than solids and air meet."""


def lay_skin(face: Face, number: int, rectangle: Sequence[Range]) -> Box:
    """The skin of a face right outside its rectangle of air [m]."""
    side = SIDES.index(face.on)
    axis, upper = divmod(side, 2)
    spans = list(rectangle)
    spans.insert(axis, (face.at, face.at + THICKNESS) if upper else (face.at - THICKNESS, face.at))
    low, high = zip(*spans, strict=True)
    return Box(
        name=face.name or f"face {number + 1}",
        kind=WALL,
        low=low,
        high=high,
        material=_matter(axis, THICKNESS, face.wall_emissivity),
        emissivities=(face.wall_emissivity,) * 6,
        sheet=axis,
    )


def lay_sheet(sheet: AirSheet, number: int, rectangle: Sequence[Range]) -> Box:
    """The skin of a sheet of a temperature, in the middle of which its plane lies."""
    axis = "xyz".index(sheet.axis)
    spans = list(rectangle)
    spans.insert(axis, (sheet.at - 0.5 * OF_SHEETS, sheet.at + 0.5 * OF_SHEETS))
    low, high = zip(*spans, strict=True)
    emissivity = USUAL_EMISSIVITY if sheet.emissivity is None else sheet.emissivity
    name, matter = sheet.name or f"sheet {number + 1}", _matter(axis, OF_SHEETS, emissivity)
    return Box(name, SHEET, low, high, matter, (emissivity,) * 6, axis, sheet.temperature)


def _matter(axis: int, thickness: float, emissivity: float) -> Material:
    first, second, third = (CONDUCTANCE * thickness if axis == own else INSULATING for own in range(3))
    return Material("face of the air", (first, second, third), LIGHT, LIGHT, emissivity)

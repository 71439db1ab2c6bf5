"""Named sizes and classes: tubes by nominal size, contact and bond by a word."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from sim.case.fields import refuse
from sim.case.notation import tidy_marks
from sim.case.quantities import inches

AIR_CONDUCTIVITY = 0.027
"""Still air near 40 degC [W/(m K)], rounded from 0.02735 (CoolProp)."""


def _gap(thickness: float) -> float:
    """Resistance [m2 K/W] of a layer of still air of this thickness [m]."""
    return round(thickness / AIR_CONDUCTIVITY, 4)


CONTACT_CLASSES = {"perfect": 0.0, "tight": _gap(1e-4), "fair": _gap(3e-4), "poor": _gap(1e-3)}
"""Contact of sheet or tube with the sheathing [m2 K/W] as an air gap of 0, 0.1, 0.3 or 1 mm: metal
fastened to wood by staples or screws lies between 0.1 and 1 mm (derived, no published measurement)."""

BOND_CLASSES = {"perfect": 0.0, "bonded": 0.02, "snug": 0.05, "loose": 0.15}
"""Bond of tube to plate for one metre of tube [m K/W]: compound in the channel, a channel that grips, a
channel with play. The range 0.02 to 0.15 is common practice, no source."""

_SDR9_INCHES = {
    "3/8": (0.500, 0.070),
    "1/2": (0.625, 0.070),
    "5/8": (0.750, 0.083),
    "3/4": (0.875, 0.097),
    "1": (1.125, 0.125),
}
_METRIC_MM = {
    "12x2": (12.0, 2.0),
    "14x2": (14.0, 2.0),
    "16x2": (16.0, 2.0),
    "17x2": (17.0, 2.0),
    "20x2": (20.0, 2.0),
}

TUBE_SIZES = {name: (inches(outer), inches(wall)) for name, (outer, wall) in _SDR9_INCHES.items()} | {
    name: (outer / 1000, wall / 1000) for name, (outer, wall) in _METRIC_MM.items()
}
"""Outer diameter and wall [m] by name: SDR-9 tube by nominal inches (ASTM F876, from memory), metric tube by
outer diameter x wall in mm (ISO 15875-2 series, from memory)."""


def known_size(text: str) -> str:
    """The name of a tube size as listed, or a report to pydantic with the sizes."""
    plain = tidy_marks(text).lower().strip().removesuffix("pex").rstrip()
    for ending in (".", "inch", "in", "mm"):
        plain = plain.removesuffix(ending)
    plain = plain.strip(' "\'').replace(" ", "")
    if plain not in TUBE_SIZES:
        refuse(
            "no such tube size", f"one of: {', '.join(TUBE_SIZES)}; or give outer_diameter and inner_diameter"
        )
    return plain


TubeSize = Annotated[str, AfterValidator(known_size)]

"""The built parts of a joist bay as sections of a case file: bay, floor, cavity, rim joist.

Plates and tube are in `sim.case.heating`, flat layers in `sim.case.layers`. Attributes are SI after checking.
Keys that the user leaves out and that follow from others (the spacing of plates from their coverage, say) are
filled in by each section, or by `sim.case.bay_settle` where several sections are needed.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.case.fields import NONE, Depth, Film, Length, Outdoors, Quantity, key
from sim.case.heating import HeatingTube, Plates
from sim.case.layers import Ceiling, Insulation, Layer, Rug, Sheathing
from sim.case.materials import Material, MaterialName, find_material
from sim.case.quantities import inches
from sim.case.section import Section

__all__ = [
    "Bay",
    "CavityFill",
    "Ceiling",
    "Floor",
    "Insulation",
    "Layer",
    "Plates",
    "Rim",
    "Rug",
    "Sheathing",
    "HeatingTube",
]


class Bay(Section):
    """The joists and the space between two of them."""

    joist_spacing: Annotated[float, Quantity("length", at_least=0.1, at_most=2.0)] = key(
        inches(16), "distance between the centre lines of neighbouring joists"
    )
    joist_width: Annotated[float, Quantity("length", at_least=0.01, at_most=0.3)] = key(
        inches(1.5), "width of a sawn joist"
    )
    joist_depth: Annotated[float, Quantity("length", at_least=0.05, at_most=1.0)] = key(
        inches(9.25), "height of the joists, from the subfloor down"
    )
    joist_kind: Literal["sawn", "i-joist"] = key("sawn", "solid timber, or a web between two flanges")
    flange_width: Length = key(inches(2.5), "width of the flanges of an I-joist")
    flange_height: Length = key(inches(1.5), "height of each flange of an I-joist")
    web_thickness: Length = key(inches(0.375), "thickness of the web of an I-joist")
    joist_material: MaterialName = key("softwood joist", "material of joists and flanges, from the library")
    length: Annotated[float, Quantity("distance", at_least=0.2, at_most=50.0)] = key(
        4.0, "length of the bay along the joists"
    )
    far_end: Literal["open", "blocked", "rim"] = key(
        "open",
        "the end away from the rim joist: cut in the middle of a longer bay, blocking, or another rim joist",
    )

    @property
    def solid(self) -> Material:
        """Material of the joists."""
        return find_material(self.joist_material)

    @property
    def timber_width(self) -> float:
        """Widest part of a joist [m]: the flange of an I-joist."""
        return self.flange_width if self.joist_kind == "i-joist" else self.joist_width

    @property
    def clear_width(self) -> float:
        """Width between two joists at the sheathing [m]."""
        return self.joist_spacing - self.timber_width


class Floor(Section):
    """What lies on the joists, top down."""

    coverings: tuple[Layer, ...] = key(
        (), "layers on the subfloor, listed from the top: the one that is walked on comes first", alias="covering"
    )
    sheathing: Sheathing = Field(default_factory=Sheathing, description="boards or panels on the joists")
    rugs: tuple[Rug, ...] = key((), "patches lying on the covering", alias="rug")


class CavityFill(Section):
    """What fills the bay below the tube."""

    insulation: Annotated[Insulation | None, NONE] = key(None, 'insulation between the joists, or "none"')
    air_gap: Depth | None = key(
        None,
        "from the subfloor's underside down to the insulation; 0 is tight; left out: insulation rests below",
    )


class Rim(Section):
    """The joist that closes the bay at the outside wall (with span "bay")."""

    thickness: Length = key(inches(1.5), "thickness of the rim joist")
    material: MaterialName = key("softwood joist", "name in the materials library")
    insulation: Annotated[Layer | None, NONE] = key(None, 'insulation on its inside, or "none"')
    outdoor_temperature: Outdoors | None = key(
        None, "outdoor air; must be given when a rim joist is modelled"
    )
    film: Film = key(25.0, "outside film, 1/0.04 m2K/W by ISO 6946")

    @property
    def solid(self) -> Material:
        """Material of the rim joist."""
        return find_material(self.material)

"""The built parts of a joist bay as sections of a case file: bay, floor, plates, tube, cavity, ceiling, rim joist.

Every attribute is in SI after checking. Keys that the user leaves out and that follow from others (the spacing of
plates from their coverage, a layer's conductivity from its material) are filled in here or in `sim.case.bay_case`.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from sim.case.errors import Problem
from sim.case.fields import (
    Conductivity,
    Depth,
    Distance,
    Emissivity,
    Film,
    Length,
    Quantity,
    Section,
    Several,
    Temperature,
    ThermalResistance,
    fill,
    given,
    key,
    refuse_section,
    worked_out,
)
from sim.case.materials import Material, MaterialName, find_material
from sim.case.quantities import format_value, inches
from sim.case.sizes import BOND_CLASSES, CONTACT_CLASSES, TUBE_SIZES, TubeSize


def word_none(value: object) -> object:
    """Read the word "none" as an absent part."""
    return None if isinstance(value, str) and value.strip().lower() == "none" else value


_NONE = BeforeValidator(word_none)
Contact = Annotated[float, Quantity("thermal resistance", at_least=0.0, at_most=1.0, named=CONTACT_CLASSES)]
Bond = Annotated[float, Quantity("tube resistance", at_least=0.0, at_most=5.0, named=BOND_CLASSES)]
Range = Annotated[tuple[float, float], Several(Quantity("distance", at_least=0.0), 2, rising=True)]
Across = Annotated[float, Quantity("length", at_least=0.0, at_most=3.0)]


def _solid(material: str, conductivity: float | tuple[float, float, float]) -> Material:
    return find_material(material).with_conductivity(conductivity)


def _agree(a: float, b: float) -> bool:
    return abs(a - b) <= 1e-6 * max(abs(a), abs(b))


class Bay(Section):
    """The joists and the space between two of them."""

    joist_spacing: Annotated[float, Quantity("length", at_least=0.1, at_most=2.0)] = key(
        inches(16), "distance between the centre lines of neighbouring joists"
    )
    joist_width: Annotated[float, Quantity("length", at_least=0.01, at_most=0.3)] = key(
        inches(1.5), "width of a sawn joist"
    )
    joist_depth: Annotated[float, Quantity("length", at_least=0.05, at_most=1.0)] = key(
        inches(9.25), "height of the joists, from the sheathing down"
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


class Layer(Section):
    """One flat layer of a material; two of thickness, conductivity and thermal resistance settle the third."""

    default_thickness: ClassVar[float | None] = None

    material: MaterialName = key(..., "name in the materials library")
    thickness: Length = worked_out(
        "thermal_resistance x conductivity of the material", "thickness of the layer"
    )
    conductivity: Conductivity = worked_out(
        "that of the material", "one value, or three along x (across the joists), y (along them) and z (up)"
    )
    thermal_resistance: ThermalResistance = worked_out(
        "thickness / conductivity", "R-value of the layer alone, instead of its conductivity"
    )

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if not given(self, "thickness") and not given(self, "thermal_resistance"):
            if self.default_thickness is None:
                refuse_section([Problem("thickness", "", "missing", "give thickness or thermal_resistance")])
            fill(self, thickness=self.default_thickness)
        elif not given(self, "thickness"):
            fill(self, thickness=self.thermal_resistance * self._through())
        self._settle_conductivity()
        return self

    def _through(self) -> float:
        """Conductivity upwards [W/(m K)]: the one written, or that of the material."""
        own = self.conductivity if given(self, "conductivity") else find_material(self.material).conductivity
        return own[2] if isinstance(own, tuple) else own

    def _settle_conductivity(self) -> None:
        if not given(self, "thermal_resistance"):
            library = find_material(self.material).simplest_conductivity
            fill(self, conductivity=self.conductivity if given(self, "conductivity") else library)
            fill(self, thermal_resistance=self.thickness / self._filled_through())
        elif not given(self, "conductivity"):
            fill(self, conductivity=self.thickness / self.thermal_resistance)
        elif not _agree(self.thickness / self._filled_through(), self.thermal_resistance):
            refuse_section(
                [
                    Problem(
                        "thermal_resistance",
                        format_value(self.thermal_resistance, "thermal resistance"),
                        "does not equal thickness / conductivity",
                        "leave one of the three out",
                    )
                ]
            )

    def _filled_through(self) -> float:
        return self.conductivity[2] if isinstance(self.conductivity, tuple) else self.conductivity

    @property
    def solid(self) -> Material:
        """The material with the conductivity of this layer."""
        return _solid(self.material, self.conductivity)


class Sheathing(Layer):
    """The boards or panels on the joists."""

    default_thickness: ClassVar[float | None] = inches(0.75)

    material: MaterialName = key("plywood", "name in the materials library")
    thickness: Length = worked_out(
        "19.05 mm (3/4 in), or from thermal_resistance", "thickness of the sheathing"
    )


class Ceiling(Layer):
    """The board under the joists."""

    default_thickness: ClassVar[float | None] = inches(0.5)

    material: MaterialName = key("gypsum board", "name in the materials library")
    thickness: Length = worked_out(
        "12.7 mm (1/2 in), or from thermal_resistance", "thickness of the ceiling board"
    )


class Rug(Layer):
    """A patch lying on the floor covering."""

    material: MaterialName = key("carpet", "name in the materials library")
    x: Range = worked_out(
        "the whole bay", "from and to, across the joists, from the centre line of the left one"
    )
    y: Range = worked_out(
        "the whole length", 'from and to, along the joists, from the rim joist; needs span "bay"'
    )


class Floor(Section):
    """What lies on the joists, top down."""

    coverings: tuple[Layer, ...] = key((), "layers on the sheathing, the topmost first", alias="covering")
    sheathing: Sheathing = Field(default_factory=Sheathing, description="boards or panels on the joists")
    rugs: tuple[Rug, ...] = key((), "patches lying on the covering", alias="rug")


class Plates(Section):
    """Heat-transfer plates along the tube."""

    width: Annotated[float, Quantity("length", at_least=0.02, at_most=1.2)] = key(
        0.13, "width of a plate across the tube"
    )
    length: Annotated[float, Quantity("distance", at_least=0.02, at_most=10.0)] = key(
        0.4, "length of a plate along the tube"
    )
    thickness: Annotated[float, Quantity("length", at_least=5e-5, at_most=0.01)] = key(
        0.0005, "sheet thickness"
    )
    material: MaterialName = key("aluminium 3003", "name in the materials library")
    conductivity: Conductivity = worked_out("that of the material", "conductivity of the sheet")
    spacing: Annotated[float, Quantity("distance", above=0.0, at_most=50.0)] = worked_out(
        "length / coverage, or length / 0.85; across the joists: the joist spacing",
        "distance between the centres of neighbouring plates along the tube",
    )
    coverage: Annotated[float, Quantity("fraction", above=0.0, at_most=1.0)] = worked_out(
        "length / spacing", "share of the tube's length that carries plates, instead of spacing"
    )
    position: Literal["fastened", "hung"] = key("fastened", "fastened under the sheathing, or hung below it")
    drop: Depth = worked_out(
        "50 mm when hung, 0 when fastened",
        "from the sheathing's underside down to the plate's top (hung plates)",
    )
    orientation: Literal["flat", "upright"] = key("flat", "lying, or standing as a fin (hung plates only)")
    bond: Bond = key(BOND_CLASSES["snug"], "resistance between tube and plate, for one metre of tube")
    contact: Contact = key(
        CONTACT_CLASSES["tight"], "resistance between plate and sheathing (fastened plates)"
    )
    emissivity_up: Emissivity = worked_out("that of the material", "emissivity of the upper face")
    emissivity_down: Emissivity = worked_out("that of the material", "emissivity of the lower face")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        problems: list[Problem] = []
        material = find_material(self.material)
        worked = {
            "conductivity": material.simplest_conductivity,
            "emissivity_up": material.emissivity,
            "emissivity_down": material.emissivity,
            "drop": 0.05 if self.position == "hung" else 0.0,
        }
        fill(self, **{name: value for name, value in worked.items() if not given(self, name)})
        self._settle_spacing(problems)
        if self.position == "fastened":
            self._check_fastened(problems)
        refuse_section(problems)
        return self

    def _settle_spacing(self, problems: list[Problem]) -> None:
        if not given(self, "spacing"):
            fill(self, spacing=self.length / (self.coverage if given(self, "coverage") else 0.85))
        elif given(self, "coverage") and not _agree(self.coverage, self.length / self.spacing):
            problems.append(
                Problem(
                    "coverage",
                    f"{self.coverage:g} and a spacing",
                    f"{self.length / self.spacing:.4g} follows from length and spacing",
                    "give spacing or coverage, not both",
                )
            )
        if self.spacing < self.length * (1 - 1e-9):
            problems.append(
                Problem(
                    "spacing",
                    format_value(self.spacing, "length"),
                    f"must be at least the plate length {format_value(self.length, 'length')}",
                    "plates would overlap: shorten them or space them wider",
                )
            )
        fill(self, coverage=min(self.length / self.spacing, 1.0))

    def _check_fastened(self, problems: list[Problem]) -> None:
        if self.orientation == "upright":
            problems.append(
                Problem("orientation", '"upright"', "only hung plates stand upright", 'set position = "hung"')
            )
        if self.drop > 0.0:
            problems.append(
                Problem(
                    "drop",
                    format_value(self.drop, "length"),
                    "fastened plates have no drop",
                    'leave drop out, or set position = "hung"',
                )
            )

    @property
    def solid(self) -> Material:
        """The sheet with its conductivity."""
        return _solid(self.material, self.conductivity)

    @property
    def height(self) -> float:
        """Vertical size of the sheet [m]."""
        return self.width if self.orientation == "upright" else self.thickness


class Tube(Section):
    """The tube that carries the warm water."""

    size: TubeSize = worked_out(
        '"1/2" unless diameters are given', "nominal SDR-9 size, or outer x wall in mm"
    )
    outer_diameter: Annotated[float, Quantity("length", at_least=0.004, at_most=0.1)] = worked_out(
        "from size", "outer diameter"
    )
    inner_diameter: Annotated[float, Quantity("length", at_least=0.002, at_most=0.1)] = worked_out(
        "from size", "bore"
    )
    material: MaterialName = key("PEX", "name in the materials library")
    conductivity: Conductivity = worked_out("that of the material", "conductivity of the tube wall")
    runs: Annotated[int, Field(ge=1, le=3)] = key(2, "runs in one bay, in series (tube along the joists)")
    positions: tuple[Across, ...] = worked_out(
        "evenly over the clear width", "centre of each run, from the centre line of the left joist"
    )
    direction: Literal["along", "across"] = key(
        "along", "along the joists, or across them through bored holes"
    )
    across_spacing: Annotated[float, Quantity("length", at_least=0.03, at_most=5.0)] = key(
        0.3, "distance between runs across the joists"
    )
    depth: Depth = worked_out(
        "0 (against the sheathing); at the plate when that is hung; across: 2 in above the hole",
        "from the sheathing's underside down to the tube's top, without plates or across the joists",
    )
    placement: Literal["below", "in", "above"] = key("below", "tube under, in the middle of, or on the plate")
    contact: Contact = key(CONTACT_CLASSES["tight"], "resistance between tube and sheathing where they touch")
    hole_diameter: Length = key(inches(1.375), "diameter of the holes through the joists (tube across)")
    emissivity: Emissivity = key(0.9, "emissivity of the tube's outside")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        problems: list[Problem] = []
        self._settle_diameters(problems)
        if not given(self, "conductivity"):
            fill(self, conductivity=find_material(self.material).simplest_conductivity)
        if given(self, "positions") and len(self.positions) != self.runs:
            problems.append(
                Problem(
                    "positions",
                    f"{len(self.positions)} positions for {self.runs} runs",
                    "there must be one for each run",
                    "change runs or positions",
                )
            )
        refuse_section(problems)
        return self

    def _settle_diameters(self, problems: list[Problem]) -> None:
        both = given(self, "outer_diameter"), given(self, "inner_diameter")
        if not any(both) and not given(self, "size"):
            fill(self, size="1/2")
        if not any(both):
            outer, wall = TUBE_SIZES[self.size]
            fill(self, outer_diameter=outer, inner_diameter=outer - 2 * wall)
        elif not all(both):
            missing = "inner_diameter" if both[0] else "outer_diameter"
            problems.append(Problem(missing, "", "missing", "give both diameters, or size alone"))
        else:
            problems.extend(self._odd_diameters())

    def _odd_diameters(self) -> list[Problem]:
        if self.inner_diameter >= self.outer_diameter:
            return [
                Problem(
                    "inner_diameter",
                    format_value(self.inner_diameter, "length"),
                    "must be less than the outer diameter",
                )
            ]
        outer, wall = TUBE_SIZES.get(self.size, (self.outer_diameter, 0.0))
        if given(self, "size") and not (
            _agree(outer, self.outer_diameter) and _agree(outer - 2 * wall, self.inner_diameter)
        ):
            return [
                Problem(
                    "size",
                    f'"{self.size}" and other diameters',
                    "size already gives the diameters",
                    "give size or diameters, not both",
                )
            ]
        return []

    @property
    def solid(self) -> Material:
        """The tube wall with its conductivity."""
        return _solid(self.material, self.conductivity)


class Insulation(Layer):
    """The insulation between the joists, below the tube."""

    material: MaterialName = key("glass wool batt", "name in the materials library")
    facing_emissivity: Emissivity = key(
        0.9, "emissivity of the top face; 0.05 for bright foil facing the air gap"
    )


class Cavity(Section):
    """What fills the bay below the tube."""

    insulation: Annotated[Insulation | None, _NONE] = key(None, 'insulation between the joists, or "none"')
    air_gap: Depth | None = key(
        None,
        "from the sheathing's underside down to the insulation; 0 is tight; left out: insulation rests below",
    )


class Rim(Section):
    """The joist that closes the bay at the outside wall (with span "bay")."""

    thickness: Length = key(inches(1.5), "thickness of the rim joist")
    material: MaterialName = key("softwood joist", "name in the materials library")
    insulation: Annotated[Layer | None, _NONE] = key(None, 'insulation on its inside, or "none"')
    outdoor_temperature: Temperature | None = key(
        None, "outdoor air; must be given when a rim joist is modelled"
    )
    film: Film = key(25.0, "outside film, 1/0.04 m2K/W by ISO 6946")

    @property
    def solid(self) -> Material:
        """Material of the rim joist."""
        return find_material(self.material)


__all__ = [
    "Bay",
    "Cavity",
    "Ceiling",
    "Distance",
    "Floor",
    "Insulation",
    "Layer",
    "Plates",
    "Rim",
    "Rug",
    "Sheathing",
    "Tube",
    "word_none",
]

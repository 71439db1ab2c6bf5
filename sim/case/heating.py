"""The heated parts of a bay: heat-transfer plates and the tube."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from sim.case.errors import Problem
from sim.case.fields import (
    Conductivity,
    Depth,
    Emissivity,
    Length,
    Quantity,
    agree,
    fill,
    given,
    key,
    refuse,
    refuse_section,
    worked_out,
)
from sim.case.materials import Material, MaterialName, find_material
from sim.case.quantities import format_value, inches
from sim.case.section import Section
from sim.case.sizes import BOND_CLASSES, CONTACT_CLASSES, TUBE_SIZES, TubeSize

Contact = Annotated[float, Quantity("thermal resistance", at_least=0.0, at_most=1.0, named=CONTACT_CLASSES)]
Bond = Annotated[float, Quantity("tube resistance", at_least=0.0, at_most=5.0, named=BOND_CLASSES)]
Across = Annotated[float, Quantity("length", at_least=0.0, at_most=3.0)]


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
    position: Literal["fastened", "hung"] = key("fastened", "tight against the subfloor, or hung below it")
    drop: Depth = worked_out(
        "50 mm when hung, 0 when fastened",
        "from the subfloor's underside down to the plate's top (hung plates)",
    )
    orientation: Literal["flat", "upright"] = key("flat", "lying, or standing as a fin (hung plates only)")
    bond: Bond = key(BOND_CLASSES["snug"], "resistance between tube and plate, for one metre of tube")
    contact: Contact = key(
        CONTACT_CLASSES["tight"], "resistance between plate and subfloor (fastened plates)"
    )
    emissivity_up: Emissivity = worked_out(
        "that of the material", "emissivity of the upper face; of a standing plate, of the side towards higher x or y"
    )
    emissivity_down: Emissivity = worked_out(
        "that of the material", "emissivity of the lower face; of a standing plate, of the other side"
    )

    @field_validator("spacing", mode="before")
    @classmethod
    def _none_is_no_spacing(cls, spacing: Any) -> Any:
        """As `compare --spacing none` calls a bay without plates, which leaves out the whole section."""
        if isinstance(spacing, str) and spacing.strip().lower() == "none":
            refuse("is a distance", 'for a bay without plates write plates = "none" instead of the section [plates]')
        return spacing

    @model_validator(mode="after")
    def _complete(self) -> Self:
        problems: list[Problem] = []
        material = find_material(self.material)
        worked = {
            "conductivity": material.simplest_conductivity,
            "emissivity_up": material.emissivity,
            "emissivity_down": material.emissivity,
            "drop": 0.05 if self.hung else 0.0,
        }
        fill(self, **{name: value for name, value in worked.items() if not given(self, name)})
        self._settle_spacing(problems)
        if not self.hung:
            self._check_fastened(problems)
        refuse_section(problems)
        return self

    def _settle_spacing(self, problems: list[Problem]) -> None:
        if not given(self, "spacing"):
            fill(self, spacing=self.length / (self.coverage if given(self, "coverage") else 0.85))
        elif given(self, "coverage") and not agree(self.coverage, self.length / self.spacing):
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
        if self.upright:
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
        return find_material(self.material).with_conductivity(self.conductivity)

    @property
    def hung(self) -> bool:
        """Whether they hang in the air below the sheathing, and are not fastened to it."""
        return self.position == "hung"

    @property
    def upright(self) -> bool:
        """Whether they stand as fins, and do not lie."""
        return self.orientation == "upright"

    @property
    def height(self) -> float:
        """Vertical size of the sheet [m]."""
        return self.width if self.upright else self.thickness

    @property
    def across(self) -> float:
        """Its horizontal size across the tube [m]."""
        return self.thickness if self.upright else self.width


class HeatingTube(Section):
    """The tube that carries the warm water."""

    size: TubeSize = worked_out(
        '"1/2" unless diameters are given', "nominal SDR-9 size, or outer x wall in mm"
    )
    outer_diameter: Annotated[float, Quantity("length", at_least=0.004, at_most=0.1)] = worked_out(
        "from size", "outer diameter"
    )
    inner_diameter: Annotated[float, Quantity("length", at_least=0.002, at_most=0.1)] = worked_out(
        "from size", "inside diameter"
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
        "0 (against the subfloor); at the plate when that is hung; across: 2 in above the hole",
        "from the subfloor's underside down to the tube's top, without plates or across the joists",
    )
    placement: Literal["below", "in", "above"] = key("below", "tube under, in the middle of, or on the plate")
    contact: Contact = key(CONTACT_CLASSES["fair"], "resistance between tube and subfloor where they touch")
    hole_diameter: Length = key(inches(1.375), "diameter of the holes through the joists (tube across)")
    emissivity: Emissivity = key(0.9, "emissivity of the tube's outside")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        problems: list[Problem] = []
        self._settle_diameters(problems)
        if not given(self, "conductivity"):
            fill(self, conductivity=find_material(self.material).simplest_conductivity)
        none_across = self.direction == "across" and not self.positions
        if given(self, "positions") and not none_across and len(self.positions) != self.runs:
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
            agree(outer, self.outer_diameter) and agree(outer - 2 * wall, self.inner_diameter)
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
        return find_material(self.material).with_conductivity(self.conductivity)

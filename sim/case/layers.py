"""Flat layers of a bay: floor coverings, sheathing, ceiling, rugs, insulation."""

from __future__ import annotations

from typing import Annotated, ClassVar, Self

from pydantic import model_validator

from sim.case.errors import Problem
from sim.case.fields import (
    Conductivity,
    Emissivity,
    Length,
    Quantity,
    QuantityGroup,
    ThermalResistance,
    agree,
    fill,
    given,
    key,
    refuse_section,
    worked_out,
)
from sim.case.materials import Material, MaterialName, find_material
from sim.case.quantities import format_value, inches
from sim.case.section import Section

Range = Annotated[tuple[float, float], QuantityGroup(Quantity("distance", at_least=0.0), 2, rising=True)]


class Layer(Section):
    """One flat layer; two of thickness, conductivity and thermal resistance settle the third."""

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
        elif not agree(self.thickness / self._filled_through(), self.thermal_resistance):
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
        return find_material(self.material).with_conductivity(self.conductivity)


class Sheathing(Layer):
    """The boards or panels on the joists."""

    default_thickness: ClassVar[float | None] = inches(0.75)

    material: MaterialName = key("plywood", "name in the materials library")
    thickness: Length = worked_out(
        "19.05 mm (3/4 in), or from thermal_resistance", "thickness of the subfloor"
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


class Insulation(Layer):
    """The insulation between the joists, below the tube."""

    material: MaterialName = key("glass wool batt", "name in the materials library")
    facing_emissivity: Emissivity = worked_out(
        "that of the material", "emissivity of the top face; 0.05 for bright foil facing the air gap"
    )

    @model_validator(mode="after")
    def _faced(self) -> Self:
        if not given(self, "facing_emissivity"):
            fill(self, facing_emissivity=find_material(self.material).emissivity)
        return self

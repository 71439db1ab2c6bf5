"""A round tube of a case of blocks: an isothermal cylinder, or a wall with water or air flowing inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import ValidationInfo, model_validator

from sim.case.blocks_parts import Axis, Kelvin, Pair, Range
from sim.case.conditions import WATER_SUPPLY, Glycol
from sim.case.constants import ATMOSPHERE, ZERO_CELSIUS
from sim.case.errors import Problem
from sim.case.fields import MassFlow, Quantity, given, key, refuse_section
from sim.case.section import Section

Diameter = Annotated[float, Quantity("length", above=0.0, at_most=10.0)]


@dataclass(frozen=True, slots=True)
class SupplyQuantity(Quantity):
    """What enters a tube, in the range of its fluid: that of water, or of air where `fluid` says so."""

    def read(self, value: object, info: ValidationInfo) -> float:
        """The temperature [K], or a report to pydantic of why not."""
        return Quantity.read(AIR_SUPPLY if info.data.get("fluid") == "air" else self, value, info)

    def allowed(self) -> str:
        """Both ranges, for the key reference."""
        return f"{Quantity.allowed(self)}; air {AIR_SUPPLY.allowed()}"


AIR_SUPPLY = Quantity("temperature", at_least=ZERO_CELSIUS - 40.0, at_most=ZERO_CELSIUS + 120.0)
"""Within the table of air's properties."""

Entering = Annotated[float, SupplyQuantity("temperature", at_least=WATER_SUPPLY[0], at_most=WATER_SUPPLY[1])]
Pressure = Annotated[float, Quantity("pressure", at_least=5e4, at_most=5e5, example='"101.325 kPa" or "14.7 psi"')]


class BlockTube(Section):
    """A round tube along an axis: an isothermal cylinder, or a wall with water or air inside."""

    name: str = key("", "name of the tube in reports")
    axis: Axis = key(..., "axis it runs along")
    centre: Pair = key(..., "its two other coordinates, in the order of the axes")
    along: Range = key(..., "from and to along its axis")
    outer_diameter: Diameter = key(..., "outer diameter")
    inner_diameter: Diameter | None = key(
        None, "inside diameter of a tube with water or air; left out: a cylinder of one temperature"
    )
    conductivity: Annotated[float, Quantity("conductivity", above=0.0, at_most=5000.0)] = key(
        0.35, "conductivity of the wall"
    )
    temperature: Kelvin | None = key(None, "temperature of the outer surface, where there is no inner_diameter")
    fluid: Literal["water", "air"] = key("water", "what flows inside; air as long as it is hardly compressed")
    glycol: Glycol = key(0.0, "mass share of propylene glycol in the water")
    pressure: Pressure = key(ATMOSPHERE, "absolute pressure of the air inside")
    supply: Entering | None = key(None, "temperature of the water or air entering")
    flow: MassFlow | None = key(None, "flow of water or air; a volume flow counts at supply and pressure")
    resistance: Annotated[float, Quantity("tube resistance", at_least=0.0, at_most=100.0)] = key(
        0.0, "bond to what surrounds the tube, for one metre of tube"
    )

    @model_validator(mode="after")
    def _isothermal_or_water(self) -> Self:
        needed = ("temperature",) if self.inner_diameter is None else ("supply", "flow")
        refused = ("supply", "flow") if self.inner_diameter is None else ("temperature",)
        what = "without a bore" if self.inner_diameter is None else "with a bore"
        problems = [
            Problem(name, "", f"missing; a tube {what} needs it")
            for name in needed
            if getattr(self, name) is None
        ]
        problems += [
            Problem(name, "", f"a tube {what} does not use it", "leave it out")
            for name in refused
            if getattr(self, name) is not None
        ]
        if self.inner_diameter is not None and self.inner_diameter >= self.outer_diameter:
            problems.append(Problem("inner_diameter", "", "must be less than the outer diameter"))
        refuse_section(problems + self._without_use())
        return self

    def _without_use(self) -> list[Problem]:
        """Keys of wall, water and air that an isothermal cylinder or the other fluid has no use for."""
        bore = dict.fromkeys(("conductivity", "fluid", "glycol", "pressure"), "only a tube with a bore uses it")
        other = {"glycol": "air holds none"} if self.fluid == "air" else {"pressure": "only air depends on it"}
        unused, way = (bore, "give inner_diameter") if self.inner_diameter is None else (other, "leave it out")
        usual = type(self).model_fields
        said = {name: getattr(self, name) for name in unused if given(self, name)}
        return [
            Problem(name, value if isinstance(value, str) else f"{value:g}", unused[name], way)
            for name, value in said.items()
            if value != usual[name].default
        ]

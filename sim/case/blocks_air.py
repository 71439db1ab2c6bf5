"""Air alone in a case of blocks: what can be said of its properties, start and end, and the rules for that.

A case is air alone when its air is resolved and every solid in it has a stated temperature or lets no heat through:
then only the flow is computed. With `rayleigh` the case is dimensionless: 1 m stands for the length L, 1 K for the
temperature difference ΔT, 1 s for L²/α, so velocities are in α/L and heat flows in k ΔT L.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sim.case.conditions import Air
from sim.case.errors import Problem
from sim.case.fields import Emissivity, Quantity, QuantityGroup, fill, given, key, refuse_section, worked_out
from sim.case.quantities import ZERO_CELSIUS
from sim.case.section import Section

Side = Literal["x-", "x+", "y-", "y+", "z-", "z+"]
Number = Annotated[float, Quantity("fraction", above=0.0)]
Spread = Annotated[float, Quantity("diffusivity", above=0.0)]
Duration = Annotated[float, Quantity("time", above=0.0, at_most=36000.0)]
Range = Annotated[tuple[float, float], QuantityGroup(Quantity("distance"), 2, rising=True)]
Warmth = Annotated[float, Quantity("temperature", at_least=0.0, at_most=5000.0)]
CellSizes = Annotated[tuple[float, float, float], QuantityGroup(Quantity("length", at_least=2e-4, at_most=0.2), 3)]

AIR_PRANDTL = 0.71
"""Prandtl number of air that benchmarks of natural convection use [-]."""

_REAL = ("mean_temperature", "viscosity", "diffusivity", "expansion", "conductivity", "length")
OF_AIR_ALONE = (
    "two_dimensional", "symmetry", "scheme", "rayleigh", "prandtl", *_REAL,
    "start", "seed", "noise", "start_temperature", "start_from", "grids", "growth", "steady", "average_from",
    "cells", "wall_cells",
)  # fmt: skip
"""Keys that only air alone knows, but for those that the rules name."""


class BlocksAir(Air):
    """How the air between boxes is modelled; alone, its properties, start and end can be said as well."""

    cells: CellSizes | None = key(None, "largest cells of air alone along x, y and z, instead of cell")
    wall_cells: CellSizes | None = key(None, "cells of air alone at walls across x, y and z, instead of wall_cell")
    subgrid: bool = key(False, "eddies finer than the cells of resolved air by Vreman's model")
    two_dimensional: bool = key(False, "air alone flows in the x-z plane only: one cell along y")
    symmetry: tuple[Side, ...] = key((), "sides of the air, alone or among solids, that are planes of symmetry")
    scheme: Literal["bounded", "central"] = key(
        "bounded", "advection of heat in the air: bounded where plumes are thin, central for benchmarks"
    )
    rayleigh: Number | None = key(
        None, "Rayleigh number: makes the case dimensionless (1 m is L, 1 K is ΔT, 1 s is L²/α); instead of properties"
    )
    prandtl: Number = worked_out(f"{AIR_PRANDTL}, with rayleigh", "Prandtl number, only with rayleigh")
    mean_temperature: Annotated[
        float, Quantity("temperature", at_least=ZERO_CELSIUS - 60.0, at_most=ZERO_CELSIUS + 120.0)
    ] = worked_out("halfway between the coolest and the warmest wall", "temperature for the properties of air")
    viscosity: Spread = worked_out("that of air", "kinematic viscosity")
    diffusivity: Spread = worked_out("that of air", "thermal diffusivity")
    expansion: Annotated[float, Quantity("expansion", above=0.0)] = worked_out(
        "1 / mean_temperature", "thermal expansion"
    )
    conductivity: Annotated[float, Quantity("conductivity", above=0.0)] = worked_out("that of air", "conductivity")
    length: Annotated[float, Quantity("distance", above=0.0)] = worked_out(
        "the height of the boxes, or L", "length in Nusselt and Rayleigh numbers"
    )
    start: Literal["rest", "roll", "noise"] = key(
        "rest",
        "air alone starts at rest, or layered (warm below or above as its walls are) with the seed of one roll, "
        "or layered with random noise",
    )
    seed: Annotated[float, Quantity("fraction", at_least=0.0, at_most=0.5)] = key(
        0.1, "height of the seed of a roll, or of the noise, over the largest difference of wall temperatures"
    )
    noise: Annotated[int, Field(ge=0, le=2**31)] = key(
        1, "number of the random noise of air alone; the same number gives the same noise"
    )
    start_temperature: Warmth = worked_out(
        "halfway between the walls; in time that of [time]", "temperature of air that starts at rest"
    )
    start_from: str | None = key(None, "run folder of air alone whose flow is the start, beside the case file")
    grids: Annotated[int, Field(ge=1, le=4)] = key(
        1, "grids to go through, each with cells half as large as on the one before; the last has the stated cells"
    )
    growth: Annotated[float, Quantity("fraction", at_least=0.0, at_most=0.5)] = key(
        0.15, "how much wider cells of air alone become per distance from its walls"
    )
    steady: Annotated[float, Quantity("fraction", at_least=0.0, at_most=1.0)] = key(
        0.01,
        "air alone is steady once no temperature changes faster than this share of ΔT per L²/α, no speed grows faster "
        "than this share of itself, and noise in air at rest dies away; 0 never",
    )
    average_from: Duration = worked_out(
        "half of longest; in time nothing is averaged",
        "time from which unsteady air alone, or air among solids in time, is averaged",
    )
    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        wrong = [*self._not_resolved(), *self._dimensionless(), *self._sizes(), *self._times()]
        refuse_section(wrong)
        if self.rayleigh is not None:
            fill(self, prandtl=self.prandtl or AIR_PRANDTL)
        return self

    def _not_resolved(self) -> list[Problem]:
        """Keys of air alone that were given although the air is not resolved."""
        if self.model == "resolved":
            return []
        return [
            Problem(name, str(getattr(self, name)), f'model "{self.model}" does not use it', f"leave {name} out")
            for name in OF_AIR_ALONE
            if given(self, name) and getattr(self, name) not in (None, type(self).model_fields[name].default)
        ]

    def _dimensionless(self) -> Iterator[Problem]:
        """Properties beside the numbers that replace them."""
        if self.rayleigh is None:
            if given(self, "prandtl"):
                yield Problem("prandtl", f"{self.prandtl:g}", "goes with rayleigh", "give viscosity and diffusivity")
            return
        for name in _REAL:
            if given(self, name):
                yield Problem(name, "", "rayleigh and prandtl replace it: 1 m is the length L", "leave one out")

    def _sizes(self) -> Iterator[Problem]:
        """Sizes of cells said twice."""
        for name in ("cell", "wall_cell"):
            if getattr(self, name) is not None and getattr(self, f"{name}s") is not None:
                yield Problem(name, f"{getattr(self, name):g} m", f"{name}s replaces it", "leave one out")

    def _times(self) -> Iterator[Problem]:
        """Times beyond the end, a seed without a roll, and pictures of a start that is cut short."""
        if (until := self.frames_until) and until > self.longest:
            rule = f"lies beyond longest, {self.longest:g} s"
            yield Problem("frames_until", f"{until:g} s", rule, "make longest longer")
        if given(self, "seed") and self.seed != type(self).model_fields["seed"].default and self.start == "rest":
            rule, way_out = 'only start "roll" or "noise" uses it', 'set start = "roll", or leave it out'
            yield Problem("seed", f"{self.seed:g}", rule, way_out)
        if self.frames and self.grids > 1:
            yield Problem("frames", str(self.frames), "the start is followed on the last grid only with grids = 1")


class AirSheet(Section):
    """A sheet without thickness in air; air sticks to both of its faces."""

    name: str = key("", "name of the sheet in reports")
    axis: Literal["x", "y", "z"] = key(..., "axis across the sheet")
    at: Annotated[float, Quantity("distance")] = key(..., "its place along that axis")
    x: Range | None = key(None, "from and to along x; left out: everywhere")
    y: Range | None = key(None, "from and to along y; left out: everywhere")
    z: Range | None = key(None, "from and to along z; left out: everywhere")
    temperature: Warmth | None = key(None, "temperature of both faces; left out: no heat passes into the sheet")
    emissivity: Emissivity | None = key(None, "of both faces towards cavity air among solids (left out: 0.9)")
    open_area: Annotated[float, Quantity("fraction", at_least=0.0, at_most=0.99)] = key(
        0.0, "share of holes, evenly spread and much smaller than a cell"
    )
    loss: Number | None = worked_out(
        "that of a thin sharp-edged perforated plate (Idelchik)", "pressure loss K of the holes: Δp = K ρ u²/2"
    )

    @model_validator(mode="after")
    def _flat(self) -> Self:
        if getattr(self, self.axis) is not None:
            refuse_section([Problem(self.axis, "", f"a sheet across {self.axis} has no extent along it", "use at")])
        if given(self, "loss") and self.open_area == 0.0:
            refuse_section([Problem("loss", "", "a sheet without holes lets nothing through", "give open_area")])
        return self


def stated_properties(air: BlocksAir) -> dict[str, float | None]:
    """Viscosity, diffusivity [m²/s], expansion [1/K] and conductivity [W/(m K)] that a case states, None for air's."""
    return {name: getattr(air, name) for name in ("viscosity", "diffusivity", "expansion", "conductivity")}

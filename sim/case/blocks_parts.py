"""The parts of a case of blocks: boxes, faces, tubes, contacts and probes."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import model_validator

from sim.case.blocks_time import FaceWave
from sim.case.constants import STILL_AIR
from sim.case.errors import Problem
from sim.case.fields import (
    NONE,
    Conductivity,
    Emissivity,
    Film,
    Quantity,
    QuantityGroup,
    ThermalResistance,
    fill,
    given,
    key,
    refuse_section,
    worked_out,
)
from sim.case.materials import Material, MaterialName, find_material, three
from sim.case.section import Section

Coordinate = Annotated[float, Quantity("distance")]
_COORDINATE = Quantity("distance")
Range = Annotated[tuple[float, float], QuantityGroup(_COORDINATE, 2, rising=True)]
Pair = Annotated[tuple[float, float], QuantityGroup(_COORDINATE, 2)]
Point = Annotated[tuple[float, float, float], QuantityGroup(_COORDINATE, 3)]
Kelvin = Annotated[float, Quantity("temperature", at_least=0.0, at_most=5000.0)]
Axis = Literal["x", "y", "z"]


USUAL_EMISSIVITY = 0.9
"""Towards cavity air, of boxes of matter, of walls of the air and of sheets that state none [-]."""

ISOTHERMAL, INSULATING = 5000.0, 1e-6
"""Conductivity of boxes of one temperature, and of boxes that let no heat through, among other solids [W/(m K)]."""


class Block(Section):
    """One box of one material; a later box paints over an earlier one."""

    name: str = key("", "name of the box in reports")
    x: Range = key(..., "from and to along x")
    y: Range = key(..., "from and to along y")
    z: Range = key(..., "from and to along z (up)")
    material: MaterialName | None = key(None, "name in the materials library")
    conductivity: Conductivity = worked_out("that of the material", "one value, or three along x, y, z")
    density: Annotated[float, Quantity("density", above=0.0, at_most=3e4)] = worked_out(
        "that of the material, or 500 kg/m3", "mass per volume; counts in time alone"
    )
    specific_heat: Annotated[float, Quantity("specific heat", above=0.0, at_most=2e4)] = worked_out(
        "that of the material, or 1600 J/(kg K)", "heat that it takes up per mass and kelvin; counts in time alone"
    )
    emissivity: Emissivity = worked_out("that of the material, or 0.9", "emissivity towards cavity air")
    air: bool = key(False, "the box is cavity air, handled by air.model")
    temperature: Kelvin | None = key(None, "the whole box has this temperature")
    insulating: bool = key(False, "the box lets no heat through")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.air:
            self._check_air()
        elif is_held(self):
            refuse_section(held_box_problems(self))
            return self
        elif self.material is None and not given(self, "conductivity"):
            refuse_section(
                [Problem("conductivity", "", "missing", "give conductivity, material or air = true")]
            )
        plain = Material("", three(STILL_AIR if self.air else 0.1), 500.0, 1600.0, 0.9)
        like = find_material(self.material) if self.material else plain
        worked = {
            "conductivity": like.simplest_conductivity,
            "density": like.density,
            "specific_heat": like.specific_heat,
            "emissivity": like.emissivity,
        }
        fill(self, **{name: value for name, value in worked.items() if not given(self, name)})
        return self

    def _check_air(self) -> None:
        solid = [name for name in ("material", "temperature", "insulating") if getattr(self, name)]
        both, rule = "{} and air = true", "a box is air or a solid"
        refuse_section([Problem(name, both.format(getattr(self, name)), rule, "leave one out") for name in solid])

    @property
    def solid(self) -> Material:
        """The material of the box; not meaningful for cavity air. A held one conducts all but ideally, or hardly."""
        if is_held(self):
            conductivity = INSULATING if self.insulating else ISOTHERMAL
            emissivity = _or(self.emissivity, USUAL_EMISSIVITY)
            return Material(self.name or "block", three(conductivity), 500.0, 1600.0, emissivity)
        return Material(
            self.name or self.material or "block",
            three(self.conductivity),
            self.density,
            self.specific_heat,
            self.emissivity,
        )


class Face(Section):
    """A condition on one plane, or on a rectangle of it."""

    name: str = key("", "name of the face in reports")
    group: str = key("", "faces of one group are reported as one total")
    on: Literal["x-", "x+", "y-", "y+", "z-", "z+"] = key(
        ..., "outward direction, seen from the solid, or from the air whose wall it is"
    )
    at: Coordinate = worked_out("the outermost plane on that side", "coordinate of the plane")
    x: Range | None = key(None, "from and to along x; left out: everywhere")
    y: Range | None = key(None, "from and to along y; left out: everywhere")
    z: Range | None = key(None, "from and to along z; left out: everywhere")
    temperature: Kelvin | None = key(None, "fixed temperature")
    flux: Annotated[float, Quantity("heat flux", at_least=-1e7, at_most=1e7)] | None = key(
        None, "fixed heat flux, positive into the solid"
    )
    film: Film | None = worked_out("1 / resistance", "film coefficient to ambient")
    resistance: ThermalResistance | None = worked_out(
        "1 / film", "surface resistance to ambient, instead of film"
    )
    adiabatic: bool = key(False, "no heat passes: of a wall of air, convection and radiation then balance")
    emissivity: Emissivity | None = key(
        None,
        "radiation to ambient with view factor 1; beside another condition, on air among solids: of the wall towards "
        "the cavity (left out: 0.9)",
    )
    law: Literal["floor"] | None = key(None, '"floor": 8.92 dT^1.1 to ambient (EN 1264-2)')
    ambient: Kelvin | None = key(None, "temperature beyond a film, for radiation or for law")
    wave: Annotated[FaceWave | None, NONE] = key(None, 'swing of temperature or ambient in time, or "none"')

    @model_validator(mode="after")
    def _one_condition(self) -> Self:
        found = [
            name
            for name in ("temperature", "flux", "adiabatic", "film", "resistance", "law")
            if getattr(self, name) is not None and getattr(self, name) is not False
        ]
        if not found and self.emissivity is not None:
            found = ["emissivity"]
        problems: list[Problem] = []
        if len(found) != 1:
            problems.append(
                Problem(
                    "",
                    " and ".join(found),
                    "a face needs exactly one condition",
                    "one of temperature, flux, adiabatic, film, resistance, emissivity, law",
                )
            )
        elif found[0] not in _ALONE and self.ambient is None:
            problems.append(Problem("ambient", "", f"missing; {found[0]} needs it", _needs_ambient(found[0])))
        elif found[0] in _ALONE and self.ambient is not None:
            problems.append(Problem("ambient", "", f"{found[0]} does not use it", "leave it out"))
        if getattr(self, self.axis) is not None:
            problems.append(
                Problem(
                    self.axis,
                    "",
                    f'a face on "{self.on}" has no extent along {self.axis}',
                    "use at for its plane",
                )
            )
        refuse_section(problems)
        self._settle_film()
        return self

    def _settle_film(self) -> None:
        if self.film is None and self.resistance is not None:
            fill(self, film=1.0 / self.resistance)
        elif self.film is not None:
            fill(self, resistance=1.0 / self.film)

    @property
    def axis(self) -> str:
        """Axis of its normal."""
        return self.on[0]

    @property
    def condition(self) -> Literal["temperature", "flux", "adiabatic", "film", "radiation", "floor"]:
        """Which of the conditions it is."""
        if self.adiabatic:
            return "adiabatic"
        if self.temperature is not None:
            return "temperature"
        if self.flux is not None:
            return "flux"
        if self.film is not None:
            return "film"
        return "floor" if self.law else "radiation"

    @property
    def towards_cavity(self) -> float | None:
        """Emissivity that it states for its side at cavity air [-]; None where it states none."""
        return None if self.condition == "radiation" else self.emissivity

    @property
    def wall_emissivity(self) -> float:
        """Emissivity towards cavity air of the wall of it that the face is [-]."""
        return _or(self.towards_cavity, USUAL_EMISSIVITY)


class BlockContact(Section):
    """A resistance in a plane between two neighbouring layers of cells."""

    axis: Axis = key(..., "axis across the plane")
    at: Coordinate = key(..., "coordinate of the plane")
    x: Range | None = key(None, "from and to along x; left out: everywhere")
    y: Range | None = key(None, "from and to along y; left out: everywhere")
    z: Range | None = key(None, "from and to along z; left out: everywhere")
    resistance: Annotated[float, Quantity("thermal resistance", at_least=0.0, at_most=100.0)] = key(
        ..., "contact resistance"
    )

    @model_validator(mode="after")
    def _flat(self) -> Self:
        if getattr(self, self.axis) is not None:
            refuse_section(
                [Problem(self.axis, "", f"a contact across {self.axis} has no extent along it", "use at")]
            )
        return self


class Probe(Section):
    """A point whose temperature is reported."""

    name: str = key(..., "name in reports")
    point: Point = key(..., "x, y, z")


_ALONE = ("temperature", "flux", "adiabatic")
"""Conditions of a face that need no ambient."""


def _needs_ambient(name: str) -> str:
    """The way out for a face that states no ambient."""
    walls = "; a wall of air that only radiates into its cavity also has adiabatic = true"
    return 'write e.g. "20 degC"' + (walls if name == "emissivity" else "")


def is_held(box: Block) -> bool:
    """Whether a box has a stated temperature or lets no heat through, so that nothing is computed inside it."""
    return box.temperature is not None or box.insulating


def held_box_problems(box: Block) -> list[Problem]:
    """What contradicts the temperature or the insulation of a box."""
    two = [Problem("insulating", "true, and a temperature", "exclude each other", "leave one out")]
    wrong = two if box.insulating and box.temperature is not None else []
    for name in ("material", "conductivity", "density", "specific_heat"):
        if given(box, name) and getattr(box, name) is not None:
            wrong.append(Problem(name, "", "not used by a box that is insulating or has a temperature", "leave it out"))
    return wrong


def _or(value: float | None, usual: float) -> float:
    return usual if value is None else value

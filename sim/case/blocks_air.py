"""Air alone in a case of blocks: what can be said of its properties, start and end, and the rules for that.

A case is air alone when its air is resolved and every solid in it has a stated temperature or lets no heat through:
then only the flow is computed. With `rayleigh` the case is dimensionless: 1 m stands for the length L, 1 K for the
temperature difference ΔT, 1 s for L²/α, so velocities are in α/L and heat flows in k ΔT L.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from sim.case.conditions import Air
from sim.case.errors import Problem
from sim.case.fields import Quantity, Section, Several, fill, given, key, refuse_section, worked_out
from sim.case.quantities import ZERO_CELSIUS

if TYPE_CHECKING:
    from sim.case.blocks_case import Block, BlocksCase, Face

Side = Literal["x-", "x+", "y-", "y+", "z-", "z+"]
Number = Annotated[float, Quantity("fraction", above=0.0)]
Spread = Annotated[float, Quantity("diffusivity", above=0.0)]
Duration = Annotated[float, Quantity("time", above=0.0, at_most=36000.0)]
Range = Annotated[tuple[float, float], Several(Quantity("distance"), 2, rising=True)]
Warmth = Annotated[float, Quantity("temperature", at_least=0.0, at_most=5000.0)]
CellSizes = Annotated[tuple[float, float, float], Several(Quantity("length", at_least=2e-4, at_most=0.2), 3)]

AIR_PRANDTL = 0.71
"""Prandtl number of air that benchmarks of natural convection use [-]."""

_REAL = ("mean_temperature", "viscosity", "diffusivity", "expansion", "conductivity", "length")
_ALONE = (
    "two_dimensional", "symmetry", "scheme", "rayleigh", "prandtl", *_REAL,
    "start", "seed", "noise", "start_temperature", "start_from", "grids", "growth", "steady", "average_from",
    "cells", "wall_cells",
)  # fmt: skip
_AMONG_SOLIDS = ("mean_temperature", "viscosity", "diffusivity", "expansion", "conductivity", "symmetry", "scheme")
"""Keys of these that air among conducting solids knows too."""
_IN_TIME = ("start_temperature", "average_from")
"""And those that it knows where it is followed in time."""
_ROUNDS = "leave it out: beside solids the air starts from the state of films"
_INSTEAD = {
    "rayleigh": "give viscosity, diffusivity, conductivity and expansion, or leave it out for real air",
    "prandtl": "give viscosity and diffusivity, or leave it out for real air",
    "length": "leave it out: beside solids there are no Nusselt numbers",
    "two_dimensional": "leave it out: where nothing varies along y, air beside solids is followed in the plane anyway",
    "cells": "use air.cell", "wall_cells": "use air.wall_cell", "growth": "use air.cell and air.wall_cell",
    "steady": "use air.error", "grids": "leave it out: air.companion computes larger cells first",
    "start": _ROUNDS, "seed": _ROUNDS, "noise": _ROUNDS, "start_from": f"{_ROUNDS}; --resume takes up a run",
    "start_temperature": "leave it out, or add [time] with duration and start_temperature: joistbay warmup uses it",
    "average_from": "use air.error, or add [time] with duration and start_temperature: joistbay warmup averages",
}  # fmt: skip
"""What serves beside solids in place of a key of air alone."""
_SPAN = 1e-9


class BlocksAir(Air):
    """How the air between boxes is modelled; alone, its properties, start and end can be said as well."""

    cells: CellSizes | None = key(None, "largest cells of air alone along x, y and z, instead of cell")
    wall_cells: CellSizes | None = key(None, "cells of air alone at walls across x, y and z, instead of wall_cell")
    subgrid: bool = key(False, "eddies finer than the cells of resolved air by Vreman's model")
    two_dimensional: bool = key(False, "air alone flows in the x-z plane only: one cell along y")
    symmetry: tuple[Side, ...] = key((), "sides of air alone that are planes of symmetry instead of walls")
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
        0.15, "growth of the cells of air alone per distance from its walls"
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
            for name in _ALONE
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
    """A sheet without thickness in air alone; air sticks to both of its faces."""

    name: str = key("", "name of the sheet in reports")
    axis: Literal["x", "y", "z"] = key(..., "axis across the sheet")
    at: Annotated[float, Quantity("distance")] = key(..., "its place along that axis")
    x: Range | None = key(None, "from and to along x; left out: everywhere")
    y: Range | None = key(None, "from and to along y; left out: everywhere")
    z: Range | None = key(None, "from and to along z; left out: everywhere")
    temperature: Warmth | None = key(None, "temperature of both faces; left out: no heat passes into the sheet")
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


def is_held(box: Block) -> bool:
    """Whether a box has a stated temperature or lets no heat through, so that nothing is computed inside it."""
    return box.temperature is not None or box.insulating


def is_air_alone(case: BlocksCase) -> bool:
    """Whether only the flow of a case's air is computed: no solid of it conducts heat or radiates, no water flows."""
    held = all(box.air or is_held(box) for box in case.boxes)
    dry = all(tube.inner_diameter is None for tube in case.tubes)
    radiates = any(is_held(box) and box.emissivity is not None for box in case.boxes)
    return case.air.is_resolved and held and dry and not radiates and any(box.air for box in case.boxes)


def held_box_problems(box: Block) -> list[Problem]:
    """What contradicts the temperature or the insulation of a box."""
    two = [Problem("insulating", "true, and a temperature", "exclude each other", "leave one out")]
    wrong = two if box.insulating and box.temperature is not None else []
    for name in ("material", "conductivity", "density", "specific_heat"):
        if given(box, name) and getattr(box, name) is not None:
            wrong.append(Problem(name, "", "not used by a box that is insulating or has a temperature", "leave it out"))
    return wrong


def air_problems(case: BlocksCase) -> list[Problem]:
    """Everything in a case that does not go with air alone, or needs it."""
    if not is_air_alone(case):
        return _needs_air_alone(case)
    rules = (_beyond_the_end, _unused, _faces, _symmetry, _plane_flow, _sheets, _warmth, _start)
    return [problem for rule in rules for problem in rule(case)]


def _needs_air_alone(case: BlocksCase) -> list[Problem]:
    """Keys of air alone in a case whose solids conduct."""
    rule = 'needs air alone: air.model = "resolved", every solid box insulating or with a temperature, no emissivity'
    thin = "make it a thin box with its conductivity"
    found = [Problem(f"sheet[{index}]", "", rule, thin) for index in range(len(case.sheets))]
    known = (*_AMONG_SOLIDS, *(_IN_TIME if case.time is not None else ())) if case.air.is_resolved else ()
    filled = ("prandtl",) if case.air.rayleigh is not None else ()
    alone = [name for name in _ALONE if name not in (*known, *filled) and _said(case.air, name)]
    ways = [_INSTEAD.get(name, "leave it out") if case.air.is_resolved else "leave it out" for name in alone]
    found += [Problem(f"air.{name}", "", rule, way) for name, way in zip(alone, ways, strict=True)]
    return found + list(_beyond_the_end(case))


def _beyond_the_end(case: BlocksCase) -> Iterator[Problem]:
    """Averaging that would begin after the last moment."""
    if not (start := case.air.average_from):
        return
    name, end = ("longest", case.air.longest) if case.time is None else ("the end of [time]", case.time.duration)
    if start >= end:
        yield Problem("air.average_from", f"{start:g} s", f"lies beyond {name}, {end:g} s", f"make {name} later")


def _said(air: Air, name: str) -> bool:
    """Whether a key was given another value than its default."""
    return given(air, name) and getattr(air, name) != type(air).model_fields[name].default


def _unused(case: BlocksCase) -> Iterator[Problem]:
    """Parts that only solids use."""
    for index in range(len(case.contacts)):
        yield Problem(f"contact[{index}]", "", "air alone has no contacts", "leave it out")
    if _said(case.air, "error"):
        yield Problem("air.error", f"{case.air.error:g}", "air alone does not use it", "use steady or average_from")


def _faces(case: BlocksCase) -> Iterator[Problem]:
    """Conditions that air's walls cannot have."""
    for index, face in enumerate(case.faces):
        if face.condition != "temperature":
            yield Problem(
                f"face[{index}]", face.condition, "a wall of air alone has a temperature or lets no heat through",
                "give temperature, or leave the face out",
            )  # fmt: skip


def _symmetry(case: BlocksCase) -> Iterator[Problem]:
    """Planes of symmetry that are walls as well."""
    for index, face in enumerate(case.faces):
        if face.on in case.air.symmetry and _is_outermost(face, case):
            yield Problem(f"face[{index}].on", f'"{face.on}"', "is a plane of symmetry (air.symmetry)", "choose one")


def _is_outermost(face: Face, case: BlocksCase) -> bool:
    low, high = case.extent["xyz".index(face.axis)]
    return abs(face.at - (high if face.on[1] == "+" else low)) < _SPAN


def _plane_flow(case: BlocksCase) -> Iterator[Problem]:
    """Parts that vary along y where nothing may."""
    if not case.air.two_dimensional:
        return
    rule, way_out = "varies along y, but the flow is two-dimensional", "let it reach from end to end along y"
    whole = case.extent[1]
    kinds: tuple[tuple[str, tuple[Any, ...]], ...] = (("box", case.boxes), ("sheet", case.sheets), ("face", case.faces))
    for kind, parts in kinds:
        for index, part in enumerate(parts):
            if part.y is not None and part.y != whole:
                yield Problem(f"{kind}[{index}].y", "", rule, way_out)
    for index, face in enumerate(case.faces):
        if face.axis == "y":
            yield Problem(f"face[{index}].on", f'"{face.on}"', "two-dimensional flow has no walls there", way_out)
    for index, tube in enumerate(case.tubes):
        if tube.axis != "y" or tube.along != whole:
            yield Problem(f"tube[{index}]", "", rule, way_out)


def _sheets(case: BlocksCase) -> Iterator[Problem]:
    """Sheets off the air."""
    for index, sheet in enumerate(case.sheets):
        low, high = case.extent["xyz".index(sheet.axis)]
        if not low + _SPAN < sheet.at < high - _SPAN:
            yield Problem(
                f"sheet[{index}].at", f"{sheet.axis} = {sheet.at:g} m", "must lie between the outer planes of the air",
                f"which are at {low:g} and {high:g} m; a wall there is a face",
            )  # fmt: skip


def given_temperatures(case: BlocksCase) -> list[float]:
    """All stated temperatures [K] of walls, boxes, sheets and tubes."""
    parts: tuple[Any, ...] = (*case.faces, *case.boxes, *case.sheets, *case.tubes)
    return [part.temperature for part in parts if part.temperature is not None]


def _warmth(case: BlocksCase) -> Iterator[Problem]:
    """No temperature, or one only."""
    if len(set(given_temperatures(case))) < 2 and not given(case.air, "start_temperature"):
        yield Problem("face", "", "nothing drives a flow", "give two temperatures to faces, boxes or sheets")


def _start(case: BlocksCase) -> Iterator[Problem]:
    """A start that is not there, or twice."""
    if case.air.start_from is None:
        return
    if case.air.start != "rest" or given(case.air, "start_temperature"):
        yield Problem("air.start_from", f'"{case.air.start_from}"', "is one start and there is another", "choose one")
    folder = start_folder(case)
    if not (folder / "fields.nc").is_file():
        yield Problem("air.start_from", f'"{case.air.start_from}"', "is no run folder", f"looked for {folder}")


def start_folder(case: BlocksCase) -> Path:
    """The run folder that a flow starts from: beside the case file."""
    return Path(case.path or ".").parent / str(case.air.start_from)

"""What goes with air alone in a case of blocks, and what needs it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sim.case.blocks_air import OF_AIR_ALONE
from sim.case.blocks_keys import BlocksKeys
from sim.case.blocks_parts import Face
from sim.case.blocks_sheets import sheet_problems
from sim.case.conditions import Air
from sim.case.errors import Problem
from sim.case.fields import given

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


def air_problems(case: BlocksKeys) -> list[Problem]:
    """Everything in a case that does not go with air alone, or needs it."""
    if not case.air_alone:
        return _needs_air_alone(case)
    rules = (_beyond_the_end, _unused, _faces, _symmetry, _plane_flow, _sheets, _warmth, _start)
    return [problem for rule in rules for problem in rule(case)]


def _needs_air_alone(case: BlocksKeys) -> list[Problem]:
    """Keys of air alone in a case whose solids conduct."""
    rule = 'needs air alone: air.model = "resolved", every solid box insulating or with a temperature, no emissivity'
    found = list(sheet_problems(case))
    known = (*_AMONG_SOLIDS, *(_IN_TIME if case.time is not None else ())) if case.air.is_resolved else ()
    filled = ("prandtl",) if case.air.rayleigh is not None else ()
    alone = [name for name in OF_AIR_ALONE if name not in (*known, *filled) and _said(case.air, name)]
    ways = [_INSTEAD.get(name, "leave it out") if case.air.is_resolved else "leave it out" for name in alone]
    found += [Problem(f"air.{name}", "", rule, way) for name, way in zip(alone, ways, strict=True)]
    return found + list(_beyond_the_end(case))


def _beyond_the_end(case: BlocksKeys) -> Iterator[Problem]:
    """Averaging that would begin after the last moment."""
    if not (start := case.air.average_from):
        return
    name, end = ("longest", case.air.longest) if case.time is None else ("the end of [time]", case.time.duration)
    if start >= end:
        yield Problem("air.average_from", f"{start:g} s", f"lies beyond {name}, {end:g} s", f"make {name} later")


def _said(air: Air, name: str) -> bool:
    """Whether a key was given another value than its default."""
    return given(air, name) and getattr(air, name) != type(air).model_fields[name].default


def _unused(case: BlocksKeys) -> Iterator[Problem]:
    """Parts that only solids use."""
    for index in range(len(case.contacts)):
        yield Problem(f"contact[{index}]", "", "air alone has no contacts", "leave it out")
    if _said(case.air, "error"):
        yield Problem("air.error", f"{case.air.error:g}", "air alone does not use it", "use steady or average_from")


def _faces(case: BlocksKeys) -> Iterator[Problem]:
    """Conditions that air's walls cannot have."""
    for index, face in enumerate(case.faces):
        if face.condition not in ("temperature", "adiabatic"):
            yield Problem(
                f"face[{index}]", face.condition, "a wall of air alone has a temperature or lets no heat through",
                "give temperature, leave the face out, or state an emissivity as well: then walls radiate",
            )  # fmt: skip


def _symmetry(case: BlocksKeys) -> Iterator[Problem]:
    """Planes of symmetry that are walls as well."""
    for index, face in enumerate(case.faces):
        if face.on in case.air.symmetry and _is_outermost(face, case):
            yield Problem(f"face[{index}].on", f'"{face.on}"', "is a plane of symmetry (air.symmetry)", "choose one")


def _is_outermost(face: Face, case: BlocksKeys) -> bool:
    low, high = case.extent["xyz".index(face.axis)]
    return abs(face.at - (high if face.on[1] == "+" else low)) < _SPAN


def _plane_flow(case: BlocksKeys) -> Iterator[Problem]:
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


def _sheets(case: BlocksKeys) -> Iterator[Problem]:
    """Sheets off the air."""
    for index, sheet in enumerate(case.sheets):
        low, high = case.extent["xyz".index(sheet.axis)]
        if not low + _SPAN < sheet.at < high - _SPAN:
            yield Problem(
                f"sheet[{index}].at", f"{sheet.axis} = {sheet.at:g} m", "must lie between the outer planes of the air",
                f"which are at {low:g} and {high:g} m; a wall there is a face",
            )  # fmt: skip


def given_temperatures(case: BlocksKeys) -> list[float]:
    """All stated temperatures [K] of walls, boxes, sheets and tubes."""
    parts: tuple[Any, ...] = (*case.faces, *case.boxes, *case.sheets, *case.tubes)
    return [part.temperature for part in parts if part.temperature is not None]


def _warmth(case: BlocksKeys) -> Iterator[Problem]:
    """No temperature, or one only."""
    if len(set(given_temperatures(case))) < 2 and not given(case.air, "start_temperature"):
        yield Problem("face", "", "nothing drives a flow", "give two temperatures to faces, boxes or sheets")


def _start(case: BlocksKeys) -> Iterator[Problem]:
    """A start that is not there, or twice."""
    if case.air.start_from is None:
        return
    if case.air.start != "rest" or given(case.air, "start_temperature"):
        yield Problem("air.start_from", f'"{case.air.start_from}"', "is one start and there is another", "choose one")
    folder = start_folder(case)
    if not (folder / "fields.nc").is_file():
        yield Problem("air.start_from", f'"{case.air.start_from}"', "is no run folder", f"looked for {folder}")


def start_folder(case: BlocksKeys) -> Path:
    """The run folder that a flow starts from: beside the case file."""
    return Path(case.path or ".").parent / str(case.air.start_from)

"""A case of boxes as a small tree, SI first and inch-pound units in brackets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from sim.case.blocks_keys import BlocksKeys
from sim.case.blocks_parts import Block, Face
from sim.case.blocks_walls import behind, wall_of_air
from sim.case.quantities import format_value
from sim.case.tree import Branch

Told = Callable[[float], str]
"""A number of a case in words."""


def blocks_rows(case: BlocksKeys) -> list[tuple[str, str]]:
    """The parts of a case of boxes, a line each."""
    size, *_ = blocks_branches(case)
    names = {"boxes": case.boxes, "faces": case.faces, "tubes": case.tubes, "sheets": case.sheets}
    listed = [(word, _names_of(parts)) for word, parts in names.items() if parts]
    time = [] if case.time is None else [("time", _time(case.time.duration))]
    return [("size", size[0].split(", ", 1)[1]), *listed, ("air", case.air.model), ("cells", case.mesh.fineness), *time]


def _names_of(parts: Sequence[Any]) -> str:
    """How many parts, and their names."""
    names = ", ".join(part.name for part in parts if part.name)
    return f"{len(parts)}{': ' if names else ''}{names}"


def blocks_branches(case: BlocksKeys) -> list[Branch]:
    """All parts of a case of boxes, each with its details."""
    length, warmth = _scales(case)
    size = " x ".join(length(high - low) for low, high in case.extent)
    boxes = [_box_line(index, box, warmth) for index, box in enumerate(case.boxes)]
    faces = [f"{face.name or index}: {_face_line(case, face, length, warmth)}" for index, face in enumerate(case.faces)]
    counted = (case.tubes, "tube"), (case.sheets, "sheet"), (case.contacts, "contact"), (case.probes, "probe")
    others = [
        ", ".join(_count(parts, of) for parts, of in counted),
        f"cells {case.mesh.fineness}, cavity air by {case.air.model}",
    ]
    if case.time is not None:
        start = format_value(case.time.start_temperature, "temperature")
        others.append(f"in time for {_time(case.time.duration)}, from {start}")
    return [(f"boxes, later ones over earlier ones, {size}", boxes), ("faces", faces), ("model", others)]


def _scales(case: BlocksKeys) -> tuple[Told, Told]:
    """How lengths and temperatures are told: by their units, or in the scales of a dimensionless case."""
    if case.air.rayleigh is not None:
        return (lambda value: f"{value:g} L"), (lambda value: f"{value:g} ΔT")
    return (lambda value: format_value(value, "length")), lambda value: format_value(value, "temperature")


def _box_line(index: int, box: Block, warmth: Told) -> str:
    if box.air or box.insulating:
        return f"{box.name or index}: " + ("cavity air" if box.air else "insulating")
    if box.temperature is not None:
        return f"{box.name or index}: {warmth(box.temperature)}"
    return f"{box.name or index}: " + str(box.solid).split(": ", 1)[1]


def _face_line(case: BlocksKeys, face: Face, length: Told, warmth: Told) -> str:
    """Where a face lies and what it does; on air among solids it is a wall, which radiates unless it is a mirror."""
    line = f"{face.on} at {length(face.at)}, {_condition(face, warmth)}{_swing(face)}"
    if wall_of_air(case, face) is None:
        ends = behind(case.boxes, face)
        return line + (", on the solids alone" if not case.air_alone and ends.solid.any() and ends.air.any() else "")
    radiates = f"emissivity {face.wall_emissivity:g}" if face.wall_emissivity else "mirrors radiation"
    return f"wall of the air, {line}, {radiates}"


def _swing(face: Face) -> str:
    if face.wave is None:
        return ""
    amplitude = format_value(face.wave.amplitude, "temperature difference")
    return f", swings by {amplitude} every {_time(face.wave.period)}"


def _time(value: float) -> str:
    """Minutes and less in seconds."""
    return f"{value:g} s" if value < 600.0 else format_value(value, "time", "SI")


def _condition(face: Face, warmth: Told) -> str:
    ambient = "" if face.ambient is None else f" to {warmth(face.ambient)}"
    if face.temperature is not None:
        return warmth(face.temperature)
    if face.adiabatic:
        return "insulated"
    if face.flux is not None:
        return format_value(face.flux, "heat flux")
    if face.film is not None:
        return f"film {format_value(face.film, 'film coefficient')}{ambient}"
    return f"{'radiation' if face.law is None else 'floor law'}{ambient}"


def _count(parts: Sequence[object], of: str) -> str:
    return f"{len(parts)} {of}{'' if len(parts) == 1 else 's'}"

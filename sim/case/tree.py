"""Print a case as a small tree, SI first and inch-pound units in brackets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from sim.case.fields import Quantity
from sim.case.fluids import water_properties
from sim.case.quantities import format_value
from sim.case.taught import uses_learned_films
from sim.case.unit_sizes import GALLON
from sim.case.writing import kind_of
from sim.machine.brief import head_of, inline, small_tree

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.case.blocks_case import Block, BlocksCase, Face
    from sim.case.conditions import SupplyWater
    from sim.case.parts import Layer, Rug

Branch = tuple[str, list[str]]


def draw(title: str, branches: list[Branch]) -> str:
    """A two-level tree.

    Parameters
    ----------
    title : str
        First line.
    branches : list of (str, list of str)
        Each a head line and the lines below it.
    """
    lines = [title]
    for index, (head, leaves) in enumerate(branches):
        last = index == len(branches) - 1
        lines.append(f"{'└── ' if last else '├── '}{head}")
        for number, leaf in enumerate(leaves):
            stem = "    " if last else "│   "
            lines.append(f"{stem}{'└── ' if number == len(leaves) - 1 else '├── '}{leaf}")
    return "\n".join(lines)


def _length(value: float) -> str:
    return format_value(value, "length")


def section_tree(section: BaseModel) -> str:
    """What a part of a case shows at a prompt: the keys that its writer gave, then the others."""
    model = type(section)
    names = sorted(model.model_fields, key=lambda name: name not in section.model_fields_set)
    rows = [(model.model_fields[name].alias or name, _shown(section, name)) for name in names]
    return small_tree(head_of(section), [row for row in rows if row[1] != "none"])


def _shown(section: BaseModel, name: str) -> str:
    """The value of a key in a few words."""
    value, info = getattr(section, name), type(section).model_fields[name]
    kind = kind_of(info.annotation, info.metadata)
    if isinstance(kind, Quantity) and isinstance(value, float):
        return format_value(value, kind.dimension)
    return inline(value)


def bay_rows(case: Case) -> list[tuple[str, str]]:
    """The parts of a joist bay, a line each."""
    layers = [f"{layer.material} {_length(layer.thickness)}" for layer in (*case.floor.coverings, case.floor.sheathing)]
    branches = (_bay, _plates, _tube, _cavity, _water, _around)
    bay, *others = (branch(case)[0].split(" ", 1) for branch in branches)
    others = [["plates", "none"] if head == ["no", "plates"] else head for head in others]
    return [(head, text) for head, text in (bay, ("floor", " on ".join(layers)), *others)]


def headline(noun: str, name: str, title: str) -> str:
    """What it is ("Case" or "House"), its name and its title."""
    return f"{noun} {name}: {title}" if title else f"{noun} {name}"


def bay_branches(case: Case) -> list[Branch]:
    """All parts of a joist bay, each with its details."""
    cut = "one plate pitch" if case.plates else "a slice, alike along the joists"
    span = cut if case.span == "pitch" else "whole bay, rim joist to far end"
    plain = "correlations" if case.air.model == "films" else case.air.model
    taught = "learned films" if uses_learned_films(case) else plain
    ends = [f"modelled: {span}", f"cells {case.mesh.fineness}, cavity air by {taught}"]
    parts = (_bay, _floor, _plates, _tube, _cavity, _water, _around)
    return [*(part(case) for part in parts), ("model", ends)]


def blocks_rows(case: BlocksCase) -> list[tuple[str, str]]:
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


def _bay(case: Case) -> Branch:
    bay = case.bay
    size = f"{_length(bay.timber_width)} x {_length(bay.joist_depth)}"
    kind = "I-joists" if bay.joist_kind == "i-joist" else "sawn joists"
    joists = f"{kind} {size}, {bay.joist_material}"
    return f"bay {_length(bay.joist_spacing)} between joist centres, {_length(bay.length)} long", [
        joists,
        f"clear width {_length(bay.clear_width)}, far end {bay.far_end}",
    ]


def layer_line(layer: Layer) -> str:
    """Material, thickness and R-value of a layer in one line."""
    return (
        f"{layer.material} {_length(layer.thickness)}, "
        f"R {format_value(layer.thermal_resistance, 'thermal resistance')}"
    )


def _floor(case: Case) -> Branch:
    layers = [layer_line(layer) for layer in (*case.floor.coverings, case.floor.sheathing)]
    return "floor, top down", [*map(_rug_line, case.floor.rugs), *layers]


def _rug_line(rug: Rug) -> str:
    x, y = (f"{_length(low)} to {_length(high)}" for low, high in (rug.x, rug.y))
    return f"rug: {layer_line(rug)}, x {x}, y {y}"


def _plates(case: Case) -> Branch:
    plates = case.plates
    if plates is None:
        return "no plates", []
    size = " x ".join(_length(size) for size in (plates.width, plates.length, plates.thickness))
    if plates.hung:
        where = f"hung {_length(plates.drop)} below the subfloor"
    else:
        where = f"fastened, contact {format_value(plates.contact, 'thermal resistance')}"
    return f"plates every {_length(plates.spacing)}, {plates.coverage:.0%} of the tube", [
        f"{size}, {plates.material}",
        f"{plates.orientation}, {where}",
        f"bond {format_value(plates.bond, 'tube resistance')}, "
        f"emissivity {plates.emissivity_up:g} up, {plates.emissivity_down:g} down",
    ]


def _tube(case: Case) -> Branch:
    tube = case.tube
    head = (
        f"tube{f' {tube.size}' if tube.size else ''}, {_length(tube.outer_diameter)} outside, "
        f"{_length(tube.inner_diameter)} bore, {tube.material}"
    )
    if tube.direction == "across":
        return head, [f"across the joists every {_length(tube.across_spacing)}, {_length(tube.depth)} deep"]
    places = ", ".join(map(_length, tube.positions))
    runs = f"{tube.runs} run{'s' * (tube.runs > 1)} along the joists at x {places}"
    if case.plates is not None:
        return head, [runs, f"{tube.placement} the plate"]
    depth = f"{_length(tube.depth)} below the subfloor" if tube.depth else "against the subfloor"
    return head, [runs, depth]


def _cavity(case: Case) -> Branch:
    insulation, gap = case.cavity.insulation, case.cavity.air_gap
    lines = []
    if insulation is not None:
        lines.append(f"{layer_line(insulation)}, facing emissivity {insulation.facing_emissivity:g}")
        lines.append(_below_sheathing(gap))
    lines.append("ceiling: " + (layer_line(case.ceiling) if case.ceiling else "none"))
    return "cavity " + ("with insulation" if insulation else "without insulation"), lines


def _below_sheathing(gap: float | None) -> str:
    if gap is None:
        return "rests on what is below"
    return f"{_length(gap)} below the subfloor" if gap else "tight against the subfloor"


def _water(case: Case) -> Branch:
    water = case.water
    glycol = f", {water.glycol:.0%} glycol" if water.glycol else ""
    return f"water {format_value(water.supply, 'temperature')}{glycol}", [_rate(water)]


def _rate(water: SupplyWater) -> str:
    if water.drop is not None:
        fall = format_value(water.drop, "temperature difference")
        return f"falls {fall} over {_length(water.circuit_length)} of tube"
    flow = water.flow or 0.0
    volume = flow / float(water_properties(water.supply, water.glycol).density)
    return f"flow {volume * 60000:.3g} l/min ({volume * 60 / GALLON:.3g} gpm)"


def _around(case: Case) -> Branch:
    below, rim = case.below, case.rim
    warmth = "" if below.kind == "adiabatic" else f" {format_value(below.temperature, 'temperature')}"
    lines = [f"below: {below.kind}{warmth}"]
    if case.span == "bay" and rim.outdoor_temperature is not None:
        insulation = layer_line(rim.insulation) if rim.insulation else "no insulation"
        outdoors = format_value(rim.outdoor_temperature, "temperature")
        lines.append(f"rim joist {_length(rim.thickness)}, {insulation}, outdoors {outdoors}")
    return f"room {format_value(case.room.temperature, 'temperature')}, floor law {case.room.law}", lines


def blocks_branches(case: BlocksCase) -> list[Branch]:
    """All parts of a case of boxes, each with its details."""
    length, warmth = _scales(case)
    size = " x ".join(length(high - low) for low, high in case.extent)
    boxes = [_box_line(index, box, warmth) for index, box in enumerate(case.boxes)]
    faces = [
        f"{face.name or index}: {face.on} at {length(face.at)}, {_condition(face, warmth)}{_swing(face)}"
        for index, face in enumerate(case.faces)
    ]
    others = [
        f"{len(case.tubes)} tubes, {len(case.sheets)} sheets, {len(case.contacts)} contacts, {len(case.probes)} probes",
        f"cells {case.mesh.fineness}, cavity air by {case.air.model}",
    ]
    if case.time is not None:
        start = format_value(case.time.start_temperature, "temperature")
        others.append(f"in time for {_time(case.time.duration)}, from {start}")
    return [(f"boxes in paint order, {size}", boxes), ("faces", faces), ("model", others)]


Told = Callable[[float], str]
"""A number of a case in words."""


def _scales(case: BlocksCase) -> tuple[Told, Told]:
    """How lengths and temperatures are told: by their units, or in the scales of a dimensionless case."""
    if case.air.rayleigh is not None:
        return (lambda value: f"{value:g} L"), (lambda value: f"{value:g} ΔT")
    return _length, lambda value: format_value(value, "temperature")


def _box_line(index: int, box: Block, warmth: Told) -> str:
    if box.air or box.insulating:
        return f"{box.name or index}: " + ("cavity air" if box.air else "insulating")
    if box.temperature is not None:
        return f"{box.name or index}: {warmth(box.temperature)}"
    return f"{box.name or index}: " + str(box.solid).split(": ", 1)[1]


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
    if face.flux is not None:
        return format_value(face.flux, "heat flux")
    if face.film is not None:
        return f"film {format_value(face.film, 'film coefficient')}{ambient}"
    return f"{'radiation' if face.emissivity is not None else 'floor law'}{ambient}"

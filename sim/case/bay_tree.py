"""A joist bay as a small tree, SI first and inch-pound units in brackets."""

from __future__ import annotations

from sim.case.bay_keys import BayKeys
from sim.case.bay_parts import Layer, Rug
from sim.case.conditions import SupplyWater
from sim.case.fluids import water_properties
from sim.case.quantities import format_value
from sim.case.taught import uses_learned_films
from sim.case.tree import Branch
from sim.case.unit_sizes import GALLON


def _length(value: float) -> str:
    return format_value(value, "length")


def bay_rows(case: BayKeys) -> list[tuple[str, str]]:
    """The parts of a joist bay, a line each."""
    layers = [f"{layer.material} {_length(layer.thickness)}" for layer in (*case.floor.coverings, case.floor.sheathing)]
    branches = (_bay, _plates, _tube, _cavity, _water, _around)
    bay, *others = (branch(case)[0].split(" ", 1) for branch in branches)
    others = [["plates", "none"] if head == ["no", "plates"] else head for head in others]
    return [(head, text) for head, text in (bay, ("floor", " on ".join(layers)), *others)]


def bay_branches(case: BayKeys) -> list[Branch]:
    """All parts of a joist bay, each with its details."""
    bare = "a slice, alike along the joists" if case.tube.direction == "along" else "one run, from midway to midway"
    cut = "one plate pitch" if case.plates and case.tube.direction == "along" else bare
    span = cut if case.span == "pitch" else "whole bay, rim joist to far end"
    plain = "correlations" if case.air.model == "films" else case.air.model
    taught = "learned films" if uses_learned_films(case) else plain
    ends = [f"modelled: {span}", f"cells {case.mesh.fineness}, cavity air by {taught}"]
    parts = (_bay, _floor, _plates, _tube, _cavity, _water, _around)
    return [*(part(case) for part in parts), ("model", ends)]


def _bay(case: BayKeys) -> Branch:
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


def _floor(case: BayKeys) -> Branch:
    layers = [layer_line(layer) for layer in (*case.floor.coverings, case.floor.sheathing)]
    return "floor, top down", [*map(_rug_line, case.floor.rugs), *layers]


def _rug_line(rug: Rug) -> str:
    x, y = (f"{_length(low)} to {_length(high)}" for low, high in (rug.x, rug.y))
    return f"rug: {layer_line(rug)}, x {x}, y {y}"


def _plates(case: BayKeys) -> Branch:
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


def _tube(case: BayKeys) -> Branch:
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


def _cavity(case: BayKeys) -> Branch:
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


def _water(case: BayKeys) -> Branch:
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


def _around(case: BayKeys) -> Branch:
    below, rim = case.below, case.rim
    warmth = "" if below.kind == "adiabatic" else f" {format_value(below.temperature, 'temperature')}"
    lines = [f"below: {below.kind}{warmth}"]
    if case.span == "bay" and rim.outdoor_temperature is not None:
        insulation = layer_line(rim.insulation) if rim.insulation else "no insulation"
        outdoors = format_value(rim.outdoor_temperature, "temperature")
        lines.append(f"rim joist {_length(rim.thickness)}, {insulation}, outdoors {outdoors}")
    return f"room {format_value(case.room.temperature, 'temperature')}, floor law {case.room.law}", lines

"""Rules that join several sections of a bay case. Each function returns the problems it finds."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from sim.case.bay_keys import BayKeys
from sim.case.bay_settle import tube_top
from sim.case.bay_time_rules import time_problems
from sim.case.errors import Problem
from sim.case.fields import given
from sim.case.quantities import format_value
from sim.case.unused import refused_unused

SLACK = 1e-9
"""Lengths closer than this [m] count as equal."""


def bay_problems(case: BayKeys) -> list[Problem]:
    """Every rule that a bay case breaks.

    Parameters
    ----------
    case : Case
        With every section complete.
    """
    problems = [*_joists(case), *_temperatures(case), *_rugs(case), *_ends(case), *_compared(case), *_open_below(case)]
    problems += [*_circuit(case), *time_problems(case), *refused_unused(case)]
    if case.bay.clear_width > SLACK:
        problems += [*_sideways(case), *_downwards(case), *_across(case)]
    return problems


def _mm(value: float) -> str:
    return format_value(value, "length")


def _degrees(value: float) -> str:
    return format_value(value, "temperature")


def _joists(case: BayKeys) -> Iterator[Problem]:
    bay = case.bay
    name = "flange_width" if bay.joist_kind == "i-joist" else "joist_width"
    if bay.clear_width <= SLACK:
        yield Problem(
            f"bay.{name}",
            _mm(bay.timber_width),
            f"must be less than the joist spacing {_mm(bay.joist_spacing)}",
        )
    if bay.joist_kind == "i-joist":
        if bay.web_thickness >= bay.flange_width:
            yield Problem(
                "bay.web_thickness",
                _mm(bay.web_thickness),
                f"must be less than the flange width {_mm(bay.flange_width)}",
            )
        if 2 * bay.flange_height >= bay.joist_depth:
            yield Problem(
                "bay.flange_height",
                _mm(bay.flange_height),
                f"two flanges must be less than the joist depth {_mm(bay.joist_depth)}",
            )


def _circuit(case: BayKeys) -> Iterator[Problem]:
    """A circuit shorter than the tube that is modelled would give off more than its water falls by."""
    length = case.bay.length if case.span == "bay" else case.plates.spacing if case.plates else 0.0
    tube = case.tube.runs * length
    if case.tube.direction == "along" and given(case.water, "circuit_length") and case.water.circuit_length < tube:
        yield Problem(
            "water.circuit_length",
            _mm(case.water.circuit_length),
            f"must be at least the tube of the stretch that is modelled, {_mm(tube)}",
            "give the length of the whole circuit, from the manifold and back",
        )


def _open_below(case: BayKeys) -> Iterator[Problem]:
    """A bay that nothing closes from below exchanges air with the space there, which is not modelled."""
    if case.ceiling is None and case.cavity.insulation is None:
        yield Problem(
            "ceiling",
            '"none" and no insulation',
            "nothing closes the bay from below; open bays are not modelled",
            "add [ceiling] or [cavity.insulation]",
        )


def _temperatures(case: BayKeys) -> Iterator[Problem]:
    lead = case.water.supply - case.room.temperature
    if lead <= 0.0:
        yield Problem(
            "water.supply",
            _degrees(case.water.supply),
            f"the water is not warmer than the room ({_degrees(case.room.temperature)})",
            "raise water.supply: this program models heating",
        )
    elif case.water.drop is not None and case.water.drop >= lead:
        yield Problem(
            "water.drop",
            format_value(case.water.drop, "temperature difference"),
            f"must be less than supply minus room ({format_value(lead, 'temperature difference')})",
            "the water would leave colder than the room",
        )
    if case.below.temperature is None:
        yield Problem(
            "below.temperature",
            "",
            f'missing; below.kind "{case.below.kind}" needs it',
            'write e.g. "12 degC" or "54 degF"',
        )


def _rugs(case: BayKeys) -> Iterator[Problem]:
    for index, rug in enumerate(case.floor.rugs):
        where = f"floor.rug[{index}]"
        if rug.x[1] > case.bay.joist_spacing + SLACK:
            yield Problem(
                f"{where}.x",
                _mm(rug.x[1]),
                f"lies outside the bay, which ends at {_mm(case.bay.joist_spacing)}",
            )
        if rug.y[1] > case.bay.length + SLACK:
            yield Problem(
                f"{where}.y", _mm(rug.y[1]), f"lies outside the bay, which ends at {_mm(case.bay.length)}"
            )
        if case.span == "pitch" and (rug.y[0] > SLACK or rug.y[1] < case.bay.length - SLACK):
            yield Problem(
                f"{where}.y",
                f"{_mm(rug.y[0])} to {_mm(rug.y[1])}",
                "one plate pitch has no place along the bay",
                'set span = "bay", or leave y out',
            )


def _ends(case: BayKeys) -> Iterator[Problem]:
    if case.span == "bay" and case.rim.outdoor_temperature is None:
        yield Problem(
            "rim.outdoor_temperature",
            "",
            'missing; span "bay" models the rim joist',
            'write e.g. "-10 degC" or "14 degF"',
        )
    if case.span == "bay" and case.plates and case.plates.length > case.bay.length + SLACK:
        yield Problem(
            "plates.length", _mm(case.plates.length), f"is longer than the bay ({_mm(case.bay.length)})"
        )


def _compared(case: BayKeys) -> Iterator[Problem]:
    for index, spacing in enumerate(case.compare.spacing):
        where = f"compare.spacing[{index}]"
        if spacing is None:
            continue
        if case.plates is None:
            yield Problem(where, _mm(spacing), "the case has no plates to space", "add a [plates] section")
        elif case.tube.direction == "across":
            yield Problem(
                where,
                _mm(spacing),
                "plates across the joists are spaced by the joists",
                'compare "none" only, or set tube.direction = "along"',
            )
        elif spacing < case.plates.length * (1 - SLACK):
            yield Problem(where, _mm(spacing), f"must be at least the plate length {_mm(case.plates.length)}")


def _sideways(case: BayKeys) -> Iterator[Problem]:
    """Along the joists: everything must find room between the joists and beside its neighbours."""
    if case.tube.direction == "across":
        return
    positions, plates = case.tube.positions, case.plates
    yield from _between(case, "tube.positions", "the tube", positions, case.tube.outer_diameter)
    if plates is None:
        return
    width = plates.across
    if width > case.bay.clear_width + SLACK:
        yield Problem(
            "plates.width",
            _mm(width),
            f"must be at most the clear width of the bay {_mm(case.bay.clear_width)}",
        )
    else:
        yield from _between(case, "plates.width", "the plate", positions, width)


def _between(
    case: BayKeys, name: str, thing: str, positions: tuple[float, ...], width: float
) -> Iterator[Problem]:
    left = case.bay.timber_width / 2
    right = case.bay.joist_spacing - left
    for run, x in enumerate(positions, start=1):
        if x - width / 2 < left - SLACK or x + width / 2 > right + SLACK:
            yield Problem(
                name,
                _mm(width if name.startswith("plates") else x),
                f"{thing} of run {run} at {_mm(x)} runs into a joist (clear from {_mm(left)} "
                f"to {_mm(right)})",
                "move the run or narrow the plate",
            )
    for run, (a, b) in enumerate(pairwise(sorted(positions)), start=1):
        if b - a < width - SLACK:
            yield Problem(
                name,
                _mm(width if name.startswith("plates") else b),
                f"runs {run} and {run + 1} collide: {thing} is {_mm(width)} wide, the runs are "
                f"{_mm(b - a)} apart",
                "fewer runs, wider apart, or narrower plates",
            )


def lowest_part(case: BayKeys) -> tuple[float, str]:
    """Depth [m] below the sheathing that tube and plates reach, and the key that sets it."""
    tube, plates = case.tube, case.plates
    if plates is None or tube.direction == "across":
        return tube.depth + tube.outer_diameter, _depth_key(case)
    tube_bottom = tube_top(plates, tube) + tube.outer_diameter
    return max(plates.drop + plates.height, tube_bottom), "plates.drop"


def _depth_key(case: BayKeys) -> str:
    """The key that sets how deep the tube lies: with hung plates that of the plates, unless another depth is stated."""
    plates, tube = case.plates, case.tube
    if plates is None or plates.position != "hung" or abs(tube.depth - max(tube_top(plates, tube), 0.0)) > SLACK:
        return "tube.depth"
    return "plates.drop"


def _downwards(case: BayKeys) -> Iterator[Problem]:
    depth, name = lowest_part(case)
    room = case.bay.joist_depth
    if depth > room + SLACK:
        reach = f"tube or plate reaches {_mm(depth)} down, below the joists, which are {_mm(room)} deep"
        most = _stated(case, name) - (depth - room)
        way_out = f"at most {_mm(most)} fit" if most > 0.0 else "hang it higher, or make bay.joist_depth larger"
        yield Problem(name, _mm(_stated(case, name)), reach, way_out)
    else:
        yield from _insulation(case, depth, name)
    yield from _plate_over_tube(case)


def _stated(case: BayKeys, name: str) -> float:
    """What stands at the key that `lowest_part` names [m]."""
    return case.plates.drop if case.plates and name == "plates.drop" else case.tube.depth


def _insulation(case: BayKeys, depth: float, name: str) -> Iterator[Problem]:
    insulation, gap, room = case.cavity.insulation, case.cavity.air_gap, case.bay.joist_depth
    if insulation is None:
        if gap is not None:
            way_out = "add [cavity.insulation] or leave air_gap out"
            yield Problem("cavity.air_gap", _mm(gap), "there is no insulation to lie below it", way_out)
        return
    total = insulation.thickness + (gap or 0.0)
    if total > room + SLACK:
        what = "insulation and the air gap above it are" if gap else "insulation is"
        less = f"at most {_mm(room - gap)} fit" if gap and gap < room else "make cavity.air_gap smaller"
        way_out = f"{less if gap else f'at most {_mm(room)} fit'}; or make bay.joist_depth larger"
        rule = f"{what} deeper than the joist ({_mm(room)})"
        yield Problem("cavity.insulation.thickness", _mm(total), rule, way_out)
        return
    top = room - insulation.thickness if gap is None else gap
    pressed = top <= SLACK and _against_sheathing(case)
    if depth > top + SLACK and not pressed:
        yield _into_insulation(case, depth, top, name)


def _higher_or_thinner(case: BayKeys, depth: float, top: float, name: str) -> str:
    """How high tube or plates would have to hang, where they can, and how thick the insulation may be [m]."""
    highest, thickest = _stated(case, name) - depth + top, case.bay.joist_depth - depth
    ways = [f"at most {_mm(highest)} here"] * (highest >= -SLACK)
    return ", or ".join([*ways, f"insulation of at most {_mm(thickest)}"])


def _into_insulation(case: BayKeys, depth: float, top: float, name: str) -> Problem:
    """Tube or plate would sink into the insulation; say so at the key that the user set."""
    if case.cavity.air_gap is None:
        where = f"down to {_mm(depth)}, its top lies {_mm(top)} below the subfloor"
        rule = f"tube or plate reaches into the insulation ({where})"
        return Problem(name, _mm(_stated(case, name)), rule, _higher_or_thinner(case, depth, top, name))
    tight = ", or 0 to press the insulation on" if _against_sheathing(case) else ""
    rule = f"tube or plate reaches {_mm(depth)} below the subfloor, into the insulation"
    return Problem("cavity.air_gap", _mm(top), rule, f"at least {_mm(depth)}{tight}")


def _against_sheathing(case: BayKeys) -> bool:
    """Whether the heated parts touch the sheathing, so that insulation can be pressed around them."""
    if case.plates is not None:
        return not case.plates.hung
    return case.tube.depth <= SLACK


def _plate_over_tube(case: BayKeys) -> Iterator[Problem]:
    plates, tube = case.plates, case.tube
    if plates is None:
        return
    if not plates.hung and tube.placement != "below":
        yield Problem(
            "tube.placement",
            f'"{tube.placement}"',
            "under a fastened plate the tube lies below it",
            'set placement = "below", or position = "hung"',
        )
    elif plates.hung and tube_top(plates, tube) < -SLACK:
        yield Problem(
            "plates.drop",
            _mm(plates.drop),
            f"no room for the tube ({_mm(tube.outer_diameter)}) between "
            f'sheathing and plate with placement "{tube.placement}"',
            "hang the plate lower",
        )


def _across(case: BayKeys) -> Iterator[Problem]:
    """A tube across the joists passes through holes in them."""
    tube, bay, plates = case.tube, case.bay, case.plates
    if tube.direction == "along":
        return
    if tube.positions:
        yield Problem(
            "tube.positions", "", "belongs to a tube along the joists", "use across_spacing instead"
        )
    if tube.hole_diameter < tube.outer_diameter:
        yield Problem(
            "tube.hole_diameter",
            _mm(tube.hole_diameter),
            f"must be at least the tube's diameter {_mm(tube.outer_diameter)}",
        )
    yield from _hole(case)
    if tube.across_spacing < tube.hole_diameter:
        yield Problem(
            "tube.across_spacing",
            _mm(tube.across_spacing),
            "the holes would run into each other",
            f"at least {_mm(tube.hole_diameter)}",
        )
    if plates is not None:
        yield from _plates_across(case)
    if case.span == "bay" and tube.across_spacing > bay.length + SLACK:
        yield Problem(
            "tube.across_spacing", _mm(tube.across_spacing), f"is wider than the bay ({_mm(bay.length)})"
        )


def _hole(case: BayKeys) -> Iterator[Problem]:
    tube, bay = case.tube, case.bay
    centre, radius = tube.depth + tube.outer_diameter / 2, tube.hole_diameter / 2
    edge = bay.flange_height if bay.joist_kind == "i-joist" else 0.0
    if centre - radius < edge - SLACK or centre + radius > bay.joist_depth - edge + SLACK:
        part = "the web" if edge else "the joist"
        key = _depth_key(case)
        yield Problem(
            key,
            _mm(_stated(case, key)),
            f"the hole ({_mm(tube.hole_diameter)}) must lie inside {part}, "
            f"{_mm(edge)} to {_mm(bay.joist_depth - edge)} below the subfloor",
        )


def _plates_across(case: BayKeys) -> Iterator[Problem]:
    tube, plates, bay = case.tube, case.plates, case.bay
    assert plates is not None
    if not plates.hung:
        yield Problem(
            "plates.position",
            '"fastened"',
            "a tube through holes hangs below the subfloor",
            'set position = "hung"',
        )
        return
    if plates.upright:
        yield Problem("plates.orientation", '"upright"', "plates of a tube across the joists lie flat")
    if abs(tube.depth - tube_top(plates, tube)) > 1e-6:
        yield Problem(
            "tube.depth",
            _mm(tube.depth),
            f"the plates put the tube at {_mm(tube_top(plates, tube))}",
            "leave depth out, or change plates.drop",
        )
    if plates.length > bay.clear_width + SLACK:
        yield Problem(
            "plates.length",
            _mm(plates.length),
            f"must be at most the clear width of the bay {_mm(bay.clear_width)}",
        )
    if abs(plates.spacing - bay.joist_spacing) > 1e-6:
        yield Problem(
            "plates.spacing",
            _mm(plates.spacing),
            "across the joists plates are spaced by the joists",
            "leave spacing and coverage out",
        )
    if plates.width > tube.across_spacing + SLACK:
        yield Problem(
            "plates.width",
            _mm(plates.width),
            f"plates overlap: the runs are {_mm(tube.across_spacing)} apart",
        )

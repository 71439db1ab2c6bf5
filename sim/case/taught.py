"""Whether a bay lies within what the learned films were taught, and what of it does not."""

from __future__ import annotations

from collections.abc import Iterator

from sim.case.bay_keys import BayKeys
from sim.case.quantities import format_value

EVERY = {
    "clear width between joists": (0.25, 0.59),
    "tube diameter": (0.012, 0.0225),
}
PLATED = {
    "plate width": (0.045, 0.210),
    "plate length": (0.10, 0.70),
    "distance from plate to plate along the tube": (0.0, 0.44),
}
TAUGHT = {
    "flat": EVERY | PLATED | {"drop of plates or tubes": (0.006, 0.105), "height of the air": (0.037, 0.40)},
    "bare": EVERY | {"drop of plates or tubes": (0.006, 0.110), "height of the air": (0.040, 0.38)},
    "upright": EVERY | PLATED | {
        "drop of plates or tubes": (0.007, 0.080), "height of the air": (0.09, 0.36),
        "plate width": (0.055, 0.190), "plate length": (0.10, 1.10),
    },
    "fastened": EVERY | PLATED | {
        "height of the air": (0.030, 0.25), "plate width": (0.07, 0.200), "plate length": (0.10, 0.60),
        "distance from plate to plate along the tube": (0.0, 0.29),
    },
    "sheathing": EVERY | {"height of the air": (0.030, 0.34)},
}  # fmt: skip
"""Lengths that the computed bays of each kind span [m], but for lone ones at the ends; water was 27 to 82 °C, rooms
16 to 24 °C. I-joists taught nothing, but bays between them come out as well as those between sawn joists."""

SHAPES = ("flat", "upright")
"""Orientations of the plates that taught."""

SUPPLY = (300.0, 355.0)
"""Water that they span [K]."""

LEAST_SPREAD = 0.03
"""Thickness times conductivity of plates below which they hardly spread heat [W/K]; aluminium of 0.5 mm, which taught,
has 0.08, of 0.2 mm 0.03. Films are of plates that are warm throughout."""

SLACK = 1e-3
"""Depth of a tube up to which it does not hang [m]."""

LEAST_AIR = 0.015
"""Height of air below which a batt lies tight: too little for what was taught to speak of [m]."""

ON_TRUST, WATER_ON_TRUST = 0.05, 5.0
"""Share of an end by which lengths may lie outside, and kelvin by which water may. The law is smooth: a plate of 24 in
is no other plate than one of 600 mm, and water of 180 °F does as water of 80 °C. The set holds no such bay."""

LONG_ON_TRUST = {"flat": 2.5, "fastened": 2.5}
"""By kind, plates up to this length are taken for the longest of the kind that taught [m]: along the middle of a long
plate nothing changes, and its ends reach no farther than the air is high. Of seven computed bays with plates of 0.78 to
1.25 m, six of which never taught, heat up came so within 5.1 %, heat down within 9.5 %, ripple within 16 %; by
correlations within 13, 21 and 67 %. Longer ones than these are trusted by that reason alone."""


def longest_taught(kind: str) -> float:
    """Length of the longest plates of a kind that taught [m]; 0 where it has none."""
    return TAUGHT[kind].get("plate length", (0.0, 0.0))[1]


def longer_than_taught(case: BayKeys) -> bool:
    """Whether a bay's plates are longer than all that taught its kind, and are taken for the longest of those."""
    kind = taught_kind(case)
    return case.plates is not None and case.plates.length > longest_taught(kind) * (1.0 + ON_TRUST)


def uses_learned_films(case: BayKeys) -> bool:
    """Whether a bay's air follows the learned films."""
    return _asks(case) and not any(_outside(case))


def beyond_taught(case: BayKeys, system: str = "both") -> list[str]:
    """What keeps a bay that asks for learned films from them, in words; empty where nothing does.

    `system` is that of the units, as in `format_value`.
    """
    return list(_outside(case, system)) if _asks(case) else []


def by_correlations_alone(case: BayKeys) -> bool:
    """Whether the air round plates or tube follows correlations that computed air was set beside: no taught films."""
    airy = hangs(case) or height_of_air(case) > LEAST_AIR
    plain = case.air.model in ("films", "correlations") and case.air.calibration is None
    return airy and plain and not uses_learned_films(case) and _is_known_shape(case)


def _is_known_shape(case: BayKeys) -> bool:
    return case.plates is None or case.plates.orientation in SHAPES


def _asks(case: BayKeys) -> bool:
    """Whether learned films could serve: films are asked for, and there is air round plates or tube."""
    airy = hangs(case) or height_of_air(case) > LEAST_AIR
    return case.air.model == "films" and case.air.calibration is None and airy


def hangs(case: BayKeys) -> bool:
    """Whether plates or tube hang in the air, and do not lie at the sheathing."""
    return case.plates.hung if case.plates else case.tube.depth > SLACK


def taught_kind(case: BayKeys) -> str:
    """The kind of bay, by the words of TAUGHT."""
    if case.plates is None:
        return "bare" if hangs(case) else "sheathing"
    if not hangs(case):
        return "fastened"
    return "upright" if case.plates.upright else "flat"


def height_of_air(case: BayKeys) -> float:
    """Of the air in the cavity of plates and tube [m]."""
    batt, gap = case.cavity.insulation, case.cavity.air_gap
    return case.bay.joist_depth - (batt.thickness if batt else 0.0) if gap is None else gap


def _outside(case: BayKeys, system: str = "both") -> Iterator[str]:
    if case.plates is not None and case.plates.orientation not in SHAPES:
        yield f"no bay that taught has {case.plates.orientation} plates"
        return
    kind = taught_kind(case)
    for what, value in _lengths(case):
        low, high = TAUGHT[kind][what]
        if what == "plate length":
            high = max(high, LONG_ON_TRUST.get(kind, high))
        if not low * (1.0 - ON_TRUST) <= value <= high * (1.0 + ON_TRUST):
            yield _line(what, value, (low, high), system)
    if (plates := case.plates) is not None:
        own = plates.conductivity
        least = min(own) if isinstance(own, tuple) else own
        if plates.thickness * least < LEAST_SPREAD:
            shown = format_value(plates.thickness, "length", system)
            yield f"plates of {shown} and {least:.3g} W/(m K) spread less heat than 0.2 mm of aluminium"
    if not SUPPLY[0] - WATER_ON_TRUST <= case.water.supply <= SUPPLY[1] + WATER_ON_TRUST:
        ends = " to ".join(format_value(end, "temperature", system) for end in SUPPLY)
        yield f"water of {format_value(case.water.supply, 'temperature', system)} lies outside {ends}"


def _line(what: str, value: float, taught: tuple[float, float], system: str) -> str:
    by = max(taught[0] - value, value - taught[1])
    ends = " to ".join(format_value(end, "length", system) for end in taught)
    return f"{what} {format_value(value, 'length', system)} lies {format_value(by, 'length', system)} outside {ends}"


def _lengths(case: BayKeys) -> Iterator[tuple[str, float]]:
    plates, tube, bay = case.plates, case.tube, case.bay
    yield "height of the air", height_of_air(case)
    yield "clear width between joists", bay.clear_width
    yield "tube diameter", tube.outer_diameter
    if plates is not None:
        yield "plate width", plates.width
        yield "plate length", plates.length
        if tube.direction == "along":
            yield "distance from plate to plate along the tube", plates.spacing - plates.length
    if hangs(case):
        yield "drop of plates or tubes", plates.drop if plates else tube.depth

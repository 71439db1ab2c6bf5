"""Keys of a case that something else in it keeps from being read: which ones, and who would read them.

Most are refused: whoever writes a setpoint without a thermostat expects something of it. Those that describe a part or
a model which a comparison may bring back (`plates.contact` of plates that hang, `air.film_factor` while the air is
resolved) may stay; the command line says so in one line. Setting one of them by `vary` is refused as well, since
nothing would change.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from sim.case.bay_keys import BayKeys
from sim.case.case_keys import CaseKeys, KeyReader
from sim.case.errors import Problem
from sim.case.fields import Quantity, given, quantity_kind
from sim.case.messages import keys_of
from sim.case.quantities import format_value


def _resets(case: BayKeys) -> bool:
    return bool(case.control.water == "reset" and not case.control.curve)


def _starts_rising(case: BayKeys) -> bool:
    """Whether the water begins at a temperature of its own."""
    limited = case.control.rise_limit is not None and case.time.start == "uniform"
    return bool(case.control.water == "ramp" or limited)


def _looks_outdoors(case: BayKeys) -> bool:
    outside = case.span == "bay" or case.below.kind == "outdoors" or case.room.node is not None
    return bool(outside or case.control.water == "reset" or case.control.shutdown_outdoor is not None)


def _hangs_by_itself(case: BayKeys) -> bool:
    """Whether no plate says how deep the tube lies."""
    return bool(case.plates is None or case.tube.direction == "across")


AIR = (
    KeyReader(
        "air", ("film_factor", "calibration"), 'model "films" or "correlations"',
        lambda case: case.air.model in ("films", "correlations"), True,
    ),
    KeyReader(
        "air",
        ("cell", "wall_cell", "subgrid", "longest", "frames", "device", "error", "companion"),
        'model "resolved"',
        lambda case: case.air.is_resolved, True,
    ),
    KeyReader(
        "air", ("frames_until",), 'model "resolved" with frames',
        lambda case: case.air.is_resolved and case.air.frames > 0, True,
    ),
)  # fmt: skip
"""Keys of the air, in bays and among blocks."""

BAY = (
    KeyReader("control", ("ramp_time",), 'water "ramp"', lambda case: case.control.water == "ramp"),
    KeyReader("control", ("ramp_from",), 'water "ramp", or rise_limit after time.start "uniform",', _starts_rising),
    KeyReader("control", ("lowest",), 'water "reset" without a curve', _resets),
    KeyReader(
        "control", ("highest",), 'water "heat", or "reset" without a curve,',
        lambda case: case.control.water == "heat" or _resets(case),
    ),
    KeyReader("control", ("rise_limit",), 'water "step", "ramp" or "reset"', lambda case: case.control.water != "heat"),
    KeyReader(
        "control", ("setpoint",), "a thermostat without a schedule",
        lambda case: case.control.thermostat != "none" and not case.control.schedule,
    ),
    KeyReader(
        "time", ("start_temperature",), 'start "uniform", or control.water "ramp",',
        lambda case: case.time.start == "uniform" or case.control.water == "ramp",
    ),
    KeyReader("room", ("emissivity", "radiant_temperature"), 'law "split"', lambda case: case.room.law == "split"),
    KeyReader("tube", ("across_spacing",), 'direction "across"', lambda case: case.tube.direction == "across", True),
    KeyReader("tube", ("runs",), 'direction "along"', lambda case: case.tube.direction == "along", True),
    KeyReader(
        "bay", ("joist_width",), 'joist_kind "sawn"',
        lambda case: case.bay.joist_kind == "sawn" or (case.span == "bay" and case.bay.far_end == "blocked"), True,
    ),
    KeyReader(
        "bay", ("flange_width", "flange_height", "web_thickness"), 'joist_kind "i-joist"',
        lambda case: case.bay.joist_kind == "i-joist", True,
    ),
    KeyReader("bay", ("far_end",), 'span "bay"', lambda case: case.span == "bay", True),
    KeyReader(
        "rim", ("thickness", "material", "insulation", "outdoor_temperature", "film"), 'span "bay"',
        lambda case: case.span == "bay", True,
    ),
    KeyReader(
        "plates", ("contact",), 'position "fastened"',
        lambda case: case.plates is None or not case.plates.hung, True,
    ),
    KeyReader("tube", ("placement",), "a plate", lambda case: case.plates is not None, True),
    KeyReader("tube", ("depth",), "a tube without plates, or across the joists,", _hangs_by_itself, True),
    KeyReader(
        "cavity.insulation", ("facing_emissivity",), "an air gap above the insulation",
        lambda case: case.cavity.insulation is None or case.cavity.air_gap != 0.0, True,
    ),
    KeyReader(
        "below", ("temperature", "film"), "a space that takes up heat",
        lambda case: case.below.kind != "adiabatic", True,
    ),
    KeyReader("weather", ("temperature", "file"), "something that the weather drives", _looks_outdoors, True),
    *AIR,
)  # fmt: skip
"""Keys of a bay."""


def refused_unused(case: CaseKeys) -> list[Problem]:
    """Keys that were given, that nothing reads, and that must not stay."""
    return list(_unused(case, kept=False))


def kept_unused(case: CaseKeys) -> list[Problem]:
    """Keys that were given and that nothing reads, but that may stay for comparisons."""
    return list(_unused(case, kept=True))


def unread_keys(case: CaseKeys) -> Iterator[tuple[str, str]]:
    """Section and key of everything that nothing reads and that must not stay, whether given or not."""
    for reader in case.readers:
        if not reader.kept and not reader.reads(case):
            yield from ((reader.section, key) for key in reader.keys)


def _unused(case: CaseKeys, kept: bool) -> Iterator[Problem]:
    for reader in case.readers:
        section = _section(case, reader.section)
        if reader.kept != kept or section is None or reader.reads(case):
            continue
        for key in reader.keys:
            if given(section, key) and getattr(section, key) != _usual(case, reader.section, key):
                rule = f"only {reader.who} reads it"
                yield Problem(f"{reader.section}.{key}", _shown(section, key), rule, "leave it out")


def _shown(section: BaseModel, key: str) -> str:
    """A value as people read it; of a part its presence is enough."""
    value, info = getattr(section, key), type(section).model_fields[key]
    kind = quantity_kind(info.annotation, info.metadata)
    if isinstance(kind, Quantity) and kind.dimension != "fraction":
        return format_value(value, kind.dimension)
    if isinstance(value, BaseModel):
        return "a part"
    return str(value).lower() if isinstance(value, bool) else str(value)


def _section(case: CaseKeys, dotted: str) -> BaseModel | None:
    """A section, None where the case does not have that part."""
    here: Any = case
    for part in dotted.split("."):
        here = getattr(here, keys_of(type(here)).get(part, part), None) if here is not None else None
    return here  # type: ignore[no-any-return]


def _usual(case: CaseKeys, section: str, key: str) -> Any:
    """What stands for a key that is left out; a written case holds such values and may be read again."""
    worked, name = case.usual_values, f"{section}.{key}"
    if name in worked:
        return worked[name]
    found: Any = _section(case, section)
    return type(found).model_fields[key].get_default(call_default_factory=True)

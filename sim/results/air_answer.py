"""The answer of air alone in words: what gives heat, what takes it, how much that is beside air at rest, how fast."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

from sim.results.air_motion import is_still
from sim.results.people import BAND, format_value, shown_value

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase

Shown = Literal["si", "ip", "both"]
_ONSET = "a level layer heated from below begins to turn over at 1,708 (Chandrasekhar 1961)"


def air_answer(case: BlocksCase, report: Mapping[str, float], units: Shown) -> list[str]:
    """Sentences on a solved flow, the most important first.

    Parameters
    ----------
    case : of air alone.
    report : report keys and values (SI, or in L, ΔT and α/L where the case is dimensionless).
    units : "si", "ip" or "both"; a dimensionless case has no units.
    """
    told = [_heat(report, units), _beside_rest(case, report), _speed(report, units), _numbers(case, report, units)]
    return [sentence for sentence in told if sentence]


def _heat(report: Mapping[str, float], units: Shown) -> str:
    """The wall, tube or sheet that gives most and the one that takes most."""
    walls = {key: report[key] for key in report if key.startswith("heat_flow_") and f"nusselt_{_stem(key)}" in report}
    if not walls:
        return ""
    gives, takes = max(walls, key=walls.__getitem__), min(walls, key=walls.__getitem__)
    if walls[gives] <= 0.0 or walls[takes] >= 0.0:
        return ""
    taken = {takes: -walls[takes], takes + BAND: report.get(takes + BAND)}
    parts = [shown_value(own, key, units).removesuffix(" k ΔT L") for own, key in ((report, gives), (taken, takes))]
    if "_W" not in gives:
        parts = [f"{part} k ΔT L" for part in parts]
    most = "" if len(walls) == 2 else "most of all "
    return f"The {_name(gives)} gives {most}{parts[0]} to the air; the {_name(takes)} takes {most}{parts[1]}."


def _stem(key: str) -> str:
    return key.removeprefix("heat_flow_").removesuffix("_W")


def _name(key: str) -> str:
    return _stem(key).replace("_", " ")


def _beside_rest(case: BlocksCase, report: Mapping[str, float]) -> str:
    """Heat over that of air at rest, where two whole walls face each other and nothing else has a temperature."""
    walls = [face for face in case.faces if face.temperature is not None]
    plain = len(case.boxes) == 1 and not case.tubes and not case.sheets
    if not plain or len(walls) != 2 or {wall.on for wall in walls} != {f"{walls[0].on[0]}{side}" for side in "-+"}:
        return ""
    if any(wall.x or wall.y or wall.z for wall in walls):
        return ""
    low, high = case.extent["xyz".index(walls[0].on[0])]
    number = report.get("nusselt_" + "_".join(walls[0].name.split()))
    if number is None:
        return ""
    times = float(number) * (high - low) / case.air_length
    return f"That is {times:.3g} times what the same air would conduct if it could not move."


def _speed(report: Mapping[str, float], units: Shown) -> str:
    key = next((key for key in ("air_speed_highest_mm_s", "air_speed_highest") if key in report), "")
    if not key or is_still(report):
        return ""
    mean = key.replace("highest", "mean")
    scale = "" if key.endswith("mm_s") else " α/L"
    beside = f", {format_value(mean, report[mean], units)}{scale} on average" if mean in report else ""
    return f"The air moves at up to {format_value(key, report[key], units)}{scale}{beside}."


def _numbers(case: BlocksCase, report: Mapping[str, float], units: Shown) -> str:
    """What the two numbers of the table weigh, with the length that they are for."""
    if "rayleigh" not in report:
        return ""
    number = float(f"{report['rayleigh']:.3g}")
    length = "L" if case.air.rayleigh else format_value("size_mm", 1e3 * case.air_length, units)
    return (
        f"Rayleigh number {number:,.0f}: buoyancy over what friction and conduction hold back, for a length "
        f"of {length}; {_ONSET}. Nusselt number: heat of a wall over conduction across that length."
    )

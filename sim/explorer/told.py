"""What a page tells of a solved bay: numbers, limits with margins, cautions, the air behind it; in both systems."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

from sim.case.constants import ZERO_CELSIUS
from sim.case.taught import beyond_taught
from sim.results.air_words import air_words
from sim.results.people import UNITS, format_against, format_value, full_name

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.rules.limits import Verdict
    from sim.run import Result

SHOWN = (
    "heat_flux_up_W_m2",
    "surface_mean_C",
    "surface_peak_C",
    "surface_trough_C",
    "ripple_K",
    "share_down_percent",
    "sheathing_peak_C",
    "water_return_C",
    "plates_per_m2",
    "tube_m_per_m2",
)
"""Report keys that a page shows, in this order."""

SYSTEMS: tuple[Literal["si", "ip"], ...] = ("si", "ip")


def told(result: Result[Case]) -> dict[str, object]:
    """Everything that is said of a result, as plain values for the page."""
    case, values = result.case, result.report.values
    return {
        "numbers": [number(key, values[key]) for key in SHOWN if key in values],
        "limits": _limits(case, values),
        "cautions": _cautions(case, values),
        "feet": _feet(case, values),
        "air": "; ".join(air_words([values], ripple=True)) or "no air in the bay",
        "beyond": beyond_taught(case),
        "cells": result.cells.grid.size,
        "room": float(case.room.temperature) - ZERO_CELSIUS,
        "highest": _highest(case),
    }


def number(key: str, value: float) -> dict[str, object]:
    """A report value with its label."""
    words = f"water, {full_name(key)}" if key.startswith("water_") else full_name(key)
    return {"key": key, "label": words[:1].upper() + words[1:], "value": float(value), **both(key, value)}


def both(key: str, value: float) -> dict[str, str]:
    """A report value in both systems."""
    return {system: format_value(key, value, system).replace("-", "−") for system in SYSTEMS}


def in_both(text: str) -> dict[str, str]:
    """A sentence whose numbers stand in both systems, in each of them alone.

    >>> in_both("water of 95.0 °C (203.0 °F) gives 134.5 W/m² (42.6 Btu/h·ft²)")["ip"]
    'water of 203.0 °F gives 42.6 Btu/h·ft²'
    """
    twice = re.compile(r"(-?[\d.,]+ (?:°C|W/m²)) \(([^()]+)\)")
    return {"si": twice.sub(r"\1", text), "ip": twice.sub(r"\2", text)}


def _limits(case: Case, values: Mapping[str, float]) -> list[dict[str, object]]:
    """Limits, the nearest first; where heat would have to flow the other way, a limit says nothing."""
    from sim.rules.limits import hold, limits_for

    verdicts = hold(limits_for(case), values)
    return [_limit(verdict) for verdict in sorted(verdicts, key=lambda v: -_used(v))]


def _highest(case: Case) -> float | None:
    """The lowest limit on the floor's warmest spot [°C]."""
    from sim.rules.limits import limits_for

    return min((limit.highest for limit in limits_for(case) if limit.key == "surface_peak_C"), default=None)


def _limit(verdict: Verdict) -> dict[str, object]:
    limit = verdict.limit
    pairs = {system: format_against(limit.key, verdict.value, limit.highest, system) for system in SYSTEMS}
    left = {system: UNITS["K"].write(abs(limit.highest - verdict.value), system) for system in SYSTEMS}
    return {
        "what": limit.what,
        "source": limit.source,
        "kept": bool(verdict.kept),
        "used": _used(verdict),
        "here": {system: pair[0] for system, pair in pairs.items()},
        "most": {system: pair[1] for system, pair in pairs.items()},
        "left": left,
    }


def _used(verdict: Verdict) -> float:
    """Which share of the way from the unheated value to the limit is used up."""
    limit = verdict.limit
    return (verdict.value - limit.unheated) / max(limit.highest - limit.unheated, 1e-9)


def _cautions(case: Case, values: Mapping[str, float]) -> list[dict[str, object]]:
    from sim.rules.cautions import bay_cautions

    pairs = zip(*(bay_cautions(case, values, system) for system in SYSTEMS), strict=True)
    return [
        {"subject": si.subject, "si": si.text, "ip": ip.text, "source": si.source, "broken": si.broken}
        for si, ip in pairs
    ]


def _feet(case: Case, values: Mapping[str, float]) -> list[dict[str, str]]:
    from sim.rules.foot import foot_lines

    return [
        {"si": si, "ip": ip}
        for si, ip in zip(*(foot_lines(case, values, system) for system in SYSTEMS), strict=True)
    ]

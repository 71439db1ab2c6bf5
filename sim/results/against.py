"""A number of a report beside the bound that it is held against, as the rest of its sheet writes it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from sim.results.people import BAND, format_against, format_uncertain, format_value


def found_against(
    report: Mapping[str, float | None], key: str, value: float, bound: float, units: Literal["si", "ip", "both"] = "si"
) -> tuple[str, str]:
    """Write a value, with its band where the report holds one, and its bound, in the unit that the key ends in.

    Examples
    --------
    >>> found_against({"surface_peak_C_uncertainty": 0.96}, "surface_peak_C", 26.874, 29.0)
    ('26.87 ± 0.96 °C', '29.0 °C')
    >>> found_against({}, "surface_peak_C", 26.874, 29.0)
    ('26.9 °C', '29.0 °C')
    """
    band = report.get(key + BAND)
    if band is None:
        return format_against(key, value, bound, units)
    return format_uncertain(key, value, float(band), units), format_value(key, bound, units)

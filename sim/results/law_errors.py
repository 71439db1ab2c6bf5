"""How far learned films may be off, number by number, as a report states it."""

from __future__ import annotations

from collections.abc import Mapping

OF_THE_LAW = {
    "heat_flux_up_W_m2": "air_band_up_percent",
    "output_per_kelvin_W_m2K": "air_band_up_percent",
    "ripple_K": "air_band_ripple_percent",
}
"""Numbers whose error by learned films the report states, and where."""


def taught_band(key: str, report: Mapping[str, float]) -> float:
    """Half width that a number owes to learned films, in its own unit; 0 where they have no part in it."""
    return abs(report[key]) * report.get(OF_THE_LAW.get(key, ""), 0.0) / 100.0

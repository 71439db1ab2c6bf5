"""How far the air's laws may be off, number by number: against computed air, in bays that never taught its films.

For heat up, heat down and ripple the errors are those of computed bays (`sim.physics.learned_bands`: learned films by
where the bay lies, correlations by kind of bay), as shares of what the law gave. What they mean for the floor's
temperatures follows: the mean moves as the heat does, and the ends of the ripple by most of what the ripple does
(`ONE_END`).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot

Shares = tuple[float, float, float]
"""Half widths of 95 % of heat up, heat down and ripple, as shares of them."""

NONE: Shares = (0.0, 0.0, 0.0)

WORDS = ("up", "down", "ripple")

ONE_END = 0.8
"""Share of the ripple's error that its warmest or its coolest spot has at most: with it 19 of 20 peaks lie inside."""

_PROPORTIONAL = {
    "heat_flux_up_W_m2": 0,
    "output_per_kelvin_W_m2K": 0,
    "heat_flow_down_W": 1,
    "ripple_K": 2,
}
"""Numbers that are off by a share of themselves, and by which of the three."""

_FLOOR = {"surface_mean_C": 0.0, "surface_peak_C": ONE_END, "surface_trough_C": ONE_END}
"""Temperatures of the floor, and how much of the ripple's error is theirs."""


def told_shares(report: Mapping[str, float]) -> Shares:
    """What a report says of its learned films; nothing where other air was used."""
    up, down, ripple = (report.get(f"air_band_{word}_percent", 0.0) / 100.0 for word in WORDS)
    return up, down, ripple


def air_band(key: str, report: Mapping[str, float], shares: Shares, room: float) -> float:
    """Half width that a number owes to the air's law, in its own unit; 0 where that has no part in it.

    Parameters
    ----------
    room : temperature that the floor's heat goes to [°C].
    """
    if key in _PROPORTIONAL:
        return abs(report[key]) * shares[_PROPORTIONAL[key]]
    if key not in _FLOOR:
        return 0.0
    return hypot((report["surface_mean_C"] - room) * shares[0], _FLOOR[key] * report["ripple_K"] * shares[2])

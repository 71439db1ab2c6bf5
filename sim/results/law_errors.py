"""How far the air's laws may be off, number by number: against computed air, in bays that never taught its films.

For heat up, heat down and ripple the errors are those of computed bays (`sim.physics.learned_bands`: learned films by
where the bay lies, correlations by kind of bay), as shares of what the law gave. What they mean for the floor's
temperatures follows: the mean moves as the heat does, and the ends of the ripple by most of what the ripple does
(`ONE_END`).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.case.taught import longer_than_taught
from sim.physics.learned_films import SHINES

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Shares = tuple[float, float, float]
"""Half widths of 95 % of heat up, heat down and ripple, as shares of them."""

NONE: Shares = (0.0, 0.0, 0.0)

WORDS = ("up", "down", "ripple")

ONE_END = 0.8
"""Share of the ripple's error that its warmest or its coolest spot has at most: with it 19 of 20 peaks lie inside."""

OPEN_DOWN = 1.75
"""By how much wider heat down is known in bays without insulation, where the air's films are most of what it meets: so
that 48 of the 50 of the set lie inside. The bands are mostly of bays whose batt decides."""

COLDEST_TAUGHT, UNTAUGHT = ZERO_CELSIUS + 5.0, 1.5
"""The coldest that lay below a computed bay [K], and by how much wider all is told where it is colder and open: of two
such bays, over -4 and -7 °C, one was 5 % off in heat down where 3.8 % was told, one 8 % in heat up where 8 % was."""

LONG = 1.5
"""By how much wider all is told where plates are longer than any that taught (`sim.case.taught.LONG_ON_TRUST`): of 21
numbers of seven such bays 19 lay inside what is told of others, two at 1.15 times that."""

OPEN_SHINING, OPEN_SHINING_BARE = 1.5, 4.0
"""By how much wider heat down is told over a facing that shines, below flat plates and below all else: all computed
bays of the set have dull ones, where radiation decides what reaches the batt. Of eleven with 0.05 computed since on
coarse cells, plates 1 to 5 in above it, the farthest was 1.2 times off what is told of dull ones (4.3 for 3.6 %); of
three with bare tubes one 9 % for 2.4, itself known to 7 %. None has upright plates."""

MOST_DRAINED = 20.0
"""Heat that goes down to the cold, as a multiple of the heat up, beyond which no larger error is told."""

_PROPORTIONAL = {
    "heat_flux_up_W_m2": 0,
    "output_per_kelvin_W_m2K": 0,
    "heat_flow_down_W": 1,
    "share_down_percent": 1,
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


def drained(case: Case, report: Mapping[str, float]) -> float:
    """The most that colder air below may take through the bay out of its room, as a share of the heat up [-].

    Of the heat down a part comes from the water, a part from the room; the room's is at most its share of the degrees
    over what lies below. It stays as it is when the water changes.
    """
    room, below = float(case.room.temperature), case.below.temperature
    if case.below.kind == "adiabatic" or below is None or float(below) >= room:
        return 0.0
    down, up = report.get("heat_flow_down_W", 0.0), report.get("heat_flow_up_W", 0.0)
    degrees = (room - float(below)) / (report["water_supply_C"] + ZERO_CELSIUS - float(below))
    return max(down, 0.0) * degrees / up if up > 0.0 else 0.0


def wider(case: Case, report: Mapping[str, float]) -> Shares:
    """By how much the bands of learned films grow where much heat goes down: factors for heat up, heat down, ripple.

    Heat up is what the water would give less what the cold below takes of it. Films that are off by a share are off by
    that share of either, so the difference is off by more the smaller it is.
    """
    taken = min(drained(case, report), MOST_DRAINED)
    down = OPEN_DOWN if case.cavity.insulation is None else _open_shining(case) if shines(case) else 1.0
    beyond = (UNTAUGHT if colder_than_taught(case) else 1.0) * (LONG if longer_than_taught(case) else 1.0)
    return beyond * hypot(1.0 + taken, taken), beyond * down, beyond


def shines(case: Case) -> bool:
    """Whether the batt's facing reflects as no computed bay's does."""
    batt = case.cavity.insulation
    return batt is not None and batt.facing_emissivity < SHINES


def _open_shining(case: Case) -> float:
    plates = case.plates
    return OPEN_SHINING if plates is not None and not plates.upright else OPEN_SHINING_BARE


def colder_than_taught(case: Case) -> bool:
    """Whether nothing insulates a bay from what is colder than below any computed bay."""
    below = case.below.temperature
    known = case.cavity.insulation is not None or case.below.kind == "adiabatic" or below is None
    return not known and float(below or 0.0) < COLDEST_TAUGHT

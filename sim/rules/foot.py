"""What a floor is like to stand on, in words: bare feet by what they touch, feet in shoes by how many mind."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.physics.foot import SOLE
from sim.results.people import format_value
from sim.results.underfoot import Underfoot, underfoot
from sim.rules.caution import Units
from sim.rules.comfort import CATEGORY_B
from sim.rules.limits import BATHROOM

if TYPE_CHECKING:
    from sim.case.bay_case import Case

BARE_RANGE = ((154.0, 21.0, 28.0), (322.0, 22.5, 28.0), (421.0, 24.5, 28.0), (1980.0, 26.0, 28.5))
"""Effusivity [W s½/(m² K)] and the floor temperatures [°C] between which people with bare feet are content on carpet,
pine, oak and concrete: Olesen 1977 and ISO/TS 13732-2:2001, as handbooks list them (from memory). The effusivities are
those of this library's rows; of concrete 1.7 W/(m K), 2300 kg/m³, 1000 J/(kg K)."""

COLD = 3.0
"""A floor this far below what bare feet like is cold, not only cool [K]: common practice, no source."""

FELT_SOON = 60.0
"""What lies beneath is named where it is felt within this time [s]."""

BARE_SOURCE = "ISO/TS 13732-2:2001 and Olesen 1977 (from memory)"
SHOD_SOURCE = "ISO 7730:2005, 6.4"


@dataclass(frozen=True, slots=True)
class FootSpot:
    """One spot of the floor as feet feel it.

    Attributes
    ----------
    name : str
        "warmest spot" or "coolest spot".
    floor, contact : float
        Floor temperature, and that at which a bare sole meets it [°C].
    dissatisfied : float
        People in shoes who find it too cool or too warm [%].
    under : Underfoot
        What is touched.
    """

    name: str
    floor: float
    contact: float
    dissatisfied: float
    under: Underfoot

    @property
    def bare(self) -> str:
        """How it is to bare feet: cold, cool, comfortable or warm."""
        return bare_word(self.floor, self.under.effusivity)

    @property
    def shod(self) -> str:
        """How it is in shoes: comfortable, or too cool or too warm for more people than the standard allows."""
        if self.dissatisfied <= CATEGORY_B:
            return "comfortable"
        return "cool" if self.floor < 23.6 else "warm"


def spots(case: Case, report: Mapping[str, float]) -> tuple[FootSpot, ...]:
    """The warmest and the coolest spot of a floor; none where the report does not tell of feet."""
    found = []
    for place, name in (("peak", "warmest"), ("trough", "coolest")):
        if f"bare_{name}_C" in report:
            under = underfoot(case, 1e-3 * report[f"{place}_x_mm"], 1e-3 * report[f"{place}_y_mm"])
            values = (report[f"surface_{place}_C"], report[f"bare_{name}_C"], report[f"shod_{name}_percent"])
            found.append(FootSpot(f"{name} spot", *values, under))
    return tuple(found)


def bare_range(effusivity: float) -> tuple[float, float]:
    """Floor temperatures [°C] that bare feet like on a surface of some effusivity [W s½/(m² K)].

    Straight between the rows of `BARE_RANGE` over the logarithm of the effusivity, level beyond them.

    Examples
    --------
    >>> bare_range(421.0)
    (24.5, 28.0)
    """
    rows = BARE_RANGE
    if effusivity <= rows[0][0]:
        return rows[0][1:]
    for (low, *first), (high, *last) in zip(rows, rows[1:], strict=False):
        if effusivity <= high:
            share = math.log(effusivity / low) / math.log(high / low)
            lowest, highest = (a + share * (b - a) for a, b in zip(first, last, strict=True))
            return lowest, highest
    return rows[-1][1:]


def bare_word(floor: float, effusivity: float) -> str:
    """How a floor [°C] of some effusivity [W s½/(m² K)] is to bare feet, in a word."""
    lowest, highest = bare_range(effusivity)
    if floor < lowest - COLD:
        return "cold"
    return "cool" if floor < lowest else "warm" if floor > highest else "comfortable"


def foot_lines(case: Case, report: Mapping[str, float], units: Units = "si") -> list[str]:
    """What a foot feels, in sentences for people; none where the report does not tell of feet."""
    both = spots(case, report)
    if not both:
        return []
    lines = [_bare_line(both, units)]
    if case.room.temperature <= BATHROOM:
        lines.append(_shod_line(both))
    return lines + list(dict.fromkeys(note for spot in both for note in layer_notes(spot.under)))


def layer_notes(under: Underfoot) -> list[str]:
    """Which layer counts, where that is not plain to see."""
    notes = []
    if under.thin:
        notes.append(f"{' and '.join(under.thin)} is too thin to be felt alone: {under.material} beneath it counts.")
    if under.beneath and under.felt_through < FELT_SOON:
        seconds = max(1.0, under.felt_through)
        notes.append(f"After about {seconds:.0f} s the {under.beneath} beneath the {under.material} is felt too.")
    return notes


def _bare_line(both: tuple[FootSpot, ...], units: Units) -> str:
    warm, cool = both
    on = " and ".join(dict.fromkeys(spot.under.material for spot in both))
    words = f"{warm.bare} everywhere" if warm.bare == cool.bare else f"{cool.bare} to {warm.bare}"
    low, high, sole = (format_value("bare_warmest_C", value, units) for value in (cool.contact, warm.contact, SOLE))
    return f"Bare feet on {on}: {words}; a sole of {sole} meets it at {low} to {high}. [{BARE_SOURCE}]"


def _shod_line(both: tuple[FootSpot, ...]) -> str:
    warm, cool = both
    words = f"{warm.shod} everywhere" if warm.shod == cool.shod else f"{cool.shod} to {warm.shod}"
    minding = f"{cool.dissatisfied:.0f} of 100 people mind the coolest spot, {warm.dissatisfied:.0f} the warmest"
    return f"In shoes: {words}; {minding}, 5 the best of floors. [{SHOD_SOURCE}]"

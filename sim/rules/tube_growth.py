"""How much a tube grows when warm water comes: where it needs room, and why a floor ticks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.bay_case import Case

LAID_AT = 293.15
"""Temperature at which tube is laid [K]: common practice, no source."""

EXPANSION = {
    "PEX": (1.65e-4, "trade press: 1.1 in per 100 ft and 10 °F"),
    "PE-RT": (1.8e-4, "handbook values 1.8 to 2.0e-4, from memory"),
    "polybutylene": (1.3e-4, "trade press"),
    "polypropylene": (1.5e-4, "trade press"),
    "copper": (1.7e-5, "handbooks, from memory"),
    "steel": (1.2e-5, "handbooks, from memory"),
}
"""Linear expansion of tube [1/K] by material, and where it comes from."""

STEEP = 28.0
"""Water that comes this much warmer than the bay is apt to make floors tick [K]: 50 to 80 °F steps are named in the
trade press on ticking floors."""


@dataclass(frozen=True, slots=True)
class Growth:
    """What one straight run of tube does when it warms.

    Attributes
    ----------
    per_metre : float [m/(m K)]
        Expansion of the tube.
    source : str
        Where that comes from.
    run : float [m]
        Length of a straight run.
    rise : float [K]
        Water above the temperature at which the tube was laid.
    tube : float [m]
        Growth of the run, all of it at one end when the other is held.
    """

    per_metre: float
    source: str
    run: float
    rise: float
    tube: float


def growth_of(case: Case, water: float) -> Growth | None:
    """Growth of a case's tube from where it was laid to a mean water temperature [K]; None for unknown tube."""
    known = EXPANSION.get(case.tube.material)
    if known is None:
        return None
    across = case.tube.direction == "across"
    run = float(case.bay.joist_spacing if across else case.bay.length)
    rise = water - LAID_AT
    return Growth(*known, run, rise, known[0] * run * rise)

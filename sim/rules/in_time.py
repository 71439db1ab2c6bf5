"""What limits and cautions are held against where a bay is followed in time: each number at its highest."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.bay_case import Case

_HIGHEST = {
    "surface_peak_C": "surface_highest_C",
    "wood_peak_C": "wood_highest_C",
    "water_supply_C": "water_highest_C",
    "water_mean_C": "water_highest_C",
}
"""Numbers of a bay at rest, and those of a bay in time that bound them."""


def at_its_warmest(case: Case, report: Mapping[str, float], mean: float) -> dict[str, float]:
    """The highest values that a bay reached, by the names that they have at rest.

    What is not followed is left out: the air in the bay, and the covering where a rug hides it.

    Parameters
    ----------
    case : Case
    report : of the bay in time.
    mean : highest mean temperature of the floor's surface [°C].
    """
    found = {key: float(report[highest]) for key, highest in _HIGHEST.items() if highest in report}
    found["surface_mean_C"] = mean
    if case.floor.coverings and not case.floor.rugs and "surface_peak_C" in found:
        found["covering_peak_C"] = found["surface_peak_C"]
    return found

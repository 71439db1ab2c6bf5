"""The chain of resistances from the water to the space below, from what a run folder holds.

As upwards (`sim.results.levels`), every step is the difference of two mean temperatures over a flux, here the downward
one over the floor's area, so that the steps add up to (mean water − below) / q.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from sim.case.constants import ZERO_CELSIUS

if TYPE_CHECKING:
    import xarray


def downward_chain(report: Mapping[str, float], fields: xarray.Dataset, below: float) -> list[tuple[str, float, float]]:
    """Steps from the water downwards: what lies between, its resistance [m²K/W], the difference across it [K].

    Parameters
    ----------
    report : of a run of a bay.
    fields : of that run.
    below : temperature of the space below [K].

    Returns
    -------
    list of (words, resistance, difference)
        Empty where no heat goes down, or where the run does not say how warm its water is.
    """
    area, down, water = (report.get(key) for key in ("floor_area_m2", "heat_flow_down_W", "water_mean_C"))
    if not area or not down or water is None or down <= 1e-9:
        return []
    levels = [("", float(water)), *_between(report, fields), ("underside to space below", below - ZERO_CELSIUS)]
    flux = float(down) / float(area)
    pairs = zip(levels, levels[1:], strict=False)
    return [(words, (upper - lower) / flux, upper - lower) for (_, upper), (words, lower) in pairs]


def _between(report: Mapping[str, float], fields: xarray.Dataset) -> list[tuple[str, float]]:
    """Mean temperatures [°C] of the cavity's air and of the bay's underside, where a run has them."""
    air, found = report.get("cavity_air_C"), []
    if air is not None:
        found.append(("water to cavity air", float(air)))
    if "ceiling_temperature" in fields:
        words = "cavity air to underside" if found else "water to underside"
        found.append((words, _area_mean(fields) - ZERO_CELSIUS))
    return found


def _area_mean(fields: xarray.Dataset) -> float:
    """Mean of the underside's temperature over its area [K]."""
    kelvin = np.asarray(fields["ceiling_temperature"].values, dtype=float)
    area = np.outer(*(np.diff(fields[f"{axis}_edge"].values) for axis in "xy"))
    on = np.isfinite(kelvin)
    return float(np.average(kelvin[on], weights=area[on]))

"""The supply temperature that a bay needs for a wanted upward heat flux."""

from __future__ import annotations

from dataclasses import dataclass

from sim.case.constants import ZERO_CELSIUS
from sim.run import Model, Result, solve_model
from sim.solve.steady import Listener
from sim.study.stored import StoredResult

Point = tuple[float, float]
"""Supply temperature [K] and the upward flux it gives [W/m²]."""

MOST_SOLVES = 15
"""The search gives up after this many solves; three are usual."""

HOTTEST = ZERO_CELSIUS + 95.0
"""Highest supply temperature tried [K]: hot-water systems are limited below boiling; common practice, no source."""


class UnreachableError(Exception):
    """No supply temperature up to the limit gives the wanted flux; the message says what the limit gives."""


@dataclass(frozen=True, slots=True)
class NeededWater:
    """The result at the needed supply temperature [K], and how many solves it took."""

    supply: float
    result: Result | StoredResult
    solves: int


def required_supply(
    model: Model,
    first: Result,
    flux: float,
    *,
    tolerance: float = 1e-4,
    listener: Listener | None = None,
) -> NeededWater:
    """Find the supply temperature at which the upward flux is as wanted.

    Parameters
    ----------
    model : the prepared bay.
    first : its result at any supply temperature; the search starts there.
    flux : wanted upward heat flux [W/m²].
    tolerance : accepted error of the flux, relative.

    Raises
    ------
    UnreachableError : the flux needs more than HOTTEST, or nothing warmer than the room gives it.

    Notes
    -----
    The output grows almost in proportion to water minus room, so the secant through the room (no output) is a
    good first step; further steps are secants kept inside the bracket found so far.
    """
    room = float(model.case.room.temperature)
    supply, result = float(model.case.water.supply), first
    below, above = (room, 0.0), None
    for solves in range(MOST_SOLVES):
        point = (supply, result.report["heat_flux_up_W_m2"])
        if abs(point[1] - flux) <= tolerance * flux:
            return NeededWater(supply, result, solves)
        if point[1] > flux:
            above = point
        elif point[0] >= HOTTEST:
            break
        else:
            below = max(below, point)
        supply = _next(below, above, room, flux)
        result = solve_model(model.with_supply(supply), listener=listener, start=result.solution.state)
    given = f"water of {supply - ZERO_CELSIUS:.0f} °C gives {point[1]:.1f} W/m²"
    raise UnreachableError(f"{model.case.name}: {given}, {flux:.1f} W/m² is wanted")


def _next(below: Point, above: Point | None, room: float, flux: float) -> float:
    """Where the line through the bracket's ends meets the flux; without an upper end, the line through the room."""
    if above is None:
        low, low_flux = below
        excess = max(low - room, 5.0)
        return min(HOTTEST, room + excess * (flux / low_flux if low_flux > 0.0 else 2.0))
    (low, low_flux), (high, high_flux) = below, above
    return low + (high - low) * (flux - low_flux) / (high_flux - low_flux)

"""Water to fill the circuits with, glycol in it, and the expansion vessel.

The vessel after EN 12828, annex D (from memory): the water expands by e of the filled volume V from filling to the
hottest water, a reserve of 0.5 % of V but 3 l at least is kept in it, and between the pressure of its gas p₀ and the
final pressure p_e (gauge, bar) it takes up

    V_vessel = (e V + V_reserve) (p_e + 1) / (p_e − p₀)
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from sim.case.constants import ZERO_CELSIUS
from sim.case.fluids import water_properties

FILLED_AT = ZERO_CELSIUS + 10.0
"""Water is filled in at this temperature [K] (EN 12828)."""

RESERVE, LEAST_RESERVE = 0.005, 3e-3
"""Water kept in the vessel: a share of the system's volume, and the least [m³] (EN 12828, from memory)."""

VAPOUR = 0.3
"""Added to the static pressure for the gas of the vessel [bar] (EN 12828, from memory)."""

BELOW_RELIEF = 0.5
"""The final pressure stays so far below the relief valve's [bar] (EN 12828, from memory)."""

_GLYCOL_DENSITY = 1036.0
"""Of propylene glycol at 20 °C [kg/m³] (handbooks, from memory)."""

_PA_PER_BAR, _GRAVITY = 1e5, 9.80665


@dataclass(frozen=True, slots=True)
class Filling:
    """Volume of all circuits and of the glycol in it, expansion and vessel [m³]; its gas pressure [bar]."""

    volume: float
    glycol: float
    expansion: float
    vessel: float
    gas_pressure: float
    relief: float


def tube_volume(tubes: Iterable[tuple[float, float]]) -> float:
    """Water in tubes of length and inner diameter [m], [m³].

    Examples
    --------
    100 m of 12.3 mm hold 11.9 l:

    >>> round(1e3 * tube_volume([(100.0, 0.0123)]), 1)
    11.9
    """
    return sum(length * math.pi * bore**2 / 4.0 for length, bore in tubes)


def filling(volume: float, hottest: float, glycol: float, relief: float, height: float) -> Filling:
    """What a system takes.

    Parameters
    ----------
    volume : of the whole system [m³].
    hottest : water [K].
    glycol : mass share of propylene glycol [-].
    relief : opening pressure of the relief valve, gauge [bar].
    height : of the highest water above the vessel [m].

    Raises
    ------
    ValueError : the relief valve opens before the vessel takes anything up.
    """
    cold, hot = (float(water_properties(kelvin, glycol).density) for kelvin in (FILLED_AT, hottest))
    expansion = (cold / hot - 1.0) * volume
    gas = height * cold * _GRAVITY / _PA_PER_BAR + VAPOUR
    final = relief - BELOW_RELIEF
    if not final > gas:
        raise ValueError(f"a relief valve of {relief:.1f} bar opens before {gas:.1f} bar of static pressure are passed")
    reserve = max(LEAST_RESERVE, RESERVE * volume)
    vessel = (expansion + reserve) * (final + 1.0) / (final - gas)
    return Filling(volume, glycol * cold * volume / _GLYCOL_DENSITY, expansion, vessel, gas, relief)

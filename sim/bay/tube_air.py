"""Air in tubes of blocks flows as if its density hung on its temperature alone: whether that is near enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.case.errors import CaseError, Problem
from sim.case.fluids import air_in_tube
from sim.case.quantities import format_value
from sim.physics.tube import pressure_gradient

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase
    from sim.case.blocks_tube import BlockTube

MACH_MAX = 0.3
"""Speed over that of sound below which the density of a gas changes by less than 5 %: textbooks, from memory."""

LOSS_MAX = 0.1
"""Share of the pressure lost on the way up to which a gas may be taken as not compressed: textbooks, from memory."""

GAS_CONSTANT = 287.05
"""Of dry air [J/(kg K)], from memory: ISO 2533, standard atmosphere, has 287.05287."""


def check_tube_air(case: BlocksCase) -> None:
    """Air in every tube is hardly compressed, at what enters.

    Raises
    ------
    CaseError : it flows too fast, or loses too much of its pressure.
    """
    found = [_problem(tube, f"tube[{number}].flow") for number, tube in enumerate(case.tubes) if tube.fluid == "air"]
    if problems := [problem for problem in found if problem is not None]:
        raise CaseError(case.path or case.name, problems)


def _problem(tube: BlockTube, key: str) -> Problem | None:
    assert tube.supply is not None and tube.flow is not None and tube.inner_diameter is not None
    air, bore = air_in_tube(tube.supply, tube.pressure), tube.inner_diameter
    speed = float(4.0 * tube.flow / (np.pi * bore * bore * air.density))
    mach = speed / speed_of_sound(tube.supply)
    given = f"{format_value(tube.flow, 'flow')} of air, {speed:.3g} m/s"
    if mach > MACH_MAX:
        rule = f"is {mach:.2g} times the speed of sound; above {MACH_MAX:g} air is compressed, which is not computed"
        return Problem(key, given, rule, "give less flow or a larger inner_diameter")
    loss = float(pressure_gradient(tube.flow, bore, air)) * (tube.along[1] - tube.along[0])
    if loss > LOSS_MAX * tube.pressure:
        lost = f"{loss / 1e3:.3g} of its {tube.pressure / 1e3:.4g} kPa"
        rule = f"would lose {lost} by friction; above a tenth air is compressed, which is not computed"
        return Problem(key, given, rule, "give less flow, a larger inner_diameter or a shorter tube")
    return None


def speed_of_sound(temperature: float) -> float:
    """√(κ R T) of dry air [m/s], κ = c / (c − R).

    Examples
    --------
    ISO 2533 (standard atmosphere, from memory) has 340.29 m/s at 15 °C:

    >>> round(speed_of_sound(288.15), 1)
    340.2
    """
    heat = float(air_in_tube(temperature).specific_heat)
    return float(np.sqrt(heat / (heat - GAS_CONSTANT) * GAS_CONSTANT * temperature))

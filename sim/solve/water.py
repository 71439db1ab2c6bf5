"""Water in the tubes: its temperature along each run from its own energy balance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.case.fluids import water_properties
from sim.physics.tube import film_resistance, tube_film, wall_resistance, water_march
from sim.solve.assemble import PINNED
from sim.solve.system import Run, Supply

Array = NDArray[np.float64]

FIRST_OUTPUT = 20.0
"""Heat per metre of tube assumed before the first solve, to start a flow from a circuit's drop [W/m]."""


MEAN_ROUNDS = 3
"""Marches along a run: the first with properties at its inlet, the others at the mean that the one before found."""


@dataclass(frozen=True, slots=True)
class RunWater:
    """Water in one run.

    `temperature` (s,) mean in each segment [K], `outlet` [K], `flow` [kg/s], `film_resistance` and
    `wall_resistance` [m K/W], `conductance` (m,) water to each tube cell [W/K], `heat` given up [W].
    """

    temperature: Array
    inlet: float
    outlet: float
    flow: float
    film_resistance: float
    wall_resistance: float
    conductance: Array
    heat: float


def settle_water(runs: tuple[Run, ...], temperature: Array, delivered: float | None) -> tuple[RunWater, ...]:
    """Water temperatures that belong to the present tube temperatures.

    Parameters
    ----------
    temperature : flat cell temperatures [K].
    delivered : heat that leaves the bay [W], for flows that follow from a stated drop; None at the start. At the
        end it equals what the water gives, but on the way it varies far less with the tube's temperature.
    """
    waters: list[RunWater] = []
    total = sum(float(run.length.sum()) for run in runs)
    heat = FIRST_OUTPUT * total if delivered is None else delivered
    for run in runs:
        inlet = None if run.after is None else waters[run.after].outlet
        waters.append(_settle(run, temperature, inlet, heat / total if total else 0.0))
    return tuple(waters)


def _settle(run: Run, temperature: Array, inlet: float | None, output: float) -> RunWater:
    if run.supply is None:
        return _pinned(run, temperature)
    if run.supply.flow == 0.0:
        return _standing(run, temperature)
    start = run.supply.supply if inlet is None else inlet
    surface = np.asarray(np.bincount(run.segment, run.share * temperature[run.cell], len(run.length)), np.float64)
    middle = start
    for _ in range(MEAN_ROUNDS):
        found = _marched(run, start, middle, surface, output)
        middle = float(np.average(found.temperature, weights=run.length))
    return found


def _marched(run: Run, start: float, middle: float, surface: Array, output: float) -> RunWater:
    """Water along a run [K] with the properties that it has at a temperature in the middle of its way [K]."""
    assert run.supply is not None
    fluid = water_properties(middle, run.supply.glycol)
    flow = _flow(run.supply, output, fluid.specific_heat)
    film, wall = _resistances(run, flow, fluid)
    segment = run.length / (film + wall)
    conductance = segment[run.segment] * run.share
    mean, outlet = water_march(start, flow * fluid.specific_heat, segment, surface)
    heat = float(np.sum(segment * (mean - surface)))
    return RunWater(mean, start, float(outlet), flow, film, wall, conductance, heat)


def _pinned(run: Run, temperature: Array) -> RunWater:
    """An isothermal tube: its cells tied to the stated temperature by a conductance too large to matter."""
    held = float(run.temperature)  # type: ignore[arg-type]
    conductance = PINNED * run.length[run.segment] * run.share
    heat = float(np.sum(conductance * (held - temperature[run.cell])))
    return RunWater(np.full(len(run.length), held), held, held, 0.0, 0.0, 0.0, conductance, heat)


def _standing(run: Run, temperature: Array) -> RunWater:
    """No flow, no heat: the water has the temperature of the tube around it."""
    surface = np.asarray(np.bincount(run.segment, run.share * temperature[run.cell], len(run.length)), np.float64)
    nothing = np.zeros(len(run.cell))
    return RunWater(surface, float(surface[0]), float(surface[-1]), 0.0, np.inf, 0.0, nothing, 0.0)


def _flow(supply: Supply, output: float, specific_heat: float) -> float:
    """Stated flow, or the flow that cools by the stated drop over a circuit that gives `output` per metre."""
    if supply.flow is not None:
        return supply.flow
    return max(output, 0.5) * supply.circuit_length / (specific_heat * supply.drop)  # type: ignore[operator]


def _resistances(run: Run, flow: float, fluid) -> tuple[float, float]:
    """Film and wall resistance per metre of tube [m K/W]."""
    circuit = max(float(run.length.sum()), run.supply.circuit_length if run.supply else 0.0)
    bore = float(run.inner_diameter or 0.0)
    film = tube_film(flow, bore, circuit, fluid)
    wall = wall_resistance(run.outer_diameter, bore, run.conductivity)
    return float(film_resistance(film, bore)), float(wall)

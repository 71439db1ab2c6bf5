"""The state in which a march begins, where not everything has one temperature: held parts, and radiation in balance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sim.bay.air_walls import CONDUCTANCE
from sim.solver.signals import Signal
from sim.solver.state import State
from sim.solver.system import System

ROUNDS, ENOUGH = 60, 1e-12
"""Rounds of the walls' emission and what falls on them, and the change [-] at which they rest."""


AS_ONE = CONDUCTANCE
"""Conductance from a held surface into its cell from which on the cell has the surface's temperature [W/(m² K)]: walls
of the air, and metal so thin that it follows within milliseconds."""


def held_at_start(state: State, system: System, ambients: Mapping[str, Signal] | None = None) -> State:
    """A state whose isothermal tubes, boxes and walls of the air are at their temperatures from the start.

    `ambients` are signals of what surfaces are held at [K], by path.
    """
    temperature = state.temperature.copy()
    for surface in system.surfaces:
        if (held := surface.law.held) is not None:
            signal = (ambients or {}).get(surface.path)
            near = surface.conductance >= AS_ONE * surface.area
            temperature[surface.cell[near]] = held if signal is None else signal.value(0.0, False)
    for run in system.runs:
        if run.temperature is not None:
            temperature[run.cell] = run.temperature
    return with_radiation(replace(state, temperature=temperature), system)


def with_radiation(state: State, system: System) -> State:
    """A state whose radiation patches receive what the walls at its temperatures emit."""
    cavity = system.cavity
    if cavity is None:
        return state
    for _ in range(ROUNDS):
        heat = cavity.settle(state)
        change = heat.patches / cavity.patches.emitting_area
        state = replace(state, irradiation=state.irradiation - change, wall=heat.walls.temperature)
        if np.abs(change).max(initial=0.0) <= ENOUGH * np.abs(state.irradiation).max(initial=1e-300):
            break
    return state

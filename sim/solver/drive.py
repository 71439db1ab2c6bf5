"""What drives a bay in time: water, heat source, thermostat, room and weather, as small frozen values.

`driven` turns a system of the steady solver into the one that holds at a moment; nothing else of the solver knows
that anything changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sim.bay.geometry import BayPath
from sim.solver.signals import Signal
from sim.solver.system import System
from sim.solver.terms.surfaces import Surfaces
from sim.solver.terms.water import RunWater, Water, settle_water
from sim.solver.thermostat import Thermostat

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ConstantHeat:
    """A source that gives `heat` [W], as long as its water need not be warmer than `highest` [K]."""

    heat: Signal
    highest: float


@dataclass(frozen=True, slots=True)
class RoomNode:
    """A room as one lump that the floor warms: C dT/dt = floor + gains − loss (T − T_outdoor).

    `loss` [W/K], `capacity` [J/K] and `gains` [W] belong to the modelled floor area.
    """

    loss: float
    capacity: float
    outdoor: Signal
    gains: Signal


@dataclass(frozen=True, slots=True)
class Drivers:
    """Everything that changes with time; what is left out stays as the system has it.

    `supply` [K] of the water, or a source of constant heat. Water flows while all `thermostats` want it and the
    signal `allowed`, if there is one, is above 0. `room` temperature [K], or a room that responds; both act on the
    surfaces of path `room_path`. `ambients` gives what surfaces of other paths face [K].
    """

    supply: Signal | ConstantHeat | None = None
    thermostats: tuple[Thermostat, ...] = ()
    allowed: Signal | None = None
    room: Signal | RoomNode | None = None
    ambients: Mapping[str, Signal] = field(default_factory=dict)
    room_path: str = BayPath.UP

    def signals(self) -> list[Signal]:
        """All signals whose jumps and bends steps must end on."""
        found: list[Signal] = list(self.ambients.values())
        if self.supply is not None:
            found.append(self.supply.heat if isinstance(self.supply, ConstantHeat) else self.supply)
        found += [thermostat.setpoint for thermostat in self.thermostats]
        if self.allowed is not None:
            found.append(self.allowed)
        if isinstance(self.room, RoomNode):
            found += [self.room.outdoor, self.room.gains]
        elif self.room is not None:
            found.append(self.room)
        return found

    def heat(self, now: Now) -> bool:
        """Whether water flows at a moment."""
        return all(now.on) and (self.allowed is None or self.allowed.value(now.time, now.arriving) > 0.0)


@dataclass(frozen=True, slots=True)
class Now:
    """A moment for drivers: time [s], whether it is the end of a step, the room node [K], who wants water.

    `on` says of each thermostat whether it wants water to flow.
    """

    time: float
    arriving: bool = False
    room: float | None = None
    on: tuple[bool, ...] = ()


def driven(system: System, drivers: Drivers, now: Now, temperature: Array) -> System:
    """The system as it is at a moment; `temperature` [K] of the cells settles what a source of constant heat does."""
    ambients = {path: signal.value(now.time, now.arriving) for path, signal in drivers.ambients.items()}
    if isinstance(drivers.room, RoomNode):
        ambients[drivers.room_path] = float(now.room)  # type: ignore[arg-type]
    elif drivers.room is not None:
        ambients[drivers.room_path] = drivers.room.value(now.time, now.arriving)
    surfaces = tuple(s.towards(ambients[s.path]) if s.path in ambients else s for s in system.surfaces)
    return system.with_term(Surfaces(surfaces)).with_term(_water(system.water, drivers, now, temperature))


def _water(water: Water, drivers: Drivers, now: Now, temperature: Array) -> Water:
    if not drivers.heat(now):
        return water.with_flow(0.0)
    if drivers.supply is None:
        return water
    if not isinstance(drivers.supply, ConstantHeat):
        return water.with_supply(drivers.supply.value(now.time, now.arriving))
    heat, highest = drivers.supply.heat.value(now.time, now.arriving), drivers.supply.highest
    return water.with_supply(supply_for_heat(water, temperature, heat, highest))


def supply_for_heat(water: Water, temperature: Array, heat: float, highest: float) -> float:
    """Supply temperature [K] at which the water gives some heat [W], but at most `highest` [K]."""

    def surplus(supply: float) -> float:
        """What the water gives beyond the wanted heat [W]."""
        return sum(run.heat for run in settle_water(water.with_supply(supply).runs, temperature, None)) - heat

    if surplus(highest) <= 0.0:
        return highest
    from scipy.optimize import brentq  # half a second, and few cases ask for a heat input

    lowest = min(float(temperature[run.cell].min()) for run in water.runs)
    return float(brentq(surplus, lowest, highest, xtol=1e-11, rtol=1e-14))


def gives_stated_heat(drivers: Drivers, now: Now, waters: tuple[RunWater, ...]) -> bool:
    """Whether the source gives its stated heat, so that the water follows the tubes."""
    return isinstance(drivers.supply, ConstantHeat) and drivers.heat(now) and waters[0].inlet < drivers.supply.highest

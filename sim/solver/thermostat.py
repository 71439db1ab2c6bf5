"""Thermostats: sensors in the room and in the floor, and what makes each change its mind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.bay.geometry import BayPath
from sim.solver.signals import Signal
from sim.solver.system import System

if TYPE_CHECKING:
    from sim.solver.flows import Flows


@dataclass(frozen=True, slots=True)
class RoomSensor:
    """A sensor in the room."""


@dataclass(frozen=True, slots=True)
class FloorSensor:
    """A sensor on the floor at `place` (x, y) [m]: on a stripe or between; it reads the nearest face of `path`."""

    place: tuple[float, float]
    path: str = BayPath.UP


@dataclass(frozen=True, slots=True)
class Thermostat:
    """Lets the water flow or stops it, from what a sensor reads.

    Heating begins when the sensor has fallen to `setpoint` [K] less half the dead `band` [K], and ends when it has
    risen to half the band above it. Where there are several, water flows while all of them want it.
    """

    setpoint: Signal
    band: float
    sensor: RoomSensor | FloorSensor = RoomSensor()

    def __post_init__(self) -> None:
        if not self.band > 0.0:
            raise ValueError(f"the dead band of a thermostat must be greater than 0 K; got {self.band:g} K")

    def excess(self, heating: bool, reading: float, time: float, arriving: bool) -> float:
        """How far the sensor is past the point at which the thermostat changes its mind [K]; below 0 until then."""
        setpoint = self.setpoint.value(time, arriving)
        return reading - setpoint - self.band / 2 if heating else setpoint - self.band / 2 - reading


def reading(sensor: RoomSensor | FloorSensor, system: System, flows: Flows, path: str) -> float:
    """What a sensor reads [K]; a room sensor looks for the room at the surfaces of `path`.

    Raises
    ------
    ValueError
        No surface that looks up lies on the sensor's path, or the room has no temperature.
    """
    if isinstance(sensor, RoomSensor):
        found = [surface.ambient for surface in system.surfaces if surface.path == path]
        if not found or found[0] is None:
            raise ValueError(f'the room sensor finds no room on the surfaces "{path}"')
        return found[0]
    best, value = np.inf, np.nan
    for surface, heat in zip(system.surfaces, flows.surfaces, strict=True):
        if surface.path == sensor.path and surface.side == 5:
            away = np.hypot(surface.centre[..., 0] - sensor.place[0], surface.centre[..., 1] - sensor.place[1])
            nearest = int(np.argmin(away))
            if away[nearest] < best:
                best, value = float(away[nearest]), float(heat.temperature[nearest])
    if not np.isfinite(best):
        raise ValueError(f'the floor sensor finds no floor on the surfaces "{sensor.path}"')
    return value

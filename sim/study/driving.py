"""From the sections of a case about time to the drivers of a march."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sim.case.weather import read_weather
from sim.solve.drive import ConstantHeat, Drivers, FloorSensor, RoomNode, RoomSensor, Thermostat
from sim.solve.signals import OutdoorReset, Profile, Signal, constant, daily, limited_rise, ramp


def case_drivers(case: Any, area: float) -> Drivers:
    """Everything that changes with time in a bay case.

    Parameters
    ----------
    area : floor area of the modelled stretch [m²], to which heat input and room are scaled.

    Raises
    ------
    CaseError
        The weather file cannot be used.
    """
    outdoor = outdoor_temperature(case)
    return Drivers(
        supply=_supply(case, outdoor, area),
        thermostat=_thermostat(case),
        room=_room(case, outdoor, area),
        ambients=_ambients(case, outdoor),
    )


def outdoor_temperature(case: Any) -> Signal | None:
    """Outdoor temperature [K]; None when the case names none."""
    weather = case.weather
    if weather.temperature is not None:
        return constant(weather.temperature)
    if weather.file is None:
        return None
    beside = Path(case.path).parent if case.path else Path()
    return Profile(*read_weather(beside / weather.file))


def _supply(case: Any, outdoor: Signal | None, area: float) -> Signal | ConstantHeat:
    control, usual = case.control, case.water.supply
    if control.water == "heat":
        return ConstantHeat(constant(control.heat * area), control.highest)
    wanted: Signal = constant(usual)
    if control.water == "ramp":
        wanted = ramp(control.ramp_from, usual, 0.0, control.ramp_time)
    elif control.water == "reset" and outdoor is not None:
        limits = control.lowest, control.highest
        wanted = OutdoorReset(outdoor, case.room.temperature, usual, control.design_outdoor, *limits)
    elif control.schedule and control.thermostat == "none":
        wanted = _schedule(case)
    if control.rise_limit is None:
        return wanted
    first = usual if case.time.start == "steady" else control.ramp_from
    return limited_rise(wanted, control.rise_limit, first, case.time.duration)


def _schedule(case: Any) -> Profile:
    return daily({change.at: change.temperature for change in case.control.schedule}, case.time.clock)


def _thermostat(case: Any) -> Thermostat | None:
    control = case.control
    if control.thermostat == "none":
        return None
    sensor = RoomSensor() if control.thermostat == "room" else FloorSensor(control.sensor)
    setpoint = _schedule(case) if control.schedule else constant(control.setpoint)
    return Thermostat(setpoint, control.dead_band, sensor)


def _room(case: Any, outdoor: Signal | None, area: float) -> RoomNode | None:
    node = case.room.node
    if node is None or outdoor is None:
        return None
    return RoomNode(node.loss * area, node.capacity * area, outdoor, constant(node.gains * area))


def _ambients(case: Any, outdoor: Signal | None) -> dict[str, Signal]:
    """Rim joists, and an underside outdoors, follow the weather."""
    if outdoor is None:
        return {}
    found = {"edge": outdoor} if case.span == "bay" else {}
    return found | ({"down": outdoor} if case.below.kind == "outdoors" else {})

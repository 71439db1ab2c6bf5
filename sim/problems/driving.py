"""From the sections of a case about time to the drivers of a march."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from sim.bay.bay_frame import build_frame
from sim.bay.bay_heating import place_plates, place_tubes
from sim.bay.geometry import BayPath, needed
from sim.case.constants import HOUR
from sim.case.errors import CaseError, Problem
from sim.case.quantities import format_value
from sim.case.weather import read_weather
from sim.machine.remarks import Remark
from sim.solver.drive import ConstantHeat, Drivers, RoomNode
from sim.solver.signals import OutdoorReset, Profile, Signal, below, constant, daily, limited_rise, ramp, tabulated
from sim.solver.thermostat import FloorSensor, RoomSensor, Thermostat

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Place = tuple[float, float]


def case_drivers(case: Case, area: float) -> Drivers:
    """Everything that changes with time in a bay case.

    Parameters
    ----------
    area : floor area of the modelled stretch [m²], to which heat input and room are scaled.

    Raises
    ------
    CaseError
        The weather file cannot be used, the floor sensor lies beside the floor, or the air is to be resolved.
    """
    if case.air.is_resolved:
        rule = "the flow of the air is computed for steady states only"
        way_out = (
            'set model = "films": films learned from computed air follow in time; to use those that this bay itself '
            'taught, add calibration = "runs/NAME", the folder of its joistbay run'
        )
        raise CaseError(case.path or case.name, [Problem("air.model", '"resolved"', rule, way_out)])
    outdoor = outdoor_temperature(case)
    return Drivers(
        supply=_supply(case, outdoor, area),
        thermostats=tuple(_thermostats(case)),
        allowed=_allowed(case, outdoor),
        room=_room(case, outdoor, area),
        ambients=_ambients(case, outdoor),
    )


def outdoor_temperature(case: Case) -> Signal | None:
    """Outdoor temperature [K]; None when the case names none. A file shorter than the run is told (`Remark`)."""
    weather = case.weather
    if weather.temperature is not None:
        return constant(weather.temperature)
    if weather.file is None:
        return None
    beside = Path(case.path).parent if case.path else Path()
    times, temperatures = read_weather(beside / weather.file)
    if told := _uncovered(times, case.time.duration):
        warnings.warn(Remark(f"{weather.file}: {told}"), stacklevel=2)
    return Profile(times, temperatures)


def _uncovered(times: tuple[float, ...], duration: float) -> str:
    """What a file of weather leaves to its first and last temperature; a value counts until the next would come."""
    last = times[-1] + (times[-1] - times[-2] if len(times) > 1 else 0.0)
    begins, ends, runs = (f"{seconds / HOUR:g} h" for seconds in (times[0], times[-1], duration))
    before = f"begins at {begins}; its first temperature stands before" if times[0] > 0.0 else ""
    after = f"ends at {ends}, the run at {runs}; its last temperature stands from there on" if last < duration else ""
    return "; it ".join(filter(None, (before, after)))


def _supply(case: Case, outdoor: Signal | None, area: float) -> Signal | ConstantHeat:
    control = case.control
    if control.water == "heat":
        return ConstantHeat(constant(needed(control.heat) * area), control.highest)
    wanted = water_wanted(case, outdoor)
    if control.rise_limit is None:
        return wanted
    first = case.water.supply if case.time.start == "steady" else control.ramp_from
    return limited_rise(wanted, control.rise_limit, first, case.time.duration)


def water_wanted(case: Case, outdoor: Signal | None) -> Signal:
    """The supply temperature [K] that a case asks for, before its rise is limited; `outdoor`: the weather [K].

    Raises
    ------
    ValueError : no such way to set the water is known.
    """
    control, usual = case.control, case.water.supply
    if control.water == "step":
        return _schedule(case) if control.schedule and control.thermostat == "none" else constant(usual)
    if control.water == "ramp":
        return ramp(control.ramp_from, usual, 0.0, control.ramp_time)
    if control.water == "reset":
        return _by_the_weather(case, needed(outdoor))
    raise ValueError(f'control.water: no way to set the water "{control.water}"')


def _by_the_weather(case: Case, outdoor: Signal) -> Signal:
    control = case.control
    if not control.curve:
        design, limits = needed(control.design_outdoor), (control.lowest, control.highest)
        return OutdoorReset(outdoor, case.room.temperature, case.water.supply, design, *limits)
    points = sorted((point.outdoor, point.water) for point in control.curve)
    table = Profile(tuple(x for x, _ in points), tuple(y for _, y in points))
    return tabulated(outdoor, table, case.time.duration)


def _schedule(case: Case) -> Profile:
    return daily({change.at: change.temperature for change in case.control.schedule}, case.time.clock)


def _thermostats(case: Case) -> Iterator[Thermostat]:
    """The thermostat that keeps room or floor, and the one that keeps the floor below its limit."""
    control = case.control
    if control.thermostat != "none":
        sensor = RoomSensor() if control.thermostat == "room" else FloorSensor(sensor_place(case))
        setpoint = _schedule(case) if control.schedule else constant(control.setpoint)
        yield Thermostat(setpoint, control.dead_band, sensor)
    if control.floor_limit is not None:
        middle = constant(control.floor_limit - control.floor_band / 2)
        yield Thermostat(middle, control.floor_band, FloorSensor(sensor_place(case)))


def _allowed(case: Case, outdoor: Signal | None) -> Profile | None:
    """1 while it is cold enough outdoors for heat."""
    limit = case.control.shutdown_outdoor
    return None if limit is None or outdoor is None else below(outdoor, limit, case.time.duration)


def sensor_place(case: Case) -> Place:
    """Where a case's floor sensor lies on the plan (x, y) [m].

    "stripe" is above a tube, in the middle of a plate: the tube and the plate nearest to the middle of the modelled
    floor. "between" lies halfway to the next tube across, for a single run a bay that is above the joist, and
    halfway to the next plate along.

    Raises
    ------
    CaseError
        The place lies beside the modelled floor.
    """
    named = case.control.sensor
    if isinstance(named, str):
        return _named_place(case, named)
    sensor = needed(named)
    frame = build_frame(case)
    ends = {"across": frame.width, "along": frame.along[1]}
    for (word, end), at in zip(ends.items(), sensor, strict=True):
        if at > end + 1e-9:
            shown, limit = (format_value(value, "length") for value in (at, end))
            rule = f"lies beside the modelled floor, which ends {limit} {word}"
            problem = Problem("control.sensor", shown, rule, 'write "stripe" or "between"')
            raise CaseError(case.path or case.name, [problem])
    return sensor


def _named_place(case: Case, word: str) -> Place:
    frame = build_frame(case)
    axis = place_tubes(case, frame)[0].axis
    middle = (frame.width / 2, sum(frame.along) / 2)
    lines = sorted({tube.centre[0] for tube in place_tubes(case, frame)})
    plates = sorted({sum(plate.span(axis)) / 2 for plate in place_plates(case, frame)})
    starts = (0.0, frame.along[0])
    line = _chosen(lines, middle[1 - axis], starts[1 - axis], word)
    plate = _chosen(plates, middle[axis], starts[axis], word) if plates else middle[axis]
    return (line, plate) if axis == 1 else (plate, line)


def _chosen(places: list[float], middle: float, start: float, word: str) -> float:
    """Of some places, or of those halfway between them, the one nearest to the middle.

    A single place has its neighbour in the next bay or cut, so that halfway is where the modelled floor starts.
    """
    if word == "between":
        places = [(a + b) / 2 for a, b in pairwise(places)] or [start]
    return min(places, key=lambda place: (round(abs(place - middle), 9), place))


def _room(case: Case, outdoor: Signal | None, area: float) -> RoomNode | None:
    node = case.room.node
    if node is None or outdoor is None:
        return None
    return RoomNode(node.loss * area, node.capacity * area, outdoor, constant(node.gains * area))


def _ambients(case: Case, outdoor: Signal | None) -> dict[str, Signal]:
    """Rim joists, and an underside outdoors, follow the weather."""
    if outdoor is None:
        return {}
    found: dict[str, Signal] = {BayPath.EDGE: outdoor} if case.span == "bay" else {}
    return found | ({BayPath.DOWN: outdoor} if case.below.kind == "outdoors" else {})

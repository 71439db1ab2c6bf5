"""Sections of a case file about time: how long, what controls the water, the weather, a room that responds.

Only `joistbay warmup` uses them; the steady state knows no time.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self

from pydantic import ValidationInfo, model_validator

from sim.case.errors import Problem
from sim.case.fields import (
    Film,
    Quantity,
    Section,
    Several,
    Temperature,
    TemperatureDifference,
    fill,
    given,
    key,
    refuse_section,
    worked_out,
)
from sim.case.quantities import ZERO_CELSIUS, format_value

HOUR = 3600.0
DAY = 24 * HOUR


@dataclass(frozen=True, slots=True)
class ClockTime(Quantity):
    """A time of day, as "6:30" or as hours after midnight."""

    def _parse(self, text: str, info: ValidationInfo) -> float:
        if match := re.fullmatch(r"(\d{1,2}):([0-5]\d)", text.strip()):
            return HOUR * int(match[1]) + 60.0 * int(match[2])
        return Quantity._parse(self, text, info)


Duration = Annotated[float, Quantity("time", above=0.0, at_most=400 * DAY)]
Clock = Annotated[float, ClockTime("time", at_least=0.0, at_most=DAY)]
WaterTemperature = Annotated[float, Quantity("temperature", at_least=ZERO_CELSIUS + 5.0, at_most=ZERO_CELSIUS + 95.0)]
Place = Annotated[tuple[float, float], Several(Quantity("distance", at_least=0.0, at_most=1000.0), 2)]


class Time(Section):
    """How long a warm-up is followed, and from where."""

    duration: Duration = key(12 * HOUR, "how long the bay is followed")
    start: Literal["uniform", "steady"] = key(
        "uniform", "uniform: everything at start_temperature; steady: the steady state of the case"
    )
    start_temperature: Temperature = worked_out("the room temperature", "temperature of everything at the start")
    clock: Clock = key(0.0, "time of day at the start, such as 6:00")
    tolerance: TemperatureDifference = key(0.02, "error allowed in one step, mean over the bay")


class Change(Section):
    """One entry of a daily schedule."""

    at: Clock = key(..., "time of day from which it holds")
    temperature: WaterTemperature = key(..., "thermostat's setpoint, or water temperature without a thermostat")


class Weather(Section):
    """Outdoor temperature for reset curves, rim joists and the room's loss."""

    temperature: Temperature | None = key(None, "constant outdoor temperature")
    file: str | None = key(None, "CSV file of hours and °C, or of hourly °C alone; beside the case file")

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if self.temperature is not None and self.file is not None:
            problem = Problem("file", f'"{self.file}"', "temperature and file exclude each other", "leave one out")
            refuse_section([problem])
        return self


class Control(Section):
    """What sets the water's temperature, and what starts and stops it."""

    water: Literal["step", "ramp", "reset", "heat"] = key(
        "step",
        "step: water.supply at once; ramp: up to it; reset: by the weather; heat: a constant heat input",
    )
    ramp_from: WaterTemperature = worked_out("the starting temperature", "water at the start of a ramp")
    ramp_time: Duration = key(2 * HOUR, "how long the ramp takes")
    rise_limit: Annotated[float, Quantity("rise", above=0.0, at_most=1.0)] | None = key(
        None, "fastest rise of the water, as some wood floors ask for"
    )
    heat: Annotated[float, Quantity("heat flux", above=0.0, at_most=1000.0)] | None = key(
        None, 'heat input per floor area, for water "heat"'
    )
    highest: WaterTemperature = worked_out("water.supply", 'warmest water of "reset" and "heat"')
    lowest: WaterTemperature = worked_out("the room temperature", 'coolest water of "reset"')
    design_outdoor: Temperature | None = key(None, 'outdoor temperature at which "reset" gives water.supply')
    thermostat: Literal["none", "room", "floor"] = key("none", "where the sensor is that starts and stops the water")
    setpoint: Temperature = worked_out("the room temperature", "what the thermostat keeps")
    dead_band: TemperatureDifference = key(1.0, "from starting to stopping")
    sensor: Place | None = key(None, "place of a floor sensor on the plan, across and along, from the bay's corner")
    schedule: tuple[Change, ...] = key((), "changes by the clock, every day the same")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        needs = {
            "heat": (self.water == "heat", 'water "heat"', '"60 W/m^2"'),
            "design_outdoor": (self.water == "reset", 'water "reset"', '"-10 degC"'),
            "sensor": (self.thermostat == "floor", 'thermostat "floor"', '["0.2 m", "0.1 m"]'),
        }
        problems = []
        for name, (wanted, by, example) in needs.items():
            value = getattr(self, name)
            if wanted and value is None:
                problems.append(Problem(name, "", f"missing; {by} needs it", f"write e.g. {example}"))
            elif not wanted and value is not None:
                problems.append(Problem(name, "", f"only {by} uses it", "leave it out"))
        if self.schedule and self.thermostat == "none" and self.water != "step":
            rule = f'without a thermostat a schedule sets the water, which water "{self.water}" does too'
            problems.append(Problem("schedule", "", rule, 'set water = "step", or name a thermostat'))
        refuse_section(problems)
        return self


class ResponsiveRoom(Section):
    """The room as one lump that the floor warms; values per floor area."""

    loss: Film = key(..., "heat lost outdoors per kelvin and floor area")
    capacity: Annotated[float, Quantity("heat capacity of an area", above=0.0, at_most=1e8)] = key(
        ..., "heat that room and furniture take up, per kelvin and floor area"
    )
    gains: Annotated[float, Quantity("heat flux", at_least=0.0, at_most=1000.0)] = key(
        0.0, "other heat into the room per floor area"
    )


def settle_time(case: Any) -> None:
    """Fill in what the sections about time take from the rest of a bay case, while it is being checked."""
    time, control = case.time.model_copy(), case.control.model_copy()
    room = case.room.temperature
    if not given(time, "start_temperature"):
        fill(time, start_temperature=room)
    usual = {"ramp_from": time.start_temperature, "highest": case.water.supply, "lowest": room, "setpoint": room}
    fill(control, **{name: value for name, value in usual.items() if not given(control, name)})
    fill(case, time=time, control=control)


def time_problems(case: Any) -> list[Problem]:
    """Rules that join the sections about time with the others."""
    control, weather, problems = case.control, case.weather, []
    known = weather.temperature is not None or weather.file is not None
    if control.water == "reset" and not known:
        problems.append(Problem("weather.temperature", "", 'missing; control.water "reset" needs it', _OUTDOORS))
    if case.room.node is not None and not known:
        problems.append(Problem("weather.temperature", "", "missing; room.node loses heat outdoors", _OUTDOORS))
    if control.design_outdoor is not None and control.design_outdoor >= case.room.temperature:
        shown = format_value(control.design_outdoor, "temperature")
        problems.append(Problem("control.design_outdoor", shown, "must be colder than the room"))
    if control.lowest > control.highest and (given(control, "lowest") or given(control, "highest")):
        shown = format_value(control.lowest, "temperature")
        limit = format_value(control.highest, "temperature")
        problems.append(Problem("control.lowest", shown, f"must be at most control.highest, {limit}"))
    return problems


_OUTDOORS = 'write e.g. "-5 degC", or weather.file'

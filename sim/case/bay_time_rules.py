"""Rules that join the sections about time with the others of a bay case, and what they take from them."""

from __future__ import annotations

from collections.abc import Iterator

from sim.case.bay_keys import BayKeys
from sim.case.errors import Problem
from sim.case.fields import fill, given
from sim.case.quantities import format_value


def settle_time(case: BayKeys) -> None:
    """Fill in what the sections about time take from the rest of a bay case, while it is being checked."""
    time, control = case.time.model_copy(), case.control.model_copy()
    room = case.room.temperature
    if not given(time, "start_temperature"):
        fill(time, start_temperature=room)
    usual = usual_control(case, time.start_temperature)
    fill(control, **{name: value for name, value in usual.items() if not given(control, name)})
    fill(case, time=time, control=control)


def usual_control(case: BayKeys, start_temperature: float) -> dict[str, float]:
    """Keys of the control that follow from other sections when they are left out, with their values [K]."""
    room = case.room.temperature
    return {"ramp_from": start_temperature, "highest": case.water.supply, "lowest": room, "setpoint": room}


def time_problems(case: BayKeys) -> list[Problem]:
    """Rules that join the sections about time with the others."""
    return [*_weather_problems(case), *_control_problems(case)]


def _weather_problems(case: BayKeys) -> Iterator[Problem]:
    """Whoever looks at the outdoor temperature needs one."""
    weather, control = case.weather, case.control
    lookers = {
        'control.water "reset" needs it': control.water == "reset",
        "control.shutdown_outdoor looks at it": control.shutdown_outdoor is not None,
        "room.node loses heat outdoors": case.room.node is not None,
    }
    if weather.temperature is None and weather.file is None:
        for why in (why for why, looks in lookers.items() if looks):
            yield Problem("weather.temperature", "", f"missing; {why}", 'write e.g. "-5 degC", or weather.file')


def _control_problems(case: BayKeys) -> list[Problem]:
    """Temperatures of the control beside each other and beside the room."""
    control, problems = case.control, []
    if control.floor_limit is not None and control.floor_limit - control.floor_band <= case.room.temperature:
        shown = format_value(control.floor_limit, "temperature")
        rule = f"less its band it must be warmer than the room, {format_value(case.room.temperature, 'temperature')}"
        problems.append(Problem("control.floor_limit", shown, rule, "the water could never start again"))
    if control.design_outdoor is not None and control.design_outdoor >= case.room.temperature:
        shown = format_value(control.design_outdoor, "temperature")
        problems.append(Problem("control.design_outdoor", shown, "must be colder than the room"))
    if control.water == "ramp" and control.ramp_from >= case.water.supply:
        shown = format_value(control.ramp_from, "temperature")
        limit = format_value(case.water.supply, "temperature")
        problems.append(Problem("control.ramp_from", shown, f"must be cooler than water.supply, {limit}"))
    if control.lowest > control.highest and (given(control, "lowest") or given(control, "highest")):
        shown = format_value(control.lowest, "temperature")
        limit = format_value(control.highest, "temperature")
        problems.append(Problem("control.lowest", shown, f"must be at most control.highest, {limit}"))
    return problems

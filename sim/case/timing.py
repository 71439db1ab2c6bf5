"""Sections of a case file about time: how long, the weather, a room that responds; `sim.case.control` is beside.

Only `joistbay warmup` uses them; the steady state knows no time.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import model_validator

from sim.case.control import HOUR, Clock, Duration
from sim.case.errors import Problem
from sim.case.fields import (
    Film,
    Outdoors,
    Quantity,
    Section,
    Temperature,
    fill,
    given,
    key,
    refuse_section,
    worked_out,
)
from sim.case.quantities import format_value

if TYPE_CHECKING:
    from sim.case.bay_case import Case

Tolerance = Annotated[float, Quantity("temperature difference", above=0.0, at_most=1.0)]
Snapshot = Annotated[float, Quantity("time", at_least=0.0)]
MOST_SNAPSHOTS = 100
"""More than so many copies of a whole bay are taken for a mistake."""


class Time(Section):
    """How long a warm-up is followed, and from where."""

    duration: Duration = key(12 * HOUR, "how long the bay is followed")
    start: Literal["uniform", "steady"] = key(
        "uniform", "uniform: everything at start_temperature; steady: at rest under the first water and weather"
    )
    start_temperature: Temperature = worked_out("the room temperature", "temperature of everything at the start")
    clock: Clock = key(0.0, "time of day at the start, such as 6:00")
    tolerance: Tolerance = key(0.02, "error allowed in one step, mean over the bay")
    snapshots: tuple[Snapshot, ...] = key((), "times at which the temperatures of the whole bay are kept")

    @model_validator(mode="after")
    def _snapshots_in_time(self) -> Self:
        problems = [
            Problem(
                f"snapshots[{number}]",
                format_value(time, "time"),
                f"must be at most the duration, {format_value(self.duration, 'time')}",
            )
            for number, time in enumerate(self.snapshots)
            if time > self.duration
        ]
        if len(self.snapshots) > MOST_SNAPSHOTS:
            rule = f"at most {MOST_SNAPSHOTS} snapshots can be kept"
            problems = [Problem("snapshots", f"{len(self.snapshots)} times", rule, "leave some out")]
        refuse_section(problems)
        return self


class Weather(Section):
    """Outdoor temperature for reset curves, rim joists and the room's loss."""

    temperature: Outdoors | None = key(None, "constant outdoor temperature")
    file: str | None = key(None, "CSV file of hours and °C, or of hourly °C alone; beside the case file")

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if self.temperature is not None and self.file is not None:
            problem = Problem("file", f'"{self.file}"', "temperature and file exclude each other", "leave one out")
            refuse_section([problem])
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


def settle_time(case: Case) -> None:
    """Fill in what the sections about time take from the rest of a bay case, while it is being checked."""
    time, control = case.time.model_copy(), case.control.model_copy()
    room = case.room.temperature
    if not given(time, "start_temperature"):
        fill(time, start_temperature=room)
    usual = usual_control(case, time.start_temperature)
    fill(control, **{name: value for name, value in usual.items() if not given(control, name)})
    fill(case, time=time, control=control)


def usual_control(case: Case, start_temperature: float) -> dict[str, float]:
    """Keys of the control that follow from other sections when they are left out, with their values [K]."""
    room = case.room.temperature
    return {"ramp_from": start_temperature, "highest": case.water.supply, "lowest": room, "setpoint": room}


def time_problems(case: Case) -> list[Problem]:
    """Rules that join the sections about time with the others."""
    return [*_weather_problems(case), *_control_problems(case)]


def _weather_problems(case: Case) -> Iterator[Problem]:
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


def _control_problems(case: Case) -> list[Problem]:
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

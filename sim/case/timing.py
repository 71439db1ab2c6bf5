"""Sections of a case file about time: how long, the weather, a room that responds; `sim.case.control` is beside.

Only `joistbay warmup` uses them; the steady state knows no time.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import model_validator

from sim.case.constants import HOUR
from sim.case.control import Clock, Duration
from sim.case.errors import Problem
from sim.case.fields import (
    Film,
    Outdoors,
    Quantity,
    Temperature,
    key,
    refuse_section,
    worked_out,
)
from sim.case.quantities import format_value
from sim.case.section import Section

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

"""Time in a case of blocks: how long it is followed, from where, and temperatures that swing.

The steady state knows no time: `joistbay run` takes the mean of what swings.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import model_validator

from sim.case.errors import Problem
from sim.case.fields import Quantity, TemperatureDifference, key, refuse_section
from sim.case.quantities import format_value
from sim.case.section import Section

LONGEST = 10 * 365 * 86400.0
"""Longest time that a build-up is followed [s]."""

Duration = Annotated[float, Quantity("time", above=0.0, at_most=LONGEST)]
Delay = Annotated[float, Quantity("time", at_least=-LONGEST, at_most=LONGEST)]
Swing = Annotated[float, Quantity("temperature difference", above=0.0, at_most=5000.0)]
Warmth = Annotated[float, Quantity("temperature", at_least=0.0, at_most=5000.0)]


class BlocksTime(Section):
    """How a build-up is followed in time."""

    duration: Duration = key(..., "how long it is followed")
    start_temperature: Warmth = key(..., "temperature of everything at the start")
    tolerance: TemperatureDifference = key(0.02, "error allowed in one step, mean over the build-up")
    report_at: tuple[Duration, ...] = key((), "times of a report, besides the end")

    @model_validator(mode="after")
    def _reports_in_time(self) -> Self:
        end = format_value(self.duration, "time")
        late = [
            Problem(f"report_at[{number}]", format_value(time, "time"), f"must be at most the duration, {end}")
            for number, time in enumerate(self.report_at)
            if time > self.duration
        ]
        refuse_section(late)
        return self


class FaceWave(Section):
    """A sine that a face's temperature or ambient follows: mean + amplitude · sin 2π (t − delay) / period."""

    amplitude: Swing = key(..., "largest difference from temperature or ambient")
    period: Duration = key(..., "time from peak to peak")
    delay: Delay = key(0.0, "time of the first rise through the mean")

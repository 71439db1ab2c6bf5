"""Time in a case of blocks: how long it is followed, from where, and temperatures that swing.

The steady state knows no time: `joistbay run` takes the mean of what swings.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Self

from pydantic import model_validator

from sim.case.errors import Problem
from sim.case.fields import Quantity, Section, TemperatureDifference, key, refuse_section
from sim.case.quantities import format_value

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase, Face

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


def time_problems(case: BlocksCase) -> Iterator[Problem]:
    """What contradicts the time of a case, or needs it."""
    if case.time is not None and case.air.is_resolved and case.air.device != "cpu":
        rule = "air among solids is followed in time on the processor"
        yield Problem("air.device", case.air.device, rule, "leave it out")
    for index, face in enumerate(case.faces):
        if face.wave is not None:
            yield from _wave_problems(case, face, f"face[{index}]")


def _wave_problems(case: BlocksCase, face: Face, where: str) -> Iterator[Problem]:
    if case.time is None:
        yield Problem(f"{where}.wave", "", "only swings in time", "add [time] with duration and start_temperature")
    if face.condition == "flux":
        yield Problem(f"{where}.wave", "", "a flux faces nothing whose temperature could swing", "leave it out")
    if any(other.group == face.group and not _alike(other, face) for other in case.faces if face.group):
        rule = "faces of one group swing together"
        yield Problem(f"{where}.group", f'"{face.group}"', rule, "give them the same wave, or two groups")


def _alike(one: Face, other: Face) -> bool:
    """Whether two faces swing in the same way about the same mean."""
    return (one.wave, one.temperature, one.ambient) == (other.wave, other.temperature, other.ambient)

"""The section of a case file about control: what sets the water's temperature, what starts and stops it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import ValidationInfo, model_validator

from sim.case.constants import HOUR, ZERO_CELSIUS
from sim.case.errors import Problem
from sim.case.fields import (
    Outdoors,
    Quantity,
    QuantityGroup,
    Read,
    Temperature,
    TemperatureDifference,
    key,
    refuse,
    refuse_section,
    worked_out,
)
from sim.case.quantities import format_value
from sim.case.section import Section

DAY = 24 * HOUR


@dataclass(frozen=True, slots=True)
class ClockTime(Quantity):
    """A time of day, as "6:30" or as hours after midnight."""

    def _parse(self, text: str, info: ValidationInfo) -> float:
        if match := re.fullmatch(r"(\d{1,2}):([0-5]\d)", text.strip()):
            return HOUR * int(match[1]) + 60.0 * int(match[2])
        return Quantity._parse(self, text, info)


@dataclass(frozen=True, slots=True)
class Spot(QuantityGroup):
    """A place on the plan as two distances, or as one of some words."""

    words: tuple[str, ...] = ()

    def read(self, value: object, info: ValidationInfo) -> Read:
        """The place in SI or its word, or a report to pydantic of why not."""
        if not isinstance(value, str):
            return QuantityGroup.read(self, value, info)
        word = value.strip().lower()
        if word not in self.words:
            near = get_close_matches(word, self.words, n=1, cutoff=0.6)
            options = " or ".join(f'"{word}"' for word in self.words)
            refuse(
                f"must be {options}, or a list of {self.count} distances", f'did you mean "{near[0]}"?' if near else ""
            )
        return word

    def allowed(self) -> str:
        """The words, and what stands for them."""
        return ", ".join(f'"{word}"' for word in self.words) + f", or {QuantityGroup.allowed(self)}"


Duration = Annotated[float, Quantity("time", above=0.0, at_most=400 * DAY)]
Clock = Annotated[float, ClockTime("time", at_least=0.0, at_most=DAY)]
WaterTemperature = Annotated[float, Quantity("temperature", at_least=ZERO_CELSIUS + 5.0, at_most=ZERO_CELSIUS + 95.0)]
Place = Annotated[
    tuple[float, float] | str,
    Spot(Quantity("distance", at_least=0.0, at_most=1000.0), 2, words=("stripe", "between")),
]


class ScheduleEntry(Section):
    """One entry of a daily schedule."""

    at: Clock = key(..., "time of day from which it holds")
    temperature: WaterTemperature = key(..., "thermostat's setpoint, or water temperature without a thermostat")


class CurvePoint(Section):
    """One entry of a reset curve."""

    outdoor: Outdoors = key(..., "outdoor temperature")
    water: WaterTemperature = key(..., "water temperature that belongs to it")


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
    highest: WaterTemperature = worked_out("water.supply", 'warmest water of "reset" without a curve, and of "heat"')
    lowest: WaterTemperature = worked_out("the room temperature", 'coolest water of "reset" without a curve')
    design_outdoor: Outdoors | None = key(None, 'outdoor temperature at which "reset" gives water.supply')
    curve: tuple[CurvePoint, ...] = key((), '"reset" by a table instead, straight between its entries')
    shutdown_outdoor: Temperature | None = key(None, "no heat while it is this warm outdoors or warmer")
    thermostat: Literal["none", "room", "floor"] = key("none", "where the sensor is that starts and stops the water")
    setpoint: Temperature = worked_out("the room temperature", "what the thermostat keeps")
    dead_band: TemperatureDifference = key(1.0, "how far the sensor warms from starting the water to stopping it")
    floor_limit: Temperature | None = key(
        None, "a floor sensor stops the water at this, whatever a thermostat in the room wants"
    )
    floor_band: TemperatureDifference = key(1.0, "how far below floor_limit the water may start again")
    sensor: Place | None = key(
        None,
        "where the floor sensor lies on the plan: stripe, above a tube in the middle of a plate; between, halfway "
        "between tubes and plates; or how far across and along from the bay's corner",
    )
    schedule: tuple[ScheduleEntry, ...] = key((), "changes by the clock, every day the same")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        floor = self.thermostat == "floor" or self.floor_limit is not None
        reset = self.water == "reset" and not self.curve
        by = 'thermostat "floor"' if self.thermostat == "floor" else "floor_limit"
        needs = {
            "heat": (self.water == "heat", 'water "heat"', '"60 W/m^2"'),
            "design_outdoor": (reset, 'water "reset" without a curve', '"-10 degC"'),
            "sensor": (floor, by if floor else 'thermostat "floor" or floor_limit', '"stripe" or "between"'),
        }
        problems = []
        for name, (wanted, by, example) in needs.items():
            value = getattr(self, name)
            if wanted and value is None:
                problems.append(Problem(name, "", f"missing; {by} needs it", f"write e.g. {example}"))
            elif not wanted and value is not None:
                problems.append(Problem(name, "", f"only {by} uses it", "leave it out"))
        refuse_section([*problems, *self._without_use(), *self._limits(), *self._curve()])
        return self

    def _without_use(self) -> list[Problem]:
        """Keys that nothing would look at."""
        problems = []
        if self.schedule and self.thermostat == "none" and self.water != "step":
            rule = f'without a thermostat a schedule sets the water, which water "{self.water}" does too'
            problems.append(Problem("schedule", "", rule, 'set water = "step", or name a thermostat'))
        users = {
            "floor_band": (self.floor_limit, "floor_limit"),
            "dead_band": (self.thermostat != "none", "a thermostat"),
        }
        for name, (user, words) in users.items():
            if not user and getattr(self, name) != type(self).model_fields[name].default:
                problems.append(Problem(name, "", f"only {words} uses it", "leave it out"))
        times = [change.at for change in self.schedule]
        for number, time in enumerate(times):
            if time in times[:number]:
                shown = format_value(time, "time")
                problems.append(Problem(f"schedule[{number}].at", shown, "stands there twice", "leave one out"))
        return problems

    def _limits(self) -> list[Problem]:
        """A limit of the floor beside a thermostat on the floor, and a weather that never lets the water run."""
        problems = []
        if self.floor_limit is not None and self.thermostat == "floor":
            rule = "a thermostat on the floor keeps the floor at its setpoint already"
            problems.append(Problem("floor_limit", "", rule, 'leave it out, or set thermostat = "room"'))
        warm, cold = self.shutdown_outdoor, self.design_outdoor
        if warm is not None and cold is not None and warm <= cold:
            rule = f"must be warmer than design_outdoor, {format_value(cold, 'temperature')}"
            problems.append(Problem("shutdown_outdoor", format_value(warm, "temperature"), rule))
        return problems

    def _curve(self) -> list[Problem]:
        """A reset curve of at least two entries, that warm weather never makes warmer."""
        problems = []
        if self.curve and self.water != "reset":
            problems.append(Problem("curve", "", 'only water "reset" uses it', "leave it out"))
        if len(self.curve) == 1:
            problems.append(Problem("curve", "1 entry", "at least 2 are wanted", "add a [[control.curve]]"))
        points = sorted((point.outdoor, point.water) for point in self.curve)
        if any(b[0] == a[0] or b[1] > a[1] for a, b in pairwise(points)):
            rule = "warmer weather must not ask for warmer water, nor one outdoor temperature stand there twice"
            problems.append(Problem("curve", "", rule))
        return problems

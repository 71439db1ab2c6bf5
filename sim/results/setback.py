"""After a setback: when a room, or a floor with its sensor, is back at the setpoint of its thermostat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, Literal

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.case.control import DAY, Control
from sim.results.in_time import passing_time
from sim.results.people import format_value

if TYPE_CHECKING:
    import xarray

SENSED = {"room": ("room", "The room"), "floor": ("floor_sensor", "The floor sensor")}
"""By thermostat the series that its sensor reads, and what reads it."""


@dataclass(frozen=True, slots=True)
class Recovery:
    """A rise of the setpoint by the clock, and what followed.

    Parameters
    ----------
    begins : float
        When it rises, since the start [s].
    setpoint : float
        To what [K].
    reading : float
        What the sensor read then [K].
    takes : float
        How long until it is back within half the dead band of the setpoint [s]: there the thermostat lets the water
        rest; 0 where it never left, NaN where the setpoint fell again, or the march ended, before.
    """

    begins: float
    setpoint: float
    reading: float
    takes: float


def recoveries(control: Control, clock: float, series: xarray.Dataset) -> list[Recovery]:
    """Every rise of a thermostat's setpoint within a march that began at a time of day [s after midnight]."""
    name, _ = SENSED.get(control.thermostat, ("", ""))
    if name not in series or len(control.schedule) < 2:
        return []
    times, values = series["time"].values, series[name].values
    found = []
    for begins, setpoint, ends in _rises(control, clock, float(times[-1])):
        at_start = float(np.interp(begins, times, values))
        inside = (times > begins) & (times <= ends)
        watched, reached = np.r_[begins, times[inside]], np.r_[at_start, values[inside]]
        back = passing_time(watched, reached, setpoint - control.dead_band / 2.0) - begins
        found.append(Recovery(begins, setpoint, at_start, back))
    return found


def _rises(control: Control, clock: float, end: float) -> Iterator[tuple[float, float, float]]:
    """When the setpoint rises after the start [s], to what [K], and when it changes next [s]."""
    entries = sorted(control.schedule, key=lambda entry: entry.at)
    for number, entry in enumerate(entries):
        if entry.temperature <= entries[number - 1].temperature:
            continue
        after = entries[(number + 1) % len(entries)]
        lasts = (after.at - entry.at) % DAY
        first = (entry.at - clock) % DAY
        for begins in np.arange(first, end, DAY):
            if begins > 0.0:
                yield float(begins), entry.temperature, min(float(begins) + lasts, end)


def told_recovery(control: Control, clock: float, found: Sequence[Recovery], units: Literal["si", "ip", "both"]) -> str:
    """The slowest of some recoveries in a sentence, nothing where there is none; the march began at `clock` [s]."""
    if not found:
        return ""
    one = max(found, key=lambda each: (isnan(each.takes), each.takes))
    who = SENSED[control.thermostat][1]
    ends = (one.setpoint, one.reading)
    setpoint, reading = (format_value("room_end_C", kelvin - ZERO_CELSIUS, units) for kelvin in ends)
    stated = _clock(clock + one.begins)
    if isnan(one.takes):
        return f"{who}, {reading} at {stated}, is not back at {setpoint} before the schedule or the time followed ends."
    if one.takes <= 0.0:
        return f"{who} is at {setpoint} already at {stated}, when the schedule asks for it."
    late, then = _late(one.takes), _clock(clock + one.begins + one.takes)
    return (
        f"{who}, {reading} at {stated}, is back at {setpoint} (within half the dead band) {late} later, at {then}; to "
        f"have it so by {stated}, let the schedule rise about that much earlier."
    )


def _late(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def _clock(seconds: float) -> str:
    minutes = round(seconds / 60.0) % (24 * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"

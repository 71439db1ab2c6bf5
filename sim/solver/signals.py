"""Values that change with time: steps, ramps, daily schedules, tables, waves, and water that follows the weather.

A signal has a value at every time and names the times at which it jumps or bends, so that a step in time can end
there. Where it jumps, `arriving` asks for the value just before. Times are seconds from the start of a run.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

DAY = 86400.0
"""One day [s]."""

BEND = 900.0
"""A bent signal is taken as straight over this long when its rise is limited [s]."""


class Signal(Protocol):
    """A value that is known at every time."""

    def value(self, time: float, arriving: bool = False) -> float:
        """Value at a time [s]; at a jump the later one, or the earlier one when `arriving`."""

    def breaks(self, start: float, end: float) -> list[float]:
        """Times of jumps and bends after `start` and not after `end` [s], rising."""


@dataclass(frozen=True, slots=True)
class Profile:
    """Straight between points (a time given twice is a jump), held before the first and after the last.

    With a `period` [s] the points lie within 0 ≤ time < period and repeat; between the last and the first of the
    next round the last value is held.

    Raises
    ------
    ValueError
        No points, lists of different length, falling times, or points outside the period.
    """

    times: tuple[float, ...]
    values: tuple[float, ...]
    period: float | None = None

    def __post_init__(self) -> None:
        if not self.times or len(self.times) != len(self.values):
            raise ValueError(f"a profile needs as many values as times; got {len(self.values)} and {len(self.times)}")
        if any(b < a for a, b in pairwise(self.times)):
            raise ValueError("the times of a profile must not fall")
        if self.period is not None and (self.times[0] < 0.0 or self.times[-1] >= self.period):
            raise ValueError(f"the times of a profile must lie within its period of {self.period:g} s")

    def value(self, time: float, arriving: bool = False) -> float:
        """Value at a time [s]; see `Signal`."""
        here, times = self._wrapped(time, arriving), self.times
        after = int(np.searchsorted(times, here, side="left" if arriving else "right"))
        if after == 0:
            return self.values[-1] if self.period is not None else self.values[0]
        if after == len(times):
            return self.values[-1]
        low, high = times[after - 1], times[after]
        share = (here - low) / (high - low)
        return (1.0 - share) * self.values[after - 1] + share * self.values[after]

    def _wrapped(self, time: float, arriving: bool) -> float:
        if self.period is None:
            return time
        here = time % self.period
        return self.period if arriving and here == 0.0 else here

    def breaks(self, start: float, end: float) -> list[float]:
        """Its points' times [s]; see `Signal`."""
        if len(self.times) == 1:
            return []
        if self.period is None:
            return sorted({time for time in self.times if start < time <= end})
        rounds = range(math.floor(start / self.period) - 1, math.floor(end / self.period) + 1)
        shifted = {turn * self.period + time for turn in rounds for time in self.times}
        return sorted(time for time in shifted if start < time <= end)


@dataclass(frozen=True, slots=True)
class Wave:
    """mean + amplitude · sin(2π (time − delay) / period), times in [s]."""

    mean: float
    amplitude: float
    period: float
    delay: float = 0.0

    def value(self, time: float, arriving: bool = False) -> float:
        """Value at a time [s]; see `Signal`."""
        return self.mean + self.amplitude * math.sin(2.0 * math.pi * (time - self.delay) / self.period)

    def breaks(self, start: float, end: float) -> list[float]:
        """None: it is smooth everywhere."""
        return []


@dataclass(frozen=True, slots=True)
class OutdoorReset:
    """Water temperature that follows the weather.

    T = T_room + (T_design − T_room) ((T_room − T_out) / (T_room − T_out,design))^(1/1.1), the exponent being that
    of the standard floor law q ~ ΔT^1.1 (EN 1264-2), so that heat output is proportional to room minus outdoors.
    The result is kept within `lowest` and `highest`. All temperatures [K].

    Examples
    --------
    Half of the design difference calls for half the heat, 53 % of the design water's lead:

    >>> reset = OutdoorReset(Profile((0.0,), (278.15,)), 293.15, 318.15, 263.15, 273.15, 333.15)
    >>> round(reset.value(0.0) - 293.15, 2)
    13.31
    """

    outdoor: Signal
    room: float
    design_supply: float
    design_outdoor: float
    lowest: float
    highest: float

    def value(self, time: float, arriving: bool = False) -> float:
        """Water temperature at a time [K]; see `Signal`."""
        need = (self.room - self.outdoor.value(time, arriving)) / (self.room - self.design_outdoor)
        wanted = self.room + (self.design_supply - self.room) * max(need, 0.0) ** (1.0 / 1.1)
        return min(max(wanted, self.lowest), self.highest)

    def breaks(self, start: float, end: float) -> list[float]:
        """Those of the outdoor temperature, and where the water reaches a limit [s]."""
        limits = {time for water in (self.lowest, self.highest) for time in self._at(water, start, end)}
        return sorted({*self.outdoor.breaks(start, end), *limits})

    def _at(self, water: float, start: float, end: float) -> list[float]:
        """When the weather asks for water of a temperature [K]."""
        need = max((water - self.room) / (self.design_supply - self.room), 0.0) ** 1.1
        return crossings(self.outdoor, self.room - need * (self.room - self.design_outdoor), start, end)


def constant(value: float) -> Profile:
    """The same value, in any unit, at all times."""
    return Profile((0.0,), (value,))


def step(before: float, after: float, at: float) -> Profile:
    """A jump at a time [s]."""
    return Profile((at, at), (before, after))


def ramp(before: float, after: float, begin: float, end: float) -> Profile:
    """A straight rise or fall from `begin` to `end` [s]."""
    return Profile((begin, end), (before, after))


def daily(changes: Mapping[float, float], clock: float = 0.0) -> Profile:
    """A schedule by the clock: from each time of day [s after midnight] on, the value beside it.

    `clock` is the time of day at which the run starts [s after midnight].

    Raises
    ------
    ValueError : no time is given.
    """
    if not changes:
        raise ValueError("a schedule needs at least one time of day")
    moved = sorted(((time - clock) % DAY, value) for time, value in changes.items())
    times, values, last = [], [], moved[-1][1]
    for time, value in moved:
        times += [time, time]
        values += [last, value]
        last = value
    return Profile(tuple(times), tuple(values), DAY)


def limited_rise(signal: Signal, rate: float, start: float, until: float) -> Profile:
    """A signal that never rises faster than `rate` [1/s], from `start` at time 0 to `until` [s]; it may fall freely.

    For wood floors, whose water is warmed by a few kelvin a day at first.
    """
    points = {0.0, until, *signal.breaks(0.0, until), *(BEND * n for n in range(1, math.ceil(until / BEND)))}
    here = min(start, signal.value(0.0))
    found = [(0.0, here)]
    for low, high in pairwise(sorted(points)):
        found += _rise(signal, rate, here, low, high)
        here = min(found[-1][1], signal.value(high))
        if here < found[-1][1]:
            found.append((high, here))
    return _straightened(found)


def _rise(signal: Signal, rate: float, value: float, low: float, high: float) -> list[tuple[float, float]]:
    """Points of the limited signal within one straight piece of the wanted one, its start left out."""
    first, last = signal.value(low), signal.value(high, arriving=True)
    slope = (last - first) / (high - low)
    lag, closing = first - value, rate - slope
    if lag <= 0.0 and slope <= rate:
        return [(high, last)]
    if closing <= 0.0 or lag > closing * (high - low):
        return [(high, value + rate * (high - low))]
    meeting = low + lag / closing
    return [(meeting, value + rate * (meeting - low)), (high, last)]


def below(signal: Signal, level: float, until: float) -> Profile:
    """1 while a signal lies below a level, 0 at or above it, from time 0 to `until` [s].

    The signal is taken as straight between its jumps and bends.

    Examples
    --------
    A day that warms from 0 to 20 in 10 s passes 15 after 7.5 s:

    >>> below(ramp(0.0, 20.0, 0.0, 10.0), 15.0, 60.0).times
    (0.0, 7.5, 7.5)
    """
    found: list[tuple[float, float]] = []
    for low, high in _pieces(signal, (level,), until):
        _append(found, low, float(signal.value(0.5 * (low + high)) < level))
    times, values = zip(*found, strict=True)
    return Profile(times, values)


def tabulated(signal: Signal, table: Profile, until: float) -> Profile:
    """Values of a table at those of a signal, from time 0 to `until` [s]; the table's own "times" are its entries.

    The signal is taken as straight between its jumps and bends, so that the result is too, with the table's bends.

    Examples
    --------
    Water by the weather: 50 at −10 or colder, 30 at +10 or warmer, straight between:

    >>> warming = ramp(-20.0, 20.0, 0.0, 40.0)
    >>> tabulated(warming, Profile((-10.0, 10.0), (50.0, 30.0)), 60.0)
    Profile(times=(0.0, 10.0, 30.0, 60.0), values=(50.0, 50.0, 30.0, 30.0), period=None)
    """
    found: list[tuple[float, float]] = []
    for low, high in _pieces(signal, table.times, until):
        for point in ((low, table.value(signal.value(low))), (high, table.value(signal.value(high, arriving=True)))):
            if not found or point != found[-1]:
                found.append(point)
    return _straightened(found)


def crossings(signal: Signal, level: float, start: float, end: float) -> list[float]:
    """Times after `start` and before `end` [s] at which a signal passes a level, straight between jumps and bends."""
    found = []
    for low, high in pairwise([start, *signal.breaks(start, end), end]):
        first, last = signal.value(low) - level, signal.value(high, arriving=True) - level
        if first * last < 0.0:
            found.append(low + (high - low) * first / (first - last))
    return found


def _pieces(signal: Signal, levels: Sequence[float], until: float) -> Iterator[tuple[float, float]]:
    """Spans of time within which a signal is straight and passes none of some levels."""
    points = {0.0, until, *signal.breaks(0.0, until)}
    points |= {time for level in levels for time in crossings(signal, level, 0.0, until)}
    return pairwise(sorted(points))


def _append(points: list[tuple[float, float]], time: float, value: float) -> None:
    """Let a signal of steps have a value from a time on."""
    if points and points[-1][1] == value:
        return
    points += [(time, points[-1][1]), (time, value)] if points else [(time, value)]


def _straightened(points: list[tuple[float, float]]) -> Profile:
    """A profile without the points that lie on the straight line between their neighbours."""
    kept = points[:1]
    for here, beyond in pairwise(points[1:]):
        (t0, v0), (t1, v1), (t2, v2) = kept[-1], here, beyond
        bend = (v1 - v0) * (t2 - t0) - (v2 - v0) * (t1 - t0)
        if t1 in (t0, t2) or abs(bend) > 1e-9 * (t2 - t0):
            kept.append(here)
    kept.append(points[-1])
    times, values = zip(*kept, strict=True)
    return Profile(times, values)


def earliest(signals: Sequence[Signal], start: float, end: float) -> float:
    """The first time after `start`, at most `end`, at which any of the signals jumps or bends [s]."""
    return min([end, *(time for signal in signals for time in signal.breaks(start, end)[:1])])

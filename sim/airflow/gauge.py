"""A gauge at a point of the flow, and what its readings say of a flow that oscillates."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.numbers import peak

Array = NDArray[np.float64]
Reading = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Oscillation:
    """How a series of readings varies.

    Attributes
    ----------
    mean : float
        Over whole periods, where it has a period.
    swing : float
        Mean of its peaks less mean of its valleys.
    period : float
        Mean time between rises through the mean; NaN with fewer than three of them.
    """

    mean: float
    swing: float
    period: float


def make_gauge(domain: Domain, point: tuple[float, float, float]) -> Callable[[Sequence[Array]], Reading]:
    """A function from the four fields (velocities and temperature) to (temperature, x, y, z velocity) at a point.

    Values are interpolated linearly between the grid's lines; beyond the last line its value holds.

    Parameters
    ----------
    point : (x, y, z) [m]
    """
    corners = [_corners(domain, component, point) for component in range(4)]

    def read(fields: Sequence[Array]) -> Reading:
        u, v, w, t = (float(np.sum(weight * f[at])) for f, (at, weight) in zip(fields, corners, strict=True))
        return t, u, v, w

    return read


def _corners(domain: Domain, component: int, point: tuple[float, float, float]) -> tuple[Any, Array]:
    """Index of the block of up to eight values around a point, and their weights; component 3 is at cell centres."""
    index, weights = [], np.ones((1, 1, 1))
    for axis, at in enumerate(point):
        lines = domain.edges[axis] if axis == component else domain.centres[axis]
        place = float(np.interp(at, lines, np.arange(lines.size)))
        low = min(int(place), max(lines.size - 2, 0))
        pair = [low] if lines.size == 1 else [low, low + 1]
        shares = np.array([1.0] if lines.size == 1 else [1.0 - (place - low), place - low])
        index.append(pair)
        weights = weights * shares.reshape([-1 if a == axis else 1 for a in range(3)])
    return np.ix_(*index), weights


def oscillation(times: Array, values: Array) -> Oscillation:
    """Mean, swing and period of a series.

    Parameters
    ----------
    times : (n,) [s], rising
    values : (n,)
    """
    t, v = np.asarray(times, float), np.asarray(values, float)
    mean = _mean(t, v)
    rises = _rises(t, v - mean)
    if len(rises) < 3:
        return Oscillation(mean, float(np.ptp(v)), float("nan"))
    whole = (t >= rises[0]) & (t <= rises[-1])
    period = (rises[-1] - rises[0]) / (len(rises) - 1)
    t, v = t[whole], v[whole]
    return Oscillation(_mean(t, v), _tops(t, v) + _tops(t, -v), float(period))


def _mean(times: Array, values: Array) -> float:
    span = times[-1] - times[0]
    return float(np.trapezoid(values, times) / span) if span > 0.0 else float(values.mean())


def _rises(times: Array, values: Array) -> Array:
    """Times at which a series rises through zero, between samples by a straight line."""
    before = np.flatnonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))
    low, high = values[before], values[before + 1]
    return np.asarray(times[before] - low / (high - low) * (times[before + 1] - times[before]))


def _tops(times: Array, values: Array) -> float:
    """Mean of the highest values between rises through the mean, each by a parabola between samples."""
    rises = np.searchsorted(times, _rises(times, values - _mean(times, values)))
    pieces = [slice(max(a - 1, 0), b + 1) for a, b in zip(rises, rises[1:], strict=False) if b - a >= 2]
    if not pieces:
        return float(values.max())
    return float(np.mean([peak(times[p], values[p])[0] for p in pieces]))

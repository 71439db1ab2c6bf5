"""What a computed flow gave its walls, round by round, and how well its means are known.

A round is a stretch of simulated time with the walls' temperatures held. Means are taken over a window that leaves
out the beginning: it starts at a quarter to a half of all rounds, so it grows while what came early drops out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sim.airflow.statistics import batch_error

Array = NDArray[np.float64]

BATCHES = 8
"""Pieces of the window whose spread gives the standard errors."""

RIPPLE_ERROR = 0.05
"""Standard error of the ripple over the ripple at which a run may end."""

LEAST_RIPPLE = 0.05
"""Ripples smaller than this need not be known [K]: nobody feels them, and a twentieth of them is no number."""

LEAST_ROUNDS = 5 * BATCHES
"""Rounds that a window must hold before its errors count."""


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """One round of the flow and the solids' answer to it.

    Attributes
    ----------
    number : int
        From 1.
    time, duration : float [s]
        Simulated time at its end, and its length.
    steps : int
        Steps of the flow since the start.
    heat : (air faces,) [W]
        Mean heat flow from every wall face into the air.
    wall : (solid faces,) [K]
        Surface temperatures that the solids held meanwhile.
    flows : mapping
        Heat flow by path [W] that the solids gave in answer: out of surfaces, and "water".
    surface : (faces,) [K]
        Temperatures of the outer surface whose ripple is watched, in answer; empty where none is.
    """

    number: int
    time: float
    duration: float
    steps: int
    heat: Array
    wall: Array
    flows: Mapping[str, float]
    surface: Array = field(default_factory=lambda: np.empty(0))


@dataclass(frozen=True, slots=True)
class Evidence:
    """How steady the means are.

    Attributes
    ----------
    rounds, window : int
        Rounds taken, and those that the means are taken over.
    time, averaged : float [s]
        Simulated time, and the part of it in the window.
    error : mapping
        Standard error of each path's mean heat flow, as a share of that mean.
    imbalance : float
        Heat that the air takes up in the mean over the heat supplied.
    ripple_error : float
        Standard error of the watched surface's ripple, as a share of it; 0 where none is watched.
    """

    rounds: int
    window: int
    time: float
    averaged: float
    error: Mapping[str, float]
    imbalance: float
    ripple_error: float = 0.0

    @property
    def largest_error(self) -> float:
        """The largest standard error; infinite until there are enough rounds."""
        return max(self.error.values(), default=np.inf)

    def steady(self, error: float, imbalance: float) -> bool:
        """Whether errors and imbalance are small, and the ripple is known."""
        heat = self.largest_error <= error and abs(self.imbalance) <= imbalance
        return heat and self.ripple_error <= max(RIPPLE_ERROR, error)

    def __str__(self) -> str:
        shares = ", ".join(f"{path} ±{share:.2%}" for path, share in self.error.items()) or "not known yet"
        return "\n".join([
            f"Means over {self.averaged:.0f} s of {self.time:.0f} s, {self.window} of {self.rounds} rounds",
            f"├── standard errors: {shares}",
            f"└── the air takes up {self.imbalance:+.2%} of the heat supplied",
        ])


def window_start(rounds: int) -> int:
    """First round of the window when so many were taken: half of the last power of two, so a quarter to a half.

    Examples
    --------
    >>> [window_start(n) for n in (1, 2, 4, 7, 8, 16, 31, 32)]
    [0, 1, 2, 2, 4, 8, 8, 16]
    """
    return (1 << (rounds.bit_length() - 1)) // 2 if rounds > 1 else 0


def weigh(rounds: Sequence[Round], supplied: float, least: int = LEAST_ROUNDS) -> Evidence:
    """Standard errors and imbalance over the present window; `supplied` is the heat put in [W].

    Errors are not known before a window holds `least` rounds, at least two for each of BATCHES.
    """
    window = rounds[window_start(len(rounds)) :]
    enough = len(window) >= least
    ripple = ripple_error([r.surface for r in window]) if enough and window[0].surface.size else 0.0
    error = {path: _share([r.flows[path] for r in window]) for path in window[0].flows} if enough else {}
    taken = float(np.average([r.heat.sum() for r in window], weights=[r.duration for r in window]))
    return Evidence(
        rounds=len(rounds),
        window=len(window),
        time=rounds[-1].time,
        averaged=float(sum(r.duration for r in window)),
        error=error,
        imbalance=taken / max(abs(supplied), 1e-9),
        ripple_error=ripple,
    )


def ripple_error(maps: Sequence[Array]) -> float:
    """Standard error of a surface's ripple, highest minus lowest of its mean map, as a share of it [-].

    Examples
    --------
    >>> import numpy as np
    >>> ripple_error([np.array([0.0, 1.0])] * 16), round(ripple_error([np.array([0.0, n % 2]) for n in range(16)]), 3)
    (0.0, 0.0)
    """
    length = len(maps) // BATCHES
    pieces = [np.mean(maps[n * length : (n + 1) * length], axis=0) for n in range(BATCHES)]
    whole = float(np.ptp(np.mean(pieces, axis=0)))
    ripples = [float(np.ptp(piece)) for piece in pieces]
    error = or_drift(ripples, float(np.std(ripples, ddof=1)) / BATCHES**0.5)
    return error / whole if whole > LEAST_RIPPLE else 0.0


def batches(window: Sequence[Round]) -> list[Sequence[Round]]:
    """The window's rounds in pieces of equal number, a rest at its start left out; none when there are too few."""
    length = len(window) // BATCHES
    if len(window) < LEAST_ROUNDS:
        return []
    first = len(window) - BATCHES * length
    return [window[first + n * length : first + (n + 1) * length] for n in range(BATCHES)]


def _share(values: Sequence[float]) -> float:
    """Standard error of a mean over the mean; 0 where nothing flows."""
    mean, error = batch_error(values, BATCHES)
    return or_drift(values, error) / abs(mean) if abs(mean) > 1e-9 else 0.0


def or_drift(values: Sequence[float], error: float) -> float:
    """The standard error of a mean, or half the step from the first to the second half where it is clearly no chance.

    By chance that half step is as large as the standard error; a steady drift makes it 2.3 times as large.

    Examples
    --------
    >>> or_drift([1.0, 1.2, 1.0, 1.2], 0.05), or_drift([1.0, 1.0, 2.0, 2.0], 0.2)
    (0.05, 0.5)
    """
    half = len(values) // 2
    step = 0.5 * abs(float(np.mean(values[half:]) - np.mean(values[:half])))
    return step if step > 2.0 * error else error


def mean_heat(rounds: Sequence[Round]) -> tuple[Array, Array]:
    """Mean heat flow of the air's faces [W] and mean temperature of the solids' faces [K] over some rounds."""
    weights = np.array([r.duration for r in rounds])
    weights /= weights.sum()
    heat = sum(w * r.heat for w, r in zip(weights, rounds, strict=True))
    wall = sum(w * r.wall for w, r in zip(weights, rounds, strict=True))
    return np.asarray(heat), np.asarray(wall)

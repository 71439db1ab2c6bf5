"""What a computed flow gave its walls, round by round, and how well its means are known.

A round is a stretch of simulated time with the walls' temperatures held. Means are taken over a window that leaves
out the beginning: it starts at a ninth to a half of all rounds, so it grows while what came early drops out.

Several starts of one flow, which differ in their random warmth, are independent of each other: n rounds of two give 2 n
samples. Each start has its own solids, so that every series is of one flow alone. Half of what two starts differ by has
the same scatter as the error of their mean; where it is clearly more, it counts instead.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import hypot
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from sim.airflow.correlated import SeriesMean, series_mean
from sim.resolved.mirror import Mirror

Array = NDArray[np.float64]

BATCHES = 8
"""Pieces of the window whose spread gives the standard errors of numbers that no series of rounds holds."""

HELD_SINCE = 0.8
"""Share of the rounds after which means must have been as well known as at the end: errors are estimates, and a run
that stopped at the first small one would stop where it happens to be too small (Glynn & Whitt 1992, Annals of Applied
Probability 2, 180)."""

RIPPLE_ERROR = 0.05
"""Standard error of the ripple over the ripple at which a run may end."""

NO_MIRROR = Mirror()
"""No planes of symmetry."""

LEAST_RIPPLE = 0.05
"""Ripples smaller than this need not be known [K]: nobody feels them, and a twentieth of them is no number."""

SETTLED = 16
"""Rounds after which air has settled, four times the time in which films would renew its heat: a kitchen's air took up
3 % of the heat in its first six rounds and half a per cent after ten."""

FIRST_STARTS = (0, 1, 5, SETTLED, 2 * SETTLED)
"""Rounds that windows leave out; each later one is three times the one before."""

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


SLIGHT = 0.01
"""Share of the heat supplied below which a flow is held against that share."""


def ripple_wanted(error: float) -> float:
    """Standard error of the ripple, as a share of it, at which a run may end that wants heat known to `error`."""
    return max(RIPPLE_ERROR, error)


@dataclass(frozen=True, slots=True)
class Evidence:
    """How steady the means are.

    Attributes
    ----------
    rounds, window : int
        Rounds taken of each start, and those that the means are taken over.
    time, averaged : float [s]
        Simulated time of each start, and the part of it in the window.
    error : mapping
        Standard error of each path's mean heat flow, as a share of that mean; of SLIGHT of the heat supplied where it
        is less than that, so that a body which hardly takes part need not be known to a share of next to nothing.
    imbalance : float
        Heat that the air takes up in the mean over the heat supplied.
    ripple_error : float
        Standard error of the watched surface's ripple, as a share of it; 0 where none is watched.
    beyond : mapping
        Per path, and "ripple": the standard error over what the spread of the window's BATCHES pieces tells, which
        is too little where pieces are no longer than the flow's memory; at least 1.
    known : mapping
        Per path, and "ripple": what its series over the window tells.
    starts : int
        Flows that the means are of.
    companion : bool
        Whether the rounds are those of a companion on larger cells, which is computed first.
    """

    rounds: int
    window: int
    time: float
    averaged: float
    error: Mapping[str, float]
    imbalance: float
    ripple_error: float = 0.0
    beyond: Mapping[str, float] = field(default_factory=dict)
    known: Mapping[str, SeriesMean] = field(default_factory=dict)
    starts: int = 1
    companion: bool = False

    @property
    def slowest(self) -> str:
        """Path, or "ripple", whose error rests on the fewest independent samples; empty before errors are known."""
        return max(self.known, key=lambda name: self.known[name].memory, default="")

    @property
    def samples(self) -> float:
        """Number of independent samples that its mean rests on; infinite before errors are known."""
        return self.starts * self.window / self.known[self.slowest].memory if self.known else np.inf

    @property
    def largest_error(self) -> float:
        """The largest standard error of a path's mean, as a share of it [-]; infinite until there are enough rounds."""
        return max(self.error.values(), default=np.inf)

    def excess(self, error: float) -> float:
        """The errors of heat and of the ripple over what they may be, the larger of the two [-]."""
        return max(self.largest_error / error, self.ripple_error / ripple_wanted(error))

    def steady(self, error: float, imbalance: float) -> bool:
        """Whether errors and imbalance are small, and the ripple is known."""
        heat = self.largest_error <= error and abs(self.imbalance) <= imbalance
        return heat and self.ripple_error <= ripple_wanted(error)

    def __str__(self) -> str:
        shares = ", ".join(f"{path} ±{share:.2%}" for path, share in self.error.items()) or "not known yet"
        return "\n".join([
            f"Means over {self.averaged:.0f} s of {self.time:.0f} s, {self.window} of {self.rounds} rounds"
            + (f" of each of {self.starts} starts" if self.starts > 1 else ""),
            f"├── standard errors: {shares}",
            f"└── the air takes up {self.imbalance:+.2%} of the heat supplied",
        ])


def window_start(rounds: int) -> int:
    """First round of the window when so many were taken: a ninth to a half of them from 16 rounds on.

    A window begins where the one before moved on, so that two running sums hold the means of this window and of the
    next (`window.FieldMeans`).

    Examples
    --------
    >>> [window_start(n) for n in (1, 5, 15, 16, 31, 32, 95, 96, 287, 288)]
    [0, 1, 1, 5, 5, 16, 16, 32, 32, 96]
    """
    starts = list(FIRST_STARTS)
    while starts[-1] <= rounds:
        starts.append(3 * starts[-1])
    return starts[max(bisect_right(starts, rounds) - 2, 0)]


Starts: TypeAlias = Sequence[Sequence[Round]]
"""Rounds of every start of a flow, equally many of each."""


def weigh(
    starts: Starts,
    supplied: float,
    least: int = LEAST_ROUNDS,
    mirror: Mirror = NO_MIRROR,
) -> Evidence:
    """Standard errors and imbalance over the present window.

    Errors are not known before the windows of all starts hold `least` rounds together. Those of several leave out as
    many rounds as one's: how starts settle is alike in all, and their spread does not tell of it.

    Parameters
    ----------
    supplied : the heat put in [W].
    mirror : images of the watched surface's map.
    """
    rounds, windows = starts[0], windows_of(starts)
    first, together = windows[0], [one for window in windows for one in window]
    enough = len(together) >= least and (len(starts) == 1 or window_start(len(rounds)) >= SETTLED)
    series = {path: np.array([[r.flows[path] for r in w] for w in windows]) for path in first[0].flows if enough}
    error = {path: _share(values, SLIGHT * abs(supplied)) for path, values in series.items()}
    ripple = 0.0
    if enough and first[0].surface.size:
        watched = ripple_known([[r.surface for r in window] for window in windows], mirror)
        series["ripple"], ripple = watched.series, watched.error
    known = {name: series_mean(values) for name, values in series.items()}
    taken = float(np.average([r.heat.sum() for r in together], weights=[r.duration for r in together]))
    return Evidence(
        rounds=len(rounds),
        window=len(first),
        time=rounds[-1].time,
        averaged=float(sum(r.duration for r in first)),
        error=error,
        imbalance=taken / max(abs(supplied), 1e-9),
        ripple_error=ripple,
        beyond={name: beyond_pieces(values, known[name]) for name, values in series.items()},
        known=known,
        starts=len(starts),
    )


def windows_of(starts: Starts) -> list[Sequence[Round]]:
    """The rounds of every start that its means are taken over."""
    return [rounds[window_start(len(rounds)) :] for rounds in starts]


def at_the_end(evidence: Evidence) -> Evidence:
    """What may be told of a run that its own errors ended: each as many times larger as `end_share` says."""
    share = {name: end_share(mean.freedom) for name, mean in evidence.known.items()}
    return replace(
        evidence,
        error={path: share[path] * error for path, error in evidence.error.items()},
        ripple_error=share.get("ripple", 1.0) * evidence.ripple_error,
        beyond={name: share[name] * times for name, times in evidence.beyond.items()},
    )


def end_share(freedom: float) -> float:
    """By how much errors of a run are larger than those that ended it seem, by their degrees of freedom.

    A run ends when its errors are small, so rather where they happen to be too small; the fewer independent samples,
    the more. With this, twice the error held in 92 to 97 of 100 autoregressions with memories of 3 to 39 rounds that
    ended by the rule of `march.why_done` after 1 to 50 memories, without it in 71 to 93 (`docs/air-mesh.md`).

    Examples
    --------
    >>> [round(end_share(freedom), 2) for freedom in (2.0, 4.0, 10.0, 40.0)]
    [2.5, 1.5, 1.14, 1.03]
    """
    return 1.0 + 1.0 / freedom + 4.0 / freedom**2


def was_known(starts: Starts, error: float, supplied: float, least: int, mirror: Mirror) -> bool:
    """Whether the means were as well known some rounds ago, so that no lucky error ends a run; see `weigh`.

    Parameters
    ----------
    error : of heat flows [-].
    """
    before = [rounds[: int(HELD_SINCE * len(rounds))] for rounds in starts]
    return weigh(before, supplied, int(HELD_SINCE * least), mirror).steady(error, np.inf)


@dataclass(frozen=True, slots=True)
class RippleKnown:
    """How much warmer a surface is where its mean map is warmest than where it is coolest.

    Attributes
    ----------
    series : (starts, rounds) [K].
    error : standard error of their mean, as a share of it: of its scatter, and of how far mirror images differ.
    """

    series: Array
    error: float


def ripple_known(maps: Sequence[Sequence[Array]], mirror: Mirror = NO_MIRROR) -> RippleKnown:
    """How well a surface's ripple is known, highest minus lowest of its mean map [K], from the maps of starts' rounds.

    Examples
    --------
    >>> import numpy as np
    >>> round(ripple_known([[np.array([0.0, n % 2]) for n in range(16)]]).error, 2)
    0.35
    """
    mean = np.mean(maps, axis=(0, 1))
    halves = np.array([[mirror.of_surface(one) for one in start] for start in maps])
    both = mirror.of_surface(mean)
    warmest, coolest = int(both.argmax()), int(both.argmin())
    series = halves[:, :, warmest] - halves[:, :, coolest]
    whole = float(both[warmest] - both[coolest])
    if whole <= LEAST_RIPPLE:
        return RippleKnown(series, 0.0)
    scatter = or_drift(series, series_mean(series).error)
    return RippleKnown(series, hypot(scatter, mirror.of_extreme * (float(np.ptp(mean)) - whole)) / whole)


def beyond_pieces(values: Sequence[float] | Array, known: SeriesMean | None = None) -> float:
    """Standard error of the mean of series over what the spread of BATCHES pieces of them tells [-]; at least 1."""
    series = np.atleast_2d(values)
    length = series.size // BATCHES
    if length == 0:
        return 1.0
    pieces = series[:, series.shape[1] - BATCHES // len(series) * length :].reshape(BATCHES, length).mean(axis=1)
    told = float(pieces.std(ddof=1)) / BATCHES**0.5
    return max((known or series_mean(values)).error / told, 1.0) if told > 0.0 else 1.0


def batches(windows: Starts, least: int = LEAST_ROUNDS) -> list[Sequence[Round]]:
    """The windows' rounds in pieces of equal number, one start's after the other's; none when there are too few.

    A rest at the start of each window is left out.
    """
    rounds, pieces = len(windows[0]), BATCHES // len(windows)
    length = rounds // pieces
    if len(windows) * rounds < least:
        return []
    first = rounds - pieces * length
    return [window[first + n * length : first + (n + 1) * length] for window in windows for n in range(pieces)]


def _share(values: Array, least: float) -> float:
    """Standard error of a mean over the mean, or over `least` where that is more; 0 where nothing flows."""
    found = series_mean(values)
    amount = max(abs(found.mean), least)
    return or_drift(values, found.error) / amount if amount > 1e-9 else 0.0


def or_drift(values: Sequence[float] | Array, error: float) -> float:
    """The standard error of the mean of a series, or of several starts' (starts, n), or what is clearly no chance.

    That is half the step from the first to the second half, and the standard error that the starts' own means tell,
    half of what two differ by. By chance both are as large as the standard error; a steady drift makes the step 2.3
    times as large.

    Examples
    --------
    >>> or_drift([1.0, 1.2, 1.0, 1.2], 0.05), or_drift([1.0, 1.0, 2.0, 2.0], 0.2)
    (0.05, 0.5)
    >>> or_drift([[1.0, 1.0], [2.0, 2.0]], 0.2)
    0.5
    """
    series = np.atleast_2d(values)
    half = series.shape[1] // 2
    told = [0.5 * abs(float(series[:, half:].mean() - series[:, :half].mean()))]
    if len(series) > 1:
        told.append(float(series.mean(axis=1).std(ddof=1)) / len(series) ** 0.5)
    return max(told) if max(told) > 2.0 * error else error


def mean_heat(rounds: Sequence[Round]) -> tuple[Array, Array]:
    """Mean heat flow of the air's faces [W] and mean temperature of the solids' faces [K] over some rounds."""
    weights = np.array([r.duration for r in rounds])
    weights /= weights.sum()
    heat = sum(w * r.heat for w, r in zip(weights, rounds, strict=True))
    wall = sum(w * r.wall for w, r in zip(weights, rounds, strict=True))
    return np.asarray(heat), np.asarray(wall)

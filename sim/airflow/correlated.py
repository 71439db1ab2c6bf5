"""Means of series that remember, and how well they are known.

Samples that follow each other in a flow are alike, so a mean of n of them is known as well as one of n / τ independent
ones, τ = 1 + 2 Σ ρ(k) the memory in samples. The sum of the autocorrelations ρ ends at the first lag W ≥ 6 · τ/2, as
beyond it there is only noise (Madras & Sokal 1988, J. Stat. Phys. 50, 109; Sokal 1997, Monte Carlo methods in
statistical mechanics, section 3). Autocorrelations about a series' own mean are too small by the variance of that
mean, which a factor 1 / (1 − (2W + 1) / n) gives back (Wolff 2004, Comput. Phys. Commun. 156, 143). The variance so
found has about n / (2W + 1) degrees of freedom, by which Student's t widens the band of a short series; no error is
larger than the series' own standard deviation, which is what a slow drift comes to.

Series of several starts of one flow are independent of each other: their autocovariances about the mean of all are
averaged, n counts the samples of all (Wolff's section on replicas), and what makes the starts differ, slow as it may
be, is in every lag.

Batch means, by the spread of eight pieces, were too small by half where a piece is no longer than the memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WINDOW = 6.0
"""Lags summed over τ/2: Sokal advises 4 to 10."""

LEAST_LEFT, LEAST_FREEDOM = 0.2, 2.0
"""Least share of a variance that counts as seen, and least degrees of freedom, where a series is hardly longer than its
memory: with these nine of ten bands held of series of two memories or more."""

LEAST_SAMPLES = 4
"""Shortest series of which an error can be told."""


@dataclass(frozen=True, slots=True)
class SeriesMean:
    """What a correlated series tells of its mean.

    Attributes
    ----------
    mean : float
    error : float
        Half of what lies on either side in a band of 95 %: a standard error that is larger where few independent
        samples tell it.
    memory : float
        Samples that tell as much as one independent one.
    freedom : float
        Degrees of freedom of the error.
    """

    mean: float
    error: float
    memory: float
    freedom: float


def series_mean(values: Sequence[float] | Array) -> SeriesMean:
    """Mean of a series (n,) of equally spaced samples with its error, both in any unit, that of the samples.

    Series of several starts are (starts, n).

    Raises
    ------
    ValueError
        With fewer than LEAST_SAMPLES.

    Examples
    --------
    >>> import numpy as np
    >>> found = series_mean(np.random.default_rng(2).standard_normal(400))
    >>> round(found.memory, 1), round(found.error * 20.0, 1)
    (1.0, 1.0)
    """
    samples = np.atleast_2d(np.asarray(values, dtype=float))
    if samples.shape[1] < LEAST_SAMPLES:
        raise ValueError(f"{samples.shape[1]} samples tell no error of their mean; {LEAST_SAMPLES} are the least")
    variances = _autocovariances(samples)
    if variances[0] <= np.finfo(float).eps ** 2 * float(np.mean(samples**2)):
        return SeriesMean(float(samples.mean()), 0.0, 1.0, float(samples.size))
    memory, lag = _memory(variances / variances[0])
    span = (2 * lag + 1) / samples.size
    variance = variances[0] * memory / samples.size / max(1.0 - span, LEAST_LEFT)
    freedom = max(1.0 / span, LEAST_FREEDOM)
    error = min(0.5 * _student(freedom) * float(np.sqrt(variance)), float(np.sqrt(variances[0])))
    return SeriesMean(float(samples.mean()), error, memory, freedom)


def _autocovariances(samples: Array) -> Array:
    """Of series (starts, n) about the mean of all, by lag up to half their length, at least two of them."""
    count = samples.shape[1]
    spectrum = np.fft.rfft(samples - samples.mean(), 2 * count)
    whole = np.fft.irfft(np.sum(np.abs(spectrum) ** 2, axis=0), 2 * count)
    return np.asarray(whole[: count // 2] / samples.size)


def _memory(correlations: Array) -> tuple[float, int]:
    """Memory, at least one sample, and the last lag that counts."""
    memories = 1.0 + 2.0 * np.cumsum(correlations[1:])
    lags = np.arange(1, len(memories) + 1)
    ends = np.append(np.flatnonzero(lags >= 0.5 * WINDOW * memories), len(lags) - 1)
    return max(float(memories[ends[0]]), 1.0), int(lags[ends[0]])


def _student(freedom: float) -> float:
    """Student's t for 95 %."""
    from scipy.special import stdtrit  # a tenth of a second

    return float(stdtrit(freedom, 0.975))

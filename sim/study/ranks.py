"""What samples say of a number: its interval, and how much each input moves it.

An influence is a standardised rank regression coefficient (R. Iman and W. Conover 1979, Technometrics 21, 499), from
-1 to 1, which holds for any monotone influence. The coefficient of determination R² of that regression says how much
of the scatter it explains.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SHARES = (5.0, 95.0)
"""Percentiles at the ends of an interval."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Mean, median and 5-95 % interval over the `count` samples that were solved."""

    mean: float
    median: float
    low: float
    high: float
    count: int


def interval_of(values: ArrayLike) -> Interval:
    """Mean, median and 5-95 % interval of the finite values (n,), in their unit; NaN when there are none."""
    known = np.asarray(values, dtype=float)
    known = known[np.isfinite(known)]
    if not known.size:
        return Interval(nan, nan, nan, nan, 0)
    low, high = np.percentile(known, SHARES)
    return Interval(float(known.mean()), float(np.median(known)), float(low), float(high), known.size)


def rank_regression(inputs: ArrayLike, output: ArrayLike) -> tuple[Array, float]:
    """Standardised rank regression coefficients and their R².

    Parameters
    ----------
    inputs : (samples, inputs), any units.
    output : (samples,); rows where it is not finite are left out.

    Returns
    -------
    coefficients (inputs,) and R². Both are NaN with fewer than two rows more than inputs, or when the output does
    not vary; an input that does not vary gets 0.
    """
    inputs, output = np.asarray(inputs, dtype=float), np.asarray(output, dtype=float)
    known = np.isfinite(output)
    rows, count = int(known.sum()), inputs.shape[1]
    if rows < count + 2 or np.ptp(output[known]) == 0.0:
        return np.full(count, nan), nan
    left, right = _standard_ranks(inputs[known]), _standard_ranks(output[known])
    coefficients = np.asarray(np.linalg.lstsq(left, right, rcond=None)[0], dtype=np.float64)
    left_over = float(np.sum((right - left @ coefficients) ** 2))
    return coefficients, 1.0 - left_over / float(np.sum(right**2))


def _standard_ranks(values: Array) -> Array:
    """Ranks with mean 0 and deviation 1; a column that does not vary becomes 0."""
    from scipy.stats import rankdata

    ranks = rankdata(values, axis=0)
    deviation = ranks.std(axis=0)
    return np.asarray((ranks - ranks.mean(axis=0)) / np.where(deviation > 0.0, deviation, 1.0))

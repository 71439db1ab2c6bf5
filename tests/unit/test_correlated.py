"""Means of series that remember: bands of 95 % against series whose means and memories are known."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.signal import lfilter

from sim.airflow.correlated import series_mean
from sim.resolved.means import NO_MIRROR, Round, at_the_end, beyond_pieces, end_share, was_known, weigh
from sim.results.air_remarks import short_record
from sim.results.air_words import limits_of_computed

SERIES = 300


def noise(feedback, count, seed=1):
    """Autoregressions (SERIES, count) of mean 0: x = Σ a x before + white noise."""
    white = np.random.default_rng(seed).standard_normal((SERIES, count + 1000))
    return lfilter([1.0], [1.0, *(-a for a in feedback)], white, axis=1)[:, 1000:]


def swings(decay, period):
    """An autoregression of second order that swings with a period [samples]."""
    return 2.0 * decay * np.cos(2.0 * np.pi / period), -(decay**2)


@pytest.mark.parametrize(
    ("feedback", "count"),
    [((), 40), ((0.7,), 56), ((0.9,), 80), ((0.95,), 160), (swings(0.9, 12), 56), (swings(0.95, 40), 120)],
)
def test_bands_hold_the_mean_in_nine_of_ten(feedback, count):
    """Known mean: 0. Of a band for 95 % nine of ten are asked, of series a few memories long."""
    held = [abs(found.mean) <= 2.0 * found.error for found in map(series_mean, noise(feedback, count))]
    assert np.mean(held) >= 0.9


@pytest.mark.parametrize("feedback", [(0.5,), (0.9,), swings(0.9, 12)])
def test_the_error_of_a_long_series_is_that_of_theory(feedback):
    """σ / (1 − Σ a) / √n, the spectrum at no frequency (any text on time series)."""
    told = [series_mean(values).error for values in noise(feedback, 8000)[:40]]
    assert_allclose(np.mean(told), 1.0 / (1.0 - sum(feedback)) / np.sqrt(8000.0), rtol=0.08)


def test_eight_pieces_tell_too_little_where_they_are_no_longer_than_the_memory():
    """(1 + φ) / (1 − φ) = 19 samples for φ = 0.9, pieces of 14."""
    series = noise((0.9,), 112)
    true = 10.0 / np.sqrt(112.0)
    pieces = series.reshape(SERIES, 8, 14).mean(axis=2).std(axis=1, ddof=1) / np.sqrt(8.0)
    assert np.sqrt(np.mean(pieces**2)) < 0.75 * true
    assert np.median([beyond_pieces(values) for values in series]) > 1.5
    assert min(beyond_pieces(values) for values in noise((), 112)) == 1.0, "never smaller than what pieces tell"


def ended_by_its_error(values, wanted):
    """What a run whose heat is this series is told to be known to, before and after the share for its end."""
    nothing = np.empty(0)
    rounds = [Round(n, n, 1.0, n, nothing, nothing, {"up": value}) for n, value in enumerate(values, 1)]
    for count in range(60, len(rounds) + 1, 8):
        evidence = weigh([rounds[:count]], 1.0)
        if evidence.steady(wanted, np.inf) and was_known([rounds[:count]], wanted, 1.0, 40, NO_MIRROR):
            break
    return evidence


@pytest.mark.parametrize(("feedback", "spread"), [((0.8,), 0.13), ((0.9,), 0.09), ((0.95,), 0.06)])
def test_what_a_run_tells_at_its_end_holds_although_it_ends_at_a_small_error(feedback, spread):
    """Known mean: 1. Without the share for the end a band of 95 % held in 80 to 90 of 100 (`docs/air-mesh.md`)."""
    series = noise(feedback, 300, seed=5)[:80]
    ends = [ended_by_its_error(1.0 + spread * values / series.std(), 0.05) for values in series]
    missed = [abs(end.known["up"].mean - 1.0) / end.known["up"].mean for end in ends]
    before = np.mean([miss <= 2.0 * end.error["up"] for miss, end in zip(missed, ends, strict=True)])
    after = np.mean([miss <= 2.0 * at_the_end(end).error["up"] for miss, end in zip(missed, ends, strict=True)])
    assert before < 0.91 < after, "the share is what makes the band hold"
    assert after >= 0.92


def test_a_record_that_is_short_beside_its_memory_is_said_to_be():
    slow = 1.0 + 0.05 * noise((0.97,), 120, seed=2)[0]
    ends = [at_the_end(ended_by_its_error(values, 0.001)) for values in (slow, 1.0 + 0.05 * noise((), 240)[0])]
    (told,) = short_record(ends[0])
    assert "the mean of the heat up rests on about" in told and "independent samples" in told
    assert f"{end_share(ends[0].known['up'].freedom):.1f} times" in told
    assert short_record(ends[1]) == [], "one without memory is long"
    report = {"air_companion_cells": 0.0, "air_samples": ends[0].samples, "air_time_s": 600.0}
    mesh, cut, short = limits_of_computed(report, 600.0)
    assert "layers at walls alone" in mesh and "air.longest" in cut
    assert f"about {ends[0].samples:.0f} independent samples" in short and f"about {ends[0].samples:.0f} " in told
    assert limits_of_computed({"air_companion_cells": 9.0, "air_samples": ends[1].samples}, None) == []
    assert limits_of_computed({"air_samples": None, "air_time_s": None}, 30.0) == []  # ended too early to know


def test_a_series_at_rest_is_known_and_a_short_one_refused():
    assert series_mean([3.0] * 50).error == 0.0
    with pytest.raises(ValueError, match="3 samples tell no error"):
        series_mean([1.0, 2.0, 1.0])

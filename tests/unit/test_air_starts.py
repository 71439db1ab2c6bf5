"""Two starts of one flow: what they tell of its mean together."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.airflow.correlated import series_mean
from sim.resolved import march
from sim.resolved.means import BATCHES, LEAST_ROUNDS, Round, batches, beyond_pieces, or_drift, weigh
from sim.resolved.mirror import Mirror


def pairs(feedback, count, seed=0, number=400):
    """Pairs of independent autoregressions about 0 (number, 2, count), of standard deviation 1 from the start."""
    draws = np.random.default_rng(seed).standard_normal((number, 2, count))
    series = draws.copy()
    for n in range(1, count):
        series[..., n] = feedback * series[..., n - 1] + (1.0 - feedback**2) ** 0.5 * draws[..., n]
    return series


def rounds_of(values, heat=0.0):
    return [
        Round(n, 2.0 * n, 2.0, n, np.array([heat]), np.array([300.0]), {"up": value, "water": 10.0})
        for n, value in enumerate(values, 1)
    ]


@pytest.mark.parametrize("feedback", [0.0, 0.5, 0.9])
def test_two_long_starts_tell_the_error_of_theory(feedback):
    """Variance of the mean of an autoregression: (1 + φ) / (1 − φ) / n (Sokal 1997); of two starts half of it."""
    told = [series_mean(pair).error for pair in pairs(feedback, 4000, number=40)]
    assert_allclose(np.mean(told), np.sqrt((1.0 + feedback) / (1.0 - feedback) / 8000.0), rtol=0.08)


@pytest.mark.parametrize(("feedback", "count"), [(0.5, 24), (0.8, 32), (0.9, 48), (0.95, 80)])
def test_bands_of_two_short_starts_hold_the_mean_in_nine_of_ten(feedback, count):
    """Known mean: 0; each start a memory or two to four long."""
    held = [abs(found.mean) <= 2.0 * found.error for found in map(series_mean, pairs(feedback, count))]
    assert np.mean(held) >= 0.9


def test_two_starts_know_their_memory_from_twice_as_many_samples():
    """Degrees of freedom and samples are those of both together."""
    both, one = (weigh(starts, 10.0) for starts in ([rounds_of(np.tile([9.0, 11.0], 60))] * n for n in (2, 1)))
    assert both.starts == 2 and both.window == one.window
    assert both.samples == 2.0 * one.samples
    assert both.known["up"].freedom == 2.0 * one.known["up"].freedom


def test_starts_that_differ_by_more_than_chance_are_told_half_their_difference():
    """Two flows that stay 0.2 K apart: their mean is not known better than to 0.1 K, however long they are followed."""
    apart = np.array([[0.1], [-0.1]]) + 0.01 * pairs(0.0, 800, number=1)[0]
    alike = 0.01 * pairs(0.0, 800, number=1)[0]
    assert_allclose(or_drift(apart, 0.01 / np.sqrt(1600.0)), 0.1, rtol=0.02)
    assert or_drift(alike, 0.01 / np.sqrt(1600.0)) == 0.01 / np.sqrt(1600.0)
    evidence = weigh([rounds_of(10.0 + values) for values in apart], 10.0)
    assert_allclose(evidence.error["up"], 0.01, rtol=0.1)


def test_half_of_what_two_starts_differ_by_scatters_as_their_mean_does():
    """So that twice the error told is exceeded by chance in one of twenty."""
    series = pairs(0.8, 200)
    halves = 0.5 * (series[:, 0].mean(axis=1) - series[:, 1].mean(axis=1))
    assert_allclose(np.std(halves), np.std(series.mean(axis=(1, 2))), rtol=0.15)


def test_the_window_and_the_imbalance_are_over_both_starts():
    starts = [rounds_of(np.full(100, 9.0), heat=0.1), rounds_of(np.full(100, 11.0), heat=0.3)]
    evidence = weigh(starts, 10.0)
    assert_allclose(evidence.imbalance, 0.02, rtol=1e-12)
    assert evidence.known["up"].mean == 10.0 and evidence.rounds == 100
    assert "of each of 2 starts" in str(evidence)


def test_no_error_of_two_starts_is_told_before_their_air_has_settled():
    """Each leaves out 16 rounds, and both windows together hold as many as one's."""
    known = [n for n in range(1, 60) if weigh([rounds_of(np.full(n, 9.0))] * 2, 10.0).error]
    assert known[0] == 16 + LEAST_ROUNDS // 2


def test_pieces_are_as_many_of_either_start():
    windows = [rounds_of(np.arange(LEAST_ROUNDS // 2 + 3)), rounds_of(np.arange(LEAST_ROUNDS // 2 + 3))]
    pieces = batches(windows)
    assert len(pieces) == BATCHES and {len(piece) for piece in pieces} == {LEAST_ROUNDS // BATCHES}
    assert [one for piece in pieces[: BATCHES // 2] for one in piece] == windows[0][3:]
    assert batches([window[: LEAST_ROUNDS // 2 - 1] for window in windows]) == []
    assert beyond_pieces(pairs(0.9, 100)[0]) > 1.0


def test_no_run_ends_while_one_start_is_behind():
    settings = SimpleNamespace(error=0.01, imbalance=0.01, errors=False, least_rounds=16, longest=1e9)
    first, second = (
        SimpleNamespace(rounds=rounds_of(np.full(count, 10.0)), settings=settings, mirror=Mirror())
        for count in (60, 59)
    )
    assert march.why_done([first, second]) == "" and march.why_done([first, first]) == "steady"

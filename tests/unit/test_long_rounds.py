"""Rounds of a flow on a device: what must hold of them whatever their length, and overlaps of a tube's faces."""

import numpy as np

from sim.resolved.contact import _in_common
from sim.resolved.domain import AirSizes
from sim.resolved.march import STIFFNESS
from sim.resolved.means import BATCHES, Round, batches
from sim.resolved.settings import AirSettings

USUAL = AirSettings(AirSizes(0.01, 0.0035))
LONG, LONGEST = USUAL.with_long_rounds(80_000), USUAL.with_long_rounds(1_700_000)


def test_long_rounds_average_at_least_as_long():
    """A window of the fewest rounds that count spans as much of the flow's time, in pieces of several rounds."""
    for settings in (LONG, LONGEST):
        assert settings.least_rounds / settings.rounds_a_renewal >= USUAL.least_rounds / USUAL.rounds_a_renewal
        assert 2 * BATCHES <= settings.least_rounds < USUAL.least_rounds
    assert LONGEST.least_rounds < LONG.least_rounds


def test_walls_do_not_swing_from_round_to_round():
    """A wall that only air touches answers a round by 1 − w H/h of its error; h is at least STIFFNESS of H."""
    for settings in (USUAL, LONG, LONGEST):
        assert abs(1.0 - settings.forget / STIFFNESS) < 0.6


def test_a_window_has_its_pieces_from_its_own_least():
    windows = [[Round(n, float(n), 1.0, n, np.zeros(1), np.zeros(1), {}) for n in range(1, 25)]]
    assert batches(windows) == [] and [len(piece) for piece in batches(windows, LONG.least_rounds)] == [3] * BATCHES


def test_overlaps_are_those_of_all_pairs():
    rng = np.random.default_rng(3)
    for _ in range(50):
        grid = np.sort(rng.uniform(0.0, 1.0, rng.integers(3, 12)))
        planes = np.sort([*rng.uniform(-0.2, 1.2, rng.integers(2, 9)), *rng.choice(grid, 2)])
        slices, own = rng.integers(0, len(grid) - 1, 15), rng.integers(0, len(planes) - 1, 12)
        low, high = planes[own], planes[own + 1]
        span = np.minimum(high[:, None], grid[slices + 1]) - np.maximum(low[:, None], grid[slices])
        wanted = list(zip(*np.nonzero(span > 0.0), strict=True))
        found = list(zip(*_in_common(low, high, grid, slices), strict=True))
        assert [pair for pair in found if span[pair] > 0.0] == wanted

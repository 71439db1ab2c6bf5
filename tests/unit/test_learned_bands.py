"""Bands of learned films by where a bay lies: their tool on errors made up, their growth from middle to edge."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sim.physics.learned_bands import NUMBERS, band_at, far_of
from sim.physics.learned_films import Measures, learned_data
from sim.results.air_words import place_words

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))
from air_bands import PLACED, bands_of

MIDDLE = Measures(0.03, 0.10, 0.19, 0.45, 0.05, 0.25, 0.016, -0.5)
EDGE = replace(MIDDLE, drop=0.0061, height=0.38, across=0.55, open_along=0.42)
KINDS = ("bare", "fastened", "flat", "sheathing", "upright")


def made_up(growth, seed=8, count=3000):
    """Bays whose errors have a mean of 1 % in the middle and grow by their place among the measures."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(count):
        measures = {name: float(rng.uniform(-1.0, 1.0)) for name in PLACED["flat"]}
        spread = 0.01 * np.exp(growth * np.mean(np.square(list(measures.values()))))
        rows.append({name: float(spread * rng.exponential()) for name in NUMBERS} | {"measures": measures})
    return rows


class TestTool:
    """Expected: the growth that the errors were made with, and the 95th percentile of an exponential, ln 20 = 3.0.

    Ends are the 5th and 95th percentiles, so that places are 1/0.81 of those between −1 and 1.
    """

    @pytest.mark.parametrize("growth", [0.0, 1.5])
    def test_it_finds_how_errors_grow(self, growth):
        found = bands_of("flat", made_up(growth))
        assert abs(np.mean([found[name][1] for name in NUMBERS]) - 0.81 * growth) < 0.3
        middle = found["up"][0] * np.exp(found["up"][1] * 0.33 / 0.81)
        assert abs(middle / (np.log(20.0) * np.exp(0.33 * growth)) - 1.0) < 0.15

    def test_nineteen_of_twenty_lie_inside_in_the_middle_and_at_the_ends(self):
        rows = made_up(1.5)
        found = bands_of("flat", rows)
        inside = {True: [], False: []}
        for row in rows:
            placed = found["measures"].items()
            far = np.mean([((row["measures"][name] - middle) / half) ** 2 for name, (middle, half) in placed])
            base, growth = found["up"]
            off = 100.0 * abs(1.0 / (1.0 + row["up"]) - 1.0)
            inside[far > 0.4].append(off <= base * np.exp(growth * min(far, found["farthest"])))
        assert all(0.92 < np.mean(own) < 0.98 for own in inside.values())


class TestShipped:
    @pytest.mark.parametrize("kind", ["flat", "upright", "bare"])
    def test_the_band_is_narrow_in_the_middle_and_wide_at_the_edge(self, kind):
        middle, edge = band_at(kind, MIDDLE), band_at(kind, EDGE)
        assert middle.nearer < edge.nearer
        assert all(low <= high for low, high in zip(middle.percent, edge.percent, strict=True))
        assert edge.percent[0] > middle.percent[0]

    @pytest.mark.parametrize("kind", KINDS)
    def test_a_band_ends_where_nothing_was_computed(self, kind):
        beyond = replace(EDGE, height=4.0, drop=0.0005)
        farther = replace(beyond, height=8.0)
        assert far_of(kind, farther) > far_of(kind, beyond) > learned_data()["bands"][kind]["farthest"]
        assert band_at(kind, beyond).percent == band_at(kind, farther).percent

    @pytest.mark.parametrize("kind", KINDS)
    def test_places_are_shares(self, kind):
        kept = learned_data()["bands"][kind]
        assert np.all(np.diff(kept["quantiles"]) >= 0.0)
        assert 0.0 <= band_at(kind, MIDDLE).nearer <= 100.0
        assert far_of(kind, MIDDLE) >= 0.0


def test_words_of_places():
    assert place_words([0.0]) == "well inside what was computed"
    assert place_words([75.0]) == "inside what was computed"
    assert place_words([10.0, 100.0]) == "some well inside, some near the edge of what was computed"

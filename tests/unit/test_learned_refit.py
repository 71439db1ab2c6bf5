"""The law of learned films made anew: equal numbers whoever works, in whatever order, and with other last digits."""

import json
import sys
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))
import air_fit
from air_set_file import bays

from sim.physics.learned_films import BELOW, OPEN, OVER, SITUATIONS, learned_data

ROUNDS = 5
TOLERANCE = 1e-9
"""Of predicted heat, as a share of a bay's largest: what the refit on another machine may differ by."""


@pytest.fixture(scope="module")
def few():
    return [air_fit.ready(bay) for bay in islice(bays(), 3)]


@pytest.fixture(scope="module")
def active():
    """Enough coefficients for what three bays tell: films of three roles and the shapes over plates."""
    found = np.zeros(air_fit.COUNT, bool)
    for role in (OVER, OPEN, BELOW):
        found[air_fit.PLACES["film", role]] = True
    found[air_fit.PLACES["excess", OVER]] = True
    return found


def fitted(own, active, workers=1):
    crew = air_fit.Crew(own, workers)
    c, _ = air_fit.fit(crew, air_fit.RIDGE, active, np.zeros(air_fit.COUNT), rounds=ROUNDS)
    crew.close()
    return c


def heat(own, c):
    return np.concatenate([air_fit.answer(bay, c).heat / np.abs(bay.heat).max() for bay in own])


def test_the_order_of_bays_is_no_matter(few, active):
    forth, back = fitted(few, active), fitted(few[::-1], active)
    assert np.count_nonzero(forth) > 50
    np.testing.assert_array_equal(forth, back)


def test_other_last_digits_of_a_machine_are_no_matter(few, active):
    """Everything that the bays were made of changes by a few units of round-off, as another machine's library may."""
    rng = np.random.default_rng(3)
    other = [
        replace(bay, heat=shaken(rng, bay.heat), wall=shaken(rng, bay.wall), area=shaken(rng, bay.area), hot=bay.hot)
        for bay in few
    ]
    own = fitted(few, active)
    assert_allclose(heat(few, own), heat(few, fitted(other, active)), rtol=0.0, atol=TOLERANCE)
    kept = [air_fit.coefficients_of(air_fit.as_law(c)) for c in (own, fitted(other, active))]
    assert_allclose(*kept, rtol=0.0, atol=1e-8)


def shaken(rng, values):
    return values * (1.0 + 4e-16 * rng.standard_normal(np.shape(values)))


def test_what_is_kept_of_a_law_is_the_law(few):
    """Digits that the data file leaves out change no heat beyond the tolerance."""
    for situation, kept in enumerate(learned_data()["laws"]):
        c = air_fit.coefficients_of(kept)
        assert air_fit.as_law(c) == kept | {"finer": 1.0, "sharper": 1.0}, situation
    rough = c * (1.0 + 1e-12)
    again = air_fit.coefficients_of(json.loads(json.dumps(air_fit.as_law(rough))))
    assert_allclose(heat(few, again), heat(few, rough), rtol=0.0, atol=TOLERANCE)


@pytest.mark.slow
def test_a_law_comes_out_as_it_was_shipped():
    """The law of standing plates anew from the set, with its choice of coefficients, by two processes."""
    situation = SITUATIONS - 1
    own = air_fit.teachers(2, [situation])
    shipped = air_fit.coefficients_of(learned_data()["laws"][situation])
    c, count = air_fit.taught_law(own, shipped, 2)
    assert count == np.count_nonzero(shipped)
    assert_allclose(heat(own, c), heat(own, shipped), rtol=0.0, atol=TOLERANCE)

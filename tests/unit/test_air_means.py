"""Means over rounds: the window, the standard errors, mean fields, and what counts as steady."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.airflow.box import build_box
from sim.airflow.flow import air_of_numbers
from sim.airflow.step import build_stepper
from sim.resolved import march
from sim.resolved.domain import AirSizes
from sim.resolved.march import why_done
from sim.resolved.means import (
    BATCHES,
    HELD_SINCE,
    LEAST_ROUNDS,
    Round,
    batches,
    mean_heat,
    ripple_known,
    weigh,
    window_start,
)
from sim.resolved.mirror import Mirror
from sim.resolved.settings import AirSettings
from sim.resolved.window import FieldMeans


def rounds_of(values, heat=0.0):
    return [
        Round(n, 2.0 * n, 2.0, 10 * n, np.array([heat, 0.0]), np.array([300.0 + n]), {"up": value, "water": 10.0})
        for n, value in enumerate(values, 1)
    ]


def test_the_window_leaves_out_a_ninth_to_a_half_and_the_first_sixteen():
    for count in range(1, 2000):
        assert count / 9.0 - 1.0 <= window_start(count) <= count / 2.0
        assert window_start(count) >= 16 or count < 32


def test_where_a_window_moves_on_the_one_after_it_begins():
    """Two running sums are enough: what began when the window last moved on is the next window."""
    moved = [count for count in range(2, 2000) if window_start(count) != window_start(count - 1)]
    assert [window_start(count) for count in moved] == [1, *moved[:-1]]
    assert moved[:3] == [5, 16, 32]


def test_no_error_is_claimed_before_there_are_enough_rounds():
    evidence = weigh([rounds_of(np.ones(LEAST_ROUNDS))], 10.0)
    assert evidence.largest_error == np.inf and not evidence.steady(1.0, 1.0)


def test_errors_of_white_noise_are_those_of_its_mean():
    # standard error of the mean of n independent values: s/√n; a memory is at least one sample, so it is told larger
    rng = np.random.default_rng(4)
    found = [weigh([rounds_of(10.0 + rng.standard_normal(127))], 10.0).error["up"] for _ in range(200)]
    assert 1.0 <= np.mean(found) * np.sqrt(95) / 0.1 <= 1.25


def test_between_two_held_bodies_each_one_is_weighed_and_one_that_hardly_takes_part_holds_nothing_up():
    """Together they give next to nothing: a share of that would never be known, nor what the air takes up beside it."""
    flows = [{"from hot": 5.0, "from cold": -4.999, "from lining": 1e-3 * (-1.0) ** n} for n in range(127)]
    rounds = [replace(one, flows=own) for one, own in zip(rounds_of(np.ones(127)), flows, strict=True)]
    assert march._supplied(rounds[-1]) == pytest.approx(5.0, rel=1e-3)
    evidence = weigh([rounds], march._supplied(rounds[-1]))
    assert set(evidence.error) == {"from hot", "from cold", "from lining"}
    assert evidence.steady(0.01, 0.01)
    swinging = [replace(one, flows={"from lining": 0.3 * (-1.0) ** (n // 40)}) for n, one in enumerate(rounds)]
    assert not weigh([swinging], 5.0).steady(0.01, 0.01)


def test_heat_put_in_is_that_of_water_or_of_all_that_gives():
    by = march._supplied
    assert by(replace(rounds_of([1.0])[0], flows={"up": 7.0, "down": -1.0, "water": 6.0})) == 6.0
    assert by(replace(rounds_of([1.0])[0], flows={"up": 7.0, "down": -1.0, "from rod": 6.0})) == 7.0


def test_a_drift_is_not_steady():
    assert weigh([rounds_of(np.linspace(5.0, 10.0, 127))], 10.0).error["up"] > 0.02
    assert weigh([rounds_of(np.full(127, 10.0))], 10.0).steady(1e-6, 1e-6)


def test_heat_that_the_air_takes_up_is_the_imbalance():
    evidence = weigh([rounds_of(np.full(127, 10.0), heat=0.5)], 10.0)
    assert_allclose(evidence.imbalance, 0.05, rtol=1e-12, atol=0.0)
    assert not evidence.steady(0.01, 0.01)


def test_unless_told_otherwise_air_may_take_up_a_hundredth_of_the_heat():
    allowed = AirSettings(AirSizes(0.01, 0.005)).imbalance
    assert weigh([rounds_of(np.full(127, 10.0), heat=0.099)], 10.0).steady(1e-6, allowed)
    assert not weigh([rounds_of(np.full(127, 10.0), heat=0.101)], 10.0).steady(1e-6, allowed)


@pytest.mark.parametrize("rest", [0, 3])
def test_pieces_of_a_window_are_alike_follow_each_other_and_end_with_it(rest):
    rounds = rounds_of(np.ones(LEAST_ROUNDS + rest))
    pieces = batches([rounds])
    assert [len(piece) for piece in pieces] == [LEAST_ROUNDS // BATCHES] * BATCHES
    assert [one.number for piece in pieces for one in piece] == list(range(rest + 1, LEAST_ROUNDS + rest + 1))
    assert batches([rounds[: LEAST_ROUNDS - 1]]) == []


def test_means_are_weighted_by_time():
    short = Round(1, 1.0, 1.0, 1, np.array([1.0]), np.array([300.0]), {})
    long = Round(2, 4.0, 3.0, 2, np.array([5.0]), np.array([304.0]), {})
    heat, wall = mean_heat([short, long])
    assert_allclose([heat[0], wall[0]], [4.0, 303.0], rtol=1e-12, atol=0.0)


@pytest.mark.parametrize("count", [1, 3, 8, 13, 32])
def test_mean_fields_are_those_of_the_window(count):
    planes = np.linspace(0.0, 1.0, 4)
    box = build_box((planes, [0.0, 1.0], planes), air_of_numbers(1e3, 0.71), {"x-": 1.0, "x+": 0.0})
    stepper = build_stepper(box.domain, box.air, box.wall_temperature, box.start(0.0))
    means, kept = FieldMeans.none(stepper), []
    for number in range(1, count + 1):
        means = means.for_round(number, stepper)
        fields = [np.full_like(field, float(number)) for field in stepper.state]
        kept.append(float(number))
        means.add(number, 2.0, fields)
    expected = np.mean(kept[window_start(count) :])
    assert_allclose(means.flow(stepper).temperature, expected, rtol=1e-12, atol=0.0)


def test_the_error_told_of_a_ripple_is_that_of_ten_stretches_of_chance():
    """Two places of noise without memory, 2 K apart: over 400 rounds the ripple scatters by √2 σ / 20.

    Ten stretches, each told its own error from its rounds; of ten the scatter itself is known to a quarter.
    """
    noise = np.random.default_rng(7).normal([0.0, 2.0], 0.3, (10, 400, 2))
    ripples = np.array([np.ptp(stretch.mean(axis=0)) for stretch in noise])
    told = np.array([ripple_known([stretch]).error for stretch in noise]) * ripples
    expected = np.sqrt(2.0) * 0.3 / 20.0
    assert 0.8 * expected < np.sqrt(np.mean(told**2)) < 1.4 * expected
    assert 0.5 * expected < np.std(ripples, ddof=1) < 1.6 * expected


def test_a_run_does_not_end_at_the_first_small_error():
    """Means must have been known as well some rounds ago: 60 rounds at rest after 30 that were not are too few."""
    settings = SimpleNamespace(error=0.01, imbalance=0.01, errors=True, least_rounds=16, longest=1e9)
    course = SimpleNamespace(rounds=[], settings=settings, mirror=Mirror())
    wild = rounds_of(10.0 + 5.0 * np.random.default_rng(2).standard_normal(30))
    ended = []
    for record in [*wild, *(replace(r, number=n) for n, r in enumerate(rounds_of(np.full(100, 10.0)), 31))]:
        course.rounds.append(record)
        ended += [len(course.rounds)] * bool(why_done([course]))
    first = next(n for n in range(31, 131) if weigh([course.rounds[:n]], 10.0, 16).steady(0.01, 0.01))
    assert ended[0] >= first / HELD_SINCE - 1 > first


def test_a_run_that_is_never_known_well_ends_with_the_round_that_reaches_its_longest_time():
    """Rounds of 2 s, 40 s at the longest: the twentieth."""
    settings = SimpleNamespace(error=1e-6, imbalance=1e-6, errors=True, least_rounds=16, longest=40.0)
    wild = rounds_of(10.0 + np.random.default_rng(3).standard_normal(25))
    ended = [
        why_done([SimpleNamespace(rounds=wild[:count], settings=settings, mirror=Mirror())]) for count in range(1, 26)
    ]
    assert ended == [""] * 19 + ["time"] * 6


def test_a_round_is_answered_by_its_heat_and_what_is_remembered_of_those_before(monkeypatch):
    """A quarter is forgotten each time: 8 W, then 4 W are 7 W, then 3 W 6 W; walls of 300 and 304 K are 301 K."""
    heard = []

    def solids(course, heat, wall, *_):
        heard.append((float(heat[0]), float(wall[0])))
        return SimpleNamespace(state=SimpleNamespace(wall=np.array([304.0])))

    monkeypatch.setattr(march, "answer_of_solids", solids)
    monkeypatch.setattr(march, "_path_flows", lambda solution: {})
    monkeypatch.setattr(march, "_surface", lambda course, solution: None)
    course = SimpleNamespace(
        rounds=[], settings=SimpleNamespace(forget=0.25, residual=1e-4), heat=np.zeros(1), wall=np.zeros(1), kept=None,
        state=SimpleNamespace(wall=np.array([300.0])), contact=SimpleNamespace(to_air=lambda wall: wall),
        stepper=SimpleNamespace(time=1.0, steps=1, set_wall_temperature=lambda wall: None),
    )  # fmt: skip
    for heat in (8.0, 4.0, 3.0):
        march.answer_round(course, np.array([heat]), 0.0)
    assert heard[:2] == [(8.0, 300.0), (7.0, 301.0)] and heard[2][0] == 6.0


def test_answers_beside_a_device_take_one_pass():
    """What a pass leaves of a round's change (2.6e-2 becomes 2.6e-4) is enough there, and not on the processor."""
    usual = AirSettings(AirSizes(0.01, 0.005))
    assert usual.residual < 2.6e-4 < usual.with_long_rounds(1000).residual


def test_every_round_of_flow_counts_in_the_mean_of_its_window(monkeypatch):
    """The flow of a round is as warm as the round's number: the mean flow is the mean of the window's numbers."""

    class Numbered:
        time, steps = 0.0, 0

        @property
        def state(self):
            return [np.full(1, float(len(course.rounds) + 1))] * 4

        def heat_flow(self):
            return np.ones(1)

    def march_on(stepper, limits, listener):
        stepper.time = limits.until
        listener(SimpleNamespace(time=stepper.time), stepper)

    stepper = Numbered()
    course = SimpleNamespace(
        stepper=stepper, contact=SimpleNamespace(overlap=np.zeros((1, 1))), rounds=[], frames=lambda *seen: None
    )
    course.means = FieldMeans.none(stepper)
    monkeypatch.setattr(march, "march_on", march_on)
    for number in range(1, 40):
        march._flow_round(course, 2.0)
        window = range(window_start(number) + 1, number + 1)
        assert course.means.flow(stepper).temperature[0] == pytest.approx(np.mean(window))
        course.rounds.append(number)

"""Values that change with time: at jumps from both sides, over midnight, and with limited rise."""

import pytest
from numpy.testing import assert_allclose

from sim.solver.signals import (
    DAY,
    OutdoorReset,
    Profile,
    Wave,
    below,
    constant,
    daily,
    earliest,
    limited_rise,
    ramp,
    step,
    tabulated,
)

HOUR = 3600.0
ZERO = 273.15


def test_a_jump_has_two_sides():
    signal = step(1.0, 2.0, 10.0)
    assert [signal.value(t) for t in (0.0, 9.9, 10.0, 11.0)] == [1.0, 1.0, 2.0, 2.0]
    assert signal.value(10.0, arriving=True) == 1.0
    assert signal.breaks(0.0, 10.0) == [10.0]
    assert signal.breaks(10.0, 20.0) == []


def test_a_ramp_is_straight_and_held():
    signal = ramp(0.0, 4.0, 10.0, 20.0)
    assert [signal.value(t) for t in (5.0, 10.0, 12.5, 20.0, 30.0)] == [0.0, 0.0, 1.0, 4.0, 4.0]


def test_a_schedule_goes_round_the_clock():
    # 20 °C from 6:00, 16 °C from 22:00; the run starts at 5:00
    signal = daily({6 * HOUR: 20.0, 22 * HOUR: 16.0}, clock=5 * HOUR)
    assert signal.value(0.0) == 16.0
    assert signal.value(HOUR) == 20.0
    assert signal.value(HOUR, arriving=True) == 16.0
    assert signal.value(17 * HOUR) == 16.0
    assert signal.value(DAY) == 16.0
    assert signal.value(DAY + HOUR) == 20.0
    assert signal.breaks(0.0, DAY + HOUR) == [HOUR, 17 * HOUR, DAY + HOUR]


def test_a_schedule_that_starts_on_a_change():
    signal = daily({0.0: 20.0, 12 * HOUR: 16.0})
    assert signal.value(0.0) == 20.0
    assert signal.value(DAY, arriving=True) == 16.0
    assert signal.value(DAY) == 20.0


@pytest.mark.parametrize(
    ("times", "values", "period", "rule"),
    [
        ((), (), None, "as many"),
        ((1.0,), (1.0, 2.0), None, "as many"),
        ((2.0, 1.0), (1.0, 2.0), None, "must not fall"),
        ((0.0, 5.0), (1.0, 2.0), 5.0, "within its period"),
    ],
)
def test_profiles_that_make_no_sense(times, values, period, rule):
    with pytest.raises(ValueError, match=rule):
        Profile(times, values, period)


def test_a_wave():
    signal = Wave(10.0, 2.0, 40.0, delay=10.0)
    assert_allclose([signal.value(t) for t in (10.0, 20.0, 40.0)], [10.0, 12.0, 8.0], rtol=0, atol=1e-12)


def test_rise_is_limited_and_fall_is_not():
    # from 20 towards 50 by 10 a day, then down to 30 at once
    wanted = Profile((0.0, DAY, DAY), (50.0, 50.0, 30.0))
    signal = limited_rise(wanted, 10.0 / DAY, 20.0, 3 * DAY)
    assert_allclose(
        [signal.value(t * DAY) for t in (0.0, 0.5, 1.5, 2.0, 3.0)], [20.0, 25.0, 30.0, 30.0, 30.0], rtol=1e-9, atol=0
    )
    assert_allclose(signal.value(1.0) - 20.0, 10.0 / DAY, rtol=1e-9, atol=0)  # it rises from the first second on
    falling = limited_rise(step(50.0, 25.0, 0.5 * DAY), 40.0 / DAY, 20.0, DAY)
    assert_allclose(falling.value(0.5 * DAY, arriving=True), 40.0, rtol=1e-9, atol=0)
    assert_allclose(falling.value(0.5 * DAY), 25.0, rtol=1e-9, atol=0)


def test_a_limited_rise_begins_where_the_wish_does_if_that_is_lower():
    """20 wanted for half a second, then 40, from 30: 20 at once, then 2 a second."""
    found = limited_rise(Profile((0.0, 0.5, 0.5), (20.0, 20.0, 40.0)), 2.0, 30.0, 20.0)
    assert [found.value(time) for time in (0.0, 0.5, 5.5, 10.5)] == pytest.approx([20.0, 20.0, 30.0, 40.0])


def test_a_slow_wish_is_followed_as_it_is():
    wanted = ramp(20.0, 30.0, 0.0, DAY)
    signal = limited_rise(wanted, 50.0 / DAY, 20.0, DAY)
    assert_allclose([signal.value(t * DAY) for t in (0.3, 0.9)], [23.0, 29.0], rtol=1e-9, atol=0)


def test_weather_sets_the_water_within_limits():
    reset = OutdoorReset(ramp(253.15, 303.15, 0.0, 100.0), 293.15, 318.15, 263.15, 298.15, 320.15)
    assert_allclose(reset.value(20.0), 318.15, rtol=1e-12, atol=0)
    assert reset.value(0.0) == 320.15
    assert reset.value(100.0) == 298.15
    # the limits are reached at 20 − 30 (27/25)^1.1 = −12.65 °C and 20 − 30 (5/25)^1.1 = 14.89 °C outdoors
    assert_allclose(reset.breaks(0.0, 100.0), [14.70, 69.78, 100.0], rtol=0, atol=0.01)


def test_the_earliest_event():
    signals = [step(0.0, 1.0, 50.0), constant(3.0), daily({60.0: 1.0})]
    assert earliest(signals, 0.0, 100.0) == 50.0
    assert earliest(signals, 50.0, 55.0) == 55.0


def test_reset_names_when_its_water_reaches_a_limit():
    # by hand: 25 °C of lead need 100 % at −10 °C; 12.5 K need (1/2)^1.1 of 30 K below 20 °C, 5 K need (1/5)^1.1
    outdoor = ramp(ZERO - 30.0, ZERO + 30.0, 0.0, 60.0)
    reset = OutdoorReset(outdoor, ZERO + 20.0, ZERO + 45.0, ZERO - 10.0, ZERO + 25.0, ZERO + 32.5)
    limits = [50.0 - 30.0 * 0.5**1.1, 50.0 - 30.0 * 0.2**1.1]
    assert_allclose(reset.breaks(1.0, 59.0), limits, rtol=1e-9, atol=0)
    for time in limits:
        assert_allclose(reset.value(time), ZERO + (32.5 if time == limits[0] else 25.0), rtol=1e-9, atol=0)


def test_below_a_level_between_its_crossings():
    # 0 → 20 → 0 in 10 s each way is below 15 until 7.5 s and again from 12.5 s on; bends change nothing by themselves
    tent = Profile((0.0, 5.0, 10.0, 20.0), (0.0, 10.0, 20.0, 0.0))
    cold = below(tent, 15.0, 30.0)
    assert [cold.value(t) for t in (0.0, 6.0, 7.4, 7.6, 12.4, 12.6, 30.0)] == [1.0, 1.0, 1.0, 0.0, 0.0, 1.0, 1.0]
    assert cold.breaks(0.0, 30.0) == [7.5, 12.5]


def test_a_table_bends_where_the_signal_passes_its_entries():
    # a signal without bends of its own passes −10 after 10 s and +10 after 30 s
    water = tabulated(ramp(-20.0, 20.0, 0.0, 40.0), Profile((-10.0, 10.0), (50.0, 30.0)), 40.0)
    assert_allclose([water.value(t) for t in (5.0, 10.0, 15.0, 20.0, 30.0, 35.0)], [50, 50, 45, 40, 30, 30], rtol=1e-12)

"""Curves of bays and water that falls along a circuit: hand sums, inverses, ranges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.house.curve import OutOfRangeError, curve_of, losses_of
from sim.house.drop import entering_excess, mean_excess

ROOM = 293.15


def report(excess):
    """What a bay of q = 1.5 ΔT^1.1 with losses of 2 + 0.2 ΔT would report."""
    return {
        "water_mean_C": 20.0 + excess,
        "heat_flux_up_W_m2": 1.5 * excess**1.1,
        "heat_flow_down_W": 0.1 * (2.0 + 0.2 * excess),
        "heat_flow_edge_W": 0.0,
        "floor_area_m2": 0.1,
        "surface_peak_C": 20.0 + 0.2 * excess + 0.001 * excess**2,
    }


@pytest.fixture
def curve():
    return curve_of("bay", ROOM, [report(excess) for excess in (6.0, 30.0, 65.0)])


def test_a_power_law_is_found_again(curve):
    np.testing.assert_allclose([curve.law.coefficient, curve.law.exponent], [1.5, 1.1], rtol=1e-9, atol=0.0)
    for excess in (3.0, 6.0, 10.0, 45.0, 65.0):
        np.testing.assert_allclose(curve.flux(excess), 1.5 * excess**1.1, rtol=1e-9, atol=0.0)


@pytest.fixture
def lossy():
    """A bay over a cold space: q = 1.5 ΔT^1.1 − 25, which turns upwards at (25/1.5)^(1/1.1) = 12.905 K."""
    points = [report(excess) for excess in (6.0, 14.0, 30.0, 65.0)]
    return curve_of("bay", ROOM, [point | {"heat_flux_up_W_m2": point["heat_flux_up_W_m2"] - 25.0} for point in points])


def test_a_floor_that_loses_heat_needs_water_before_it_gives_any(lossy):
    found = [lossy.law.coefficient, lossy.law.exponent, lossy.offset]
    np.testing.assert_allclose(found, [1.5, 1.1, 25.0], rtol=2e-3, atol=0.0)
    np.testing.assert_allclose(lossy.flux(10.0), 1.5 * 10.0**1.1 - 25.0, rtol=0.0, atol=0.05)
    np.testing.assert_allclose(lossy.excess_for(1e-6), 12.905, rtol=2e-3, atol=0.0)
    np.testing.assert_allclose(lossy.excess_for(40.0), (65.0 / 1.5) ** (1 / 1.1), rtol=1e-3, atol=0.0)


def test_without_excess_the_loss_remains(lossy):
    np.testing.assert_allclose([lossy.flux(0.0), lossy.flux(1e-6)], -25.0, rtol=2e-3, atol=0.0)
    assert lossy.excess_for(0.0) == 0.0


def test_other_numbers_lie_on_their_parabola(curve):
    np.testing.assert_allclose(curve.report(20.0)["surface_peak_C"], 24.4, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(curve.losses(20.0), (6.0, 0.0), rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(losses_of(report(20.0)), (6.0, 0.0), rtol=1e-12, atol=0.0)


def test_water_for_a_flux_is_the_inverse(curve):
    for excess in (1.0, 6.0, 20.0, 65.0):
        np.testing.assert_allclose(curve.excess_for(1.5 * excess**1.1), excess, rtol=1e-6, atol=0.0)
    assert curve.excess_for(0.0) == curve.flux(-1.0) == 0.0


def test_nothing_is_read_beyond_the_points(curve):
    for ask in (curve.flux, curve.report):
        with pytest.raises(OutOfRangeError, match=r"66.0 K is above the solved 65.0 K"):
            ask(66.0)
    with pytest.raises(OutOfRangeError, match="is more than"):
        curve.excess_for(1000.0)


def test_logarithmic_mean_by_hand():
    # 30 K falling by 5.5 K: 5.5/ln(30/24.5) = 5.5/0.202524 = 27.1573
    np.testing.assert_allclose(mean_excess(30.0, 5.5), 27.1573, rtol=1e-5, atol=0.0)
    assert mean_excess(-1.0, 5.5) == 0.0
    with pytest.raises(ValueError, match="cannot fall"):
        mean_excess(5.0, 5.0)


@given(st.floats(0.5, 90.0), st.floats(0.01, 3.0))
def test_supply_and_mean_are_inverses(mean, ratio):
    # a drop of more than three times the mean ends so close to the room that rounding decides
    drop = ratio * mean
    entering = entering_excess(mean, drop)
    assert entering > drop
    np.testing.assert_allclose(mean_excess(entering, drop), mean, rtol=1e-6, atol=0.0)

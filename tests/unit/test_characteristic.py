"""Characteristic curve: exact power laws are recovered, the range is kept, a bay's exponent is plausible."""

import re

import numpy as np
import pytest

from sim.case.load import load_case
from sim.run import prepare, solve_model
from sim.study.characteristic import characteristic, fit_power
from tests.tiny_bays import QUICK


def test_standard_floor_law_is_recovered():
    # EN 1264-2: q = 8.92 ΔT^1.1
    excess = np.array([9.0, 1.0, 5.0])
    curve = fit_power("floor", excess, 8.92 * excess**1.1)
    np.testing.assert_allclose([curve.coefficient, curve.exponent], [8.92, 1.1], rtol=1e-9, atol=0.0)
    assert curve.misfit < 1e-9
    np.testing.assert_allclose(curve.at(9.0), 100.01, rtol=1e-4, atol=0.0)


@pytest.mark.parametrize("lost", [3.0, 12.0, 40.0])
def test_a_loss_at_no_excess_is_found_again(lost):
    # an exact law with an offset, its flux negative at small excess with the larger losses
    excess = np.array([6.0, 14.0, 30.0, 65.0])
    curve = fit_power("floor", excess, 1.8 * excess**1.05 - lost)
    np.testing.assert_allclose([curve.coefficient, curve.exponent], [1.8, 1.05], rtol=1e-3, atol=0.0)
    np.testing.assert_allclose(curve.offset, lost, rtol=1e-3, atol=0.0)
    np.testing.assert_allclose([curve.at(x) for x in excess], 1.8 * excess**1.05 - lost, rtol=1e-3, atol=0.0)
    assert f"− {curve.offset:.4g} W/m²" in str(curve)


def test_a_loss_too_small_to_tell_is_left_out():
    # a power law alone still fits within the 2 % that insulated bays keep
    excess = np.array([6.0, 14.0, 30.0, 65.0])
    curve = fit_power("floor", excess, 1.8 * excess**1.05 - 0.3)
    assert curve.offset == 0.0
    assert curve.misfit < 0.02


def test_the_curve_in_fahrenheit_is_the_same_curve():
    # at 36 °F = 20 K: 2 · 20 − 25 = 15 W/m², and 1 Btu/h·ft² is 3.15459 W/m² (NIST SP 811)
    curve = fit_power("floor", [10.0, 30.0], [-5.0, 35.0])
    found = re.match(r"q = ([\d.]+) ΔT\^1\.0000 − ([\d.]+) Btu/h·ft², mean water 18 to 54 °F above", curve.words("ip"))
    assert found
    np.testing.assert_allclose(float(found[1]) * 36.0 - float(found[2]), 15.0 / 3.15459, rtol=1e-3, atol=0.0)


def test_two_points_of_a_loss_are_joined_by_a_line():
    curve = fit_power("floor", [10.0, 30.0], [-5.0, 35.0])
    np.testing.assert_allclose([curve.coefficient, curve.exponent, curve.offset], [2.0, 1.0, 25.0], rtol=1e-9, atol=0.0)


@pytest.mark.parametrize("outside", [0.5, 9.5])
def test_outside_the_fitted_range_is_refused(outside):
    curve = fit_power("floor", [1.0, 9.0], [8.92, 100.0])
    with pytest.raises(ValueError, match="outside the fitted"):
        curve.at(outside)


def test_curve_of_a_bay():
    # between a pure resistance (n = 1) and the floor law alone (n = 1.1); within 1 % of its points
    case = load_case("cases/demo/family-oak.toml").with_(QUICK)
    model = prepare(case)
    room = case.room.temperature
    curve = characteristic(model, solve_model(model), [room + 10.0, room + 25.0, room + 45.0])
    assert 1.0 < curve.exponent < 1.1
    assert curve.misfit < 0.01
    assert curve.as_dict()["highest_excess_K"] > 40.0

"""People dissatisfied by floors and ceilings: worked values of the formulas of ISO 7730."""

import numpy as np
import pytest

from sim.physics.foot import dissatisfied_by_floor
from sim.rules.comfort import dissatisfied_by_warm_ceiling, floor_range


# Worked by hand from PD = 100 - 94 exp(-1.387 + 0.118 t - 0.0025 t²), ISO 7730:2005, 6.4.
@pytest.mark.parametrize(
    ("celsius", "percent"),
    [(15.0, 21.45), (19.0, 10.36), (21.0, 7.07), (23.6, 5.49), (25.0, 5.95), (27.0, 8.18), (29.0, 12.14), (35, 31.71)],
)
def test_floor(celsius, percent):
    np.testing.assert_allclose(dissatisfied_by_floor(celsius), percent, rtol=0.0, atol=0.006)


def test_range_is_where_the_formula_gives_that_share():
    # by hand: 0.0025 t² - 0.118 t + 1.387 + ln(90/94) = 0, t = (0.118 ± √(0.118² - 0.01 · 1.343515)) / 0.005
    np.testing.assert_allclose(floor_range(10.0), (19.178, 28.022), rtol=0.0, atol=1e-3)
    for celsius in floor_range(15.0):
        np.testing.assert_allclose(dissatisfied_by_floor(celsius), 15.0, rtol=0.0, atol=1e-9)


def test_no_floor_pleases_all():
    with pytest.raises(ValueError, match=r"even the best floor dissatisfies 5\.5 %"):
        floor_range(5.0)


# By hand: 100/(1 + e^(2.84 - 0.174 Δ)) - 5.5 with e^1.97 = 7.1707, e^1.1 = 3.0042; at 0 K 5.52 - 5.5.
@pytest.mark.parametrize(("kelvin", "percent"), [(0.0, 0.02), (5.0, 6.739), (10.0, 19.475)])
def test_warm_ceiling(kelvin, percent):
    np.testing.assert_allclose(dissatisfied_by_warm_ceiling(kelvin), percent, rtol=0.0, atol=0.005)


@pytest.mark.parametrize("kelvin", [-0.1, 23.0])
def test_warm_ceiling_outside_its_range(kelvin):
    with pytest.raises(ValueError, match="outside the formula's 0 to 23 K"):
        dissatisfied_by_warm_ceiling(kelvin)

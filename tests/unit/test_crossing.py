"""Where a function crosses zero: against closed forms."""

import math

import pytest

from sim.house.crossing import crossing


@pytest.mark.parametrize(
    ("function", "low", "high", "zero"),
    [
        (lambda x: 2.0 * x - 3.0, 0.0, 60.0, 1.5),
        (lambda x: 8.0 - x, 0.0, 10.0, 8.0),
        (lambda x: x**1.1 - 20.0, 1e-9, 60.0, 20.0 ** (1.0 / 1.1)),
        (lambda x: x**3 - 1e-3, 0.0, 2.0, 0.1),
        (lambda x: math.exp(x) - 1e5, 0.0, 60.0, math.log(1e5)),  # false position alone would creep along the axis
        (lambda x: -1.0 if x < 3.0 else 1.0, 0.0, 8.0, 3.0),
    ],
)
def test_zeros_are_found_within_the_tolerance(function, low, high, zero):
    calls = []
    found = crossing(lambda x: calls.append(x) or function(x), low, high, 1e-9)
    assert abs(found - zero) <= 1e-9
    assert len(calls) <= 2 * math.log2((high - low) / 1e-9) + 4  # every two steps halve it


def test_an_end_that_is_zero_is_the_place():
    assert crossing(lambda x: x, 0.0, 8.0, 1e-9) == 0.0
    assert crossing(lambda x: x - 8.0, 0.0, 8.0, 1e-9) == 8.0


def test_without_a_change_of_sign_there_is_none():
    with pytest.raises(ValueError, match="change of sign"):
        crossing(lambda x: x + 1.0, 0.0, 8.0, 1e-9)

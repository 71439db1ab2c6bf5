"""Bored holes and notches: the numbers of the residential code, worked by hand."""

import numpy as np
import pytest

from sim.rules.boring import Boring

INCH = 0.0254


# International Residential Code R502.8.1: hole a third, notch a sixth, end notch a quarter of the measured depth,
# notch no longer than a third. A nominal 2x10 is 9 1/4 in: 3.08, 1.54, 2.31, 3.08 in; 2x8: 7 1/4 in; 2x12: 11 1/4 in.
@pytest.mark.parametrize(
    ("depth", "hole", "notch", "end"),
    [(9.25, 3.083, 1.542, 2.3125), (7.25, 2.417, 1.208, 1.8125), (11.25, 3.75, 1.875, 2.8125)],
)
def test_shares_of_the_depth(depth, hole, notch, end):
    boring = Boring(depth * INCH, INCH)
    found = [boring.largest_hole, boring.deepest_notch, boring.deepest_end_notch, boring.longest_notch]
    np.testing.assert_allclose(np.array(found) / INCH, [hole, notch, end, hole], rtol=0.0, atol=6e-4)


@pytest.mark.parametrize(("hole", "allowed"), [(3.08, True), (3.09, False)])
def test_both_sides_of_the_largest_hole(hole, allowed):
    assert Boring(9.25 * INCH, hole * INCH).allowed is allowed


def test_two_inches_are_left_all_round():
    # 2 in to the top, and half of the hole: 1 3/8 in → 2.6875 in; between two holes 2 in of wood → 3.375 in
    boring = Boring(9.25 * INCH, 1.375 * INCH)
    np.testing.assert_allclose(boring.nearest_centre / INCH, 2.6875, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(boring.centre_spacing / INCH, 3.375, rtol=1e-12, atol=0.0)


def test_shallow_joists_have_less_than_a_third():
    # 5 1/2 in less 2 in above and below leaves 1 1/2 in, less than a third (1.83 in); 4 in leaves nothing
    np.testing.assert_allclose(Boring(5.5 * INCH, INCH).largest_hole / INCH, 1.5, rtol=1e-9, atol=0.0)
    assert not Boring(4.0 * INCH, 0.25 * INCH).allowed


@pytest.mark.parametrize("size", [(0.0, 0.03), (0.2, -0.01)])
def test_sizes_must_be_positive(size):
    with pytest.raises(ValueError, match="greater than 0"):
        Boring(*size)

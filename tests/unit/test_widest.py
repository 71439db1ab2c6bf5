"""The search for the widest spacing on functions whose root is known."""

import math

import numpy as np
import pytest

from sim.study.widest import CLOSE, widest_kept


def search(margin, low, high, **options):
    """The spacing found and how many trials it took."""
    asked = []

    def counted(spacing):
        asked.append(spacing)
        return margin(spacing)

    return widest_kept(counted, (low, margin(low)), (high, margin(high)), **options), len(asked)


# Margins that fall with the spacing, their roots by hand, and what the search may take.
PROBLEMS = {
    "straight in 1/s": (lambda s: 0.4 / s - 1.0, 0.4, 3),
    "saturating": (lambda s: (2.0 + 0.6 / s) / 4.0 - 1.0, 0.3, 3),
    "square": (lambda s: 1.0 - (s / 0.5) ** 2, 0.5, 6),
    "exponential": (lambda s: math.exp(1.0 - s / 0.25) - 1.0, 0.25, 6),
}


@pytest.mark.parametrize("name", PROBLEMS)
def test_root_is_met_from_the_kept_side_in_few_trials(name):
    margin, root, most = PROBLEMS[name]
    found, trials = search(margin, 0.2, 0.8)
    assert 0.0 <= margin(found) <= CLOSE or root - found <= 1e-3
    assert found <= root
    assert trials <= most


def test_a_jump_is_narrowed_down():
    # kept up to 0.512 m and badly broken beyond: no interpolation helps, the bracket must shrink
    found, trials = search(lambda s: 0.5 if s <= 0.512 else -0.5, 0.2, 0.8, resolution=2e-3)
    np.testing.assert_allclose(found, 0.512, rtol=0.0, atol=2.1e-3)
    assert found <= 0.512
    assert trials <= 12


@pytest.mark.parametrize("ends", [((0.2, -0.1), (0.8, -0.2)), ((0.2, 0.3), (0.8, 0.1)), ((0.8, 0.3), (0.2, -0.1))])
def test_ends_must_be_a_bracket(ends):
    with pytest.raises(ValueError, match="no bracket"):
        widest_kept(lambda s: 0.0, *ends)

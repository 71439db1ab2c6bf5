"""Exchange of air zones through an opening, by hand."""

import numpy as np
import pytest

from sim.physics.openings import opening_conductance


def test_opening_by_hand():
    # Doorway 1 x 2 m, 1 K at 20 °C: flow (0.65/3) 2 m² √(9.80665·2·1/293.15) = 0.1121 m³/s of 1212 J/(m³ K)
    np.testing.assert_allclose(opening_conductance(2.0, 2.0, 1.0, 293.15), 0.1121 * 1212.0, rtol=1e-3, atol=0)


def test_opening_laws():
    one = opening_conductance(1.0, 0.2, 1.0, 300.0)
    np.testing.assert_allclose(opening_conductance(1.0, 0.2, [-4.0, 0.0, 4.0], 300.0), [2 * one, 0, 2 * one],
                               rtol=1e-14, atol=0)
    with pytest.raises(ValueError, match="opening"):
        opening_conductance(-1.0, 0.2, 1.0, 300.0)

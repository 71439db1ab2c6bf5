"""Pipes in screed against the characteristic of EN 1264-2 type A, as a band.

The standard's K_H = 6.7 a_B a_T^m_T a_u^m_u a_D^m_D is a fitted characteristic with tables, not an exact solution; an
independent conduction calculation of one pitch lies 1 % above to 14 % below it. Tables of EN 1264-2:2021 for R_λB = 0:
a_T 1.23; a_u 1.063, 1.057, 1.051, 1.0395 and a_D 1.029, 1.040, 1.046, 1.053 at pitches 0.10, 0.15, 0.20, 0.30 m.
"""

import numpy as np
import pytest

from sim.verify.accuracy import folders, verify

TABLE = {100: (1.063, 1.029), 150: (1.057, 1.040), 200: (1.051, 1.046), 300: (1.0395, 1.053)}
"""Pitch [mm] -> a_u, a_D without covering."""


def characteristic(pitch, screed=0.045, conductivity=1.0, diameter=0.020):
    """K_H [W/m²K] for a pipe of λ 0.35 and 2 mm wall, no covering."""
    a_u, a_d = TABLE[round(1000 * pitch)]
    a_b = (1 / 10.8 + 0.045 / 1.0) / (1 / 10.8 + 0.045 / conductivity)
    exponents = 1 - pitch / 0.075, 100 * (0.045 - screed), 250 * (diameter - 0.020)
    return 6.7 * a_b * 1.23 ** exponents[0] * a_u ** exponents[1] * a_d ** exponents[2]


def test_formula_gives_the_standard_worked_number():
    # T 0.15, D 0.020, s_u 0.045, λ_E 1.0, R 0: K_H 5.44715
    np.testing.assert_allclose(characteristic(0.15), 5.44715, rtol=1e-5, atol=0.0)


@pytest.fixture(scope="module")
def fluxes():
    assert folders(["pipes-in-screed"])
    return {row.quantity: row.computed for row in verify(["pipes-in-screed"])}


@pytest.mark.parametrize("pitch", TABLE)
def test_flux_per_kelvin_lies_in_the_band(fluxes, pitch):
    computed = fluxes[f"heat_flux_up_{pitch}_W_m2"] / 15.0
    assert 0.99 <= characteristic(pitch / 1000) / computed <= 1.14

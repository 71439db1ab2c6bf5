"""Surface laws against the standards' points, their own derivatives and hand sums."""

import numpy as np
import pytest
from scipy.optimize import brentq

from sim.physics.surroundings import (
    FixedFilm,
    FixedFlux,
    FixedTemperature,
    RadiantOnly,
    SplitFloor,
    StandardFloor,
    SurfaceLaw,
)

ROOM = 293.15
LAWS = [
    StandardFloor(ROOM), FixedFilm(ROOM, 10.8), SplitFloor(ROOM, 291.0, 5.0, 0.9), RadiantOnly(ROOM, 0.95),
    FixedFlux(-40.0), FixedFlux(0.0), FixedTemperature(ROOM),
]


def test_standard_floor_points():
    # EN 1264-2: 8.92 ΔT^1.1; 29/20 °C is its limit of 100 W/m², 35/20 °C that of 175 W/m²
    excess = np.array([1.0, 3.0, 5.0, 7.0, 9.0, 10.0, 15.0])
    expected = [8.92, 29.87, 52.39, 75.85, 100.01, 112.30, 175.41]
    np.testing.assert_allclose(StandardFloor(ROOM).flux(ROOM + excess), expected, rtol=0, atol=6e-3)


def test_standard_floor_is_odd_and_zero_at_room_temperature():
    law = StandardFloor(ROOM)
    above, at, below = law.flux(ROOM + np.array([4.0, 0.0, -4.0]))
    np.testing.assert_allclose([above + below, at], 0.0, rtol=0, atol=1e-9)


def test_standard_floor_slope_is_held_near_room_temperature():
    law = StandardFloor(ROOM)
    # 9.812 · 0.01^0.1 = 6.191
    near = law.slope(ROOM + np.array([0.0, 0.005, -0.0099]))
    np.testing.assert_allclose(near, 6.191, rtol=1e-4, atol=0)
    np.testing.assert_allclose(law.slope(ROOM + 0.010001), law.slope(ROOM + 0.009999), rtol=1e-4, atol=0)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: type(law).__name__)
def test_slope_is_the_derivative(law: SurfaceLaw):
    surface = np.array([[280.0, 292.0], [299.0, 320.0]])
    step = 1e-3
    difference = (law.flux(surface + step) - law.flux(surface - step)) / (2.0 * step)
    np.testing.assert_allclose(law.slope(surface), difference, rtol=1e-6, atol=1e-9)
    assert law.flux(surface).shape == law.slope(surface).shape == (2, 2)
    assert np.ndim(law.flux(300.0)) == np.ndim(law.slope(300.0)) == 0


@pytest.mark.parametrize("law", LAWS, ids=lambda law: type(law).__name__)
def test_prints_in_one_line(law):
    assert "\n" not in str(law) and str(law)


def test_linearised_radiation_coefficient():
    # ε = 1, 40/20 °C: h_r = σ(T1² + T2²)(T1 + T2) = 6.32582 W/(m² K); 50/20 °C: 6.65252
    for celsius, coefficient in ((40.0, 6.32582), (50.0, 6.65252)):
        flux = RadiantOnly(ROOM, 1.0).flux(celsius + 273.15)
        np.testing.assert_allclose(flux / (celsius - 20.0), coefficient, rtol=1e-6, atol=0)
    # 4 σ T³ at 20 °C, 5.714 (ISO 6946's h_r0)
    np.testing.assert_allclose(RadiantOnly(ROOM, 1.0).slope(ROOM), 5.714, rtol=1e-4, atol=0)


def test_radiation_of_a_pipe_in_a_room():
    # Çengel example 9-1: ε = 1, 70 °C in a room of 20 °C, 0.08 m x 6 m: 553.3 W (the book's 0 °C is 273 K)
    flux = RadiantOnly(293.0, 1.0).flux(343.0)
    np.testing.assert_allclose(flux * np.pi * 0.08 * 6.0, 553.3, rtol=2e-4, atol=0)


def test_radiating_rod_of_nafems():
    # NAFEMS T2: rod of 0.1 m, k 55.6, one end at 1000 K, the other radiating (ε 0.98) to 300 K: 927.0 K
    law = RadiantOnly(300.0, 0.98)
    end = brentq(lambda surface: 55.6 / 0.1 * (1000.0 - surface) - law.flux(surface), 300.0, 1000.0)
    np.testing.assert_allclose(end, 927.0040, rtol=0, atol=1e-3)


def test_split_floor_adds_its_parts():
    # by hand, h_c 5.0, ε 0.9, both ambients 20 °C, surface 25 °C: 25 + 0.9 · σ · 5.16886e8 K⁴ = 51.378 W/m²
    np.testing.assert_allclose(SplitFloor(ROOM, ROOM, 5.0, 0.9).flux(298.15), 51.378, rtol=2e-5, atol=0)
    both = SplitFloor(ROOM, 290.0, 5.0, 0.9).flux(300.0)
    parts = FixedFilm(ROOM, 5.0).flux(300.0) + RadiantOnly(290.0, 0.9).flux(300.0)
    np.testing.assert_allclose(both, parts, rtol=1e-14, atol=0)


def test_surface_resistance_of_iso_6946():
    # R_si 0.10 m²K/W upward: 5.0 + 0.9 · 5.714 = 10.14 W/(m² K) at 20 °C
    slope = SplitFloor(ROOM, ROOM, 5.0, 0.9).slope(ROOM)
    np.testing.assert_allclose(1.0 / slope, 0.10, rtol=0, atol=2e-3)


def test_fixed_film_by_hand():
    np.testing.assert_allclose(FixedFilm(ROOM, 10.8).flux(ROOM + 2.5), 27.0, rtol=1e-12, atol=0)


def test_fixed_flux_and_none():
    np.testing.assert_allclose(FixedFlux(12.0).flux(np.zeros(3) + 300.0), 12.0, rtol=0, atol=0)
    np.testing.assert_allclose(FixedFlux(0.0).flux(np.zeros(3) + 300.0), 0.0, rtol=0, atol=0)


def test_fixed_temperature_holds_the_surface():
    # behind 0.25 mm of aluminium (8e5 W/(m² K)) carrying 1e4 W/m² the surface still keeps its temperature
    law = FixedTemperature(ROOM)
    inside = ROOM + 1e4 / 8e5
    series = 1.0 / (1.0 / 8e5 + 1.0 / law.slope(inside))
    surface = ROOM + series * (inside - ROOM) / law.slope(inside)
    np.testing.assert_allclose(surface, ROOM, rtol=0, atol=2e-5)


@pytest.mark.parametrize("make, word", [
    (lambda: StandardFloor(-1.0), "room"), (lambda: FixedFilm(ROOM, -1.0), "coefficient"),
    (lambda: SplitFloor(ROOM, ROOM, 5.0, 1.1), "emissivity"),
    (lambda: SplitFloor(0.0, ROOM, 5.0, 0.9), "air"),
    (lambda: SplitFloor(ROOM, ROOM, np.nan, 0.9), "convective"),
    (lambda: RadiantOnly(ROOM, -0.1), "emissivity"),
    (lambda: FixedTemperature(np.nan), "temperature"),
])
def test_laws_refuse_nonsense(make, word):
    with pytest.raises(ValueError, match=word):
        make()

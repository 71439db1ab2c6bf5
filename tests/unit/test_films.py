"""Natural convection laws against the numbers of their sources, at regime limits and in their slopes."""

import doctest

import numpy as np
import pytest

from sim.case.fluids import air_properties
from sim.physics import films
from sim.physics.films import (
    BLEND_WINDOW,
    cylinder_film,
    nusselt_cylinder,
    wall_film_and_slope,
)

CELSIUS = 273.15
SIGMA = 5.670374419e-8

# Layer resistances of ISO 6946 for unventilated layers of high emissivity [m²K/W] (ISO 6946:2007 table 2)
THICKNESS = np.array([5, 7, 10, 15, 25, 50, 100, 300]) / 1000.0
ISO_6946_TABLE = {
    "up": [0.11, 0.13, 0.15, 0.16, 0.16, 0.16, 0.16, 0.16],
    "horizontal": [0.11, 0.13, 0.15, 0.17, 0.18, 0.18, 0.18, 0.18],
    "down": [0.11, 0.13, 0.15, 0.17, 0.19, 0.21, 0.22, 0.23],
}


def radiative_coefficient(first, second, mean_temperature):
    """Two parallel grey planes, linearised: the h_r of ISO 6946."""
    return 4.0 * SIGMA * mean_temperature**3 / (1.0 / first + 1.0 / second - 1.0)


def rayleigh(delta_t, length, mean_temperature):
    air = air_properties(mean_temperature)
    return 9.80665 / mean_temperature * delta_t * length**3 / (air.kinematic_viscosity * air.diffusivity)


def wall_film(*faces):
    return wall_film_and_slope(*faces)[0]


def layer_conductance(delta_t, thickness, direction, mean_temperature):
    """Of a layer from face to face: two films in series, each with half the difference."""
    facing = {"up": 1, "up, closed": 1, "down": -1, "horizontal": 0}[direction]
    half = np.asarray(delta_t) / 2.0
    return wall_film(half, thickness, facing, mean_temperature, direction == "up, closed") / 2.0


def nusselt_layer_heated_below(number):
    """Of a layer as thick as a Rayleigh number needs."""
    thickness = np.cbrt(np.asarray(number) / rayleigh(7.0, 1.0, 305.0))
    return layer_conductance(7.0, thickness, "up", 305.0) * thickness / air_properties(305.0).conductivity


# ISO 15099:2003 eq. 42 at tilt 0, evaluated independently
@pytest.mark.parametrize("number, nusselt", [
    (2e3, 1.2102), (5e3, 1.9481), (1e4, 2.3911), (5e4, 3.4377), (1e5, 3.9944), (1e6, 6.9937), (1e7, 13.4102),
])
def test_layer_heated_below_matches_iso_15099(number, nusselt):
    np.testing.assert_allclose(nusselt_layer_heated_below(number), nusselt, rtol=5e-5, atol=0)


@pytest.mark.parametrize("limit", [1708.0, 5830.0])
def test_layer_heated_below_on_both_sides_of_its_limits(limit):
    below, above = nusselt_layer_heated_below([limit * (1 - 1e-9), limit * (1 + 1e-9)])
    np.testing.assert_allclose(below, above, rtol=1e-8, atol=0)


def test_layer_heated_below_conducts_before_the_onset():
    # Ra_c = 1707.762 (Reid and Harris 1958)
    np.testing.assert_allclose(nusselt_layer_heated_below([1e-3, 1.0, 1700.0]), 1.0, rtol=1e-12, atol=0)
    assert nusselt_layer_heated_below(1720.0) > 1.0


def test_layer_heated_below_near_globe_and_dropkin():
    # Globe and Dropkin 1959: 0.069 Ra^(1/3) Pr^0.074, 3e5 to 7e9
    number = np.array([3e5, 1e6, 1e7, 1e8])
    np.testing.assert_allclose(
        nusselt_layer_heated_below(number), 0.069 * np.cbrt(number) * 0.707**0.074, rtol=0.15, atol=0
    )


@pytest.mark.parametrize("direction, tolerance", [
    ("horizontal", 0.01), ("down", 0.01), ("up, closed", 0.005), ("up", 0.022)
])
def test_iso_6946_table_of_unventilated_layers(direction, tolerance):
    # "up" is the measured law, not the standard's constant: 0.021 m²K/W apart at 300 mm, ≤ 0.014 below
    film = layer_conductance(5.0, THICKNESS, direction, 10.0 + CELSIUS)
    resistance = 1.0 / (film + radiative_coefficient(0.9, 0.9, 10.0 + CELSIUS))
    np.testing.assert_allclose(resistance, ISO_6946_TABLE[direction.split(",")[0]], rtol=0, atol=tolerance)


# ISO 6946 with a bright face, heat up, whatever the thickness from 25 to 200 mm, 10 °C mean [m²K/W]
@pytest.mark.parametrize("emissivity, resistance", [(0.2, 0.338), (0.1, 0.407), (0.05, 0.453)])
def test_iso_6946_closed_layers_with_a_bright_face_below(emissivity, resistance):
    film = layer_conductance(4.0, np.array([0.025, 0.05, 0.1, 0.2]), "up, closed", 10.0 + CELSIUS)
    got = 1.0 / (film + radiative_coefficient(0.9, emissivity, 10.0 + CELSIUS))
    np.testing.assert_allclose(got, resistance, rtol=0, atol=6e-4)


# ISO 6946 with a bright face, 10 °C mean [m²K/W] for 25 / 50 / 100 / 200 mm, heat flow down and horizontal
@pytest.mark.parametrize("emissivity, down, horizontal", [
    (0.2, [0.498, 0.663, 0.747, 0.799], 0.443), (0.05, [0.796, 1.323, 1.705, 2.001], 0.664),
])
def test_iso_6946_layers_with_a_bright_face(emissivity, down, horizontal):
    thickness = np.array([0.025, 0.05, 0.1, 0.2])
    radiation = radiative_coefficient(0.9, emissivity, 10.0 + CELSIUS)
    film = layer_conductance(4.0, thickness, "down", 10.0 + CELSIUS)
    # at 25 mm conduction decides, and the air's own k is 0.5 % above the standard's 0.025
    np.testing.assert_allclose(1.0 / (film + radiation), down, rtol=5e-3, atol=0)
    film = layer_conductance(4.0, thickness, "horizontal", 10.0 + CELSIUS)
    np.testing.assert_allclose(1.0 / (film + radiation), horizontal, rtol=2e-3, atol=0)


def test_layer_heated_above_of_a_joist_depth():
    # ISO 6946, 235 mm: 0.227 W/(m² K) up to 5 K, 0.298 at 20 K
    got = layer_conductance([4.0, 20.0], 0.235, "down", 30.0 + CELSIUS)
    np.testing.assert_allclose(got, [0.227, 0.298], rtol=0, atol=5e-4)


@pytest.mark.parametrize("direction, jump", [("down", 0.013), ("horizontal", 0.002), ("up, closed", 0.001)])
def test_large_difference_laws_join_without_a_step(direction, jump):
    delta_t = np.linspace(4.0, 6.0, 2001)
    film = layer_conductance(delta_t, 0.2, direction, 300.0)
    assert np.max(np.abs(np.diff(film))) < 1e-3 * film[0]
    # ISO 6946 below and above 5 K, whose own step is what is smoothed away
    below, above = {"down": (0.12 * 0.2**-0.44, 0.09 * 5.0**0.187 * 0.2**-0.44),
                    "horizontal": (1.25, 0.73 * 5.0 ** (1 / 3)),
                    "up, closed": (1.95, 1.14 * 5.0 ** (1 / 3))}[direction]
    np.testing.assert_allclose(film[delta_t < 5.0], below, rtol=jump + 1e-3, atol=0)
    np.testing.assert_allclose(layer_conductance(5.05, 0.2, direction, 300.0), above, rtol=4e-3, atol=0)


@pytest.mark.parametrize("direction", ["up", "up, closed", "down", "horizontal"])
def test_no_layer_insulates_better_than_still_air(direction):
    thickness, delta_t = np.meshgrid(np.geomspace(1e-3, 1.0, 31), np.linspace(0.0, 40.0, 21))
    film = layer_conductance(delta_t, thickness, direction, 300.0)
    assert np.all(film >= air_properties(300.0).conductivity / thickness * (1 - 1e-12))
    assert np.all(np.diff(film, axis=0) >= 0.0)


def test_thin_layer_only_conducts():
    for direction in ("up", "up, closed", "down", "horizontal"):
        np.testing.assert_allclose(
            layer_conductance(10.0, 0.002, direction, 300.0),
            air_properties(300.0).conductivity / 0.002, rtol=1e-12, atol=0)


def stable(delta_t, thickness):
    """The law of ISO 6946 for layers heated from above, beyond 5 K."""
    return 0.09 * delta_t**0.187 * thickness**-0.44


@pytest.mark.parametrize("orientation, sign", [(1, -1), (-1, 1), (0, 1), (0, -1)])
def test_wall_film_is_half_a_layer(orientation, sign):
    layer = stable(16.0, 0.235) if orientation else 0.73 * 16.0 ** (1 / 3)
    np.testing.assert_allclose(wall_film(sign * 8.0, 0.235, orientation, 300.0), 2.0 * layer, rtol=1e-14, atol=0)


def test_cold_air_over_a_warm_face_is_warm_air_under_a_cold_one():
    excess = np.array([0.06, 1.0, 15.0])
    np.testing.assert_array_equal(wall_film(excess, 0.2, 1, 300.0), wall_film(-excess, 0.2, -1, 300.0))


def test_closed_layers_take_the_standards_film_face_by_face():
    excess, closed = np.array([4.0, 4.0, -4.0, -4.0]), np.array([True, False, True, False])
    film = wall_film(excess, 0.1, 1, 300.0, closed)
    np.testing.assert_allclose(film[0], 2.0 * 1.14 * 8.0 ** (1 / 3), rtol=1e-14, atol=0)
    np.testing.assert_allclose(film[2:], 2.0 * stable(8.0, 0.1), rtol=1e-14, atol=0)
    assert film[1] == wall_film(4.0, 0.1, 1, 300.0) != film[0]


def test_two_films_in_series_make_the_layer():
    # warm ceiling and cold floor, air midway: the layer's conductance comes back
    film = wall_film([6.0, -6.0], 0.3, [-1, 1], 300.0)
    np.testing.assert_allclose(1.0 / np.sum(1.0 / film), stable(12.0, 0.3), rtol=1e-14, atol=0)


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("orientation", [-1, 0, 1])
@pytest.mark.parametrize("distance", [0.005, 0.02, 0.1, 0.235, 0.5])
def test_wall_film_and_flux_are_continuous_through_zero(orientation, distance, closed):
    excess = np.linspace(-3 * BLEND_WINDOW, 3 * BLEND_WINDOW, 6001)
    film, slope = wall_film_and_slope(excess, distance, orientation, 300.0, closed)
    flux = film * excess
    assert np.max(np.abs(np.diff(film))) < 0.03 * np.max(film)
    assert np.all(np.diff(flux) > 0.0)
    assert np.all((slope > 0.7 * film) & (slope < (3.0 if closed else 2.45) * film))
    np.testing.assert_allclose(flux[3000], 0.0, rtol=0, atol=1e-12)


def test_wall_film_slope_is_the_derivative(rng):
    count = 4000
    excess, distance = rng.uniform(-30.0, 30.0, count), rng.uniform(0.01, 0.4, count)
    excess[:1000] *= 0.003
    orientation, mean = rng.integers(-1, 2, count), rng.uniform(285.0, 325.0, count)
    faces = (distance, orientation, mean, rng.integers(0, 2, count).astype(bool))
    step = 1e-5
    ahead, behind = excess + step, excess - step
    difference = (wall_film(ahead, *faces) * ahead - wall_film(behind, *faces) * behind) / (2.0 * step)
    slope = wall_film_and_slope(excess, *faces)[1]
    # a few of the points straddle a kink (onset, floor of a law): there the tangent is one-sided
    smooth = np.isclose(difference, slope, rtol=1e-3, atol=0)
    assert np.count_nonzero(~smooth) <= 4


def test_wall_film_broadcasts_and_survives_zero_difference():
    orientation = np.array([[-1], [0], [1]])
    film, slope = wall_film_and_slope(np.zeros(4), np.full(4, 0.2), orientation, 300.0)
    assert film.shape == slope.shape == (3, 4)
    assert np.all(film > 0.0) and np.all(slope > 0.0)
    # halfway through the blend, upward and downward faces are alike
    np.testing.assert_allclose(film[0], film[2], rtol=1e-14, atol=0)


def test_wall_film_refuses_nonsense():
    with pytest.raises(ValueError, match="distance"):
        wall_film(1.0, 0.0, 1, 300.0)
    with pytest.raises(ValueError, match="orientation"):
        wall_film(1.0, 0.1, [0, 2], 300.0)
    with pytest.raises(ValueError, match="temperature of the air"):
        wall_film(1.0, 0.1, 1, 500.0)


def test_cylinder_textbook_example():
    # Çengel, example 9-1: Ra 1.8673e6, Pr 0.7241 gives Nu 17.394, h 5.8683, 442.5 W from 6 m at 50 K
    nusselt = nusselt_cylinder(1.8673e6, 0.7241)
    film = nusselt * 0.02699 / 0.08
    np.testing.assert_allclose(
        [nusselt, film, film * np.pi * 0.08 * 6.0 * 50.0], [17.394, 5.8683, 442.5], rtol=1e-4, atol=0)


def test_cylinder_film_of_a_heating_tube():
    # 15.9 mm tube, film at 32 °C, Churchill and Chu: Ra and h for 5 / 10 / 20 / 30 K
    delta_t = np.array([5.0, 10.0, 20.0, 30.0])
    np.testing.assert_allclose(
        rayleigh(delta_t, 0.0159, 32.0 + CELSIUS), [1.74e3, 3.47e3, 6.94e3, 1.04e4], rtol=6e-3, atol=0)
    np.testing.assert_allclose(
        cylinder_film(delta_t, 0.0159, 32.0 + CELSIUS), [4.94, 5.76, 6.75, 7.43], rtol=1.5e-3, atol=0)


def test_cylinder_agrees_with_the_ht_library():
    ht = pytest.importorskip("ht")
    for number in (1.0, 1e3, 1e6, 1e9):
        expected = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=0.71, Gr=number / 0.71)
        np.testing.assert_allclose(nusselt_cylinder(number, 0.71), expected, rtol=1e-12, atol=0)


def test_layer_heated_below_near_the_ht_library():
    # ht holds the later form for any Prandtl number and misprints 5830 as 5803: alike for air, not equal
    ht = pytest.importorskip("ht")
    for number in (1e3, 1e4, 1e5, 1e6):
        expected = ht.Nu_Nusselt_Rayleigh_Hollands(Pr=0.71, Gr=number / 0.71)
        np.testing.assert_allclose(nusselt_layer_heated_below(number), expected, rtol=0.03, atol=0)


def test_cylinder_limits():
    still = 0.36 * air_properties(300.0).conductivity / 0.016
    np.testing.assert_allclose(cylinder_film([0.0, 1e-15], 0.016, 300.0), still, rtol=0.02, atol=0)
    cold, hot = cylinder_film([-8.0, 8.0], 0.016, 300.0)
    np.testing.assert_allclose(cold, hot, rtol=1e-15, atol=0)
    with pytest.raises(ValueError, match="1e12"):
        nusselt_cylinder(1.01e12, 0.7)
    assert nusselt_cylinder(1.01e12, 0.7, extrapolate=True) > nusselt_cylinder(1e12, 0.7)
    with pytest.raises(ValueError, match="diameter"):
        cylinder_film(1.0, 0.0, 300.0)


def test_worked_numbers_in_docstrings():
    assert doctest.testmod(films).failed == 0

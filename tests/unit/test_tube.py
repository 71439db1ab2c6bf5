"""Water in the tube: films, wall, friction and the march along the run, against books and hand sums."""

import doctest

import numpy as np
import pytest

from sim.case.fluids import Fluid, water_properties
from sim.physics import tube
from sim.physics.tube import (
    film_resistance,
    friction_factor,
    nusselt_tube,
    pressure_gradient,
    reynolds_tube,
    tube_film,
    wall_resistance,
    water_march,
)

CELSIUS = 273.15
DIAMETER = 0.0123

# 12.3 mm tube at 45 °C: l/min, Re, Pa/m, Nu, h. Colebrook (1.5 µm) and Gnielinski, laminar developed 3.66
TURBULENT = [(1.5, 4301, 69.8, 27.97, 1443), (2.0, 5735, 114.4, 37.62, 1942), (3.0, 8603, 230.4, 55.41, 2860)]
LAMINAR = [(0.0, 0.5, 1434, 8.84, 189), (0.3, 0.5, 630, 20.5, 138), (0.3, 1.0, 1260, 41.1, 138),
           (0.3, 1.5, 1890, 61.6, 138)]


def mass_flow(litres_per_minute, fluid):
    return litres_per_minute / 6e4 * fluid.density


@pytest.mark.parametrize("flow, reynolds, gradient, nusselt, film", TURBULENT)
def test_turbulent_rows_of_the_tube_table(flow, reynolds, gradient, nusselt, film):
    water = water_properties(45.0 + CELSIUS)
    moved = mass_flow(flow, water)
    number = reynolds_tube(moved, DIAMETER, water)
    np.testing.assert_allclose(number, reynolds, rtol=1e-3, atol=0)
    got = nusselt_tube(number, water.prandtl, DIAMETER, 10.0)
    np.testing.assert_allclose(got, nusselt, rtol=1e-3, atol=0)
    np.testing.assert_allclose(tube_film(moved, DIAMETER, 10.0, water), film, rtol=1e-3, atol=0)
    np.testing.assert_allclose(pressure_gradient(moved, DIAMETER, water), gradient, rtol=1e-3, atol=0)


@pytest.mark.parametrize("glycol, flow, reynolds, gradient, film", LAMINAR)
def test_laminar_rows_of_the_tube_table(glycol, flow, reynolds, gradient, film):
    liquid = water_properties(45.0 + CELSIUS, glycol=glycol)
    moved = mass_flow(flow, liquid)
    np.testing.assert_allclose(reynolds_tube(moved, DIAMETER, liquid), reynolds, rtol=1e-3, atol=0)
    np.testing.assert_allclose(pressure_gradient(moved, DIAMETER, liquid), gradient, rtol=3e-3, atol=0)
    # the table leaves out the entry: a tube long enough not to have one
    np.testing.assert_allclose(tube_film(moved, DIAMETER, 1e7, liquid), film, rtol=4e-3, atol=0)


def test_laminar_entry():
    # Hausen over 10 m of 12.3 mm at Re 1434, Pr 3.92: Nu 4.06
    np.testing.assert_allclose(nusselt_tube(1434.0, 3.92, DIAMETER, 10.0), 4.06, rtol=2e-3, atol=0)
    # Hausen by hand at Re 1500, Pr 5, 2 m: Gz = Re Pr d/L, Nu = 3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3))
    graetz = 1500.0 * 5.0 * 0.0123 / 2.0
    nusselt = 3.66 + 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2.0 / 3.0))
    np.testing.assert_allclose(nusselt_tube(1500.0, 5.0, DIAMETER, 2.0), nusselt, rtol=1e-9, atol=0)


def test_oil_in_a_pipe_through_a_lake():
    # Çengel example 8-3: Re 636.3, Nu 37.3 (the book has 0.065 for Hausen's 0.0668), outlet 19.71 °C of 20 °C
    # inlet in a pipe at 0 °C, 67.5 kW
    density, viscosity, heat, k = 888.1, 888.1 * 9.429e-4, 1880.0, 0.145
    oil = Fluid(density, heat, k, viscosity)
    moved = density * 2.0 * np.pi * 0.3**2 / 4.0
    np.testing.assert_allclose(reynolds_tube(moved, 0.3, oil), 636.3, rtol=1e-3, atol=0)
    np.testing.assert_allclose(nusselt_tube(636.3, 10863.0, 0.3, 200.0), 37.325, rtol=0.03, atol=0)
    area = np.pi * 0.3 * 200.0
    water, outlet = water_march(20.0, moved * heat, [18.040 * area], [0.0])
    np.testing.assert_allclose(outlet, 19.7139, rtol=0, atol=1e-4)
    np.testing.assert_allclose(water[0], 19.8566, rtol=0, atol=1e-4)  # the logarithmic mean difference
    np.testing.assert_allclose(18.040 * area * water[0], 67.52e3, rtol=2e-4, atol=0)
    # pressure drop over the pipe 119.1 kPa
    np.testing.assert_allclose(pressure_gradient(moved, 0.3, oil) * 200.0, 119.1e3, rtol=1e-3, atol=0)


def test_laminar_pressure_drop():
    # Çengel example 8-2: water 5 °C, 3 mm, 10 m, 0.9 m/s: Re 1777.3, f 0.036010, 48.608 kPa
    water = Fluid(999.9, 4200.0, 0.571, 1.519e-3)
    moved = 999.9 * 0.9 * np.pi * 0.003**2 / 4.0
    np.testing.assert_allclose(reynolds_tube(moved, 0.003, water), 1777.3, rtol=1e-4, atol=0)
    np.testing.assert_allclose(friction_factor(1777.3), 0.036010, rtol=1e-4, atol=0)
    np.testing.assert_allclose(pressure_gradient(moved, 0.003, water) * 10.0, 48.608e3, rtol=1e-4, atol=0)


@pytest.mark.parametrize("reynolds, factor", [(5e3, 0.037529), (1e4, 0.031071)])
def test_colebrook(reynolds, factor):
    # Colebrook at ε/D 1.2195e-4, solved independently
    np.testing.assert_allclose(friction_factor(reynolds, 1.2195e-4), factor, rtol=2e-5, atol=0)
    got = friction_factor(reynolds, 1.2195e-4)
    right = -2.0 * np.log10(1.2195e-4 / 3.7 + 2.51 / (reynolds * np.sqrt(got)))
    np.testing.assert_allclose(got**-0.5, right, rtol=1e-6, atol=0)


@pytest.mark.parametrize("gallons, loss", [(2.0, 6.005), (3.0, 12.22), (4.0, 20.28)])
def test_pressure_loss_of_half_inch_tube(gallons, loss):
    # psi per 100 ft, SDR-9 nominal 1/2 in (0.485 in bore), water at 60 °F, 1.5 µm: Darcy and Colebrook
    water = water_properties(60.0 / 1.8 - 32.0 / 1.8 + CELSIUS)
    moved = gallons * 3.785411784e-3 / 60.0 * water.density
    got = pressure_gradient(moved, 0.485 * 0.0254, water) * 30.48 / 6894.757
    np.testing.assert_allclose(got, loss, rtol=1e-3, atol=0)


@pytest.mark.parametrize("limit", [2300.0, 4000.0])
def test_no_jump_at_the_transition(limit):
    sides = limit * np.array([1 - 1e-9, 1 + 1e-9])
    for values in (nusselt_tube(sides, 4.0, DIAMETER, 10.0), friction_factor(sides, 1e-4)):
        np.testing.assert_allclose(values[0], values[1], rtol=1e-7, atol=0)


def test_transition_lies_between_its_ends():
    # linear in Re (Gnielinski 2013): midway in Re is midway in Nu
    ends = nusselt_tube([2300.0, 4000.0], 4.0, DIAMETER, 10.0)
    np.testing.assert_allclose(nusselt_tube(3150.0, 4.0, DIAMETER, 10.0), ends.mean(), rtol=1e-12, atol=0)

ROUGH = 1.5e-6 / 0.0123


@pytest.mark.parametrize("reynolds", [*np.geomspace(500.0, 2e4, 20), 2050.0, 2150.0, 2250.0])
def test_friction_beside_a_published_correlation(reynolds):
    got = float(friction_factor(reynolds, ROUGH))
    # Haaland 1983, J. Fluids Eng. 105, 89-90: f^−½ = −1.8 log₁₀[(ε/3.7D)^1.11 + 6.9/Re], within 2 % of Colebrook
    haaland = (-1.8 * np.log10((ROUGH / 3.7) ** 1.11 + 6.9 / reynolds)) ** -2
    if reynolds <= 2000.0:
        # Hagen and Poiseuille, exact
        np.testing.assert_allclose(got, 64.0 / reynolds, rtol=1e-12, atol=0)
    elif reynolds >= 4000.0:
        np.testing.assert_allclose(got, haaland, rtol=0.02, atol=0)
    elif reynolds >= 2300.0:
        assert got > 0.95 * haaland
    else:
        assert got >= 64.0 / reynolds


def test_friction_has_no_jump_and_its_loss_rises_with_the_flow():
    reynolds = np.linspace(1500.0, 5000.0, 701)
    factor = friction_factor(reynolds, ROUGH)
    # 5 of Re is 0.25 %; over the blend f rises by half within 300
    assert np.all(np.abs(np.diff(factor)) < 0.02 * factor[1:])
    assert np.all(np.diff(factor * reynolds**2) > 0.0)


def test_nusselt_never_falls_below_developed_flow():
    # 3.66: uniform wall temperature, developed
    reynolds = np.geomspace(1.0, 1e5, 200)
    values = nusselt_tube(reynolds, 4.0, DIAMETER, 60.0)
    assert np.all(values >= 3.66) and np.all(np.diff(values) > 0.0)


def test_laminar_and_turbulent_laws_follow_their_papers():
    # written out from Hausen 1943 and Gnielinski 1976 with the smooth friction factor
    graetz = 1000.0 * 25.0 * DIAMETER / 4.0
    hausen = 3.66 + 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2 / 3))
    np.testing.assert_allclose(nusselt_tube(1000.0, 25.0, DIAMETER, 4.0), hausen, rtol=1e-12, atol=0)
    eighth = (0.79 * np.log(2e4) - 1.64) ** -2 / 8.0
    gnielinski = eighth * 19e3 * 5.0 / (1.0 + 12.7 * np.sqrt(eighth) * (5.0 ** (2 / 3) - 1.0))
    np.testing.assert_allclose(nusselt_tube(2e4, 5.0, DIAMETER, 4.0), gnielinski, rtol=1e-12, atol=0)


@pytest.mark.parametrize("arguments, word", [
    ((0.0, 4.0, 0.01, 1.0), "reynolds"), ((1e3, -4.0, 0.01, 1.0), "prandtl"),
    ((1e3, 4.0, 0.0, 1.0), "diameter"), ((1e3, 4.0, 0.01, 0.0), "length"),
    ((6e6, 4.0, 0.01, 1.0), "Reynolds"), ((5e3, 3e3, 0.01, 1.0), "Prandtl"),
])
def test_nusselt_refuses_what_its_law_does_not_cover(arguments, word):
    with pytest.raises(ValueError, match=word):
        nusselt_tube(*arguments)


def test_nusselt_extrapolates_when_asked():
    assert nusselt_tube(6e6, 4.0, 0.01, 1.0, extrapolate=True) > nusselt_tube(5e6, 4.0, 0.01, 1.0)


@pytest.mark.parametrize("outer, wall, conductivity, resistance", [
    # ln(d_o/d_i)/(2πk): 16 x 2 mm, 20 x 2 mm, SDR-9 nominal 1/2 in
    (0.016, 0.002, 0.38, 0.120490), (0.020, 0.002, 0.35, 0.101470), (0.015875, 0.001778, 0.41, 0.098444),
])
def test_wall_resistance(outer, wall, conductivity, resistance):
    got = wall_resistance(outer, outer - 2.0 * wall, conductivity)
    np.testing.assert_allclose(got, resistance, rtol=0, atol=6e-7)


def test_wall_resistance_agrees_with_the_ht_library():
    ht = pytest.importorskip("ht")
    expected = ht.conduction.R_cylinder(Di=0.012, Do=0.016, k=0.4, L=1.0)
    np.testing.assert_allclose(wall_resistance(0.016, 0.012, 0.4), expected, rtol=1e-12, atol=0)


def test_film_resistance_by_hand():
    # 1/(π · 0.0123 m · 1942 W/m²K) = 0.013326 m K/W
    np.testing.assert_allclose(film_resistance(1942.0, DIAMETER), 0.013326, rtol=1e-4, atol=0)


@pytest.mark.parametrize("call, word", [
    (lambda: wall_resistance(0.012, 0.016, 0.4), "outer"),
    (lambda: wall_resistance(0.016, 0.012, 0.0), "conductivity"),
    (lambda: film_resistance(0.0, 0.012), "film_coefficient"), (lambda: friction_factor(0.0), "reynolds"),
    (lambda: friction_factor(1e4, 0.06), "relative_roughness"),
    (lambda: reynolds_tube(0.0, 0.012, water_properties(300.0)), "mass_flow"),
])
def test_resistances_refuse_nonsense(call, word):
    with pytest.raises(ValueError, match=word):
        call()


def test_march_approaches_constant_surroundings_exponentially():
    # T(x) − T_s = (T_in − T_s) e^(−UA x / C), whatever the number of segments
    segments, total, capacity = 37, 140.0, 90.0
    equal = np.full(segments, total / segments)
    water, outlet = water_march(323.15, capacity, equal, np.full(segments, 303.15))
    np.testing.assert_allclose(outlet, 303.15 + 20.0 * np.exp(-total / capacity), rtol=1e-14, atol=0)
    edges = 20.0 * np.exp(-np.linspace(0.0, total, segments + 1) / capacity)
    logarithmic = (edges[:-1] - edges[1:]) / np.log(edges[:-1] / edges[1:])
    np.testing.assert_allclose(water - 303.15, logarithmic, rtol=0, atol=1e-11)


def test_march_closes_the_energy_balance(rng):
    segments = 400
    conductance = rng.uniform(0.0, 3.0, segments)
    conductance[::50] = 0.0
    conductance[7], conductance[8] = 1e-13, 1e6
    surface = rng.uniform(290.0, 330.0, segments)
    water, outlet = water_march(325.0, 70.0, conductance, surface)
    given = conductance * (water - surface)
    taken = 70.0 * (325.0 - outlet)
    np.testing.assert_allclose(np.sum(given), taken, rtol=0, atol=1e-9 * np.sum(np.abs(given)))


def test_march_with_insulated_or_perfect_segments():
    water, outlet = water_march(320.0, 50.0, [0.0, 1e-13, 1e9], [280.0, 280.0, 300.0])
    np.testing.assert_allclose(water[:2], 320.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose(outlet, 300.0, rtol=0, atol=1e-12)
    assert water_march(320.0, 50.0, [], [])[1] == 320.0


def test_march_two_halves_equal_the_whole(rng):
    conductance, surface = rng.uniform(0.1, 2.0, 10), rng.uniform(290.0, 310.0, 10)
    whole, outlet = water_march(320.0, 40.0, conductance, surface)
    first, between = water_march(320.0, 40.0, conductance[:4], surface[:4])
    second, end = water_march(between, 40.0, conductance[4:], surface[4:])
    np.testing.assert_allclose(np.concatenate([first, second]), whole, rtol=1e-15, atol=0)
    assert end == outlet


def test_march_uncompiled_is_the_same(rng):
    units, surface = rng.uniform(0.0, 1.0, 20), rng.uniform(290.0, 310.0, 20)
    units[3] = 0.0
    compiled, plain = tube.compiled_march()(320.0, units, surface), tube._march(320.0, units, surface)
    np.testing.assert_allclose(compiled[0], plain[0], rtol=1e-14, atol=0)


@pytest.mark.parametrize("arguments, word", [
    ((320.0, 0.0, [1.0], [300.0]), "capacity_flow"), ((320.0, 50.0, [-1.0], [300.0]), "conductance"),
    ((320.0, 50.0, [1.0, 2.0], [300.0]), "equal lists"),
])
def test_march_refuses_nonsense(arguments, word):
    with pytest.raises(ValueError, match=word):
        water_march(*arguments)


def test_worked_numbers_in_docstrings():
    assert doctest.testmod(tube).failed == 0

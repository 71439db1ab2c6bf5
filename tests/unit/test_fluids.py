"""Properties of water, glycol mixtures and air against CoolProp and against its printed values."""

import numpy as np
import pytest

from sim.case.fluids import air_properties, water_properties

CELSIUS = 273.15

# Water at 200 kPa, IAPWS-95 by CoolProp: °C, k, ρ, c, μ, Pr
WATER = [
    (10, 0.5788, 999.75, 4194.8, 1.3058e-3, 9.463),
    (20, 0.5981, 998.25, 4183.7, 1.0016e-3, 7.006),
    (40, 0.6285, 992.26, 4179.2, 6.527e-4, 4.340),
    (60, 0.6511, 983.24, 4184.7, 4.661e-4, 2.996),
    (80, 0.6670, 971.83, 4196.5, 3.541e-4, 2.228),
]
# Propylene glycol in water (CoolProp INCOMP::MPG, 2 bar): mass fraction, °C, ρ, μ, c, k, Pr
GLYCOL = [
    (0.3, 20, 1023.78, 2.96498e-3, 3857.0, 0.44443, 25.73),
    (0.3, 40, 1013.43, 1.57313e-3, 3910.4, 0.46056, 13.36),
    (0.3, 60, 1001.15, 0.99458e-3, 3962.3, 0.47657, 8.269),
    (0.5, 40, 1025.37, 2.91372e-3, 3607.0, 0.36955, 28.44),
    (0.5, 60, 1010.46, 1.66113e-3, 3683.5, 0.38005, 16.10),
]
# Dry air at 101325 Pa (CoolProp, Lemmon): °C, k, ρ, c, ν, α, Pr
AIR = [
    (0, 0.02436, 1.2931, 1005.7, 1.332e-5, 1.873e-5, 0.711),
    (20, 0.02587, 1.2046, 1006.1, 1.511e-5, 2.135e-5, 0.708),
    (40, 0.02735, 1.1274, 1006.9, 1.700e-5, 2.410e-5, 0.706),
    (60, 0.02880, 1.0596, 1008.0, 1.897e-5, 2.697e-5, 0.703),
    (80, 0.03023, 0.9995, 1009.5, 2.102e-5, 2.996e-5, 0.702),
]


@pytest.mark.parametrize("celsius, conductivity, density, specific_heat, viscosity, prandtl", WATER)
def test_water_values(celsius, conductivity, density, specific_heat, viscosity, prandtl):
    got = water_properties(celsius + CELSIUS)
    expected = [conductivity, density, specific_heat, viscosity, prandtl]
    values = [got.conductivity, got.density, got.specific_heat, got.viscosity, got.prandtl]
    np.testing.assert_allclose(values, expected, rtol=5e-4, atol=0)


@pytest.mark.parametrize("glycol, celsius, density, viscosity, specific_heat, conductivity, prandtl", GLYCOL)
def test_glycol_values(glycol, celsius, density, viscosity, specific_heat, conductivity, prandtl):
    got = water_properties(celsius + CELSIUS, glycol=glycol)
    expected = [density, viscosity, specific_heat, conductivity, prandtl]
    values = [got.density, got.viscosity, got.specific_heat, got.conductivity, got.prandtl]
    np.testing.assert_allclose(values, expected, rtol=5e-4, atol=0)


@pytest.mark.parametrize("row", AIR)
def test_air_values(row):
    celsius, *expected = row
    got = air_properties(celsius + CELSIUS)
    values = [got.conductivity, got.density, got.specific_heat, got.kinematic_viscosity, got.diffusivity,
              got.prandtl]
    np.testing.assert_allclose(values, expected, rtol=1e-3, atol=0)


def test_air_near_ashrae_handbook_rounding():
    # ASHRAE Fundamentals, dry air at 20 °C, from memory: 1.204 kg/m³, 1.006 kJ/(kg K), 0.0257-0.0259 W/(m K)
    air = air_properties(20.0 + CELSIUS)
    np.testing.assert_allclose(air.density, 1.204, rtol=1e-3, atol=0)
    np.testing.assert_allclose(air.specific_heat, 1006.0, rtol=1e-3, atol=0)
    np.testing.assert_allclose(air.conductivity, 0.0258, rtol=5e-3, atol=0)


@pytest.mark.parametrize("glycol", [0.0, 0.05, 0.083, 0.22, 0.3, 0.377, 0.48, 0.5])
def test_liquid_stays_within_half_a_thousandth_of_coolprop(glycol):
    props = pytest.importorskip("CoolProp.CoolProp")
    name = f"INCOMP::MPG[{glycol}]" if glycol else "Water"
    temperature = np.linspace(0.0, 95.0, 153) + CELSIUS
    got = water_properties(temperature, glycol=glycol)
    pairs = {"D": got.density, "C": got.specific_heat, "L": got.conductivity, "V": got.viscosity}
    for key, values in pairs.items():
        expected = props.PropsSI(key, "T", temperature, "P", 2e5, name)
        np.testing.assert_allclose(values, expected, rtol=5e-4, atol=0, err_msg=key)


def test_air_stays_within_half_a_thousandth_of_coolprop():
    props = pytest.importorskip("CoolProp.CoolProp")
    temperature = np.linspace(-40.0, 120.0, 321) + CELSIUS
    got = air_properties(temperature)
    pairs = {"D": got.density, "C": got.specific_heat, "L": got.conductivity,
             "V": got.kinematic_viscosity * got.density}
    for key, values in pairs.items():
        expected = props.PropsSI(key, "T", temperature, "P", 101325.0, "Air")
        np.testing.assert_allclose(values, expected, rtol=5e-4, atol=0, err_msg=key)


def test_a_trace_of_glycol_changes_nothing():
    temperature = np.linspace(0.0, 95.0, 20) + CELSIUS
    pure, trace = water_properties(temperature), water_properties(temperature, glycol=1e-9)
    np.testing.assert_allclose(trace.viscosity, pure.viscosity, rtol=1e-7, atol=0)
    np.testing.assert_allclose(trace.conductivity, pure.conductivity, rtol=1e-7, atol=0)


def test_shape_follows_the_temperature():
    assert water_properties(np.full((2, 3), 310.0)).viscosity.shape == (2, 3)
    assert air_properties(np.full((2, 3), 310.0)).prandtl.shape == (2, 3)
    assert np.ndim(water_properties(310.0).density) == 0


def test_curves_have_no_kink_at_the_table_points():
    # 25 °C is a point of the table: slopes just left and right of it agree
    step = 1e-3
    left, here, right = water_properties(298.15 + np.array([-step, 0.0, step])).viscosity
    np.testing.assert_allclose(right - here, here - left, rtol=1e-3, atol=0)


@pytest.mark.parametrize("celsius", [-0.1, 95.1, np.nan])
def test_water_outside_the_table_raises(celsius):
    with pytest.raises(ValueError, match="0 and 95 °C"):
        water_properties(celsius + CELSIUS)


@pytest.mark.parametrize("celsius", [-40.1, 120.1])
def test_air_outside_the_table_raises(celsius):
    with pytest.raises(ValueError, match="-40 and 120 °C"):
        air_properties(np.array([20.0, celsius]) + CELSIUS)


@pytest.mark.parametrize("glycol", [-0.01, 0.51, np.nan])
def test_glycol_outside_the_table_raises(glycol):
    with pytest.raises(ValueError, match="glycol"):
        water_properties(310.0, glycol=glycol)


def test_prints_as_a_tree():
    assert "Prandtl" in str(water_properties(310.0, glycol=0.3))
    assert str(air_properties(np.array([280.0, 310.0]))).count(" to ") == 6

"""Water in circuits: heads against textbooks and computed rows, an exponential circuit by hand, flags, bad designs."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.case.fluids import Fluid, water_properties
from sim.house.circuit_flow import HEAD, Operation, Pipe, head_loss, run_circuit, valve_loss
from sim.house.circuits import Circuit, CircuitBay, CircuitError

CELSIUS, INCH, FOOT, GPM, PSI = 273.15, 0.0254, 0.3048, 3.785411784e-3 / 60.0, 6894.757
few = settings(max_examples=40, deadline=None)


def plain_tube(length):
    return Circuit("C", (CircuitBay("b", length, 0.0),))


def bare(diameter):
    return Pipe(diameter, bay_loss=0.0, end_loss=0.0)


# Bore [in], gpm, psi per 100 ft, not published but computed apart: Darcy and Colebrook, water at 60 °F, roughness
# 1.5 µm, SDR-9 tube (ASTM F876 bores).
FRICTION = [
    (0.360, 1.0, 7.402), (0.360, 2.0, 24.81), (0.360, 3.0, 50.71), (0.360, 4.0, 84.5),
    (0.485, 1.0, 1.807), (0.485, 2.0, 6.005), (0.485, 3.0, 12.22), (0.485, 4.0, 20.28), (0.485, 5.0, 30.11),
    (0.475, 1.0, 1.993), (0.475, 2.0, 6.629), (0.475, 3.0, 13.49), (0.475, 4.0, 22.41), (0.475, 5.0, 33.27),
    (0.584, 1.0, 0.752), (0.584, 2.0, 2.486), (0.584, 3.0, 5.043), (0.584, 4.0, 8.357), (0.584, 5.0, 12.39),
    (0.681, 1.0, 0.364), (0.681, 2.0, 1.200), (0.681, 3.0, 2.429), (0.681, 4.0, 4.019), (0.681, 5.0, 5.949),
]


@pytest.mark.parametrize(("bore", "gallons", "psi"), FRICTION)
def test_head_of_100_feet(bore, gallons, psi):
    water = water_properties((60.0 - 32.0) / 1.8 + CELSIUS)
    got = head_loss(plain_tube(100.0 * FOOT), gallons * GPM * water.density, water, bare(bore * INCH))
    np.testing.assert_allclose(got / PSI, psi, rtol=0.03, atol=0.0)


def test_turbulent_drop_of_a_textbook():
    # Cengel and Cimbala, Fluid Mechanics, example 8-4 (from memory): water at 60 °F, 0.2 ft³/s in 200 ft of 2 in
    # stainless steel pipe, roughness 0.000007 ft: 1700 lbf/ft² or 27.3 ft of head
    water = water_properties((60.0 - 32.0) / 1.8 + CELSIUS)
    pipe = Pipe(2.0 * INCH, roughness=7e-6 * FOOT, bay_loss=0.0, end_loss=0.0)
    got = head_loss(plain_tube(200.0 * FOOT), 0.2 * FOOT**3 * water.density, water, pipe)
    np.testing.assert_allclose(got, 1700.0 * PSI / 144.0, rtol=0.03, atol=0.0)
    np.testing.assert_allclose(got / (water.density * 9.80665) / FOOT, 27.3, rtol=0.03, atol=0.0)


# Bore [in], gpm, psi per 100 ft of cold water as printed in a technical sheet for such tube (public record). The sheet
# follows Hazen-Williams with C = 150, which is known to lie below Colebrook in small bores: up to 15 % is expected.
@pytest.mark.parametrize(
    ("bore", "gallons", "psi"),
    [(0.360, 1.0, 7.50), (0.360, 2.0, 26.1), (0.360, 3.0, 54.1), (0.485, 2.0, 5.30), (0.485, 3.0, 11.0),
     (0.485, 4.0, 18.4), (0.485, 5.0, 27.4), (0.584, 5.0, 11.0), (0.681, 5.0, 5.26)],
)
def test_a_printed_table_departs_as_its_formula_does(bore, gallons, psi):
    water = water_properties((60.0 - 32.0) / 1.8 + CELSIUS)
    got = head_loss(plain_tube(100.0 * FOOT), gallons * GPM * water.density, water, bare(bore * INCH)) / PSI
    np.testing.assert_allclose(got, psi, rtol=0.15, atol=0.0)


# l/min, glycol, Pa/m in 12.3 mm bore at 45 °C: Darcy and Colebrook, or 64/Re; rows outside the transition
@pytest.mark.parametrize(
    ("litres", "glycol", "gradient"),
    [(0.5, 0.0, 8.84), (1.5, 0.0, 69.8), (2.0, 0.0, 114.4), (3.0, 0.0, 230.4), (0.5, 0.3, 20.5), (1.0, 0.3, 41.1),
     (1.5, 0.3, 61.6)],
)
def test_gradient_of_water_and_glycol(litres, glycol, gradient):
    fluid = water_properties(45.0 + CELSIUS, glycol)
    got = head_loss(plain_tube(50.0), litres / 6e4 * fluid.density, fluid, bare(0.0123)) / 50.0
    np.testing.assert_allclose(got, gradient, rtol=0.03, atol=0.0)


# Hand calculation, not published: feet of head per 300 ft of 12.3 mm bore, water at 45 °C
@pytest.mark.parametrize(("gallons", "feet"), [(0.5, 3.2), (0.6, 4.4), (0.8, 7.3), (1.0, 10.8)])
def test_head_of_300_feet_by_hand(gallons, feet):
    water = water_properties(45.0 + CELSIUS)
    got = head_loss(plain_tube(300.0 * FOOT), gallons * GPM * water.density, water, bare(0.0123))
    # the feet have two digits
    np.testing.assert_allclose(got / 1e3 * HEAD.factor, feet, rtol=0.03, atol=0.05)


def test_laminar_drop_of_a_textbook():
    # Cengel, example 8-2: water at 5 °C in 10 m of 3 mm at 0.9 m/s: 48.608 kPa (recomputed)
    fluid = Fluid(999.9, 4205.0, 0.571, 1.519e-3)
    flow = 999.9 * 0.9 * math.pi * 0.003**2 / 4.0
    np.testing.assert_allclose(head_loss(plain_tube(10.0), flow, fluid, bare(0.003)), 48608.0, rtol=1e-4, atol=0.0)


def test_fittings_add_their_dynamic_heads():
    fluid, pipe = Fluid(1000.0, 4186.0, 0.6, 1e-3), Pipe(0.01, bay_loss=0.5, end_loss=1.5)
    circuit = Circuit("C", tuple(CircuitBay(name, 5.0, 9.0) for name in "abc"))
    flow = 1000.0 * 0.5 * math.pi * 0.01**2 / 4.0
    without = head_loss(circuit, flow, fluid, bare(0.01))
    # (1.5 + 3 × 0.5) × 1000 × 0.5²/2 = 375 Pa
    np.testing.assert_allclose(head_loss(circuit, flow, fluid, pipe) - without, 375.0, rtol=1e-9, atol=0.0)


def test_valve_by_its_definition():
    # IEC 60534: Kv 2 passes 2 m³/h of water at 1 bar, so 1 m³/h loses 0.25 bar
    fluid = Fluid(1000.0, 4186.0, 0.6, 1e-3)
    np.testing.assert_allclose(valve_loss(1000.0 / 3600.0, fluid, 2.0), 0.25e5, rtol=1e-12, atol=0.0)
    pipe = Pipe(0.01, valve=2.0)
    gained = head_loss(plain_tube(9.0), 0.03, fluid, pipe) - head_loss(plain_tube(9.0), 0.03, fluid, Pipe(0.01))
    np.testing.assert_allclose(gained, (0.03 * 3.6 / 2.0) ** 2 * 1e5, rtol=1e-9, atol=0.0)


def test_exponential_circuit_by_hand():
    # Three bays of 20 m; 10 W/m at 25 K give U′ = 0.4 W/mK, 8 W/K a bay. Surroundings 20 °C, supply 50 °C, return
    # 44 °C wanted: ṁc = 24 / ln(30/24) = 107.554 W/K. Every bay takes the factor e^(−8/107.554) = 0.928318.
    circuit = Circuit("C", tuple(CircuitBay(name, 20.0, 10.0) for name in "abc"))
    flow = run_circuit(circuit, Operation(50.0 + CELSIUS, 20.0 + CELSIUS, excess=25.0, drop=6.0))
    leaving = [bay.leaving - CELSIUS for bay in flow.bays]
    np.testing.assert_allclose(leaving, [47.84953, 45.85322, 44.0], rtol=0.0, atol=2e-4)
    # heat of a bay: 107.554 × its fall
    np.testing.assert_allclose([bay.heat for bay in flow.bays], [231.29, 214.71, 199.32], rtol=2e-4, atol=0.0)
    # the last bay: one factor for each bay before it, squared: 0.861774
    np.testing.assert_allclose(flow.end_share, 0.861774, rtol=1e-4, atol=0.0)
    # water at 47 °C: 4180 J/kgK (IAPWS-95, between its 4179.2 at 40 and 4181.1 at 50 °C)
    np.testing.assert_allclose(flow.mass_flow, 107.554 / 4180.3, rtol=5e-4, atol=0.0)
    # mean water: 20 + 231.29/8 = 48.91 °C in the first bay, 20 + 199.32/8 = 44.92 °C in the last, 4.00 K cooler
    told = flow.notes()[0]
    assert all(part in told for part in ("last bay c", " 44.9 °C ", " 4.0 K cooler", "14 % less")), told


def test_heat_is_flow_times_fall():
    circuit = Circuit("C", (CircuitBay("a", 20.0, 10.0), CircuitBay("b", 15.0, 0.0), CircuitBay("c", 5.0, 14.0)))
    flow = run_circuit(circuit, Operation(318.15, 293.15, excess=22.0, flow=0.03, glycol=0.25))
    carried = flow.mass_flow * flow.fluid.specific_heat * flow.drop
    np.testing.assert_allclose(flow.heat, carried, rtol=1e-9, atol=0.0)
    assert flow.bays[1].heat == 0.0


@few
@given(st.lists(st.floats(3.0, 20.0), min_size=1, max_size=9), st.floats(1.0, 12.0), st.floats(0.0, 0.5))
def test_drop_and_flow_are_two_sides_of_one_thing(lengths, drop, glycol):
    circuit = Circuit("C", tuple(CircuitBay(str(i), length, 12.0) for i, length in enumerate(lengths)))
    by_drop = run_circuit(circuit, Operation(323.15, 293.15, excess=25.0, drop=drop, glycol=glycol))
    np.testing.assert_allclose(by_drop.drop, drop, rtol=1e-9, atol=0.0)
    by_flow = run_circuit(circuit, Operation(323.15, 293.15, excess=25.0, flow=by_drop.mass_flow, glycol=glycol))
    np.testing.assert_allclose(by_flow.drop, drop, rtol=1e-5, atol=0.0)
    assert all(first.mean > last.mean for first, last in zip(by_flow.bays, by_flow.bays[1:], strict=False))


# Invented demo house, hand calculation: circuit lengths, heats and flows for a drop of 5.6 K, and heads of bare tube
@pytest.mark.parametrize(
    ("metres", "watts", "litres", "kilopascal"),
    [(69.0, 690.0, 1.8, 6.6), (73.0, 810.0, 2.1, 9.1), (67.0, 640.0, 1.65, 5.7), (55.0, 480.0, 1.25, 2.7)],
)
def test_circuits_of_the_demo_house_by_hand(metres, watts, litres, kilopascal):
    circuit = Circuit("C", (CircuitBay("b", metres, watts / metres),))
    around = 20.0 + CELSIUS
    excess = 5.6 / math.log(30.0 / 24.4)
    flow = run_circuit(circuit, Operation(50.0 + CELSIUS, around, excess, drop=5.6), bare(0.0123))
    np.testing.assert_allclose(flow.heat, watts, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(flow.volume_flow * 6e4, litres, rtol=0.04, atol=0.0)
    # the hand sum takes flow as turbulent; so does the program, from Re 2300 on
    np.testing.assert_allclose(flow.head / 1e3, kilopascal, rtol=0.08, atol=0.0)


@pytest.mark.parametrize(("litres", "flag"), [(4.27, True), (4.30, False)])
def test_air_is_flagged_below_0_6_metres_a_second(litres, flag):
    # 0.6 m/s in 12.319 mm is 7.1515e-5 m³/s, 4.2909 l/min
    water = water_properties(323.15)
    circuit = Circuit("C", (CircuitBay("b", 20.0, 1.0),))
    flow = run_circuit(circuit, Operation(323.15, 293.15, 25.0, flow=litres / 6e4 * water.density))
    assert flow.purges_itself is not flag
    assert any("air is not carried" in note for note in flow.notes()) is flag


@pytest.mark.parametrize(("litres", "words"), [(0.5, "laminar flow"), (1.0, "on the safe side"), (2.0, None)])
def test_regime_is_said(litres, words):
    water = water_properties(318.15)
    flow = run_circuit(plain_tube(50.0), Operation(318.15, 293.15, 25.0, flow=litres / 6e4 * water.density))
    found = [note for note in flow.notes() if "Reynolds" in note]
    assert found[0].count(words) == 1 if words else not found


def test_notes_in_inch_pound_units():
    circuit = Circuit("C", tuple(CircuitBay(name, 20.0, 10.0) for name in "ab"))
    notes = " ".join(run_circuit(circuit, Operation(323.15, 293.15, 25.0, drop=5.0)).notes("ip"))
    assert "°F" in notes and "ft/s" in notes and "°C" not in notes


WRONG = {
    "either drop or flow": lambda: Operation(323.15, 293.15, 25.0),
    "return cooler than its surroundings": lambda: Operation(303.15, 293.15, 9.0, drop=10.0),
    "greater than 0": lambda: Operation(323.15, 293.15, 25.0, flow=-0.1),
    "gives no heat": lambda: run_circuit(plain_tube(20.0), Operation(323.15, 293.15, 25.0, drop=5.0)),
}


@pytest.mark.parametrize("words", WRONG)
def test_bad_designs_are_named(words):
    with pytest.raises(CircuitError, match=words):
        WRONG[words]()

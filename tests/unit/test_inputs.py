"""Inputs of a study: what can be typed, how values are spread, what is refused."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.case.value import quantity_of, shown_key, shown_value, value_of
from sim.study.inputs import Input, InputError, parse_input, parse_inputs

CASE = parse_case("""
[plates]
position = "fastened"
emissivity_up = 0.1
[[floor.covering]]
material = "oak"
thickness = "19 mm"
[floor.sheathing]
conductivity = ["0.12 W/(m*K)", "0.13 W/(m*K)", "0.14 W/(m*K)"]
[cavity.insulation]
material = "glass wool batt"
thickness = "90 mm"
[water]
supply = "50 degC"
[room]
temperature = "20 degC"
""")


@pytest.mark.parametrize(("text", "low", "high", "spread"), [
    ("plates.contact=0.002..0.04 m^2*K/W", 0.002, 0.04, "uniform"),
    ("plates.contact = 0.002 m^2*K/W .. 0.04 m^2*K/W", 0.002, 0.04, "uniform"),
    ("plates.contact=tight..poor log", 0.0037, 0.037, "log"),
    ("air.film_factor=0.5..2 log", 0.5, 2.0, "log"),
    ("plates.width=4..5 1/2 in", 0.1016, 0.1397, "uniform"),
    ("plates.width=80 mm..5 1/2 in", 0.08, 0.1397, "uniform"),
    ("water.supply=40..60 degC uniform", 313.15, 333.15, "uniform"),
    ("floor.covering[0].conductivity=1e-1..0.2 W/mK", 0.1, 0.2, "uniform"),
    ("plates.emissivity_up=3 %..20 %", 0.03, 0.2, "uniform"),
])  # fmt: skip
def test_what_can_be_typed(text, low, high, spread):
    found = parse_input(CASE, text)
    assert_allclose([found.low, found.high], [low, high], rtol=1e-12, atol=0.0)
    assert found.spread == spread and found.peak is None


def test_r_values_stand_alone():
    # R-1 is 0.17611 m²K/W (from the exact Btu, foot and degree).
    found = parse_input(CASE, "cavity.insulation.thermal_resistance=R-11..R-15")
    assert_allclose([found.low, found.high], [11 * 0.176110, 15 * 0.176110], rtol=1e-5, atol=0.0)


def test_a_triangle_has_its_peak_where_it_is_put_or_at_the_case():
    assert parse_input(CASE, "plates.emissivity_up=0.03..0.05..0.2").peak == 0.05
    found = parse_input(CASE, "plates.emissivity_up=0.03..0.2 triangular")
    assert found.peak == 0.1 and found.spread == "triangular"
    assert "peak" in str(found)


@pytest.mark.parametrize(("text", "rule"), [
    ("plates.contact", "write KEY=LOW"),
    ("plates.contact=0.002", "write KEY=LOW"),
    ("plates.contact=..0.04 m^2*K/W", "write KEY=LOW"),
    ("plates.emissivity_up=0.1..0.2..0.3..0.4", "write KEY=LOW"),
    ("plates.emissivity_up=0.3..0.1", "first value must be below"),
    ("plates.emissivity_up=0..0.5 log", "starts above 0"),
    ("plates.emissivity_up=0.1..0.2..0.3 log", "only a triangular"),
    ("plates.emissivity_up=0.3..0.5 triangular", "must lie between"),
    ("tube.runs=1..2", "does not hold one number"),
    ("floor.sheathing.conductivity=0.1..0.2 W/mK", "differs by direction"),
])  # fmt: skip
def test_what_cannot_be_studied_is_said(text, rule):
    with pytest.raises(InputError, match=rule):
        parse_input(CASE, text)


@pytest.mark.parametrize(("text", "rule"), [
    ("plates.emisivity_up=0.1..0.2", "did you mean"),
    ("floor.covering[3].conductivity=0.1..0.2 W/mK", "no floor.covering"),
    ("ceiling.conductivity=0.1..0.2 W/mK", "no ceiling"),
    ("plates.contact=0.002..0.04", "unit is missing"),
    ("plates.contact=0.002..0.04 kg", "not the unit of a thermal resistance"),
    ("air.film_factor=0.1..1", "at least 0.2"),
])  # fmt: skip
def test_the_case_guards_its_own_keys_units_and_ranges(text, rule):
    with pytest.raises(CaseError, match=rule):
        parse_input(CASE, text)


def test_a_study_needs_inputs_and_each_once():
    with pytest.raises(InputError, match="at least one"):
        parse_inputs(CASE, [])
    with pytest.raises(InputError, match="named twice"):
        parse_inputs(CASE, ["plates.emissivity_up=0.1..0.2", "plates.emissivity_up=0.1..0.3"])


def test_spreads_at_known_shares():
    shares = [0.0, 0.125, 0.5, 1.0]
    uniform = Input("k", 2.0, 10.0, "length")
    assert_allclose(uniform.values(shares), [2.0, 3.0, 6.0, 10.0], rtol=1e-12, atol=0.0)
    # Uniform logarithm: the middle is the geometric mean.
    log = Input("k", 1.0, 16.0, "length", "log")
    assert_allclose(log.values(shares), [1.0, 2**0.5, 4.0, 16.0], rtol=1e-12, atol=0.0)
    # Triangle on 0..2 with its peak at 1: F(x) = x²/2 below the peak, so F(0.5) = 0.125.
    triangle = Input("k", 0.0, 2.0, "length", "triangular", 1.0)
    assert_allclose(triangle.values(shares), [0.0, 0.5, 1.0, 2.0], rtol=1e-12, atol=1e-12)
    # Peak at the low end: F(x) = 1 − (1 − x/2)², so the median is 2 (1 − √0.5).
    corner = Input("k", 0.0, 2.0, "length", "triangular", 0.0)
    assert_allclose(corner.values([0.5]), [2 * (1 - np.sqrt(0.5))], rtol=1e-12, atol=0.0)


def test_values_are_shown_in_the_unit_of_the_key():
    found = parse_input(CASE, "plates.width=100..150 mm")
    assert shown_key(CASE, found.key) == "plates.width [mm]"
    assert_allclose(found.shown(found.low), 100.0, rtol=1e-12, atol=0.0)
    assert found.written(0.127, "IP") == "5 in"


def test_a_conductivity_counts_as_one_number_where_it_is_one():
    key = "floor.covering[0].conductivity"
    assert quantity_of(CASE, key).dimension == "conductivity"
    assert shown_key(CASE, key) == f"{key} [W/(m·K)]"
    assert float(shown_value(CASE, key)) == value_of(CASE, key)
    assert value_of(CASE, "floor.covering[7].conductivity") is None and value_of(CASE, "cavity.air_gap") is None

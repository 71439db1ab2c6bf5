"""Units in case files: conversions against their definitions, round trips, refusals."""

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sim.case import notation
from sim.case.quantities import DIMENSIONS, UnitError, convert, format_si, format_value, parse, parse_flow
from sim.case.unit_sizes import size_of

# Factors of NIST SP 811 (2008), appendix B.8; R, tog and alloy-free rest follow from exact definitions:
# 1 in = 0.0254 m, 1 lb = 0.45359237 kg, 1 Btu(IT) = 1055.05585262 J, 1 US gal = 231 in3.
DEFINED = [
    ("19 mm", "length", 0.019),
    ("3/4 in", "length", 0.01905),
    ("11 7/8 in", "length", 0.301625),
    ("11-7/8 in", "length", 0.301625),
    ("1 ft", "length", 0.3048),
    ("-2.5e-1 cm", "length", -0.0025),
    ("120 degF", "temperature", 322.0388888888889),
    ("45 degC", "temperature", 318.15),
    ("68 °F", "temperature", 293.15),
    ("20 C", "temperature", 293.15),
    ("300 K", "temperature", 300.0),
    ("10 degF", "temperature difference", 5.555555555555556),
    ("5.5 K", "temperature difference", 5.5),
    ("5 degC", "temperature difference", 5.0),
    ("0.12 W/(m*K)", "conductivity", 0.12),
    ("0.12 W/mK", "conductivity", 0.12),
    ("1 Btu*in/(h*ft^2*degF)", "conductivity", 0.1442279),
    ("1 Btu/(h*ft*degF)", "conductivity", 1.730735),
    ("R-1", "thermal resistance", 0.1761102),
    ("R-13", "thermal resistance", 2.289432),
    ("r 13", "thermal resistance", 2.289432),
    ("RSI-2.3", "thermal resistance", 2.3),
    ("2.3 m^2*K/W", "thermal resistance", 2.3),
    ("2.3 m²·K/W", "thermal resistance", 2.3),
    ("2.3 m2K/W", "thermal resistance", 2.3),
    ("2.5 tog", "thermal resistance", 0.25),
    ("1 h*ft^2*degF/Btu", "thermal resistance", 0.1761102),
    ("1 Btu/(h*ft^2*degF)", "film coefficient", 5.678263),
    ("60 W/m^2", "heat flux", 60.0),
    ("1 Btu/(h*ft^2)", "heat flux", 3.154591),
    ("20 Btu/h/ft^2", "heat flux", 63.09181),
    ("0.05 m*K/W", "tube resistance", 0.05),
    ("1 lb/ft^3", "density", 16.01846),
    ("1 Btu/(lb*degF)", "specific heat", 4186.8),
    ("0.03 kg/s", "flow", 0.03),
    ("85 %", "fraction", 0.85),
    ("0.85", "fraction", 0.85),
]


@pytest.mark.parametrize(("text", "dimension", "value"), DEFINED)
def test_conversion_agrees_with_definition(text, dimension, value):
    assert_allclose(parse(text, dimension), value, rtol=4e-7, atol=0.0)


def test_lengths_are_free_of_conversion_noise():
    assert parse("3/4 in", "length") == 0.01905
    assert parse("1 ft", "length") == 0.3048


def test_volume_flows():
    # NIST SP 811: 1 gal(US)/min = 6.309020e-5 m3/s.
    value, kind = parse_flow("0.5 gpm")
    assert kind == "volume"
    assert_allclose(value, 3.154510e-5, rtol=1e-6, atol=0.0)
    assert_allclose(parse_flow("1.5 l/min")[0], 2.5e-5, rtol=1e-14, atol=0.0)
    assert parse_flow("0.02 kg/s") == (0.02, "mass")


REFUSED = [
    ("19", "length", "unit is missing"),
    ("19 degC", "length", "not the unit of a length"),
    ("19 furlogs", "length", "is not known"),
    ("mm", "length", "no number"),
    ("", "length", "no number"),
    ("1/0 in", "length", "no number"),
    ("1e999 mm", "length", "too large"),
    ("12 mm)", "length", "is not known"),
    ("4 mm 5", "length", "is not known"),
    ("10 delta_degC", "temperature", "not the unit of a temperature"),
    ("2 W*m/K", "conductivity", "not the unit of a thermal conductivity"),
    ("13", "thermal resistance", "unit is missing"),
    ("3 mm", "fraction", "does not belong"),
    ("3 mm", "flow", "not the unit of a flow"),
    ("1.5 l/min", "flow", "mass flow"),
]


@pytest.mark.parametrize(("text", "dimension", "words"), REFUSED)
def test_refusals_say_what_is_wanted(text, dimension, words):
    with pytest.raises(UnitError) as caught:
        parse(text, dimension)
    assert words in caught.value.rule
    assert caught.value.way_out


FINITE = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


@given(value=FINITE, dimension=st.sampled_from(sorted(DIMENSIONS)))
def test_written_si_reads_back_to_the_same_float(value, dimension):
    assert parse(format_si(value, dimension), dimension) == value


@settings(max_examples=200, deadline=None)
@given(
    value=st.floats(min_value=1e-3, max_value=1e4),
    pair=st.sampled_from(
        [
            (name, system)
            for name in sorted(DIMENSIONS)
            for system in ("SI", "IP")
            if convert(1.0, name, system)[1] not in ("", "R")
        ]
    ),
)
def test_display_units_convert_back(value, pair):
    """Our own display factors against the unit library: both from the definitions, but by different ways."""
    number, unit = convert(value, *pair)
    assert_allclose(parse(f"{number!r} {unit}", pair[0]), value, rtol=1e-12, atol=1e-10)


def test_a_difference_has_no_offset():
    # The classic slip: 10 degF of difference is 5.56 K, not -12.2 degC.
    assert_allclose(parse("18 degF", "temperature difference"), 10.0, rtol=1e-14, atol=0.0)
    assert format_value(10.0, "temperature difference", "IP") == "18 °F"
    assert format_value(293.15, "temperature") == "20 °C (68 °F)"


def test_values_for_people():
    assert format_value(0.01905, "length") == "19.05 mm (0.75 in)"
    assert format_value(4.2672, "length", "IP") == "14 ft"
    assert format_value(parse("0 degF", "temperature"), "temperature", "IP") == "0 °F"
    assert format_value(parse("R-19", "thermal resistance"), "thermal resistance", "IP") == "R-19"


DEFINITIONS = (
    "Btu = 1055.05585262 * joule", "tog = 0.1 * kelvin * meter ** 2 / watt", "gpm = gallon / minute",
    "lpm = liter / minute", "cfm = foot ** 3 / minute", "Btuh = Btu / hour", "MBH = 1000 * Btu / hour",
    "psf = pound * standard_gravity / foot ** 2",
)  # fmt: skip


@pytest.fixture(scope="module")
def library():
    """A unit library that knows the words of the trade; its mil is one of angle, so that one is left out."""
    registry = pytest.importorskip("pint").UnitRegistry(on_redefinition="ignore")
    for definition in DEFINITIONS:
        registry.define(definition)
    return registry


@pytest.mark.parametrize("name", sorted({*notation._EXACT.values(), *notation._ANY_CASE.values()} - {"mil"}))
def test_every_unit_has_the_size_that_a_unit_library_gives_it(name, library):
    own, other = size_of(name), library.Quantity(1.0, name).to_base_units()
    assert_allclose(own.size + own.zero, other.magnitude, rtol=1e-14, atol=0.0)
    names = ("[length]", "[mass]", "[time]", "[temperature]")
    assert own.powers == tuple(int(other.dimensionality.get(each, 0)) for each in names)


def test_a_film_may_be_given_in_mils():
    assert parse("6 mil", "length") == 0.0001524  # by hand: 6 · 25.4 µm


def test_no_unit_library_is_loaded_for_a_case():
    code = "import sys, sim; sim.load_case('cases/demo/family-oak.toml'); assert 'pint' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_times_are_told_in_what_is_read_most_easily():
    told = [format_value(seconds, "time") for seconds in (36_000.0, 3600.0, 600.0, 30.0)]
    assert told == ["10 h", "1 h", "10 min", "30 s"]

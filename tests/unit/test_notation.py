"""Notations of numbers, lengths and units: what people write is read, and nothing else reaches the unit library."""

import math
import time

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.case.quantities import DIMENSIONS, UnitError, parse, parse_flow

INCH = 0.0254  # exact, 1959 agreement
BTU_PER_HOUR = 1055.05585262 / 3600.0  # W; ISO 31-4

LENGTHS = [
    ('16"', 16),
    ("14'", 168),
    ("14'-6\"", 174),
    ("14' 6\"", 174),
    ("14'6\"", 174),
    ("14'-6 1/2\"", 174.5),
    ("14 ft 6 in", 174),
    ("14 ft. 6 in.", 174),
    ("14 feet 6 inches", 174),
    ("14 Ft - 6 In", 174),
    ("0'-3/4\"", 0.75),
    ("14′-6″", 174),
    ("14’-6”", 174),
    ('3/4"', 0.75),
    ("3/4 in", 0.75),
    ("1 1/2 in", 1.5),
    ('1-1/2"', 1.5),
    ("1½ in", 1.5),
    ('¾"', 0.75),
    ("1.5 IN.", 1.5),
    ("16 in o.c.", 16),
    ('16" O.C.', 16),
    ("16 inches on center", 16),
    ("-1'-6\"", -18),
    ("2 ft", 24),
    ("10''", 10),
    ("1 yd", 36),
]


@pytest.mark.parametrize(("text", "inches"), LENGTHS)
def test_lengths_as_a_north_american_carpenter_writes_them(text, inches):
    assert_allclose(parse(text, "length"), inches * INCH, rtol=1e-14, atol=0.0)


def test_inches_beside_feet_are_fewer_than_twelve():
    with pytest.raises(UnitError, match="twelve inches or more beside feet"):
        parse("5 ft 14 in", "length")


UNITS = [
    ("1 Btu/hr-ft2-F", "film coefficient", BTU_PER_HOUR / (12 * INCH) ** 2 * 1.8),
    ("1 BTU/(hr·ft²·°F)", "film coefficient", BTU_PER_HOUR / (12 * INCH) ** 2 * 1.8),
    ("1 Btu/h ft^2", "heat flux", BTU_PER_HOUR / (12 * INCH) ** 2),
    ("25 BTU/hr/sq ft", "heat flux", 25 * BTU_PER_HOUR / (12 * INCH) ** 2),
    ("1 Btu-in/hr-ft2-F", "conductivity", BTU_PER_HOUR * INCH / (12 * INCH) ** 2 * 1.8),
    ("0.8 Btu*in/(h*ft^2*degF)", "conductivity", 0.8 * BTU_PER_HOUR * INCH / (12 * INCH) ** 2 * 1.8),
    ("0.12 W m^-1 K^-1", "conductivity", 0.12),
    ("0.12 W·m⁻¹·K⁻¹", "conductivity", 0.12),
    ("0.12 W/m K", "conductivity", 0.12),
    ("8 W/m²K", "film coefficient", 8.0),
    ("1 h·ft²·°F/Btu", "thermal resistance", (12 * INCH) ** 2 / 1.8 / BTU_PER_HOUR),
    ("5 MBH", "heat flow", 5000 * BTU_PER_HOUR),
    ("5000 Btuh", "heat flow", 5000 * BTU_PER_HOUR),
    ("180 sq. ft.", "area", 180 * (12 * INCH) ** 2),
    ("180 sqft", "area", 180 * (12 * INCH) ** 2),
    ("1000 cu ft", "volume", 1000 * (12 * INCH) ** 3),
    ("120 deg F", "temperature", (120 + 459.67) / 1.8),
    ("120 °F", "temperature", (120 + 459.67) / 1.8),
    ("120F", "temperature", (120 + 459.67) / 1.8),
    ("50 degC", "temperature", 323.15),
    ("20 F", "temperature difference", 20 / 1.8),
    ("R-19", "thermal resistance", 19 * (12 * INCH) ** 2 / 1.8 / BTU_PER_HOUR),
    ("2 tog", "thermal resistance", 0.2),
    ("0.05 m*K/W", "tube resistance", 0.05),
    ("52 W/m^2", "heat flux", 52.0),
    ("0.003 1/K", "expansion", 0.003),
    ("15 mm^2/s", "diffusivity", 15e-6),
    ("5 K/day", "rise", 5 / 86400),
    ("2 hrs", "time", 7200.0),
    ("150 kJ/(m^2*K)", "heat capacity of an area", 150e3),
    ("1 psi", "pressure", 0.45359237 * 9.80665 / INCH**2),
    ("30 kPa", "pressure", 30e3),
]


@pytest.mark.parametrize(("text", "dimension", "value"), UNITS)
def test_units_against_their_definitions(text, dimension, value):
    assert_allclose(parse(text, dimension), value, rtol=1e-12, atol=0.0)


@pytest.mark.parametrize("text", ["1 gal/min", "1 gpm", "1 GPM", "1 gallon per minute".replace(" per ", "/")])
def test_a_gallon_a_minute(text):
    assert_allclose(parse_flow(text)[0], 231 * INCH**3 / 60, rtol=1e-12, atol=0.0)


REFUSED = [
    "1 in/0",
    "16 dB m",
    "400 mm!",
    "50 m^9^9^9",
    "50 m**9**9",
    "1 m^99",
    "1 " + "*".join(["m"] * 3000),
    "1 " + "(" * 3000 + "m",
    "1" + "0" * 5000 + " m",
    "9" * 400 + "/7 m",
    "1/0 in",
    "1,5 m",
    "1,200 mm",
    "14'-60\"",
    "14'-6",
    "1 __import__('os')",
    "1 m;m",
    "1 in in",
    "1 boltzmann_constant",
    "1 \x1b[2Jm",
    "nan m",
    "inf m",
    "0x10 m",
    "1 1 m",
    "1 ()",
    "1 m/",
    "1 *m",
    "1 m^0",
    "٣ m",
]


@pytest.mark.parametrize("text", REFUSED, ids=range(len(REFUSED)))
def test_odd_text_is_refused_in_one_short_line(text):
    before = time.perf_counter()
    with pytest.raises(UnitError) as caught:
        parse(text, "length")
    assert time.perf_counter() - before < 2.0  # a second goes into the unit library, once
    line = str(caught.value)
    assert len(line) < 250 and line.isprintable()


WORDS = (
    "1 12 1.5 3/4 -2 1e9 1e300 . / * ^ ** ( ) - ' \" '' v m mm in ft K degC degF °F C F W Btu h hr s gpm l kg % R R- "
    "RSI tog o.c. dB pH e i j nan inf 0 00 ^9 ² ½ ′ , ; ! _ é ℃ × lambda def per sq cu"
)
PIECES = st.sampled_from([*WORDS.split(" "), "\x00", "\x1b[1m", "\n", "\t", " ", "  "])
ODD = st.one_of(
    st.lists(PIECES, max_size=12).map("".join), st.lists(PIECES, max_size=9).map(" ".join), st.text(max_size=40)
)


def reads_or_refuses(text, dimension):
    """A finite number, or one short printable line."""
    try:
        value = parse(text, dimension)
    except UnitError as error:
        assert len(str(error)) < 300 and str(error).isprintable()
        return
    assert isinstance(value, float) and math.isfinite(value)


@settings(max_examples=150, deadline=None)
@given(text=ODD, dimension=st.sampled_from(sorted(DIMENSIONS)))
@example(text="1 degC*m", dimension="temperature difference")
@example(text="1e300 km", dimension="length")
@example(text="1e308 Mm", dimension="length")
def test_any_text_is_a_number_or_refused(text, dimension):
    reads_or_refuses(text, dimension)


@pytest.mark.slow
@settings(max_examples=20_000, deadline=None)
@given(text=ODD, dimension=st.sampled_from(sorted(DIMENSIONS)))
def test_twenty_thousand_texts_are_numbers_or_refused(text, dimension):
    reads_or_refuses(text, dimension)


def test_a_refused_quantity_names_its_key_and_is_not_echoed_at_length():
    with pytest.raises(CaseError) as caught:
        parse_case('[bay]\njoist_spacing = "' + "1 m*" * 2000 + 'm"\n')
    problem = next(p for p in caught.value.problems if p.key == "bay.joist_spacing")
    assert "too long" in problem.rule and len(str(problem)) < 250


def test_keys_tell_what_is_understood(capsys):
    """Every quantity that the text of `joistbay keys units` shows for lengths is read."""
    from sim.cli.main import main

    assert main(["keys", "units"]) == 0
    told = capsys.readouterr().out
    for shown in ("14'-6\"", "14' 6 1/2\"", "14 ft 6 in", "R-19", "Btu/hr-ft2-F"):
        assert shown in told
    assert main(["keys", "plates.bond"]) == 0
    told = capsys.readouterr().out
    assert "for one metre of tube" in told and "emissivity" not in told
    assert main(["keys", "floor"]) == 0
    assert "walked on comes first" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("text", ["1/2", '1/2"', "1/2 in", "1/2 in.", "½", '½" PEX', "1/2 inch PEX"])
def test_tube_sizes_as_they_are_spoken_of(text):
    from sim.case.sizes import known_size

    assert known_size(text) == "1/2"


def test_a_whole_bay_in_the_notation_of_the_trade():
    case = parse_case(BAY)
    inches = (case.bay.joist_spacing, case.bay.joist_width, case.bay.length, case.floor.coverings[0].thickness)
    assert_allclose(inches, [16 * INCH, 1.5 * INCH, 174 * INCH, 0.75 * INCH], rtol=1e-14, atol=0.0)
    assert [layer.material for layer in case.floor.coverings] == ["oak", "vinyl plank"]
    assert_allclose(case.water.drop, 10 / 1.8, rtol=1e-12, atol=0.0)


BAY = """
[bay]
joist_spacing = '16" o.c.'
joist_depth = '9 1/4"'
joist_width = '1-1/2"'
length = '''14'-6"'''
[floor.sheathing]
material = "subfloor"
thickness = '3/4"'
[[floor.covering]]
material = "hardwood"
thickness = "3/4 in."
[[floor.covering]]
material = "LVP"
thickness = "5 mm"
[tube]
size = '1/2"'
[water]
supply = "120 F"
drop = "10 F"
[room]
temperature = "70 °F"
[plates]
length = '8"'
width = "5 In"
spacing = '9"'
"""


def test_a_circuit_shorter_than_the_modelled_tube_is_refused():
    """Two runs along a pitch of 9 in are 18 in of tube; a circuit of 3/4 in is a slip, and its steady state none."""
    assert parse_case(BAY.replace("[room]", 'circuit_length = "18.1 in"\n[room]')).water.circuit_length > 0.4572
    with pytest.raises(CaseError, match="must be at least the tube of the stretch that is modelled"):
        parse_case(BAY.replace("[room]", 'circuit_length = "3/4 in"\n[room]'))

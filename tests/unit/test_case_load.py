"""Case files: what loads, what is refused and how it is said, what survives a round trip."""

from pathlib import Path

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sim.case import BlocksCase, Case, CaseError, load_case, parse_case
from sim.case.quantities import R_VALUE_IP
from sim.case.weather import read_weather
from sim.cli.errors import modelled, solved
from sim.resolved.calibration_file import read_calibration

CASES = Path(__file__).parents[2] / "cases"
SHIPPED = sorted(CASES.rglob("*.toml"))
SHIPPED = [path for path in SHIPPED if not path.name.startswith("expected")]
SHIPPED = [path for path in SHIPPED if path.name not in ("lesson.toml", "layer.toml")]  # lessons have tests
SHIPPED = [path for path in SHIPPED if "[[room]]" not in path.read_text("utf-8")]  # houses have a reader of their own
MINIMAL = '[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n'
OAK = (CASES / "demo" / "family-oak.toml").read_text("utf-8")


def problems(text):
    """The problems of a text that must be refused, by key."""
    with pytest.raises(CaseError) as caught:
        parse_case(text, "plain_bay")
    message = str(caught.value)
    assert message.startswith("plain_bay\n") and message.endswith("Nothing was run.")
    assert len(message.splitlines()) == len(caught.value.problems) + 2
    return {problem.key: str(problem) for problem in caught.value.problems}


def changed(old, new):
    assert OAK.count(old) >= 1
    return OAK.replace(old, new, 1)


# ---- what loads


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_case_loads_and_survives_a_round_trip(path):
    case = load_case(path)
    again = parse_case(tomli_w.dumps(case.resolved()), case.name, case.path)
    assert again == case
    assert case.name == (path.parent.name if path.name == "case.toml" else path.stem)
    assert str(case).startswith(f"Case {case.name}")


def test_demos_and_arrangements_are_complete():
    assert len(list((CASES / "demo").glob("*.toml"))) >= 4
    assert len(list((CASES / "arrangements").glob("*.toml"))) == 6
    index = (CASES / "README.md").read_text("utf-8")
    assert all(f"{folder}/{path.name}" in index for folder in ("demo", "arrangements")
               for path in (CASES / folder).glob("*.toml"))  # fmt: skip


def test_two_keys_are_enough():
    case = parse_case(MINIMAL)
    assert isinstance(case, Case)
    assert case.plates is None and case.water.drop == 5.5 and case.water.flow is None
    assert case.floor.sheathing.solid.conductivity == (0.12, 0.12, 0.12)
    assert case.below.temperature == case.room.temperature
    assert_allclose(case.below.film, 1 / 0.17, rtol=1e-12, atol=0.0)  # ISO 6946, Rsi for heat flow down


def test_half_inch_tube_is_sdr9():
    # ASTM F876 (from memory): 1/2 nominal is 0.625 in outside with a 0.070 in wall.
    tube = parse_case(MINIMAL).tube
    assert_allclose(tube.outer_diameter, 0.015875, rtol=1e-12, atol=0.0)
    assert_allclose(tube.inner_diameter, 0.012319, rtol=1e-12, atol=0.0)


def test_runs_are_spread_over_the_clear_width():
    # By hand: 16 in centres, 1.5 in joists, two runs at 0.75 + 14.5/4 and 0.75 + 3*14.5/4 in.
    case = parse_case(MINIMAL)
    assert_allclose(case.tube.positions, [4.375 * 0.0254, 11.625 * 0.0254], rtol=1e-12, atol=0.0)


def test_labelled_batt_keeps_its_resistance():
    case = parse_case(OAK)
    batt = case.cavity.insulation
    assert_allclose(batt.thickness / batt.solid.conductivity[2], 19 * R_VALUE_IP, rtol=1e-12, atol=0.0)


def test_thickness_follows_from_resistance_and_material():
    text = MINIMAL + '[[floor.covering]]\nmaterial = "carpet"\nthermal_resistance = "2 tog"\n'
    assert_allclose(parse_case(text).floor.coverings[0].thickness, 0.2 * 0.06, rtol=1e-12, atol=0.0)


def test_volume_flow_becomes_mass_flow_at_supply_temperature():
    # Density of water at 50 degC: 988.0 kg/m3 (IAPWS-95).
    case = parse_case(changed('flow = "1.8 l/min"', 'flow = "6 l/min"'))
    assert_allclose(case.water.flow, 0.1 * 0.98804, rtol=1e-4, atol=0.0)


def test_coverage_and_spacing_say_the_same():
    by_spacing = parse_case(OAK).plates
    by_coverage = parse_case(changed('spacing = "225 mm"', f"coverage = {200 / 225!r}")).plates
    assert_allclose(by_coverage.spacing, by_spacing.spacing, rtol=1e-12, atol=0.0)
    assert_allclose(by_spacing.coverage, 8 / 9, rtol=1e-12, atol=0.0)


def test_no_spacing_is_told_how_no_plates_are_written():
    with pytest.raises(CaseError, match=r'plates\.spacing +got "none".*write plates = "none"'):
        parse_case('[plates]\nspacing = "none"\n')


def test_plates_take_emissivity_from_their_material():
    plates = parse_case(changed('"aluminium 3003"', '"aluminium, painted"')).plates
    assert plates.emissivity_up == plates.emissivity_down == 0.9


def test_insulation_takes_the_emissivity_of_its_face_from_its_material():
    batt = "[cavity.insulation]\nthickness = '50 mm'\nmaterial = "
    dull = "'polyiso'\nfacing_emissivity = 0.8"
    for words, expected in (("'polyiso'", 0.05), ("'XPS'", 0.9), (dull, 0.8)):
        case = parse_case(f"{batt}{words}\n[water]\nsupply = '50 degC'\n[room]\ntemperature = '20 degC'\n")
        assert case.cavity.insulation.facing_emissivity == expected


def test_bare_tube_of_a_hung_plate_case_hangs_where_the_plate_held_it():
    case = load_case(CASES / "demo" / "kitchen-vinyl.toml")
    bare = case.with_(**{"plates.spacing": None})
    assert bare.plates is None
    assert_allclose(bare.tube.depth, 1.5 * 0.0254 + 0.0004, rtol=1e-12, atol=0.0)


def test_tube_across_the_joists():
    case = parse_case(MINIMAL + '[tube]\ndirection = "across"\nacross_spacing = "10 in"\n')
    assert case.tube.positions == ()
    # IRC R502.8.1: a bored hole keeps 2 in of timber above it; 1 3/8 in hole, 5/8 in tube.
    assert_allclose(case.tube.depth, (2 + (1.375 - 0.625) / 2) * 0.0254, rtol=1e-12, atol=0.0)


# ---- variations


def test_with_changes_one_value_and_keeps_the_rest():
    case = parse_case(OAK)
    other = case.with_(**{"plates.spacing": 0.3, "water.supply": 320.0})
    assert other.plates.spacing == 0.3 and other.water.supply == 320.0
    assert_allclose(other.plates.coverage, 2 / 3, rtol=1e-12, atol=0.0)
    assert other.floor == case.floor and case.plates.spacing == 0.225


def test_with_text_reads_what_a_user_types():
    case = parse_case(OAK)
    assert case.with_text("plates.spacing", "300mm").plates.spacing == 0.3
    assert case.with_text("plates.spacing", "none").plates is None
    assert case.with_text("floor.covering.0.thickness", "1 in").floor.coverings[0].thickness == 0.0254
    assert case.with_text("floor.covering[0].material", "linoleum").floor.coverings[0].solid.density == 1200
    assert case.with_text("tube.runs", "1").tube.runs == 1
    assert case.with_text("tube.size", "3/4").tube.outer_diameter > case.tube.outer_diameter
    assert case.with_text("mesh.fineness", "fine").mesh.fineness == "fine"
    assert case.with_text("water.drop", "8 K").water.flow is None


def test_a_written_case_can_still_be_varied():
    case = parse_case(OAK)
    again = parse_case(tomli_w.dumps(case.resolved()), case.name)
    for key, text in [("plates.spacing", "300 mm"), ("tube.size", "3/8"), ("tube.runs", "1"),
                      ("plates.material", "aluminium 1050"), ("water.drop", "6 K")]:  # fmt: skip
        assert again.with_text(key, text) == case.with_text(key, text)


def test_what_is_handed_to_vary_stays_as_it_is():
    section, layers = {"insulation": {"thickness": 0.09}}, [{"material": "oak", "thickness": 0.015}]
    case = parse_case(OAK).with_(
        **{"cavity": section, "cavity.insulation.thickness": 0.12, "floor.covering": layers,
           "floor.covering.0.thickness": 0.02}
    )  # fmt: skip
    assert (case.cavity.insulation.thickness, case.floor.coverings[0].thickness) == (0.12, 0.02)
    assert section == {"insulation": {"thickness": 0.09}}
    assert layers == [{"material": "oak", "thickness": 0.015}]


VARIED = [
    ("plates.spacing", "none"),
    ("plates.coverage", "70 %"),
    ("plates.conductivity", "209 W/(m*K)"),
    ("plates.bond", "loose"),
    ("floor.covering.0.thermal_resistance", "1.3 tog"),
    ("floor.sheathing.material", "OSB"),
    ("tube.size", "16x2"),
    ("tube.runs", "1"),
    ("water.drop", "7 degF"),
    ("water.glycol", "30 %"),
    ("room.law", "split"),
    ("below.kind", "adiabatic"),
    ("cavity.insulation", "none"),
    ("bay.joist_kind", "i-joist"),
    ("mesh.along", "5 mm"),
    ("mesh.layer_cells", "4"),
]


@pytest.mark.parametrize(("key", "text"), VARIED)
def test_a_varied_case_survives_a_round_trip(key, text):
    case = parse_case(OAK)
    if key == "room.law":
        case = case.with_(**{"room.law": "split", "room.convective": 3.0})
    elif key == "cavity.insulation":
        case = case.with_(**{"cavity": {}, "ceiling": {}})
    else:
        case = case.with_text(key, text)
    assert parse_case(tomli_w.dumps(case.resolved()), case.name) == case
    assert str(case)


def test_a_tube_across_the_joists_survives_a_round_trip():
    case = parse_case(MINIMAL + '[tube]\ndirection = "across"\nacross_spacing = "10 in"\n')
    assert parse_case(tomli_w.dumps(case.resolved())).resolved() == case.resolved()


def test_hung_upright_plates_survive_a_round_trip():
    text = changed('position = "fastened"', 'position = "hung"\norientation = "upright"\ndrop = "10 mm"')
    text = text.replace('width = "130 mm"', 'width = "40 mm"').replace(
        'air_gap = "2 in"', 'air_gap = "70 mm"'
    )
    case = parse_case(text)
    assert_allclose(case.tube.depth, 0.05, rtol=1e-12, atol=0.0)  # tube under the lower edge: 10 + 40 mm
    assert parse_case(tomli_w.dumps(case.resolved()), case.name) == case


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("plates.spcing", "3 mm", 'did you mean "spacing"?'),
        ("plates.spacing", "300", "the unit is missing"),
        ("ceiling.thickness", "10 mm", "has no ceiling"),
        ("floor.covering.7.thickness", "10 mm", "has no floor.covering[7]"),
        ("plates", "3", "must be a section"),
        ("plates.width", "500 mm", "clear width"),
        ("cavity.insulation", "none", "nothing closes the bay from below"),
        ("nonsense", "3", "unknown key"),
        ("title.x", "3", "unknown key"),
        ("water.supply.x", "3", "unknown key"),
    ],
)
def test_a_bad_variation_is_refused(key, text, words):
    with pytest.raises(CaseError, match=r".") as caught:
        parse_case(OAK).with_text(key, text)
    assert words in str(caught.value)


# ---- what is refused

REFUSED = [
    ('width = "130 mm"', 'widht = "130 mm"', "plates.widht", 'did you mean "width"?'),
    ('width = "130 mm"', 'supply = "130 mm"', "plates.supply", "it belongs in [water]"),
    ("[room]", "[rooom]", "rooom", 'did you mean "room"?'),
    ('"unheated space"', '"crawl space"', "below.kind", 'did you mean "unheated space"?'),
    (
        "[room]", '[[compare.choice]]\ntitle = "a"\n"plates.drop" = "3 in"\n[room]', "compare.choice[0].plates.drop",
        'changes = { "plates.drop" = ... }',
    ),
    ('width = "130 mm"', 'width = "130 degC"', "plates.width", 'a length is wanted, e.g. "19 mm"'),
    ('width = "130 mm"', "width = 130", "plates.width", "the unit is missing"),
    ('width = "130 mm"', "width = true", "plates.width", "not a length"),
    ('width = "130 mm"', "width = [1, 2]", "plates.width", "not a length"),
    ('width = "130 mm"', 'width = "-13 mm"', "plates.width", 'got "-13 mm"; must be at least 20 mm'),
    ('width = "130 mm"', 'width = "400 mm"', "plates.width", "clear width of the bay 368.3 mm"),
    ('width = "130 mm"', 'width = "184 mm"\n', None, ""),
    ('width = "130 mm"', 'width = "190 mm"', "plates.width", "collide"),
    ("runs = 2", 'runs = 2\npositions = ["100 mm", "110 mm"]', "tube.positions", "collide"),
    ("runs = 2", 'runs = 2\npositions = ["100 mm"]', "tube.positions", "one for each run"),
    ("runs = 2", "runs = 4", "tube.runs", "at most 3"),
    ("runs = 2", 'runs = "two"', "tube.runs", "whole number"),
    ('thickness = "160 mm"', 'thickness = "240 mm"', "cavity.insulation.thickness", "deeper than the joist"),
    ('air_gap = "2 in"', 'air_gap = "10 mm"', "cavity.air_gap", "into the insulation"),
    ('supply = "50 degC"', 'supply = "15 degC"', "water.supply", "not warmer than the room"),
    ('supply = "50 degC"', 'supply = "150 degC"', "water.supply", "must be at most 95 °C"),
    ('flow = "1.8 l/min"', 'drop = "40 K"', "water.drop", "must be less than supply minus room"),
    ('flow = "1.8 l/min"', 'drop = "4 K"\nflow = "1 l/min"', "water.drop", "exclude each other"),
    ('spacing = "225 mm"', 'spacing = "150 mm"', "plates.spacing", "at least the plate length"),
    ('spacing = "225 mm"', 'spacing = "225 mm"\ncoverage = 0.5', "plates.coverage", "not both"),
    ('position = "fastened"', 'position = "fastned"', "plates.position", 'did you mean "fastened"?'),
    ('position = "fastened"', 'position = "upright"', "plates.position", '"upright" is a word of plates.orientation'),
    ('width = "130 mm"', 'height = "130 mm"', "plates.height", 'did you mean "width"?'),
    (
        'position = "fastened"',
        'position = "fastened"\norientation = "upright"',
        "plates.orientation",
        "only hung",
    ),
    ('position = "fastened"', 'position = "hung"\ndrop = "60 mm"', "cavity.air_gap", "into the insulation"),
    ('position = "fastened"', 'position = "hung"\ndrop = "300 mm"', "plates.drop", "below the joists"),
    ("runs = 2", 'runs = 2\nplacement = "above"', "tube.placement", "lies below it"),
    ('material = "oak"', 'material = "oaak"', "floor.covering[0].material", 'did you mean "oak"?'),
    ('thickness = "19 mm"', "", "floor.covering[0].thickness", "give thickness or thermal_resistance"),
    ('size = "1/2"', 'size = "9/16"', "tube.size", "no such tube size"),
    ('size = "1/2"', 'outer_diameter = "16 mm"', "tube.inner_diameter", "give both diameters"),
    (
        'size = "1/2"',
        'outer_diameter = "16 mm"\ninner_diameter = "17 mm"',
        "tube.inner_diameter",
        "must be less",
    ),
    ('joist_spacing = "16 in"', 'joist_spacing = "9000 in"', "bay.joist_spacing", "must be at most"),
    ('joist_width = "1 1/2 in"', 'joist_width = "11 in"', "plates.width", "clear width"),
    ('temperature = "20 degC"', 'temperature = "20"', "room.temperature", "the unit is missing"),
    ('temperature = "20 degC"', 'temperature = "20 degC"\nlaw = "fixed"', "room.coefficient", "needs it"),
    ('[room]\ntemperature = "20 degC"', "", "room.temperature", "missing; give the room temperature"),
    ('\ntemperature = "12 degC"', "", "below.temperature", '"unheated space" needs it'),
    ('span = "pitch"', 'span = "bay"', "rim.outdoor_temperature", "models the rim joist"),
    (
        "[plates]",
        '[[floor.rug]]\nthickness = "5 mm"\nx = ["0 m", "2 m"]\n[plates]',
        "floor.rug[0].x",
        "outside",
    ),
    (
        "[plates]",
        '[[floor.rug]]\nthickness = "5 mm"\ny = ["0 m", "2 m"]\n[plates]',
        "floor.rug[0].y",
        "set span",
    ),
    (
        "[plates]",
        '[[floor.rug]]\nthickness = "5 mm"\nx = ["9 in", "2 in"]\n[plates]',
        "floor.rug[0].x",
        "rise",
    ),
    ('["225 mm", ', '["100 mm", ', "compare.spacing[0]", "at least the plate length"),
    ('title = "', 'title = 5 # "', "title", "must be text"),
    ('title = "', 'name = "', "name", "named by its file"),
    ('title = "', 'kind = "cottage" # "', "kind", 'must be one of "bay", "blocks"'),
    ('title = "', 'kind = "house" # "', "kind", "use joistbay house"),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), REFUSED, ids=lambda value: str(value)[:30])
def test_bad_input_gets_a_clear_line(old, new, key, words):
    text = changed(old, new)
    if key is None:
        assert parse_case(text)
        return
    assert words in problems(text)[key]


def test_all_problems_of_a_stage_come_together():
    text = changed('width = "130 mm"', 'widht = "130 mm"').replace('supply = "50 degC"', "supply = 50")
    assert set(problems(text)) == {"plates.widht", "water.supply"}
    text = changed('width = "130 mm"', 'width = "400 mm"').replace('supply = "50 degC"', 'supply = "15 degC"')
    assert set(problems(text)) == {"plates.width", "water.supply"}


def test_the_message_has_the_agreed_shape():
    with pytest.raises(CaseError) as caught:
        parse_case(changed('width = "130 mm"', 'widht = "130 mm"'), "bay", "cases/bay.toml")
    assert str(caught.value) == (
        'cases/bay.toml\n  plates.widht   unknown key; did you mean "width"?\n1 problem. Nothing was run.'
    )


def test_malformed_toml_names_the_line():
    assert "line 2" in problems('title = "x"\n[bay\n')[""]


def test_files_that_cannot_be_read(tmp_path):
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    for path, words in [
        (tmp_path / "absent.toml", "no such file"),
        (tmp_path, "is a folder"),
        (binary, "UTF-8"),
    ]:
        with pytest.raises(CaseError) as caught:
            load_case(path)
        assert words in str(caught.value)


def refusal(act, *arguments):
    """What refuses something, caught as Python's users catch a refused value."""
    try:
        act(*arguments)
    except ValueError as error:
        return error
    raise AssertionError("nothing was refused")


def test_a_refusal_is_a_value_error_and_keeps_its_line(tmp_path):
    """Nothing on the way that catches a ValueError of a library takes a refusal for one, and tells it over again."""
    bay = load_case(CASES / "demo" / "family-oak.toml")
    (tmp_path / "big.toml").write_text("#" * 5_000_000)
    (tmp_path / "odd.csv").write_text("0, 5\n1, cold\n")
    refusals = {
        "clear width of the bay": refusal(bay.with_text, "plates.width", "400 mm"),
        "not warmer than the room": refusal(parse_case, changed('supply = "50 degC"', 'supply = "15 degC"')),
        "larger than 4 MB": refusal(load_case, tmp_path / "big.toml"),
        "is not hours and °C": refusal(read_weather, tmp_path / "odd.csv"),
        "no air_films.json there": refusal(read_calibration, str(tmp_path / "case.toml"), "nowhere"),
    }
    for words, error in refusals.items():
        assert isinstance(error, CaseError), words
        assert len(error.problems) == 1 and str(error).count("Nothing was run") == 1, str(error)
        assert words in str(error) and "cannot be read" not in str(error)
    for around in (modelled, solved):
        with pytest.raises(CaseError), around("bay"):
            raise CaseError("bay", error.problems)


LINES = [line for line in OAK.splitlines() if "=" in line]
VALUES = [
    "0",
    "-1",
    '"0 mm"',
    '"1 m"',
    '"20 degC"',
    '"none"',
    "[]",
    "{}",
    "true",
    '"1e-30 m"',
    '"R-5"',
    '"across"',
]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(line=st.sampled_from(LINES), value=st.sampled_from(VALUES))
def test_a_wrong_value_never_escapes_as_another_error(line, value):
    try:
        parse_case(OAK.replace(line, f"{line.split('=')[0]} = {value}", 1))
    except CaseError as error:
        assert error.problems


# ---- the case kind "blocks"

BLOCKS = """
kind = "blocks"
title = "a slab"
[[box]]
name = "slab"
x = [0, "0.2 m"]
y = [0, "1 m"]
z = [0, "50 mm"]
conductivity = ["1.2 W/(m*K)", "1.2 W/(m*K)", "0.6 W/(m*K)"]
[[face]]
name = "top"
on = "z+"
resistance = "0.1 m^2*K/W"
ambient = "20 degC"
[[face]]
name = "bottom"
on = "z-"
x = [0, "100 mm"]
flux = "10 W/m^2"
[[tube]]
axis = "y"
centre = ["0.1 m", "25 mm"]
along = [0, "1 m"]
outer_diameter = "16 mm"
temperature = "40 degC"
[[contact]]
axis = "z"
at = "20 mm"
resistance = "0.01 m^2*K/W"
[[probe]]
name = "middle"
point = ["0.1 m", "0.5 m", "50 mm"]
"""


def test_blocks_case():
    case = parse_case(BLOCKS, "slab")
    assert isinstance(case, BlocksCase)
    assert case.extent == ((0.0, 0.2), (0.0, 1.0), (0.0, 0.05))
    assert case.boxes[0].solid.conductivity == (1.2, 1.2, 0.6)
    top, bottom = case.faces
    assert (top.condition, top.film, top.at, top.axis) == ("film", 10.0, 0.05, "z")
    assert (bottom.condition, bottom.at, bottom.x) == ("flux", 0.0, (0.0, 0.1))
    assert parse_case(tomli_w.dumps(case.resolved()), "slab") == case
    assert "slab" in str(case)


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        (
            'conductivity = ["1.2 W/(m*K)", "1.2 W/(m*K)", "0.6 W/(m*K)"]',
            "",
            "box[0].conductivity",
            "missing",
        ),
        ('resistance = "0.1 m^2*K/W"\n', "", "face[0]", "exactly one condition"),
        ('ambient = "20 degC"', "", "face[0].ambient", "missing; resistance needs it"),
        (
            'flux = "10 W/m^2"',
            'flux = "10 W/m^2"\ntemperature = "3 degC"',
            "face[1]",
            "exactly one condition",
        ),
        ('temperature = "40 degC"', "", "tube[0].temperature", "a tube without a bore needs it"),
        ('x = [0, "0.2 m"]', 'x = ["0.2 m", 0]', "box[0].x", "must rise"),
        ('x = [0, "0.2 m"]', "x = [0, 0.2]", "box[0].x", "the unit is missing"),
        ('name = "bottom"', 'name = "top"', "face[1].name", "is used twice"),
        ('at = "20 mm"', 'at = "200 mm"', "contact[0].at", "outside the boxes"),
        ('centre = ["0.1 m", "25 mm"]', 'centre = ["0.1 m", "5 mm"]', "tube[0].centre", "outside the boxes"),
        ('on = "z+"', 'on = "z+"\nz = [0, "1 m"]', "face[0].z", "no extent along z"),
        ("[[probe]]", "[[prob]]", "prob", 'did you mean "probe"?'),
    ],
)
def test_bad_blocks_get_a_clear_line(old, new, key, words):
    assert BLOCKS.count(old) >= 1
    assert words in problems(BLOCKS.replace(old, new, 1))[key]


def test_blocks_need_a_temperature_somewhere():
    text = BLOCKS.split("[[tube]]")[0].replace(
        'resistance = "0.1 m^2*K/W"\nambient = "20 degC"', 'flux = "1 W/m^2"'
    )
    assert "nothing fixes the temperature" in problems(text)["face"]


def test_a_part_in_the_insulation_shows_the_value_that_the_file_states():
    # an upright plate 80 mm high, hung 60 mm down, ends at 140 mm with a tube below it; the file says 60 mm
    text = """
[bay]
joist_depth = "240 mm"
[plates]
position = "hung"
orientation = "upright"
width = "80 mm"
drop = "60 mm"
[cavity.insulation]
thickness = "150 mm"
[water]
supply = "50 degC"
[room]
temperature = "20 degC"
"""
    with pytest.raises(CaseError) as refused:
        parse_case(text)
    (problem,) = refused.value.problems
    assert problem.key == "plates.drop" and problem.given.startswith("60 mm")
    assert "into the insulation (down to 1" in problem.rule and "its top lies 90 mm" in problem.rule


def test_a_plate_below_the_joists_is_told_with_the_drop_that_was_written():
    """300 mm, and not what plate and tube add to it."""
    text = OAK.replace('position = "fastened"', 'position = "hung"\ndrop = "300 mm"')
    with pytest.raises(CaseError) as refused:
        parse_case(text)
    (problem,) = [problem for problem in refused.value.problems if problem.key == "plates.drop"]
    assert problem.given.startswith("300 mm") and "below the joists" in problem.rule


@pytest.mark.parametrize(
    ("key", "value", "example"),
    [
        ("room.temperature", "20 m", "20 degC"),  # rooms are about 20 °C, not 45
        ("room.temperature", 20, "20 degC"),
        ("below.temperature", "cold", "20 degC"),
        ("weather.temperature", "5 W", "-10 degC"),
        ("rim.outdoor_temperature", "5", "-10 degC"),
        ("water.supply", "50", "45 degC"),
    ],
)
def test_an_example_suits_its_key(key, value, example):
    section, name = key.split(".")
    sections = {"water": {"supply": "50 degC"}, "room": {"temperature": "20 degC"}}
    with pytest.raises(CaseError) as caught:
        parse_case(tomli_w.dumps(sections | {section: sections.get(section, {}) | {name: value}}))
    (problem,) = [found for found in caught.value.problems if found.key == key]
    assert f'e.g. "{example}" or' in str(problem)


def test_a_missing_room_temperature_is_asked_for_with_one_that_suits():
    with pytest.raises(CaseError, match='missing; give the room temperature, e.g. "20 degC" or "68 degF"'):
        parse_case('[water]\nsupply = "50 degC"\n')


@pytest.mark.parametrize(
    ("title", "rule"), [("", "must have at least 1 character"), ("x" * 61, "must have at most 60 characters")]
)
def test_a_rule_on_a_text_is_told_in_our_words(title, rule):
    text = f'[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n[[compare.choice]]\ntitle = "{title}"\n'
    with pytest.raises(CaseError, match=rule):
        parse_case(text)

"""A case that is written wrongly: each message names the line or the key, and what to write instead."""

import pytest

from sim.case.errors import CaseError
from sim.case.load import parse_case
from sim.rules.limits import BATHROOM


def told(text):
    with pytest.raises(CaseError) as caught:
        parse_case(text, "mine.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("line", "instead"),
    [
        ("position = hung", 'position = "hung"'),
        ('joist_spacing = 16" o.c.', "joist_spacing = '16\" o.c.'"),
        ('length = "16" o.c."', "length = '16\" o.c.'"),
        ("length = \"14'-6\"\"", "length = '''14'-6\"'''"),
        ("length = 14 ft # of the room", 'length = "14 ft"'),
        ("length: 14 ft", 'write = instead of the colon: length = "14 ft"'),
        ("coverage: 0.8", "write = instead of the colon: coverage = 0.8"),
        ("thickness = 2,5", 'decimals follow a point, and the unit stands with them in quotes: thickness = "2.5 UNIT"'),
        ("material = “vinyl”", 'material = "vinyl"'),
        ("length =", "a value is missing after the ="),
        ("title = \"Kitchen", 'title = "Kitchen"'),
        ("[room", "a section is a name in square brackets"),
        ("the length is 14 ft", "a line is a section in square brackets, or key = value"),
        ("[bay]\n[bay]", "there stands: [bay]; it stands there twice"),
    ],
)
def test_a_line_that_is_no_toml_is_shown_with_what_was_meant(line, instead):
    text = f"{line}\nspan = \"pitch\"\n"
    assert instead in told(text)
    assert f"there stands: {line.splitlines()[-1]}" in told(text)


@pytest.mark.parametrize(
    ("text", "key", "instead"),
    [
        ('floor.covering = "oak"', "floor.covering", "write [[floor.covering]] in two square brackets"),
        ('[floor.covering]\nmaterial = "oak"', "floor.covering", "write [[floor.covering]] in two square brackets"),
        ('bay.joist.width = "40 mm"', "bay.joist ", 'did you mean "joist_width"?'),
        ('room.below.kind = "outdoors"', "room.below", "[below] is a section of its own"),
        ('insulation.thickness = "100 mm"', "insulation ", "[cavity.insulation] or [rim.insulation]"),
        ('water.temperature = "40 degC"', "water.temperature", 'did you mean "supply"?'),
        ('room.temp = "20 degC"', "room.temp ", 'did you mean "temperature"?'),
        ('tube.diameter = "1/2"', "tube.diameter", 'did you mean "size"?'),
        ('floor.subfloor = "osb"', "floor.subfloor", 'did you mean "sheathing"?'),
        ('room.kind = "bathroom"', "room.kind", f"set warmer than {BATHROOM - 273.15:g} °C counts as a bathroom"),
        ('plates = ["a"]', "plates ", "write [plates] with its keys below it"),
    ],
)  # fmt: skip
def test_a_key_that_is_written_otherwise_names_what_was_meant(text, key, instead):
    lines = [line for line in told(text).splitlines() if line.strip().startswith(key)]
    assert len(lines) == 1 and instead in lines[0]
    assert "{'" not in lines[0]


BAY = '[water]\nsupply = "45 degC"\n[room]\ntemperature = "20 degC"\n'


@pytest.mark.parametrize(
    ("text", "way_out"),
    [
        ('[joists]\nspacing = "16 in"\n', "did you mean [bay]? its keys: joist_spacing, "),
        ('[pipe]\nsize = "1/2"\n', "did you mean [tube]? its keys: size, "),
        ('[flooring]\nmaterial = "oak"\n', "did you mean [[floor.covering]]? its keys: material, "),
        ('[plates]\nposition = "stapled"\n', 'did you mean "fastened"?'),
        ('[plates]\nposition = "suspended"\n', 'did you mean "hung"?'),
        ('[bay]\njoist_width = "38,1 mm"\n', 'numbers hold no comma; decimals follow a point: "38.1 mm"'),
        ('[bay]\nlength = "4,000 mm"\n', "thousands stand together"),
        ("[tube]\nruns = 9\n", "must be at most 3"),
        ('[cavity.insulation]\nthickness = "12 in"\n', "at most 234.9 mm (9.25 in) fit; or make bay.joist_"),
    ],
)
def test_a_word_of_the_trade_is_told_what_it_is_called_here(text, way_out):
    said = told(text + BAY)
    assert way_out in said and said.count("got") <= 1

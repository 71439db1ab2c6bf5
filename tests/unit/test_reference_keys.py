"""The key reference is complete and says what the schema accepts."""

import re

import pytest

from sim.case import load_case, parse_case
from sim.case.quantities import DIMENSIONS, format_value
from sim.case.reference import key_reference

ROWS = key_reference()
MINIMAL = '[water]\nsupply = "50 degC"\n[room]\ntemperature = "20 degC"\n'


def rows_of(section, kind="bay"):
    return {row.key: row for row in ROWS if row.section == section and row.case_kind == kind}


def test_every_row_has_a_meaning_and_a_default():
    assert all(row.meaning and row.default and row.unit for row in ROWS)


def test_a_section_that_is_there_unless_refused_says_so():
    assert parse_case(MINIMAL).ceiling is not None and parse_case(MINIMAL).plates is None
    assert rows_of("")["ceiling"].default == "[ceiling] with its defaults"
    assert rows_of("")["plates"].default == "none"


def test_no_key_appears_twice():
    assert len({(row.case_kind, row.section, row.key) for row in ROWS}) == len(ROWS)


def test_sections_are_headed_as_written_in_a_file():
    headings = {row.section for row in ROWS if row.case_kind == "bay"}
    assert {
        "[bay]",
        "[[floor.covering]]",
        "[floor.sheathing]",
        "[[floor.rug]]",
        "[cavity.insulation]",
    } <= headings
    assert {"[[box]]", "[[face]]", "[[tube]]", "[[contact]]", "[[probe]]"} <= {row.section for row in ROWS}


def test_rows_carry_units_words_and_ranges():
    plates = rows_of("[plates]")
    assert plates["width"].unit == "length"
    assert plates["width"].allowed.startswith("at least 20 mm")
    assert plates["position"].allowed == '"fastened", "hung"'
    assert "snug (0.05)" in plates["bond"].allowed
    assert plates["spacing"].default.startswith("length / coverage")
    assert rows_of("[water]")["supply"].default == "must be given"
    assert rows_of("[compare]")["spacing"].allowed.endswith('or "none"')
    assert rows_of("")["plates"].allowed == 'a section, or "none"'
    assert rows_of("[[face]]", "blocks")["name"].unit == "text"
    assert "materials library" in rows_of("[tube]")["material"].allowed


def written_keys(data, path=""):
    """Section and key of everything in a resolved case."""
    for name, value in data.items():
        where = f"{path}.{name}".lstrip(".")
        if isinstance(value, dict):
            yield from written_keys(value, where)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for entry in value:
                yield from (
                    (section.replace(f"[{where}]", f"[[{where}]]"), key)
                    for section, key in written_keys(entry, where)
                )
        else:
            yield (f"[{path}]" if path else ""), name


@pytest.mark.parametrize("case", ["kitchen-vinyl", "family-oak-rug", "bedroom-carpet"])
def test_what_is_written_is_documented(case):
    documented = {(row.section, row.key) for row in ROWS if row.case_kind == "bay"}
    written = set(written_keys(load_case(f"cases/demo/{case}.toml").resolved()))
    absent_lists = {
        ("[floor]", "covering"),
        ("[floor]", "rug"),
        ("[cavity]", "insulation"),
        ("[rim]", "insulation"),
        ("[control]", "schedule"),
        ("[control]", "curve"),
    }
    assert written - absent_lists <= documented


PLAIN = re.compile(r"-?[\d.]+( \S+ \(.*\))?")
PARTS = """
[plates]
[ceiling]
[cavity.insulation]
thickness = "50 mm"
[room.node]
loss = "1 W/(m^2*K)"
capacity = "100 kJ/(m^2*K)"
[weather]
temperature = "0 degC"
"""
FIXED = [
    row for row in ROWS if row.case_kind == "bay" and PLAIN.fullmatch(row.default) and "[[" not in row.section
]


@pytest.mark.parametrize("row", FIXED, ids=lambda row: f"{row.section}{row.key}")
def test_documented_default_is_the_real_one(row):
    """A case that gives only what it must has the defaults that the reference prints."""
    section = parse_case(MINIMAL + PARTS)
    for part in row.section.strip("[]").split("."):
        section = getattr(section, part)
    value = getattr(section, row.key)
    matching = [name for name, known in DIMENSIONS.items() if known.words.removeprefix("a ") == row.unit]
    written = [format_value(value, dimension) for dimension in matching]
    assert row.default in [*written, str(value), f"{value:g}"]


def test_enough_defaults_are_compared():
    assert len(FIXED) >= 20

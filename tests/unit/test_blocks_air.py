"""Air alone in a case of blocks: what makes a case one, what it refuses, and that it survives being written down."""

import pytest
import tomli_w

from sim.case import CaseError, parse_case

TEXT = """
kind = "blocks"
[[box]]
name = "air"
x = ["0 m", "1 m"]
y = ["0 m", "0.2 m"]
z = ["0 m", "1 m"]
air = true
[[box]]
name = "stove"
x = ["0.4 m", "0.6 m"]
y = ["0 m", "0.2 m"]
z = ["0 m", "0.2 m"]
temperature = "50 degC"
[[sheet]]
name = "shelf"
axis = "z"
at = "0.5 m"
x = ["0.2 m", "0.8 m"]
open_area = 0.3
[[face]]
name = "window"
on = "x+"
temperature = "10 degC"
[air]
model = "resolved"
two_dimensional = true
"""


def changed(old, new):
    assert old in TEXT
    return TEXT.replace(old, new, 1)


def problems(text):
    with pytest.raises(CaseError) as caught:
        parse_case(text)
    return {problem.key: problem for problem in caught.value.problems}


def test_solids_of_stated_temperature_leave_the_air_alone():
    assert parse_case(TEXT).air_alone
    conducting = TEXT.replace('temperature = "50 degC"', 'conductivity = "1 W/(m*K)"', 1)
    assert "sheet[0].temperature" in problems(conducting)
    insulating = changed('temperature = "50 degC"', "insulating = true")
    warm_shelf = insulating.replace("open_area = 0.3", 'open_area = 0.3\ntemperature = "30 degC"')
    assert parse_case(warm_shelf).air_alone


def test_other_air_models_are_not_alone():
    found = problems(TEXT.replace('"resolved"', '"films"').replace("two_dimensional = true", ""))
    assert {"sheet[0].temperature", "sheet[0].open_area"} <= set(found)


def test_a_case_survives_being_written_and_read_again():
    for text in (TEXT, changed("two_dimensional = true", "two_dimensional = true\nrayleigh = 1e5")):
        case = parse_case(text)
        assert parse_case(tomli_w.dumps(case.resolved())) == case


REFUSED = [
    ("two_dimensional = true", "rayleigh = 1e5\nviscosity = '1 mm^2/s'", "air.viscosity", "replace it"),
    ("two_dimensional = true", "rayleigh = 0", "air.rayleigh", "greater than 0"),
    ("two_dimensional = true", "prandtl = 0.7", "air.prandtl", "rayleigh"),
    ("two_dimensional = true", 'symmetry = ["x+"]', "face[0].on", "plane of symmetry"),
    ("two_dimensional = true", 'symmetry = ["left"]', "air.symmetry[0]", '"x-"'),
    ("two_dimensional = true", 'average_from = "20 h"', "air.average_from", "at most"),
    ("two_dimensional = true", 'average_from = "700 s"', "air.average_from", "beyond longest"),
    ("two_dimensional = true", 'start_from = "nowhere"', "air.start_from", "no run folder"),
    ("two_dimensional = true", "error = 0.05", "air.error", "does not use it"),
    ("two_dimensional = true", "two_dimensionel = true", "air.two_dimensionel", "unknown key"),
    ('y = ["0 m", "0.2 m"]\nz = ["0 m", "0.2 m"]', 'y = ["0 m", "0.1 m"]\nz = ["0 m", "0.2 m"]', "box[1].y", "varies"),
    ('temperature = "50 degC"', 'temperature = "50 degC"\ninsulating = true', "box[1].insulating", "exclude"),
    ('temperature = "50 degC"', 'temperature = "50 degC"\nmaterial = "oak"', "box[1].material", "not used"),
    ('temperature = "10 degC"', 'flux = "5 W/m^2"', "face[0]", "temperature or lets no heat"),
    ('temperature = "10 degC"', 'temperature = "50 degC"', "face", "nothing drives"),
    ('on = "x+"', 'on = "x+"\nat = "0.7 m"', "face[0].at", "no air box ends there"),
    ('at = "0.5 m"', 'at = "1 m"', "sheet[0].at", "between"),
    ("open_area = 0.3", "loss = 3", "sheet[0].loss", "lets nothing through"),
    ("open_area = 0.3", 'z = ["0 m", "1 m"]', "sheet[0].z", "no extent"),
    ("two_dimensional = true", 'cells = ["9 mm", "9 mm"]', "air.cells", "list of 3"),
    ("two_dimensional = true", 'cell = "9 mm"\ncells = ["9 mm", "9 mm", "9 mm"]', "air.cell", "cells replaces it"),
    ("air = true", "air = true\ninsulating = true", "box[0].insulating", "air or a solid"),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), REFUSED, ids=lambda value: str(value)[-24:])
def test_what_does_not_fit_is_one_clear_line(old, new, key, words):
    found = problems(changed(old, new))
    assert key in found, found
    assert words in str(found[key])

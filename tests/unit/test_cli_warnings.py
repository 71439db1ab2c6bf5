"""What `joistbay run` says of limits, cautions and feet: all of it, wrapped to the width that there is."""

import io
from types import SimpleNamespace

import pytest

from sim.case.load import load_case
from sim.cli.sheet import WholeConsole
from sim.cli.warnings import limit_lines, print_answer, print_warnings, warnings_as_dict
from sim.rules.limits import Limit, Verdict


def told(units="si", width=80, **values):
    paper = io.StringIO()
    for part in (print_answer, print_warnings):
        part(WholeConsole(file=paper, width=width), load_case("cases/demo/family-oak.toml"), values, units)
    return paper.getvalue()


@pytest.mark.parametrize(("peak", "broken"), [(28.9, 0), (29.1, 1)])
def test_what_is_broken_is_told_with_its_source(peak, broken):
    text = " ".join(told(surface_peak_C=peak).split())
    assert text.count("BROKEN") == broken
    assert ("occupied floor, 29.1 °C, at most 29.0 °C (EN 1264-2" in text) == (broken == 1)


def test_that_all_is_kept_is_said_too():
    text = " ".join(told(surface_peak_C=28.9, water_supply_C=40.0).split())
    assert "All 3 limits are kept; nearest: occupied floor, 28.9 °C, at most 29.0 °C" in text


def test_what_the_air_leaves_open_is_told_once():
    learned = told(surface_peak_C=28.9, cavity_air_C=40.0, air_band_up_percent=3.2, air_band_ripple_percent=9.0)
    assert " ".join(learned.split()).count("heat up ± 3 % and stripes ± 9 % in 19 of 20 such bays") == 1
    assert "Cavity:" not in learned


def test_cautions_in_full_within_the_width():
    text = told(water_supply_C=55.0, width=60)
    assert max(map(len, text.splitlines())) <= 60
    words = " ".join(text.split())
    assert "limit mixed water," in words
    assert "pressure test" in words


def test_a_broken_caution_says_so():
    assert "BROKEN: cavity air 142 °F" in " ".join(told("ip", cavity_air_C=61.0).split())


# "30.0 broken, wanted 30.0" tells nobody anything
def test_a_limit_missed_by_a_hair_shows_it():
    limit = Limit("surface_peak_C", 30.0, "floor", "a source")
    assert limit_lines((Verdict(limit, 30.0042),), "si") == ["BROKEN: floor, 30.004 °C, at most 30.000 °C (a source)"]
    assert limit_lines((Verdict(limit, 30.0 + 1e-9),), "si")[0].startswith("The one limit is kept")


def test_json_has_all_with_sources():
    report = SimpleNamespace(values={"surface_peak_C": 30.0, "water_supply_C": 55.0})
    both = warnings_as_dict(SimpleNamespace(case=load_case("cases/demo/family-oak.toml"), report=report))
    assert [row["kept"] for row in both["limits"] if row["key"] == "surface_peak_C"] == [False]
    assert all(row["source"] for row in both["limits"] + both["cautions"])


def test_other_cases_have_none():
    assert warnings_as_dict(SimpleNamespace(case=SimpleNamespace(kind="blocks", joist_bay=None))) == {}

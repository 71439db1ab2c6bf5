"""What a message tells somebody to write instead: files, sizes of the trade, lengths that do not fit."""

import pytest

from sim.case.errors import CaseError
from sim.case.house_case import House
from sim.case.load import load_case, parse_case
from sim.case.messages import check
from sim.case.quantities import UnitError, parse
from sim.cli.main import main

HUNG = """
plates.position = "hung"
plates.drop = "{drop}"
[cavity]
air_gap = "{gap}"
insulation.thickness = "2 in"
[water]
supply = "120 degF"
[room]
temperature = "68 degF"
"""


def told(drop="1 in", gap="3 in"):
    with pytest.raises(CaseError) as refused:
        parse_case(HUNG.format(drop=drop, gap=gap), "den")
    return str(refused.value)


@pytest.mark.parametrize(("typed", "meant"), [("den", "den.toml"), ("dne.toml", "den.toml")])
def test_a_file_that_is_not_there_may_be_another(tmp_path, typed, meant):
    (tmp_path / "den.toml").write_text("", "utf-8")
    with pytest.raises(CaseError, match=f"no such file; did you mean .*{meant}\\?"):
        load_case(tmp_path / typed)
    with pytest.raises(CaseError, match="no such file; check the path"):
        load_case(tmp_path / "elsewhere" / typed)


def test_sizes_of_the_trade_are_told_in_inches():
    with pytest.raises(UnitError, match="names, not lengths; .*a 2x10 9 1/4 in"):
        parse("2x10", "length")


def test_a_load_is_parted_by_its_area():
    with pytest.raises(UnitError, match="divide a room's load by its heated floor area"):
        parse("3000 Btu/h", "heat flux")


def test_what_fits_is_never_below_nothing():
    assert "make cavity.air_gap smaller" in told(gap="12 in")
    assert "insulation.thickness" in told(gap="8 in") and "at most 31.75 mm (1.25 in) fit" in told(gap="8 in")
    assert "at most 218.6 mm (8.61 in) fit" in told(drop="12 in"), "9.25 in of joist less 5/8 in of tube"


def test_lists_are_shown_as_they_are_written():
    rug = '[[floor.rug]]\nmaterial = "carpet"\nthickness = "8 mm"\nx = ["10 in", "3 in"]\n'
    with pytest.raises(CaseError) as refused:
        parse_case(HUNG.format(drop="1 in", gap="3 in") + rug, "den")
    assert 'got ["10 in", "3 in"]; must rise' in str(refused.value)


def test_a_missing_section_has_one_article():
    with pytest.raises(CaseError) as refused:
        check(House, {}, "home")
    assert "design   missing; give the design day" in str(refused.value)


def test_name_and_place_of_a_file_are_no_keys_to_vary():
    case = parse_case(HUNG.format(drop="1 in", gap="3 in"), "den")
    with pytest.raises(CaseError) as refused:
        case.with_({"nope.nope": 1})
    assert "known: kind, title, span" in str(refused.value)


def test_the_bay_is_a_kind_of_case_and_a_section(capsys):
    assert main(["keys", "bay"]) == 0
    assert "[water]" in capsys.readouterr().out
    assert main(["keys", "[bay]"]) == 0
    told = capsys.readouterr().out
    assert "[bay]" in told and "[water]" not in told

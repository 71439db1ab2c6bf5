"""No text of somebody else is worked out by the spreadsheet that opens a table of ours; numbers stay numbers."""

import csv

import invented_house
import pytest

from sim.case.spreadsheet import FORMULA_SIGNS, neutral_cell, plain_cell
from sim.house.save_house import save_house, write_table
from sim.store.tables import write_table as write_choices
from sim.store.texts import file_name

TEXTS = ["=1+1", "+1+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "=", " =1+1", "'=1", "-5 degC", "-1_0"]


@pytest.mark.parametrize("text", TEXTS)
def test_such_a_text_begins_with_an_apostrophe_and_comes_back(text):
    assert neutral_cell(text) == f"'{text}"
    assert plain_cell(neutral_cell(text)) == text


@pytest.mark.parametrize("value", ["-3.5", "+2e-3", "", "oak", "'til late", "3/4 in", -3.5, 0, None, True, "a=b"])
def test_everything_else_stays_as_it_is(value):
    assert neutral_cell(value) is value
    assert not isinstance(value, str) or plain_cell(value) == value


@pytest.mark.parametrize("write", [write_table, write_choices])
def test_tables_hold_numbers_and_texts_apart(write, tmp_path):
    write(tmp_path / "t.csv", [{"name": "=1+1", "heat_W": -2.5, "flux": "-1.25"}])
    (row,) = csv.DictReader((tmp_path / "t.csv").open(encoding="utf-8"))
    assert row == {"name": "'=1+1", "heat_W": "-2.5", "flux": "-1.25"}


def test_no_cell_of_a_house_is_a_formula(tmp_path, monkeypatch):
    rooms = (("R1", "=cmd()", 1134.0, 40.0), ("R2", "@SUM(A1:A9)", 735.0, 0.0))
    monkeypatch.setattr(invented_house, "ROOMS", rooms)
    plan = invented_house.invented_plan()
    save_house(plan, tmp_path / "house")
    files = sorted(tmp_path.rglob("*.csv"))
    assert files
    for file in files:
        cells = [cell for row in csv.reader(file.open(encoding="utf-8")) for cell in row]
        signs = [cell for cell in cells if cell[:1] in (*FORMULA_SIGNS,)]
        assert not [cell for cell in signs if neutral_cell(cell) is not cell], file.name


@pytest.mark.parametrize("name", ["../../evil", "/etc/evil", "..", ".", "a/../../b", "\\\\host\\evil"])
def test_names_of_choices_cannot_leave_the_folder(name, tmp_path):
    # compare, warmup and study make a folder of every choice, named by what its file says
    place = (tmp_path / (file_name(name) or "x")).resolve()
    assert place.parent == tmp_path.resolve()

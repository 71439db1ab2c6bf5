"""Rooms from an XLSX file, tables into one, and what material costs."""

import math

import pytest
from openpyxl import Workbook, load_workbook

from sim.case.errors import CaseError
from sim.case.house_case import Prices
from sim.case.spreadsheet_file import spreadsheet_lines
from sim.house.prices import material_cost
from sim.house.quantities import Amounts
from sim.house.workbook import write_workbook

AMOUNTS = Amounts(100.0, 20.0, 40, 240, 0, 30, 50.0, 8, 3.0, 12, 4, 2, 1)


def _book(path, rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def test_a_first_sheet_is_read_like_a_csv_file(tmp_path):
    rows = [("Name", "Active area", None), ("R1", "900 W", 1), (None, None, None), ("R2", 5, 2), ("'=A", None)]
    cells = [{"name": "R1", "active_area": "900 W"}, {"name": "R2", "active_area": "5"}]
    cells.append({"name": "=A", "active_area": ""})
    lines = spreadsheet_lines(_book(tmp_path / "rooms.xlsx", rows))
    assert [line.cells for line in lines] == cells
    assert [line.place for line in lines] == ['sheet "Sheet", row 2', 'sheet "Sheet", row 4', 'sheet "Sheet", row 5']
    text = tmp_path / "rooms.csv"
    text.write_text("Name , Active area\nR1,900 W\n\nR2,5\n'=A\n")
    lines = spreadsheet_lines(text)
    assert [line.cells for line in lines] == cells
    assert [line.place for line in lines] == ["line 2", "line 4", "line 5"]


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 not a zip", b"name,load\nR1,900 W\n"])
def test_what_is_no_spreadsheet_is_told_in_one_line(tmp_path, content):
    path = tmp_path / "rooms.xlsx"
    path.write_bytes(content)
    with pytest.raises(CaseError, match="cannot be read as a spreadsheet"):
        spreadsheet_lines(path)
    with pytest.raises(CaseError, match="no such file"):
        spreadsheet_lines(tmp_path / "none.xlsx")


def test_texts_that_begin_like_formulas_stay_texts_and_numbers_numbers(tmp_path):
    rows = [{"title": "=1+1", "load_W": 12.5}, {"title": "@x", "load_W": math.nan}, {"title": "a\x07b", "load_W": -3}]
    sheet = load_workbook(write_workbook(tmp_path / "t.xlsx", {"rooms": rows}))["rooms"]
    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [
        ["title", "load_W"], ["=1+1", 12.5], ["@x", None], ["a b", -3]
    ]  # fmt: skip
    assert sheet["A2"].data_type == "s"


def test_cost_is_a_sum_that_a_hand_can_do():
    """105 m (5 % waste) x 2 + 40 plates x 1.5 + 4 ports x 10 = 310; what has no price is not counted."""
    assert material_cost(AMOUNTS, Prices(tube=2.0, plates=1.5, ports=10)) == pytest.approx(310.0)
    assert math.isnan(material_cost(AMOUNTS, None)) and math.isnan(material_cost(AMOUNTS, Prices()))


def test_prices_by_the_foot_are_prices_by_the_metre():
    """1 ft = 0.3048 m exactly."""
    prices = Prices(tube="0.3048 per ft", insulation="0.09290304 per ft^2", plates="2 per piece")
    assert (prices.tube, prices.insulation, prices.plates) == pytest.approx((1.0, 1.0, 2.0))


@pytest.mark.parametrize("text", ["cheap", "1 per mile", "1 per", "-1 per m", "nan per m"])
def test_what_is_no_price_is_refused(text):
    with pytest.raises(Exception, match="price|greater|finite|number"):
        Prices(tube=text)

"""Rooms from an XLSX file, tables into one, and what material costs."""

import math

import pytest
from invented_house import invented_plan
from openpyxl import Workbook, load_workbook

from sim.case.errors import CaseError
from sim.case.house_parts import Prices
from sim.case.spreadsheet_file import spreadsheet_lines
from sim.cli.main import main
from sim.house.in_units import in_units
from sim.house.prices import material_cost
from sim.house.quantities import Amounts
from sim.house.save_house import save_house
from sim.house.workbook import write_workbook
from sim.results.page_units import page_unit

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


def test_an_empty_sheet_before_the_rooms_is_passed_over(tmp_path):
    book = Workbook()
    rooms = book.create_sheet("Rooms")
    for row in (("name", "load"), ("R1", "900 W")):
        rooms.append(row)
    book.save(tmp_path / "rooms.xlsx")
    (line,) = spreadsheet_lines(tmp_path / "rooms.xlsx")
    assert line.place == 'sheet "Rooms", row 2' and line.cells == {"name": "R1", "load": "900 W"}


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


@pytest.mark.parametrize("text", ["cheap", "1 per mile", "1 per", "-1 per m", "nan per m", "1 per piece", "1 per ft^2"])
def test_what_is_no_price_is_refused(text):
    with pytest.raises(Exception, match="price|greater|finite|number"):
        Prices(tube=text)


@pytest.mark.parametrize(("item", "text"), [("insulation", "1.1 per ft"), ("plates", "2 per m"), ("ports", "2 per ft")])
def test_a_price_for_something_else_is_refused(item, text):
    """1.1 per ft of insulation was taken as 3.61 for a square metre."""
    with pytest.raises(Exception, match="not a price"):
        Prices(**{item: text})


def test_tables_of_a_house_are_in_the_units_asked_for_and_their_headings_say_which(tmp_path):
    # 113 °F are 45 °C, 10 °F difference 5.556 K, 100 ft 30.48 m, 3412.1 Btu/h 1 kW: by definition of the units
    row = {"room": "R1", "supply_C": 45.0, "drop_K": 10.0 / 1.8, "length_m": 30.48, "heat_W": 1000.0}
    row |= {"flow_l_min": 3.785411784, "head_kPa": 29.89067, "relief_bar": 3.0, "fill_l": 37.85411784}
    row |= {"plates_spacing_mm": "none", "cut_m": "30.48 3.05", "season_heat_kWh": 7.0, "remedy": "x", "remedy_ip": "y"}
    (found,) = in_units([row], "ip")
    assert found["supply_F"] == pytest.approx(113.0) and found["drop_degF_difference"] == pytest.approx(10.0)
    assert found["length_ft"] == pytest.approx(100.0) and found["flow_gpm"] == pytest.approx(1.0)
    # NIST SP 811: a foot of water 2.989067 kPa, a psi 6.894757 kPa, a US gallon 3.785412 l
    assert found["head_ft_water"] == pytest.approx(10.0) and found["fill_gal"] == pytest.approx(10.0)
    assert found["relief_psi"] == pytest.approx(300.0 / 6.894757, rel=1e-6)
    assert found["heat_Btu_h"] == pytest.approx(3412.14, abs=0.01)
    assert (found["plates_spacing_in"], found["cut_ft"], found["season_heat_kWh"]) == ("none", "100.00 10.01", 7.0)
    assert found["remedy"] == "y" and "remedy_ip" not in found
    (same,) = in_units([row], "si")
    assert same == {key: value for key, value in row.items() if key != "remedy_ip"}


def test_a_saved_house_in_inches_has_no_metric_heading_in_its_tables(tmp_path):
    save_house(invented_plan(), tmp_path / "h", "ip")
    book = load_workbook(tmp_path / "h" / "house.xlsx")
    heads = {cell.value for sheet in book for cell in next(sheet.iter_rows())}
    assert {"supply_F", "length_ft", "flow_gpm", "head_ft_water", "valve_cv_gpm", "fill_gal"} <= heads
    metric = ("C", "K", "W", "m", "mm", "m2", "kPa", "min", "l")
    assert not [head for head in heads if head.rpartition("_")[2] in metric]


@pytest.mark.parametrize("units", ["si", "ip"])
def test_a_workbook_shows_a_number_with_the_digits_of_the_page(tmp_path, units):
    """46.37 in one sheet and 46.4 in another are one number: here what a circuit brings back, in the readers' units."""
    plan = invented_plan()
    save_house(plan, tmp_path / "h", units)
    head, row, *_ = load_workbook(tmp_path / "h" / "house.xlsx")["circuits"].iter_rows()
    shown = {title.value: cell.number_format for title, cell in zip(head, row, strict=True)}
    ends = ("C", "m", "l_min") if units == "si" else ("F", "ft", "gpm")
    for name, ending, digits in zip(("return", "length", "flow"), ends, ("0.0", "0.0", "0.00"), strict=True):
        assert shown[f"{name}_{ending}"] == digits
    flow = plan.layouts[0].circuits[0].flow
    (note, *_) = flow.notes(units)
    assert page_unit("water_C").write(flow.bays[-1].mean - 273.15, units) in note


def test_a_template_as_a_workbook_is_read_back_as_it_was(tmp_path, capsys):
    made = tmp_path / "rooms.xlsx"
    assert main(["house", "tests/houses/eight-rooms.toml", "--template", "--out", str(made)]) == 0
    capsys.readouterr()
    assert main(["house", "tests/houses/eight-rooms.toml", "--template"]) == 0
    text = tmp_path / "rooms.csv"
    text.write_text(capsys.readouterr().out, encoding="utf-8")
    assert [line.cells for line in spreadsheet_lines(made)] == [line.cells for line in spreadsheet_lines(text)]
    assert [line.cells["name"] for line in spreadsheet_lines(made)][:2] == ["K", "L"]
    assert main(["house", "tests/houses/eight-rooms.toml", "--template", "--out", str(made)]) == 2, "never written over"
    assert main(["house", "tests/houses/eight-rooms.toml", "--template", "--out", str(tmp_path / "rooms.doc")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


@pytest.mark.parametrize(
    ("content", "rule"),
    [("name,load\nA," + "9" * 200_000, "cannot be read as a spreadsheet"), ("name\n" + "A\n" * 2_000, "2,001 lines")],
)
def test_a_text_that_is_no_table_is_refused_in_one_line(tmp_path, content, rule):
    file = tmp_path / "rooms.csv"
    file.write_text(content, "utf-8")
    with pytest.raises(CaseError, match=rule) as caught:
        spreadsheet_lines(file)
    assert len(str(caught.value)) < 300


ROOMS = "name,load\nA,280 W\nB,270 W\n"
READ = [{"name": "A", "load": "280 W"}, {"name": "B", "load": "270 W"}]


def test_a_number_that_a_comma_parts_in_two_is_told(tmp_path):
    file = tmp_path / "rooms.csv"
    file.write_text("name,load\nA,1,134 W\n", "utf-8")
    with pytest.raises(CaseError, match="134 W.*beyond the last heading"):
        spreadsheet_lines(file)


@pytest.mark.parametrize("before", ["", "\n\n", "\ufeff\r\n", "sep=,\n"])
def test_what_stands_before_the_headings_of_a_text_is_no_line(tmp_path, before):
    file = tmp_path / "rooms.csv"
    file.write_bytes((before + ROOMS).encode())
    lines = spreadsheet_lines(file)
    assert [line.cells for line in lines] == READ
    assert lines[0].place == f"line {before.count(chr(10)) + 2}"


def test_a_text_says_itself_what_parts_its_cells(tmp_path):
    file = tmp_path / "rooms.csv"
    file.write_text("sep=|\n" + ROOMS.replace(",", "|"), "utf-8")
    assert [line.cells for line in spreadsheet_lines(file)] == READ


@pytest.mark.parametrize(
    ("rows", "rule"),
    [
        ([["name", "load", "Load"], ["A", "280 W", "300 W"]], "heads two columns"),
        ([["name", "load"], ["A", "=140+140"]], r"row 2.*=140\+140.*never worked out"),
    ],
)
def test_cells_that_nobody_would_read_are_told(tmp_path, rows, rule):
    with pytest.raises(CaseError, match=rule):
        spreadsheet_lines(_book(tmp_path / "rooms.xlsx", rows))

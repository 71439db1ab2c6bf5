"""Rooms from a spreadsheet: filled in, beside the house file, and every odd cell named."""

import numpy as np
import pytest
from house_cases import SMALL
from openpyxl import Workbook

from sim.case.errors import CaseError
from sim.case.house_load import load_house
from sim.case.house_table import as_csv, headed, room_lines
from sim.cli.main import main
from sim.house.solve_house import check_house

BARE = SMALL.replace('load = "280 W"\n', "").replace('load = "270 W"\n', "").replace('load = "430 W"\n', "")


def house(tmp_path, table, text=BARE):
    file = tmp_path / "h.toml"
    file.write_text('rooms_file = "rooms.csv"\n' + text)
    if table is not None:
        (tmp_path / "rooms.csv").write_text(table, encoding="utf-8")
    return file


def test_loads_come_from_the_spreadsheet(tmp_path):
    # a byte order mark and blanks, as spreadsheets leave them; 1000 Btu/h are 293.07 W
    table = "\ufeffname, load ,temperature\nA,280 W,\nB, 1000 Btu/h ,70 degF\nU,430 W,\n"
    found = load_house(house(tmp_path, table))
    np.testing.assert_allclose([room.load for room in found.rooms], [280.0, 293.0711, 430.0], rtol=1e-6, atol=0.0)
    np.testing.assert_allclose(found.rooms[1].temperature, 294.2611, rtol=1e-6, atol=0.0)
    assert found.rooms[0].temperature == 293.15


def test_a_spreadsheet_alone_is_no_house(tmp_path):
    text = BARE[: BARE.index("[[room]]")]
    with pytest.raises(CaseError, match=r"no room; write at least one \[\[room\]\], its name as in rooms_file"):
        load_house(house(tmp_path, "name,load\nA,280 W\n", text))


def test_a_template_reads_back(tmp_path, capsys):
    assert main(["house", str(house(tmp_path, "name,load\nA,280 W\nB,270 W\nU,430 W\n")), "--template"]) == 0
    printed = capsys.readouterr().out
    assert printed.splitlines()[0] == "name,title,storey,temperature (degC),load (W),active_area (m^2)"
    assert "B,,ground,20 degC,270 W,7.32 m^2" in printed
    bare = BARE.replace('active_area = "7.32 m^2"\n', "").replace('storey = "upper"\nx', 'storey = "upper"\nx')
    bare = bare.replace('name = "U"\nstorey = "upper"\n', 'name = "U"\n')
    again = load_house(house(tmp_path, printed, bare))
    assert as_csv(headed(room_lines(again))) == printed
    filled = printed.replace("B,,ground,20 degC,270 W,", "B,,ground,20,300,")  # bare numbers, as people fill them in
    assert load_house(house(tmp_path, filled, bare)).rooms[1].load == 300.0
    # beside the very file it was printed of: what both say alike is no contradiction, in whatever unit
    (tmp_path / "h.toml").write_text(SMALL)
    assert main(["house", str(tmp_path / "h.toml"), "--template", "--units", "ip"]) == 0
    ours = capsys.readouterr().out.replace("ground", "").replace("upper", "")
    assert load_house(house(tmp_path, ours, SMALL)).rooms[1].active_area == pytest.approx(7.32)


def test_a_template_speaks_the_units_that_are_asked_for(tmp_path, capsys):
    """1000 Btu/h and 70 °F come back as they were written; 7.32 m² are 78.792 ft² (1 ft = 0.3048 m)."""
    table = "name,load,temperature\nA,1000 Btu/h,70 degF\nB,270 W,\nU,430 W,\n"
    assert main(["house", str(house(tmp_path, table)), "--template", "--units", "ip"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("A,,ground,70 degF,1000 Btu/h,")
    assert lines[2] == "B,,ground,68 degF,921.278 Btu/h,78.7918 ft^2"


def test_columns_may_be_headed_as_people_head_them(tmp_path):
    """68 °F are 293.15 K, 1000 Btu/h are 293.07 W (1055.056 J/Btu), 7.32 m² as the house file has it."""
    table = "Room;Description;Temp (°F);Heat loss (Btu/h);Area [m²]\nA;Stube;68;1000;\nB;;;921;7.32\nU;;;1500;\n"
    bare = BARE.replace('active_area = "7.32 m^2"\n', "")
    found = load_house(house(tmp_path, table, bare)).rooms
    np.testing.assert_allclose([found[0].temperature, found[0].load], [293.15, 293.0711], rtol=1e-6, atol=0.0)
    assert found[0].title == "Stube" and found[1].active_area == pytest.approx(7.32)


def test_a_unit_in_a_cell_comes_before_that_of_its_heading(tmp_path):
    found = load_house(house(tmp_path, "name,load (Btu/h)\nA,280 W\nB,270 W\nU,430 W\n"))
    assert [room.load for room in found.rooms] == [280.0, 270.0, 430.0]


def test_without_names_only_that_is_said(tmp_path):
    with pytest.raises(CaseError) as caught:
        load_house(house(tmp_path, "load\n280 W\n270 W\n"))
    assert [problem.key for problem in caught.value.problems] == ["name"]


@pytest.mark.parametrize("mark", [";", "\t"])
def test_cells_may_be_parted_as_where_commas_are_decimal(mark, tmp_path):
    found = load_house(house(tmp_path, "name,load\nA,280 W\nB,270 W\nU,430 W\n".replace(",", mark)))
    assert [room.load for room in found.rooms] == [280.0, 270.0, 430.0]


def test_decimal_commas_are_read_where_cells_are_parted_by_semicolons(tmp_path):
    """As such countries' programs save them; three digits behind a comma may be thousands, and are refused."""
    found = load_house(house(tmp_path, "name;load (kW);temperature\nA;0,28;20,5 degC\nB;0,27;\nU;0,4305;\n"))
    np.testing.assert_allclose([room.load for room in found.rooms], [280.0, 270.0, 430.5], rtol=1e-9, atol=0.0)
    assert found.rooms[0].temperature == pytest.approx(293.65)
    with pytest.raises(CaseError, match="numbers hold no comma"):
        load_house(house(tmp_path, "name;load (W)\nA;1,280\nB;270\nU;430\n"))


def test_a_spreadsheet_of_other_letters_is_to_be_saved_anew(tmp_path):
    path = house(tmp_path, "name,load\n")
    (tmp_path / "rooms.csv").write_bytes("name,title\nA,Küche\n".encode("cp1252"))
    with pytest.raises(CaseError, match="save it anew as CSV in UTF-8"):
        load_house(path)


WRONG = [
    (None, "no such file"),
    ("name,laod\nA,280 W\n", "unknown column"),
    ("name,load,Heat loss (W)\nA,280 W,300\n", "means load, as another column does"),
    ("name,Heat loss (W),load\nA,280 W,300\n", "means load, as another column does"),
    ("chamber,load\nA,280 W\n", "a column name"),
    ("", "a column name"),
    ("name,load\nC,280 W\n", "no such room"),
    ("name,load\nA,280 W\nA,1 W\n", "given twice"),
    ("name,active_area\nB,7 m^2\n", '"7 m\\^2".*the house file says "7.32 m\\^2"'),
    ("name,storey\nU,attic\n", 'the house file says "upper"'),
    ("name,load\nA,280\nB,270 W\nU,430 W\n", "unit is missing"),
]


@pytest.mark.parametrize(("table", "words"), WRONG)
def test_what_is_wrong_with_a_spreadsheet_is_named(table, words, tmp_path):
    with pytest.raises(CaseError, match=words):
        load_house(house(tmp_path, table))


def filled(tmp_path, rows):
    """A house whose rooms are told by an XLSX file, as a person keeps one."""
    book = Workbook()
    book.active.title = "Rooms"
    for row in [("Name", "Load", "Active area"), *rows]:
        book.active.append(row)
    book.save(tmp_path / "rooms.xlsx")
    text = BARE
    for area in ("7.32 m^2", "9.76 m^2"):
        text = text.replace(f'active_area = "{area}"\n', "")
    file = tmp_path / "h.toml"
    file.write_text('rooms_file = "rooms.xlsx"\n' + text)
    return file


SOUND = [("A", "280 W", "7.32 m^2"), ("B", "270 W", None), ("U", "430 W", None)]


@pytest.mark.parametrize(("row", "words"), [
    (("A", "280 W", "70 m^2"), 'rooms.xlsx, sheet "Rooms", row 3, active_area *got 70 m² .* the bays of room A heat'),
    (("A", 280, None), 'rooms.xlsx, sheet "Rooms", row 3, load .*unit is missing'),
    (("A", "-280 W", None), 'rooms.xlsx, sheet "Rooms", row 3, load .*'),
])  # fmt: skip
def test_a_wrong_cell_is_found_in_the_spreadsheet_and_not_in_the_house_file(row, words, tmp_path):
    # the first row below the headings is left empty, as people do
    with pytest.raises(CaseError, match=words):
        check_house(load_house(filled(tmp_path, [(None,) * 3, row, *SOUND[1:]])))
    check_house(load_house(filled(tmp_path, [(None,) * 3, *SOUND])))


def test_a_title_that_a_spreadsheet_would_work_out_comes_back_as_it_was(tmp_path):
    # the template is opened by a spreadsheet: a room called =cmd() must be a text there, and the same room afterwards
    odd = BARE.replace('name = "A"\n', 'name = "A"\ntitle = "=HYPERLINK(1)"\n', 1)
    asked = load_house(house(tmp_path, "name,load\nA,280 W\nB,270 W\nU,430 W\n", odd))
    template = as_csv(room_lines(asked))
    assert "A,'=HYPERLINK(1),ground" in template
    filled = "name,title,load\nA,'=HYPERLINK(1),280 W\nB,,270 W\nU,,430 W\n"
    assert load_house(house(tmp_path, filled)).rooms[0].title == "=HYPERLINK(1)"


@pytest.mark.parametrize("text", ['rooms_file = "rooms.csv"\n' + BARE, BARE])
def test_a_template_is_there_before_any_load_is(tmp_path, capsys, text):
    """The rooms A, B and U of the file, to be filled in: with the file that is to be made, and without any."""
    file = tmp_path / "h.toml"
    file.write_text(text)
    assert main(["house", str(file), "--template"]) == 0
    head, *lines = capsys.readouterr().out.splitlines()
    loads = [line.split(",")[4] for line in lines]
    assert head.split(",")[4] == "load (W)" and [line[0] for line in lines] == ["A", "B", "U"] and loads == ["", "", ""]
    file.write_text(BARE.replace("outdoor =", "outdor ="))
    assert main(["house", str(file), "--template"]) == 2


def test_a_spreadsheet_that_is_not_there_is_named_with_the_command_that_makes_one(tmp_path, capsys):
    assert main(["house", str(house(tmp_path, None)), "--layout-only"]) == 2
    assert "--template prints one to fill in" in capsys.readouterr().err

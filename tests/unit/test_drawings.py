"""Drawings of a house: true lengths in the DXF, true sizes of sheets and letters, every bay and circuit on them."""

import json
import re
from itertools import pairwise
from math import dist

import ezdxf
import pytest

from sim.house.record import house_record
from sim.store.texts import json_text
from tests.unit.invented_house import invented_plan
from viz.drawings.bay_sheet import draw_bay_sheet
from viz.drawings.board import TEXT, Board, Lettering, Stroke, width_of
from viz.drawings.drawing_set import drawing_set, write_drawings
from viz.drawings.frame import Heading, column_space, framed
from viz.drawings.free_place import free_place
from viz.drawings.measures import draw_measures
from viz.drawings.paper import PAPERS, PaperView, fitting_scale, measure
from viz.drawings.plan_key import PlanKey, draw_key
from viz.drawings.storey_sheet import draw_plan, draw_storey_sheet, untitled
from viz.page_parts import PageReader
from viz.plan_places import tag_places

MILLIMETRE = 72.0 / 25.4


@pytest.fixture(scope="module")
def record():
    return house_record(invented_plan())


@pytest.fixture(scope="module")
def sheets(record):
    """Boards and plans by unit system; nobody draws on them any more."""
    return {units: drawing_set(record, units) for units in ("si", "ip")}


def placed(record, place):
    (place / "house.json").write_text(json_text(record), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def folder(record, tmp_path_factory):
    return placed(record, tmp_path_factory.mktemp("house"))


@pytest.fixture(scope="module")
def written(record, tmp_path_factory):
    """Drawings and plan in SI, written once into a folder of their own."""
    return write_drawings(placed(record, tmp_path_factory.mktemp("written")))


def _texts(board):
    return [mark.text for mark in board.marks if isinstance(mark, Lettering)]


def test_tube_in_the_dxf_is_as_long_as_the_schedule_says(written, record):
    """Drawn = counted: Σ of the polylines of layer tube, in true millimetres, against the circuits' lengths."""
    _, plan = written
    lines = [
        entity
        for entity in ezdxf.readfile(plan).modelspace().query('LWPOLYLINE[layer=="tube"]')
        if not entity.closed
    ]
    drawn = sum(dist(start[:2], end[:2]) for line in lines for start, end in pairwise(line.get_points("xy")))
    counted = sum(row["length_m"] for row in record["layouts"][0]["circuits"])
    assert drawn / 1e3 == pytest.approx(counted, abs=1e-3)


def test_rooms_in_the_dxf_have_their_true_size(written):
    """A room of 2 by 4 m is a rectangle of 2000 by 4000 mm."""
    _, plan = written
    sizes = set()
    for entity in ezdxf.readfile(plan).modelspace().query('LWPOLYLINE[layer=="rooms"]'):
        x, y = zip(*entity.get_points("xy"), strict=True)
        sizes.add((round(max(x) - min(x)), round(max(y) - min(y))))
    assert sizes == {(2000, 4000)}


@pytest.mark.parametrize(("units", "size"), [("si", (420.0, 297.0)), ("ip", (431.8, 279.4))])
def test_pdf_pages_have_the_size_of_the_paper(folder, written, sheets, units, size):
    """A3 is 420 x 297 mm (ISO 216), tabloid 11 x 17 in; one page a sheet."""
    drawings, _ = written if units == "si" else write_drawings(folder, units)
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", drawings.read_bytes())
    assert len(boxes) == len(sheets[units][0])
    for box in boxes:
        assert [float(edge) / MILLIMETRE for edge in box] == pytest.approx(size, abs=0.1)


def test_the_same_house_gives_the_same_files(folder, written):
    first = [path.read_bytes() for path in written]
    assert [path.read_bytes() for path in write_drawings(folder)] == first


def test_every_bay_has_its_number_and_every_circuit_its_name_in_readable_type(record, sheets):
    boards, plans = sheets["si"]
    (plan, _), = plans
    texts = _texts(plan)
    for bay in record["bays"]:
        assert texts.count(bay["name"].rpartition("-")[2]) >= 2  # once in either room
    assert {"R1.1", "R2.1"} <= set(texts)
    numbers = [mark for mark in plan.marks if isinstance(mark, Lettering) and mark.layer == "numbers"]
    assert min(mark.height for mark in numbers) >= TEXT == 2.5
    assert any("duct" in text for text in texts) and any("cabinet" in text for text in texts)
    assert len(boards) == 4


def test_nothing_stands_off_the_paper(sheets):
    for units, (_, width, height) in PAPERS.items():
        for board in sheets[units][0]:
            for mark in board.marks:
                spots = [mark.place] if isinstance(mark, Lettering) else mark.points
                assert all(0.0 <= x <= width and 0.0 <= y <= height for x, y in spots)


def test_a_section_shows_the_bay_that_is_simulated(record):
    """Demo bay: joists 406 mm apart and 235 mm deep, 19 mm of plywood and of oak on them, plates 130 mm wide."""
    (kind,) = record["layouts"][0]["bay_types"]
    assert kind["rooms"] == ["R1", "R2"]
    parts = {part["name"]: part for part in kind["parts"]}
    assert parts["softwood joist"]["z_mm"] == [pytest.approx(-234.95), 0.0]
    assert parts["plywood"]["z_mm"] == [0.0, pytest.approx(19.0)]
    assert parts["oak"]["z_mm"][1] == pytest.approx(38.0)
    plate = parts["plate 1.1"]["x_mm"]
    assert plate[1] - plate[0] == pytest.approx(kind["plates"]["width_mm"])


def test_every_view_of_a_bay_says_its_scale(record):
    (kind,) = record["layouts"][0]["bay_types"]
    board = framed("ip", Heading("house", "bay", ""), 1, 1)
    draw_bay_sheet(board, kind, PageReader("ip"))
    assert sum(text.startswith("scale: ") for text in _texts(board)) == 2


def test_a_bay_without_plates_is_not_headed_by_them(record):
    (kind,) = record["layouts"][0]["bay_types"]
    bare = kind | {"plates": None, "parts": [part for part in kind["parts"] if part["kind"] != "plate"]}
    titles = []
    for each in (kind, bare):
        board = framed("si", Heading("house", "bay", ""), 1, 1)
        draw_bay_sheet(board, each, PageReader("si"))
        titles += [text for text in _texts(board) if "from below, from the rim joist on" in text]
    assert [title.split(" from ")[0] for title in titles] == ["Plates and tube", "Tube"]


def test_tube_across_is_measured_from_the_joists_end_and_their_top(record):
    """Holes 40 mm below the joists' top, runs every 210 mm, the first 105 mm from the end."""
    (kind,) = record["layouts"][0]["bay_types"]
    tube = kind["tubes"][0] | {"x_mm": None, "z_mm": -40.0}
    across = kind | {"across": True, "across_spacing_mm": 210.0, "tubes": [tube], "plates": None}
    across["parts"] = [part for part in kind["parts"] if part["kind"] != "plate"]
    board = framed("si", Heading("house", "bay", ""), 1, 1)
    draw_bay_sheet(board, across, PageReader("si"))
    assert {"40", "105", "210"} <= set(_texts(board))


def test_the_hole_is_measured_from_the_joists_top_past_high_insulation(record):
    """Insulation up to 25 mm below the sheathing: the hole's middle stays 40 mm below the joists' top."""
    (kind,) = record["layouts"][0]["bay_types"]
    high = {"name": "batt", "kind": "insulation", "x_mm": [20.0, 380.0], "z_mm": [-200.0, -25.0]}
    parts = [part for part in kind["parts"] if part["kind"] not in ("plate", "insulation")]
    tube = kind["tubes"][0] | {"x_mm": None, "z_mm": -40.0}
    across = {"across": True, "across_spacing_mm": 210.0, "tubes": [tube], "plates": None, "parts": [*parts, high]}
    board = framed("si", Heading("house", "bay", ""), 1, 1)
    draw_bay_sheet(board, kind | across, PageReader("si"))
    assert {"40", "25"} <= set(_texts(board)) and "15" not in _texts(board)


@pytest.mark.parametrize("units", ["si", "ip"])
def test_no_type_is_smaller_than_can_be_read(sheets, units):
    for board in sheets[units][0]:
        assert min(mark.height for mark in board.marks if isinstance(mark, Lettering)) >= TEXT


def test_the_number_of_a_short_upright_line_stands_level_beside_it():
    board = Board(100.0, 100.0)
    board.dimension((50.0, 50.0), (50.0, 54.0), '1 3/16"', 9.0)
    (number,) = (mark for mark in board.marks if isinstance(mark, Lettering))
    assert number.turn == 0.0 and number.anchor == "end" and number.place[0] < 41.0
    assert number.place[1] > 50.0 and number.place[1] + TEXT < 54.0


def test_a_sheet_says_in_what_its_measures_are(sheets):
    assert all("millimetres" in " ".join(_texts(board)) for board in sheets["si"][0])


def test_the_first_sheet_says_what_the_page_says(record):
    """211.7 W are 722 Btu/h (3.412142 each); the rounded 212 W would be 723."""
    layout = record["layouts"][0]
    short = layout["verdict"] | {"short": [{"room": "R1", "shortfall_W": 211.7}]}
    first = drawing_set(record | {"layouts": [layout | {"verdict": short}]}, "ip")[0][0]
    assert "R1 falls short by 722 Btu/h" in " ".join(_texts(first))


def test_how_things_are_counted_is_told_in_the_units_of_the_sheet(sheets):
    first = sheets["ip"][0][0]
    assert not any(re.search(r"\d m?m\b", text) for text in _texts(first))


def test_sheets_are_spelled_as_their_units_have_it(sheets):
    told = {units: " ".join(text for board in sheets[units][0] for text in _texts(board)) for units in sheets}
    assert "expansion vessel" in told["si"] and "expansion tank" in told["ip"]
    assert not re.search("aluminium|galvanised|centre|expansion vessel", told["ip"])


def test_measures_are_written_as_rules_have_them():
    inches = [measure(value, "ip") for value in (0.1524, 1.8415, 0.0015875, 3.6576)]
    assert inches == ['6"', "6'-0 1/2\"", '1/16"', "12'-0\""]
    assert measure(23.0 / 32.0 * 0.0254, "ip") == '23/32"'  # a board as the trade has it
    assert measure(0.016 * 0.0254, "ip") == '0.016"'
    assert measure(0.2349, "si") == "235"


def test_the_largest_scale_that_fits_is_taken():
    assert fitting_scale((10.0, 7.0), (220.0, 220.0), "si") == 50
    assert fitting_scale((10.0, 7.0), (150.0, 220.0), "si") == 75
    assert fitting_scale((1e4, 7.0), (150.0, 220.0), "si") == 500


def test_the_page_leads_to_the_drawings_that_are_there(folder):
    from viz.house_page import write_house_page

    assert "drawings.pdf" not in write_house_page(_without_drawings(folder)).read_text(encoding="utf-8")
    write_drawings(folder)
    assert 'href="drawings.pdf"' in write_house_page(folder).read_text(encoding="utf-8")


def _without_drawings(folder):
    for name in ("drawings.pdf", "plan.dxf"):
        (folder / name).unlink(missing_ok=True)
    return folder


def test_a_label_stands_where_it_covers_least():
    """Of three places one lies on a name, one on tube, one on nothing."""
    board = Board(100.0, 100.0)
    board.words((10.0, 49.0), "circuit R1.1")
    board.line(((50.0, 40.0), (50.0, 60.0)))
    assert free_place(board, (20.0, 6.0), [(15.0, 50.0), (50.0, 50.0), (80.0, 50.0)]) == (80.0, 50.0)
    assert free_place(board, (20.0, 6.0), [(15.0, 50.0), (50.0, 50.0)]) == (50.0, 50.0)


def test_names_of_circuits_keep_off_what_is_kept_free():
    ways = [[(0.0, 0.0), (0.0, 90.0)], [(40.0, 0.0), (40.0, 90.0)]]
    assert tag_places(ways, (12.0, 5.0)) == [(0.0, 0.0), (40.0, 0.0)]
    first, second = tag_places(ways, (12.0, 5.0), [(3.0, 1.0)])
    assert first[1] >= 5.0 and second == (40.0, 0.0)


def test_a_long_title_of_a_house_is_whole():
    title = "Nine rooms under an old slate roof with a very long name"
    texts = _texts(framed("si", Heading(title, "plan", ""), 1, 1))
    assert any(" ".join(pair) == title for pair in zip(texts, texts[1:], strict=False))


@pytest.mark.parametrize("units", ["si", "ip"])
def test_small_plans_of_pulling_sheets_stay_left_of_the_column(sheets, units):
    pulling = [board for board in sheets[units][0] if any(text.startswith("Pulling") for text in _texts(board))]
    edge = column_space(pulling[-1])[0][0]
    for board in pulling[1:]:  # the first names all sheets
        across = [[x for x, _ in mark.points] for mark in board.marks if isinstance(mark, Stroke)]
        crossing = [x for x in across if min(x) < edge - 0.1 and max(x) > edge + 0.1]
        assert all(max(x) - min(x) > 0.8 * board.width for x in crossing), "nothing but the frame"


def _storey(*groups, width=4.0):
    """A room with a bay window as the record tells it: groups of (first number, count, x, y from and to) of bays."""
    bays = [
        {"name": f"LIV-{first + k}", "room": "LIV", "storey": "ground", "along": along, "entry": "low", "blocked": [],
         "x_m": (x, x + 4.0) if along == "x" else (x + 0.5 * k, x + 0.5 * (k + 1)),
         "y_m": (y[0] + 0.2 * k, y[0] + 0.2 * (k + 1)) if along == "x" else y, "joists": 0, "joists_m": ()}
        for first, count, x, y, along in groups for k in range(count)
    ]  # fmt: skip
    room = {"name": "LIV", "title": "Living room with a view of the lake", "x_m": (0.0, width), "y_m": (0.0, 5.0)}
    return {"name": "ground", "rooms": [room], "manifolds": []}, bays


def test_bays_of_a_bay_window_are_measured_by_themselves():
    """Eight bays of 500 mm and four beside their end are no twelve bays of 333 mm."""
    storey, bays = _storey((1, 8, 0.0, (0.0, 4.0), "y"), (9, 4, 1.0, (4.0, 5.0), "y"))
    board = Board(*PAPERS["si"][1:])
    draw_measures(board, PaperView((0.0, 0.0), (60.0, 60.0), 50), storey, bays, PageReader("si"))
    told = _texts(board)
    assert "8 x 500" in told and "4 x 500" in told and not any(text.startswith("12 x") for text in told)


def _boxes(board):
    """Left, lower, right and upper edge of every text that a sheet of measures holds [mm]."""
    for mark in board.marks:
        if isinstance(mark, Lettering):
            long, (x, y) = width_of(mark.text, mark.height), mark.place
            start = {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor] * long
            level = (x - start, y, x - start + long, y + mark.height)
            yield mark.text, (x - mark.height, y - start, x, y - start + long) if mark.turn else level


def _row(*walls, depth=0.7, top=0.45):
    """Rooms side by side between walls [m], each with a bay along x that begins 50 mm above its lower wall."""
    rooms = [{"name": f"R{k}", "title": "Store", "x_m": ends, "y_m": (0.0, depth)} for k, ends in enumerate(walls)]
    bays = [
        {"name": f"R{k}-1", "room": f"R{k}", "along": "x", "entry": "low", "blocked": [], "x_m": ends,
         "y_m": (0.05, top), "joists": 0, "joists_m": ()} for k, ends in enumerate(walls)
    ]  # fmt: skip
    return {"name": "ground", "rooms": rooms, "manifolds": []}, bays


@pytest.mark.parametrize("units", ["si", "ip"])
def test_measures_of_narrow_rooms_hide_none_of_each_other(units):
    """Six strips of 150 mm at 1 : 75 are 2 mm wide on paper: what has no place is said beneath, whole and in order."""
    storey, bays = _row(*((0.15 * k, 0.15 * (k + 1)) for k in range(6)))
    board = Board(*PAPERS[units][1:])
    told = draw_measures(board, PaperView((0.0, 0.0), (100.0, 100.0), 75), storey, bays, PageReader(units))
    number = "150" if units == "si" else '5\u00a07/8"'
    assert told[0] == f"walls from left to right: {', '.join([number] * 6)}"
    assert not any(text in _texts(board) for text in ("150", '5 7/8"')), "of a chain that is said beneath none misleads"
    assert all("bays of" in line for line in told[1:])
    boxes = list(_boxes(board))
    for place, (text, (left, low, right, high)) in enumerate(boxes):
        for other, (x0, y0, x1, y1) in boxes[place + 1 :]:
            assert right <= x0 or x1 <= left or high <= y0 or y1 <= low, (text, other)


def test_bays_are_measured_on_the_nearer_side_and_once_where_two_rooms_say_the_same():
    """The two rooms in the left half say the same, at the left; the third is measured at the right."""
    storey, bays = _row((0.0, 2.0), (2.0, 6.0), (6.0, 9.0), depth=2.0, top=1.85)
    board = Board(*PAPERS["si"][1:])
    draw_measures(board, PaperView((0.0, 0.0), (100.0, 100.0), 75), storey, bays, PageReader("si"))
    singles = [box for text, box in _boxes(board) if text == "1 x 1800"]
    assert len(singles) == 2 and singles[0][0] < 100.0 and singles[1][0] > 100.0 + 9000.0 / 75


@pytest.mark.parametrize("units", ["si", "ip"])
def test_measures_of_a_plan_that_fills_its_sheet_keep_off_the_scale_bar(record, units):
    """A house of 4.3 m by 9.8 m goes up to the measures' space at 1 : 50."""
    storey, bays = _row((0.0, 1.1), (1.1, 4.3), depth=9.8, top=9.0)
    bays = [{**bay, "storey": "ground", "name": f"R{k}-1", "runs": 2} for k, bay in enumerate(bays)]
    board = framed(units, Heading("House", "Plan", ""), 1, 1)
    lettered = len(board.marks)
    layout = {"circuits": [], "source": "boiler"}
    draw_storey_sheet(board, {"house": {}, "bays": bays}, storey, layout, PageReader(units))
    board.marks = board.marks[lettered:]
    words = next(box for text, box in _boxes(board) if text.startswith(("2 m ", "10 ft ")))
    others = [box for text, box in _boxes(board) if not text.startswith(("2 m ", "10 ft "))]
    assert all(right <= words[0] or words[2] <= x or high <= words[1] or words[3] <= y for x, y, right, high in others)
    lines = [mark for mark in board.marks if isinstance(mark, Stroke) and max(x for x, _ in mark.points) < 300.0]
    ends = [point for line in lines for point in line.points]
    assert not [(x, y) for x, y in ends if words[0] < x < words[2] and words[1] < y < words[3]]


def test_a_title_that_would_be_cut_within_a_word_stands_in_the_key_alone():
    storey, bays = _row((0.0, 0.9), (1.0, 6.0), depth=2.0)
    storey["rooms"][0]["title"] = "Wardrobe"
    view, board = PaperView((0.0, 0.0), (100.0, 100.0), 50), Board(*PAPERS["si"][1:])
    draw_plan(board, view, storey, bays, [], {})
    assert "R0" in _texts(board) and not any("W" in text for text in _texts(board))
    assert untitled(view, storey, bays) == ["R0  Wardrobe"]


def test_the_name_of_a_narrow_room_hides_no_number():
    """Strips 200 mm apart all along the room: its long name keeps off the column of their numbers."""
    storey, bays = _storey((1, 24, 0.0, (0.0, 5.0), "x"), width=4.0)
    board = Board(*PAPERS["si"][1:])
    draw_plan(board, PaperView((0.0, 0.0), (60.0, 60.0), 75), storey, bays, [], {})
    numbers = [mark for mark in board.marks if isinstance(mark, Lettering) and mark.text.isdigit()]
    names = [mark for mark in board.marks if isinstance(mark, Lettering) and not mark.text.isdigit()]
    assert len(numbers) == 24 and names
    for name in names:
        left = name.place[0] - width_of(name.text, name.height) / 2.0
        right = left + width_of(name.text, name.height)
        for number in numbers:
            half = width_of(number.text) / 2.0
            assert number.place[0] + half < left or number.place[0] - half > right or (
                abs(number.place[1] - name.place[1]) > name.height
            )


def test_long_names_of_rooms_hide_no_length_in_the_key(record):
    """With names of 24 letters, the most that there may be, no two cells of a row of the key touch."""
    long = json.loads(json_text(record).replace("R1", "R1-room-on-the-north-sid"))
    boards = drawing_set(long, "si")[0]
    board = next(board for board in boards if {"Circuits", "bays", "flow"} <= set(_texts(board)))
    left = column_space(board)[0][0]
    marks = [mark for mark in board.marks if isinstance(mark, Lettering) and mark.text and mark.place[0] > left]
    level = next(mark.place[1] for mark in marks if "…" in mark.text)
    row = sorted((mark for mark in marks if abs(mark.place[1] - level) < 0.1), key=lambda mark: mark.place[0])
    starts = [mark.place[0] - (width_of(mark.text) if mark.anchor == "end" else 0.0) for mark in row]
    assert len(row) == 4
    for mark, start, following in zip(row, starts, starts[1:], strict=False):
        assert start + width_of(mark.text) < following


def crowded_record(record, count):
    """The record with so many circuits in its first layout, all in the bays of its first."""
    layout = record["layouts"][0]
    first = layout["circuits"][0]
    circuits = [{**first, "circuit": f"R1.{number + 1}"} for number in range(count)]
    return {**record, "layouts": [{**layout, "circuits": circuits}]}


def test_a_key_without_room_beside_its_plan_has_a_sheet_of_its_own(record):
    """Sixty circuits: every one is named on the key's sheet, none in the title block, none twice."""
    boards, _ = drawing_set(crowded_record(record, 60))
    plan, key = boards[1], boards[2]
    assert 'the key has a sheet of its own: "Key to the plan, ground"' in _texts(plan)
    assert "Key to the plan, ground" in _texts(key)
    lengths = [text for text in _texts(key) if re.fullmatch(r"R1\.\d+", text)]
    assert sorted(lengths) == sorted(f"R1.{number + 1}" for number in range(60))
    (left, low), (wide, _) = column_space(key)
    for mark in key.marks:
        if isinstance(mark, Lettering) and re.fullmatch(r"R1\.\d+", mark.text):
            x, y = mark.place
            assert 10.0 < y < key.height - 10.0 and (x < left or y > low), mark.text


def test_a_key_with_room_stays_beside_its_plan(record):
    boards, _ = drawing_set(crowded_record(record, 20))
    assert not any("Key to the plan" in text for board in boards for text in _texts(board))
    (left, low), _ = column_space(boards[1])
    words = [mark for mark in boards[1].marks if isinstance(mark, Lettering)]
    rows = [mark.place for mark in words if re.fullmatch(r"R1\.\d+", mark.text)]
    assert sum(x > left and y > low + 15.0 for x, y in rows) == 20


def test_lists_beside_a_plan_end_above_the_title_block():
    """What has no room is left out rather than written over another's words."""
    board = Board(*PAPERS["si"][1:])
    key = PlanKey({"circuits": []}, (), {}, {}, PageReader("si"))
    draw_key(board, key, {"Rooms": [f"R{number}  A room" for number in range(90)]}, "ground")
    told = [mark for mark in board.marks if isinstance(mark, Lettering) and mark.text.startswith("R")]
    assert 30 < len(told) < 90 and min(mark.place[1] for mark in told) > column_space(board)[0][1] + 15.0

"""The page of a house on paper: what the page says for the chosen source, nothing cut, made without a browser."""

import re
from dataclasses import replace

import numpy as np
import pytest
from invented_house import invented_plan
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure as PaperFigure

from sim.house.record import house_record
from viz.house_booklet import booklet, write_booklet
from viz.house_page import house_page
from viz.page_tree import page_tree
from viz.report.drawing import Dot, Drawing, Path, TextMark
from viz.report.lettering import SetLine
from viz.report.paper import _Setter
from viz.report.parts import Bullets, Chapter, Figure, Page, Table, Text
from viz.report.told import same
from viz.svg import Canvas
from viz.svg_drawing import drawing_of


@pytest.fixture(scope="module")
def markup():
    return house_page(house_record(invented_plan()))


@pytest.fixture(scope="module")
def paper(markup):
    return booklet(markup)


def parts(paper, kind):
    return [part for chapter in paper.chapters for part in chapter.parts if isinstance(part, kind)]


def test_every_section_of_the_chosen_source_is_a_chapter(markup, paper):
    bare = re.sub(r"<details[^>]*><summary>", "", markup)
    sections = re.findall(r'<section id="[^"]*"(?: class="([^"]*)")?><h2>([^<]*)</h2>', bare)
    wanted = [heading for kinds, heading in sections if "other" not in kinds.split()]
    assert [chapter.heading for chapter in paper.chapters] == ["In short", *wanted]
    assert len(wanted) < len(sections), "other sources have chapters on the screen only"


def test_cells_of_tables_are_those_of_the_page(markup, paper):
    cells = {cell.si for table in parts(paper, Table) for row in table.rows for cell in row}
    assert {"R1-1", "R1.1", "R2"} <= cells
    assert all(len(row) == len(table.heads) for table in parts(paper, Table) for row in table.rows)
    shown = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", markup))
    numbers = [cell for cell in cells if re.fullmatch(r"[\d,.]+", cell)]
    assert len(numbers) > 50 and all(number in shown for number in numbers)


def test_cautions_boxes_and_lines_to_write_on_are_there(paper):
    told = [f"{head.si} {text.si}" for bullets in parts(paper, Bullets) for head, text in bullets.items]
    assert any(text.startswith("☐ Wiring") for text in told)
    assert any(text.startswith("purging: ") and text.endswith("]") for text in told)
    assert any("date, name ______" in text.text.si for text in parts(paper, Text))


def test_nothing_is_cut_off(paper):
    """No word ends in dots, though the bay schedule has fourteen columns."""
    setter = _Setter(paper, "si")
    setter.compose()
    words = [line.text for sheet in setter.sheets for line in sheet.artists if isinstance(line, SetLine)]
    assert len(words) > 200 and not [text for text in words if "…" in text]


@pytest.mark.parametrize("units", ["si", "ip"])
def test_no_type_of_the_booklet_is_smaller_than_eight_points(markup, units):
    """Figures apart, which are scaled as a whole: tables of fourteen columns too."""
    setter = _Setter(booklet(markup), units)
    setter.compose()
    assert min(line.size for sheet in setter.sheets for line in sheet.artists if isinstance(line, SetLine)) >= 8.0


def test_columns_that_have_no_room_go_below_beside_the_first():
    """Forty columns of a word of an inch: in groups, each row's name in each, and every cell once."""
    heads, row = ["name", *(f"measurement{k}" for k in range(40))], ["R1", *(f"{k}.25" for k in range(40))]
    table = Table(same(""), [same(head) for head in heads], [[same(cell) for cell in row]], [0])
    setter = _Setter(Page("House", same(""), [Chapter("a", "A", [table])], same("")), "si")
    setter.compose()
    told = [line.text for sheet in setter.sheets for line in sheet.artists if isinstance(line, SetLine)]
    assert all(told.count(text) == 1 for text in (*heads[1:], *row[1:]))
    assert told.count("R1") == told.count("name") > 3


@pytest.mark.parametrize(("units", "size"), [("si", (595.0, 842.0)), ("ip", (612.0, 792.0))])
def test_sheets_have_the_size_of_the_paper(markup, tmp_path, units, size):
    page = tmp_path / "house.html"
    page.write_text(markup, encoding="utf-8")
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", write_booklet(page, units).read_bytes())
    assert boxes and all((float(w), float(h)) == pytest.approx(size, abs=1.0) for w, h in boxes)


def test_drawings_are_read_back_mark_for_mark(paper):
    canvas = Canvas(100.0, 50.0, "what it shows")
    canvas.path([(1.0, 2.0), (3.0, 4.0)], "#123456", 2.0, (4.0, 2.0), (10.0, 0.0))
    canvas.box((5.0, 6.0), (7.0, 8.0), "url(#hatch)", "#000000", 0.5)
    canvas.dot((9.0, 9.0), 2.0, "#ff0000")
    canvas.text((11.0, 12.0), "R1 & R2", 13.0, "#00ff00", "middle", bold=True)
    canvas.arrow((1.0, 1.0), (1.0, 0.0), 3.0, "#0000ff")
    drawing = drawing_of(next(page_tree(canvas.markup()).find("svg")))
    line, box, dot, text, head = drawing.marks
    assert (drawing.width, drawing.height, drawing.label.si) == (100.0, 50.0, "what it shows")
    assert isinstance(line, Path) and list(line.points) == [(11.0, 2.0), (13.0, 4.0)] and list(line.dash) == [4.0, 2.0]
    assert isinstance(box, Path) and (12.0, 14.0) in box.points and box.fill.startswith("#")
    assert isinstance(dot, Dot) and dot.centre == (9.0, 9.0)
    assert isinstance(text, TextMark) and (text.text.si, text.anchor, text.bold) == ("R1 & R2", "middle", True)
    assert isinstance(head, Path) and head.fill == "#0000ff"
    assert parts(paper, Figure)


def test_a_heading_within_a_chapter_stays_with_its_table(paper):
    setter = _Setter(paper, "si")
    setter._turn()
    setter.level = 0.7 + 0.8  # room for a heading and two lines
    setter._part(Text(same("Quantities"), "answer"))
    assert len(setter.sheets) == 2
    assert [line.text for line in setter.sheets[1].artists] == ["Quantities"]


def test_a_chapter_that_begins_with_words_and_a_chart_is_not_parted(paper):
    """Where only heading and words would fit, all three go to the next sheet."""
    chapter = next(chapter for chapter in paper.chapters if chapter.heading == "What each room needs as written")
    assert isinstance(chapter.parts[0], Text) and isinstance(chapter.parts[1], Figure)
    setter = _Setter(paper, "si")
    setter._turn()
    setter.level = 0.7 + 1.5
    setter._chapter(replace(chapter, parts=chapter.parts[:2]))
    assert len(setter.sheets) == 2
    told = [[part.text for part in sheet.artists if hasattr(part, "text")] for sheet in setter.sheets]
    assert not told[0] and told[1][0] == chapter.heading


def test_paper_covers_the_lines_that_were_drawn_before_it():
    """A name on a strip of paper: no line of the plan runs through it."""
    figure = PaperFigure(figsize=(1.0, 1.0), dpi=100)
    canvas, axes = FigureCanvasAgg(figure), figure.add_axes((0.0, 0.0, 1.0, 1.0))
    drawing = Drawing(100.0, 100.0, same(""))
    drawing.line((0.0, 50.0), (100.0, 50.0), "#000000", 8.0)
    drawing.box((20.0, 20.0), (60.0, 60.0), "#ffffff", "none", 0.0)
    drawing.line((50.0, 0.0), (50.0, 100.0), "#ff0000", 8.0)
    drawing.draw(axes, "si", 0.72)
    canvas.draw()
    dots = np.asarray(canvas.buffer_rgba())[..., :3]
    assert dots[50, 10].tolist() == [0, 0, 0]
    assert dots[50, 35].tolist() == [255, 255, 255]
    assert dots[30, 50].tolist() == [255, 0, 0]


def test_a_number_on_paper_is_not_parted_from_its_unit():
    """Some of 60 temperatures in a row would end a line with their number alone."""
    setter = _Setter(booklet(house_page(house_record(invented_plan()))), "ip")
    setter._turn()
    setter._words("the water may be up to 9 °F cooler, " * 60, 8.0)
    lines = [artist.text for artist in setter.sheets[-1].get_children() if isinstance(artist, SetLine)]
    assert len(lines) > 10 and not [line for line in lines if line.endswith("9") or line.startswith("°F")]
    assert not [line for line in lines if "\u00a0" in line]

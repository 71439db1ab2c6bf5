"""Letters on the page's drawings: none is cut off at an edge, none lies on what it names, none is told four times."""

import re
from dataclasses import replace

import fake_run
import pytest
from matplotlib.backend_bases import RendererBase

from viz.choice import Choice
from viz.explorer.picture import SECTION_WIDTH, bay_picture
from viz.layout import text_width
from viz.report.build_up import build_up_figure, place_of_section, warmth_figure
from viz.report.compare_page import ComparedRecord, ComparisonRecord, compare_page
from viz.report.drawing import DotsMark, Drawing, TextMark, width_of
from viz.report.flows import chain_figure
from viz.report.html import page_html
from viz.report.lettering import SetLine
from viz.report.maps import small_figure
from viz.report.parts import NARROW, WIDE, Text
from viz.report.record import RunRecord
from viz.report.run_page import run_page
from viz.report.told import same

LONG = "heart pine from a barn, wide planks, oiled twice by hand"
MIDDLING = "heart pine from a barn, oiled by hand"


def invented(covering="oak", **shape):
    fields = fake_run.make_fields(**{"length": 0.9, "step": 0.03, **shape})
    named = fields.attrs["outlines"].replace('"oak"', f'"{covering}"')
    fields = fields.assign_attrs(outlines=named, span="pitch")
    choice = Choice("as built", fields, fake_run.make_report(fields), "Oak den")
    limits = [{"what": "occupied floor", "key": "surface_peak_C", "highest": 60.0, "value": 26.0, "kept": True,
               "source": "a standard"}]  # fmt: skip
    return RunRecord(choice, None, fake_run.CASE_TEXT, "", limits)


@pytest.fixture(scope="module")
def run():
    return invented()


def letters(drawing):
    return [mark for mark in drawing.marks if isinstance(mark, TextMark)]


def ends(mark):
    """Where a text begins and ends [px], in the wider of its unit systems."""
    wide = width_of(mark.text, mark.size, bold=mark.bold)
    left = mark.place[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor] * wide
    return left, left + wide


def all_inside(drawing):
    return all(left >= -0.1 and right <= drawing.width + 0.1 for left, right in map(ends, letters(drawing)))


@pytest.mark.parametrize("width", [WIDE, NARROW])
@pytest.mark.parametrize(("covering", "cut_at"), [("oak", ()), (MIDDLING, (NARROW,)), (LONG, (NARROW, WIDE))])
def test_names_begin_beside_the_section_and_end_on_the_sheet(width, covering, cut_at):
    """One that somebody made very long ends in an ellipsis, and leaves half of the width to the section."""
    choice = invented(covering).choice
    drawing = build_up_figure(choice, place_of_section(choice)).draw(width)
    names = [mark for mark in letters(drawing) if mark.anchor == "start"]
    corners = [x for mark in drawing.marks if hasattr(mark, "fill") and hasattr(mark, "points")
               for x, _ in mark.points if mark.fill == "#c99a62"]  # fmt: skip
    assert len(names) >= 5 and all_inside(drawing)
    assert min(mark.place[0] for mark in names) > max(corners) + 10.0
    assert max(corners) - min(corners) > 0.3 * width
    assert any("…" in mark.text.si for mark in names) == (width in cut_at)


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_the_scale_beside_a_section_is_not_cut_off(run, width):
    drawing = warmth_figure(run.choice, place_of_section(run.choice)).draw(width)
    (scale,) = [mark for mark in drawing.marks if isinstance(mark, DotsMark) and mark.size[0] == 13.0]
    assert all_inside(drawing)
    assert all(ends(mark)[0] > scale.corner[0] + scale.size[0] for mark in letters(drawing))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_steps_to_the_space_below_keep_their_names(width):
    """The longest name of a step, and values of a well insulated bay, which are long in inch-pound units."""
    steps = [(same("underside to space below"), 4.7, 58.0), (same("water to cavity air"), 1.2, 12.0)]
    drawing = chain_figure("Down", steps, (same("water 60 °C"), same("space below 12 °C"))).draw(width)
    name = next(mark for mark in letters(drawing) if mark.text.si == "underside to space below")
    assert all_inside(drawing) and name.place[0] == (192.0 if width == WIDE else 140.0)


def test_a_text_at_an_edge_is_pushed_inwards():
    drawing = Drawing(100.0, 50.0, same("edges"))
    for anchor, x in (("start", 95.0), ("middle", 2.0), ("end", 3.0), ("start", 10.0)):
        drawing.text((x, 20.0), "11 7/8 in", 11.0, anchor=anchor)
    assert all_inside(drawing)
    assert letters(drawing)[-1].place == (10.0, 20.0)


@pytest.mark.parametrize(("length", "on_side"), [(1.2, True), (4.2, False)])
def test_a_map_of_several_bears_its_name_and_lies_on_its_side_on_a_phone(length, on_side):
    """One under the other they compare; a whole bay, ten times as long as wide, would be a line then."""
    floor = invented(length=length).floor("plates every 225 mm")
    drawing = small_figure(floor, 1.0).draw(NARROW)
    picture = next(mark for mark in drawing.marks if isinstance(mark, DotsMark) and mark.name.startswith("field"))
    assert (picture.size[0] > picture.size[1]) == on_side
    assert letters(drawing)[0].text.si == "plates every 225 mm" and letters(drawing)[0].bold


def floors_chapter(limits):
    """The first chapter of maps of a comparison of two floors that each have a limit."""
    first, second = (replace(invented(), limits=[{**invented().limits[0], "highest": highest}]) for highest in limits)
    record = ComparisonRecord("Two", [ComparedRecord("a", first, None), ComparedRecord("b", second, None)], "")
    return next(chapter for chapter in compare_page(record).chapters if chapter.anchor == "floors-water")


def test_a_limit_that_all_floors_keep_is_told_once():
    shared, apart = floors_chapter((60.0, 60.0)), floors_chapter((60.0, 50.0))
    assert shared.parts[0].text.si.count("Nowhere warmer than it may be") == 1
    assert "Nowhere" not in shared.parts[1].caption.si + shared.parts[2].caption.si
    assert "Nowhere" not in apart.parts[0].text.si and "60.0 °C" in apart.parts[1].caption.si
    assert isinstance(shared.parts[0], Text)


def test_limits_and_cautions_come_before_detail(run):
    """Answer, pictures, limits, what to mind; then curves, flows and numbers."""
    order = [chapter.anchor for chapter in run_page(run).chapters]
    assert order[:5] == ["answer", "section", "floor", "limits", "cautions"]
    assert order.index("cautions") < order.index("heat") < order.index("numbers")
    assert page_html(run_page(run)).count('class="hint"') == 1


def test_the_explorer_draws_sections_for_phones_too(run):
    """A section for a desk, shrunk to a phone, has letters of half their size."""
    picture = bay_picture(run.choice.fields, run.report, "Oak den")
    for name in ("section", "warm"):
        wide, narrow = (picture[name][key] for key in ("svg", "narrow"))
        assert f'viewBox="0 0 {SECTION_WIDTH:.0f} ' in wide and f'viewBox="0 0 {NARROW:.0f} ' in narrow
        assert min(map(float, re.findall(r'font-size="([\d.]+)"', narrow))) >= 10.0


class Pen(RendererBase):
    """A renderer that tells where a text was set [px], at 100 dots an inch on a sheet of 8 inches."""

    def __init__(self, down):
        super().__init__()
        self.down, self.told = down, []

    def points_to_pixels(self, points):
        return points / 72.0 * 100.0

    def get_canvas_width_height(self):
        return 600.0, 800.0

    def flipy(self):
        return self.down

    def draw_text(self, pen, x, y, *_, **__):
        self.told.append((x, y))


@pytest.mark.parametrize(("down", "y"), [(False, 300.0), (True, 500.0)])
@pytest.mark.parametrize(("side", "back"), [("left", 0.0), ("right", 1.0)])
def test_a_line_set_at_once_begins_or_ends_at_its_place(side, back, down, y):
    """2 in from the left and 3 in from below, whichever way a renderer counts."""
    pen = Pen(down)
    SetLine((2.0, 3.0), "tube, leaders included", 9.0, "black", (side, "normal", "sans-serif")).draw(pen)
    x = 200.0 - back * 100.0 * text_width("tube, leaders included", 9.0)
    assert pen.told == [pytest.approx((x, y))]

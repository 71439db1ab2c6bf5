"""Pages on a phone: what belongs together stays together."""

import re

from viz.report.drawing import Drawing, TextMark
from viz.report.html import _part
from viz.report.parts import Table, Text
from viz.report.time_page import _draw_marks
from viz.report.told import same, told


def test_a_wide_table_parts_no_number_from_its_unit():
    keys = ("surface_peak_C", "plates_per_m2", "ripple_K", "heat_flux_up_W_m2", "water_flow_l_min")
    cells = [told(key, 4.97) for key in keys]
    html = _part(Table(same(""), [same(f"choice {k}") for k in range(6)], [[same("floor, warmest"), *cells]]))
    numbers = re.findall(r"<td class=n>(.*?)</td>", html)
    assert len(numbers) == 5
    assert not [number for number in numbers if " " in re.sub(r"<[^>]*>", "", number)]


def test_words_of_lines_that_lie_close_stand_above_each_other():
    drawing = Drawing(360.0, 300.0, same("curves"))
    _draw_marks(drawing, [(60.0, "63 %"), (80.0, "90 %"), (200.0, "99 %")], (14.0, 244.0))
    first, second, third = (mark for mark in drawing.marks if isinstance(mark, TextMark))
    assert first.place[1] - second.place[1] >= first.size
    assert third.place[1] == first.place[1]


def test_a_sentence_parts_neither_a_band_nor_inches_and_their_fraction():
    html = _part(Text(same("joists of 9 1/4 in, 0.6585 ± 0.0054 W, ± 3 %, 2 in 5")))
    assert "9\u00a01/4\u00a0in" in html and "0.6585\u00a0±\u00a00.0054\u00a0W" in html and "±\u00a03\u00a0%" in html

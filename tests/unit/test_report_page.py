"""The page to hand over: its values are the report's in both unit systems, it needs nothing else, titles do nothing."""

import base64
import json
import re
import shutil
import struct
import subprocess
import zlib
from dataclasses import asdict, replace
from html.parser import HTMLParser

import fake_run
import numpy as np
import pytest
import xarray

from sim.cli.report_records import _title_of
from sim.results.downwards import downward_chain
from sim.results.notation_used import units_written
from sim.results.people import report_rows, unit_of
from sim.results.spelling import spelled
from tests.tiny_bays import TINY
from viz.choice import Choice, FloorLimit, Outline
from viz.layout import text_width
from viz.report import chapters
from viz.report.build_up import build_up_figure, place_of_section, warmth_figure
from viz.report.chapters import cautions_chapter, limits_chapter, together
from viz.report.compare_page import ComparedRecord, ComparisonRecord, compare_page
from viz.report.drawing import Path as Path_
from viz.report.drawing import TextMark, level_texts
from viz.report.flows import chain_steps, flows_of, ways_of
from viz.report.html import page_html
from viz.report.maps import MappedFloor, floor_figure, hover_grid, span_of
from viz.report.paper import write_paper
from viz.report.parts import WIDE, Chapter, Facts, Figure, Page, Table, Text
from viz.report.png import palette_png
from viz.report.profile import profile_figure
from viz.report.record import RunRecord, Warned
from viz.report.run_page import run_page
from viz.report.told import Told, label_of, millimetres, same, say, told

HOSTILE = '<script>document.title="struck"</script> & "den" <img src=x onerror="document.title=\'struck\'">'
LARGEST = 6_000_000
"""Bytes of a page at most."""


@pytest.fixture(scope="module")
def record():
    """An invented run with a resistance chain, a limit that is kept and one that is broken, and a caution."""
    fields = fake_run.make_fields(length=0.9, step=0.03)
    report = fake_run.make_report(fields) | {
        "resistance_water_m2K_W": 0.01, "resistance_covering_m2K_W": 0.2, "resistance_room_m2K_W": 0.1,
        "contact_share_percent": 60.0, "radiant_share_percent": 25.0, "convective_share_percent": 15.0,
        "surface_mean_C_uncertainty": 0.21,
    }  # fmt: skip
    limits = [
        {"what": "occupied floor", "key": "surface_peak_C", "highest": 25.0, "value": report["surface_peak_C"],
         "kept": False, "source": "a standard"},
        {"what": "water", "key": "water_supply_C", "highest": 60.0, "value": 48.0, "kept": True, "source": "a guide"},
    ]  # fmt: skip
    cautions = [Warned("hot water", Told("water of 48 °C", "water of 118 °F"), "a code")]
    choice = Choice("", fields, report, "Oak den")
    return RunRecord(choice, None, fake_run.CASE_TEXT, "# as typed\n", limits, cautions, {"joistbay": "0.1.0"})


class Reading(HTMLParser):
    """Text of a page, that of one unit system only; tags and their attributes; cells of tables by row."""

    def __init__(self, hidden):
        super().__init__()
        self.hidden, self.skipping, self.inside, self.text, self.tags, self.rows = hidden, 0, False, [], [], []

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        self.tags.append((tag, attrs))
        if self.skipping:
            self.skipping += tag in ("span", "text")
        elif attrs.get("class") == self.hidden and tag in ("span", "text"):
            self.skipping = 1
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th") and self.rows:
            self.rows[-1].append("")
            self.inside = True

    def handle_endtag(self, tag):
        if self.skipping and tag in ("span", "text"):
            self.skipping -= 1
        if tag in ("td", "th"):
            self.inside = False

    def handle_data(self, data):
        if not self.skipping:
            self.text.append(data)
            if self.inside:
                self.rows[-1][-1] += data.replace("\u00a0", " ")  # what keeps a number with its unit


def read(html, units="si"):
    reading = Reading("ip" if units == "si" else "si")
    reading.feed(html)
    return reading


@pytest.mark.parametrize("units", ["si", "ip"])
def test_values_are_those_of_the_report(record, units):
    """Every line of the report stands in a table of the page with its value, its band and its unit."""
    rows = [tuple(row) for row in read(page_html(run_page(record)), units).rows if len(row) == 2]
    lines = report_rows(record.report, units)
    assert len(lines) > 15
    for line in lines:
        assert rows.count((spelled(line.label, units), line.text.replace("-", "−"))) >= 1, line
    assert any("±" in text for _, text in rows)


def test_nothing_is_fetched_and_nothing_is_large(record):
    html = page_html(run_page(record))
    assert len(html.encode()) < LARGEST
    for tag, attrs in read(html).tags:
        assert tag not in ("link", "iframe", "object", "embed"), tag
        for name in ("src", "href"):
            assert attrs.get(name, "#").startswith(("#", "data:image/png;base64,")), (tag, attrs)
    assert "default-src 'none'" in html


def test_titles_and_names_do_nothing(record):
    """A title that is markup is text, wherever it stands; so are limits, cautions and the case file."""
    struck = replace(
        record,
        choice=replace(record.choice, case=HOSTILE, name=HOSTILE),
        written=HOSTILE,
        case_text=HOSTILE,
        limits=[limit | {"what": HOSTILE, "source": HOSTILE} for limit in record.limits],
        cautions=[Warned(HOSTILE, Told(HOSTILE, HOSTILE), HOSTILE)],
    )
    reading = read(page_html(run_page(struck)))
    assert sum(tag == "script" for tag, _ in reading.tags) == sum(tag == "script" for tag, _ in plain_tags(record))
    assert not [attrs for _, attrs in reading.tags if any(name.startswith("on") for name in attrs)]
    assert HOSTILE in "".join(reading.text)


def plain_tags(record):
    return read(page_html(run_page(record))).tags


def test_figures_are_told_to_those_who_do_not_see_them(record):
    reading = read(page_html(run_page(record)))
    drawings = [attrs for tag, attrs in reading.tags if tag == "svg"]
    assert len(drawings) >= 14
    assert all(attrs["role"] == "img" and len(attrs["aria-label"]) > 30 for attrs in drawings)
    maps = [attrs for _, attrs in reading.tags if attrs.get("class") == "map"]
    assert maps and all(attrs["tabindex"] == "0" and attrs["aria-label"] for attrs in maps)
    inputs = [attrs for tag, attrs in reading.tags if tag == "input"]
    assert {attrs["id"] for attrs in inputs} == {"si", "ip"} and all(attrs["aria-label"] for attrs in inputs)
    heads = [attrs for tag, attrs in reading.tags if tag == "th"]
    assert heads and all(attrs.get("scope") in ("col", "row") for attrs in heads)


def test_flows_add_up(record):
    """Readded by hand: what the water gives is what leaves by the three paths; the table's sums say so."""
    gives, takes = flows_of(record.report)
    assert sum(flow.watts for flow in gives) == pytest.approx(sum(flow.watts for flow in takes), rel=1e-12)
    assert [flow.watts for flow in takes] == [record.report[f"heat_flow_{way}_W"] for way in ("up", "down", "edge")]
    assert sum(share for _, share in ways_of(record.report)) == pytest.approx(100.0)


def test_heat_from_a_warmer_space_below_stands_among_what_gives():
    gives, takes = flows_of({"heat_flow_supplied_W": 50.0, "heat_flow_up_W": 58.0, "heat_flow_down_W": -8.0})
    assert [(flow.words, flow.watts) for flow in gives] == [("the water gives", 50.0), ("from below", 8.0)]
    assert [flow.watts for flow in takes] == [58.0]


def test_flow_table_is_added_up_on_the_page(record):
    rows = {row[0]: row[1] for row in read(page_html(run_page(record))).rows if len(row) == 3}
    whole = told("heat_flow_up_W", record.report["heat_flow_supplied_W"]).si
    assert rows["all that goes in"] == rows["all that goes out"] == whole


def test_steps_up_are_resistances_times_flux(record):
    flux = record.report["heat_flux_up_W_m2"]
    assert [kelvin / resistance for _, resistance, kelvin in chain_steps(record.report)] == pytest.approx([flux] * 3)


def test_steps_down_add_up_to_the_whole_way(record):
    """(mean water − space below) / q, by hand; the middle step from the air to the underside."""
    report, fields = record.report, record.choice.fields
    steps = downward_chain(report, fields, 285.15)
    flux = report["heat_flow_down_W"] / report["floor_area_m2"]
    assert sum(kelvin for *_, kelvin in steps) == pytest.approx(46.0 - 12.0)
    assert sum(resistance for _, resistance, _ in steps) == pytest.approx(34.0 / flux)
    area = np.outer(np.diff(fields["x_edge"]), np.diff(fields["y_edge"]))
    underside = float((fields["ceiling_temperature"].values * area).sum() / area.sum()) - 273.15
    assert [kelvin for *_, kelvin in steps] == pytest.approx([46.0 - 34.2, 34.2 - underside, underside - 12.0])
    assert downward_chain(dict(report) | {"heat_flow_down_W": -1.0}, fields, 285.15) == []


def test_hover_holds_the_floor_with_its_extremes(record):
    """Read back as the page's script does: float32 edges in mm, hundredths of °C; few values keep the extremes."""
    floor = record.floor()
    for share in (1.0, 0.01):
        grid = hover_grid(floor.plan, share)
        x, y = (np.frombuffer(base64.b64decode(grid[axis]), "<f4") for axis in "xy")
        values = np.frombuffer(base64.b64decode(grid["t"]), "<i2").reshape(len(x) - 1, len(y) - 1) / 100.0
        assert abs(values.max() - record.report["surface_peak_C"]) <= 0.005001
        assert abs(values.min() - record.report["surface_trough_C"]) <= 0.005001
        assert x[-1] == pytest.approx(1000 * fake_run.WIDTH) and y[-1] == pytest.approx(900.0)
    assert values.size < 500


def test_a_map_over_computed_air_says_how_well_a_spot_is_known(record):
    floor = record.floor()
    assert "A spot is known" not in floor_figure(floor).caption.si
    known = MappedFloor(floor.plan, floor.room, {**floor.report, "surface_map_band_K": 0.26}, floor.limits)
    assert "A spot is known to about ± 0.26 K:" in floor_figure(known).caption.si
    assert "A spot is known to about ± 0.47 °F:" in floor_figure(known).caption.ip


def test_maps_say_where_a_floor_passes_its_limit(record):
    floor = record.floor()
    assert [(limit.highest, limit.what) for limit in floor.limits] == [(25.0, "occupied floor")]
    assert "Hatched: warmer than 25.0 °C, occupied floor." in floor_figure(floor).caption.si
    assert "Hatched: warmer than 77.0 °F, occupied floor." in floor_figure(floor).caption.ip
    cool = MappedFloor(floor.plan, floor.room, floor.report, (FloorLimit("occupied floor", 60.0),))
    assert "Hatched" not in floor_figure(cool).caption.si
    assert "Nowhere warmer than it may be: 60.0 °C, occupied floor." in floor_figure(cool).caption.si
    lines = [mark.text.si for mark in profile_figure([floor], 1).draw(900.0).marks if isinstance(mark, TextMark)]
    assert "at most 25.0 °C, occupied floor" in lines


def test_the_ends_of_an_axis_stand_clear_of_the_bars_of_many_choices(record):
    floor = record.floor()
    plate = Outline("plate", "plate", (0.0, float(floor.plan.x_edge[-1]), 0.0, 0.8, -0.1, -0.1))
    floors = [replace(floor, plan=replace(floor.plan, outlines=(plate,)), name=name) for name in "abcde"]
    marks = profile_figure(floors, 1).draw(900.0).marks
    (zero,) = (mark for mark in marks if isinstance(mark, TextMark) and mark.text.si == "0")
    bars = [np.array(mark.points) for mark in marks if isinstance(mark, Path_) and mark.fill != "none"]
    lowest = max(bar[:, 1].max() for bar in bars if np.ptp(bar[:, 1]) == 5.0)
    assert sum(np.ptp(bar[:, 1]) == 5.0 for bar in bars) == 5
    assert zero.place[1] - zero.size > lowest - 1.0


def test_joists_at_a_decimal_of_an_inch_keep_it():
    assert span_of(0.48768) == Told("0.49 m", "19.2 in") and span_of(0.6096).ip == "24 in"


def test_png_is_what_the_standard_says():
    """ISO/IEC 15948: signature, chunks with CRC, one filter byte a row, the dots as they were."""
    dots = np.array([[0, 1, 2], [2, 1, 0]], dtype=np.uint8)
    data = palette_png(dots, np.array([[255, 0, 0], [0, 255, 0], [0, 0, 255]]), clear=2)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, at = {}, 8
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0] == zlib.crc32(kind + body)
        chunks[kind], at = body, at + 12 + size
    assert struct.unpack(">II", chunks[b"IHDR"][:8]) == (3, 2)
    assert zlib.decompress(chunks[b"IDAT"]) == b"\x00\x00\x01\x02\x00\x02\x01\x00"
    assert chunks[b"tRNS"] == b"\xff\xff\x00"


def test_a_comparison_holds_limits_for_every_choice(record):
    choices = [ComparedRecord("a", record, record), ComparedRecord("b", record, None, "no water gives it")]
    page = compare_page(ComparisonRecord("Two", choices, "", answer=Told("Take a.", "Take a.")))
    text = "".join(read(page_html(page)).text)
    assert "Take a." in text and "BROKEN: occupied floor" in text and "no water gives it" in text
    assert "passed" not in text.lower()  # a limit that is "passed" reads as a test that went well
    (limits,) = (chapter for chapter in page.chapters if chapter.anchor == "limits")
    tables = [part for part in limits.parts if isinstance(part, Table)]
    assert [row[0].si for row in tables[0].rows] == ["occupied floor", "water"]
    assert tables[0].rows[1][2].si == "12.00 K"  # 60 °C allowed, 48 °C found
    maps = [part for chapter in page.chapters for part in chapter.parts if isinstance(part, Figure) and part.hover]
    assert len(maps) == 3


def test_a_case_speaks_the_units_of_its_temperatures():
    assert units_written('joist_spacing = "16 in"\nsupply = "120 degF"') == "ip"
    assert units_written('joist_spacing = "16 in"\nsupply = "50 degC" # not 120 degF') == "si"
    assert units_written('joist_spacing = "16 in"\nlength = "14 ft"') == "ip"
    assert units_written("") == "si"


@pytest.mark.parametrize(("units", "size"), [("si", (595, 842)), ("ip", (612, 792))])
def test_paper_is_a4_or_letter(record, units, size, tmp_path):
    """ISO 216 A4 and US letter in points; several sheets, and no half-written file beside it."""
    path = write_paper(run_page(record), tmp_path / "report.pdf", units)
    data = path.read_bytes()
    boxes = set(re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data))
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {size}
    assert 3 <= len(re.findall(rb"/Type /Page\b", data)) <= 12
    assert [file.name for file in tmp_path.iterdir()] == ["report.pdf"]


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

DRIVER = """<script>addEventListener('load', function () {
  var map = document.querySelector('.map'), field = [].filter.call(map.querySelectorAll('.field'), function (f) {
    return f.getBoundingClientRect().width > 0; })[0];
  function shown(e) { return e.getClientRects().length > 0; }
  function note(name, value) { document.body.setAttribute('data-' + name, value); }
  note('before', shown(document.querySelector('span.si')) + ' ' + shown(document.querySelector('span.ip')));
  field.scrollIntoView();
  var box = field.getBoundingClientRect(), reading = map.querySelector('.reading');
  map.dispatchEvent(new PointerEvent('pointermove', { clientX: box.left + box.width / 2,
    clientY: box.top + box.height / 2, bubbles: true }));
  note('hover', reading.textContent);
  document.querySelector('label[for=ip]').click();
  note('after', shown(document.querySelector('span.si')) + ' ' + shown(document.querySelector('span.ip')));
  note('hoverip', reading.textContent);
  map.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true }));
  note('key', reading.textContent);
  note('wide', document.documentElement.scrollWidth + ' ' + innerWidth);
  note('title', document.title);
});</script>"""


def in_browser(html, folder, *options):
    """What a browser does with a page."""
    (folder / "page.html").write_text(html, encoding="utf-8")
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'profile'}"]
    return subprocess.run(
        [*command, *options, (folder / "page.html").as_uri()], capture_output=True, text=True, timeout=120, check=True
    ).stdout


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium here, so the page is not tried in a browser")
def test_switch_hover_and_keys_in_a_browser(record, tmp_path):
    """Units change without reload, the map tells its middle in both, arrow keys move, a hostile title does nothing."""
    struck = replace(record, choice=replace(record.choice, case=HOSTILE))
    html = page_html(run_page(struck)).replace("</body>", f"{DRIVER}</body>")
    dumped = in_browser(html, tmp_path, "--window-size=1000,900", "--dump-dom")
    found = dict(re.findall(r'data-(\w+)="([^"]*)"', dumped.split("<body", 1)[1].split(">", 1)[0]))
    assert found["before"] == "true false" and found["after"] == "false true"
    celsius, fahrenheit = (float(re.match(r"[\d.]+", found[name])[0]) for name in ("hover", "hoverip"))
    floor = record.floor().plan
    i, j = (int(np.searchsorted(e, (e[0] + e[-1]) / 2)) for e in (floor.x_edge, floor.y_edge))
    near = floor.temperature[i - 2 : i + 2, j - 2 : j + 2] - 273.15
    assert near.min() - 0.01 <= celsius <= near.max() + 0.01
    assert fahrenheit == pytest.approx(celsius * 1.8 + 32.0, abs=0.006)
    assert found["key"] != found["hoverip"] and "in along" in found["key"]
    assert "struck" not in found["title"].replace(html_text(HOSTILE), "")
    wide, window = map(int, found["wide"].split())
    assert wide <= window


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium here, so the page is not tried in a browser")
def test_numbers_with_a_band_do_not_push_a_phone_page_sideways(tmp_path):
    """Two beside each other were wider than the page, of air alone."""
    long = (same("heat flow cold ceiling"), same("−0.25520 ± 0.00190 Btu/h·ft²·°F"), same(""))
    page = Page("Gap", same("Air alone"), [Chapter("answer", "In short", [Facts([long, long])])], same(""))
    note = "document.body.setAttribute('data-wide', document.documentElement.scrollWidth + ' ' + innerWidth)"
    html = page_html(page).replace("</body>", f"<script>addEventListener('load', () => {note});</script></body>")
    dumped = in_browser(html, tmp_path, "--window-size=390,844", "--dump-dom")
    wide, window = map(int, re.search(r'data-wide="(\d+) (\d+)"', dumped).groups())
    assert wide <= window < 600


def html_text(text):
    """Text as it stands within an attribute of dumped markup."""
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;").replace(">", "&gt;")


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium here, so the page is not printed by a browser")
def test_a_browser_prints_it_on_few_sheets(record, tmp_path):
    in_browser(page_html(run_page(record)), tmp_path, f"--print-to-pdf={tmp_path / 'printed.pdf'}")
    data = (tmp_path / "printed.pdf").read_bytes()
    assert 3 <= len(re.findall(rb"/Type\s*/Page\b", data)) <= 14


def test_pages_are_written_beside_results(tmp_path):
    """joistbay run and joistbay report, from the stored folder alone."""
    from sim.cli.main import main

    case, kept = tmp_path / "tiny.toml", tmp_path / "kept"
    case.write_text(TINY, encoding="utf-8")
    assert main(["run", str(case), "--no-pictures", "--out", str(kept)]) == 0
    assert (kept / "report.html").is_file() and (kept / "written.toml").read_text() == case.read_text()
    assert main(["report", str(kept), "--units", "ip"]) == 0
    assert (kept / "report.pdf").is_file()
    assert (kept / "report.html").stat().st_size < LARGEST
    (kept / "written.toml").unlink()  # as a version that did not keep it
    assert main(["report", str(kept), "--no-pdf"]) == 0
    assert "as its author wrote it is not in this folder" in (kept / "report.html").read_text("utf-8")
    assert main(["run", str(case), "--no-pictures", "--no-page", "--out", str(kept)]) == 0
    assert not (kept / "report.html").exists()
    assert main(["report", str(tmp_path)]) == 2


def test_inch_pound_readers_have_their_spelling_and_fractions(record):
    html = page_html(run_page(record)).split("<main", 1)[1].rsplit("<script", 1)[0]
    si, ip = ("".join(read("<main" + html, units).text) for units in ("si", "ip"))
    assert not re.findall(".{40}(?:olour|centre).{20}", ip)
    assert "Colours: the same" in si and "Colors: the same" in ip and "olour" not in ip and "centre" not in ip
    assert millimetres(0.0445).ip == "1 3/4 in" and millimetres(0.130).ip == "5.12 in"
    assert say("{} of it", "my grey centre").ip == "my grey centre of it"  # a choice's own name stays as it is


def test_the_scale_of_a_profile_reaches_a_limit_below_all_of_it(record):
    floor = replace(record.floor(), limits=(FloorLimit("occupied floor", 5.0),))
    drawing = profile_figure([floor], 1).draw(900.0)
    (level,) = (m.place[1] for m in drawing.marks if isinstance(m, TextMark) and "occupied" in m.text.si)
    assert 0.0 < level < drawing.height


@pytest.mark.parametrize("figure", [build_up_figure, warmth_figure])
def test_texts_beside_a_flat_section_do_not_touch_on_a_phone(record, figure):
    """A row of blocks may be ten times as wide as high: it then is lower than its names or its scale."""
    fields = record.choice.fields
    flat = replace(record.choice, fields=fields.assign({"x_edge": fields["x_edge"] * 10.0, "x": fields["x"] * 10.0}))
    drawing = figure(flat, place_of_section(record.choice)).draw(346.0)
    right = max(mark.place[0] for mark in drawing.marks if isinstance(mark, TextMark) and mark.anchor == "start")
    texts = [mark for mark in drawing.marks if isinstance(mark, TextMark) and mark.place[0] == right]
    levels = sorted(mark.place[1] for mark in texts)
    assert len(levels) > 3 and min(np.diff(levels)) >= texts[0].size and levels[-1] < drawing.height


@pytest.mark.parametrize("figure", [build_up_figure, warmth_figure])
def test_texts_of_a_section_end_within_the_page_of_a_phone(record, figure):
    """By the widths of their letters, in °F as in °C, and however long somebody's names are."""
    annex = [asdict(part) | {"name": f"{part.name} of the northern annex"} for part in record.choice.outlines]
    outlines = json.dumps(annex)
    for fields in (record.choice.fields, record.choice.fields.assign_attrs(outlines=outlines)):
        choice = replace(record.choice, fields=fields)
        drawing = figure(choice, place_of_section(choice)).draw(350.0)
        marks = [mark for mark in drawing.marks if isinstance(mark, TextMark) and mark.anchor == "start"]
        texts = [(mark.place[0], text, mark.size) for mark in marks for text in (mark.text.si, mark.text.ip)]
        assert texts and max(left + 72.0 * text_width(text, size) for left, text, size in texts) <= drawing.width


def air_alone(report):
    """An invented run of air alone."""
    fields = xarray.Dataset({"air_temperature": (("air_x", "air_y", "air_z"), np.zeros((3, 1, 3)))})
    fields.attrs |= {"outlines": "[]", "dimensionless": 1}
    return RunRecord(Choice("", fields, report, "Square"), None, "", versions={"joistbay": "0.1.0"})


def test_air_alone_speaks_of_no_rays_no_hot_water_and_no_option_that_it_refuses():
    found = {"nusselt_floor": 3.88, "nusselt_floor_uncertainty": 0.05, "nusselt_floor_mesh_error": 0.05,
             "nusselt_floor_standard_error": 4e-15}  # fmt: skip
    for report in (found, {"nusselt_floor": 3.88}):
        reading = read(page_html(run_page(air_alone(report))))
        text = "".join(reading.text)
        assert not [word for word in ("rays", "ater scalds", "--uncertainty", "e-15", "e−15") if word in text]
    steady = "".join(read(page_html(run_page(air_alone(found)))).text)
    assert "what the mesh leaves open (the flow is steady: no chance is in it)" in steady
    assert "the flow's own equations" in steady  # what ± leaves out is said beside what it holds


def test_commands_on_the_page_are_those_of_its_run(record):
    text = "".join(read(page_html(run_page(replace(record, stored="'runs/my oak/case.toml'")))).text)
    assert "--uncertainty" not in text  # it has its bands
    bare = replace(record, choice=replace(record.choice, report=fake_run.make_report(record.choice.fields)))
    text = "".join(read(page_html(run_page(replace(bare, stored="'runs/my oak/case.toml'")))).text)
    assert "joistbay run 'runs/my oak/case.toml' --uncertainty solves on three meshes" in text
    assert "joistbay study 'runs/my oak/case.toml' tells" in text


def test_one_number_reads_alike_wherever_it_stands_on_a_sheet(record):
    """With its band in the answer, on the map, in the tiles and beside its limit: never 46.37 here and 46.4 there."""
    peak = record.report["surface_peak_C"]
    sure = record.report | {"surface_peak_C_uncertainty": 0.13}
    run = replace(record, choice=replace(record.choice, report=sure))
    text = " ".join("".join(read(page_html(run_page(run))).text).replace("\u00a0", " ").split())
    assert f"{peak:.1f} °C" not in text.replace(f"{peak:.2f} ± 0.13 °C", "")
    assert text.count(f"{peak:.2f} ± 0.13 °C") >= 5


def test_a_number_keeps_its_unit_and_its_band_in_a_narrow_column(record):
    html = page_html(run_page(record))
    assert "\u00a0°C</span>" in html and "±\u00a0" in html
    cells = re.findall(r"<td class=n>(.*?)</td>", html)
    assert cells and not [cell for cell in cells if re.search(r"\d (°C|°F|W|K|Btu)", cell)]


def test_sentences_and_headings_of_a_page_part_no_number_from_its_unit(record):
    html = page_html(run_page(record))
    forms = ("<p(?: [^>]*)?>(.*?)</p>", "<li>(.*?)</li>", '<div class="fact">(.*?)</div>', "<th scope[^>]*>(.*?)</th>")
    texts = [text for form in forms for text in re.findall(form, html)]
    assert any("\u00a0°C" in text for text in texts)
    assert not [text for text in texts if re.search(r"\d (°C|°F|W|K|Btu|mm|in|ft)\b", text)]


def test_numbers_of_a_comparison_stand_under_their_groups_and_say_which_water_is_held(record):
    """"mean" alone would be that of the floor, of the plates and of the water; alike water is no water of its own."""
    page = compare_page(ComparisonRecord("Rooms", [ComparedRecord(n, record, record) for n in ("a", "b")], ""))
    chapters = {chapter.anchor: chapter for chapter in page.chapters}
    (table,) = chapters["numbers-water"].parts
    rows = [[cell.si for cell in row] for row in table.rows]
    heads = [row[0] for row in rows if len(row) == 1]
    assert heads[:2] == ["Heat", "Floor surface"] and "Water" in heads and len(heads) == len(set(heads))
    assert rows[rows.index(["Floor surface"]) + 1][0] == "mean, °C"
    assert chapters["floors-water"].heading == "The floors, at equal water"
    assert table.caption.si == "All with water of 48.0 °C."
    warmer = replace(record, choice=replace(record.choice, report=record.report | {"water_supply_C": 50.0}))
    apart = [ComparedRecord("a", record, None), ComparedRecord("b", warmer, None)]
    page = compare_page(ComparisonRecord("Rooms", apart, ""))
    assert [c.heading for c in page.chapters if c.anchor == "floors-water"] == ["The floors, each with its own water"]


def lines_of(sheet):
    """Lines of text on a sheet of paper."""
    from viz.report.lettering import SetLine

    return [artist for artist in sheet.artists if isinstance(artist, SetLine)]


def test_on_paper_a_heading_of_a_group_stays_with_its_rows(record, tmp_path, monkeypatch):
    """Sheets of any height: no group's heading, and no chapter's, is the last thing on a sheet."""
    from viz.report import paper

    page = run_page(record)
    for tall in (9.3, 9.7, 10.1, 10.5, 10.9, 11.3):
        monkeypatch.setitem(paper.SIZES, "si", (8.27, tall))
        setter = paper._Setter(page, "si")
        setter.compose()
        groups = {row[0].si for chapter in page.chapters for part in chapter.parts if isinstance(part, Table)
                  for row in part.rows if len(row) == 1}  # fmt: skip
        for sheet in setter.sheets[:-1]:
            last = min(lines_of(sheet), key=lambda text: text.place[1])
            assert last.text not in groups | {chapter.heading for chapter in page.chapters}, tall


def test_on_paper_no_number_at_large_runs_into_the_next(record):
    """In inch-pounds, with their bands: 14.61 ± 0.62 Btu/h·ft² is wider than a fifth of a sheet at its usual size."""
    from viz.report import paper

    bands = {f"{key}_uncertainty": 1.23 for key in ("heat_flux_up_W_m2", "surface_mean_C", "ripple_K")}
    run = replace(record, choice=replace(record.choice, report=record.report | bands))
    setter = paper._Setter(run_page(run), "ip")
    setter.compose()
    heads = [text for text in lines_of(setter.sheets[0]) if text.text in ("Heat up", "Floor, mean")]
    lefts = sorted(text.place[0] for text in heads)
    (heat,) = (t for t in lines_of(setter.sheets[0]) if t.place[0] == lefts[0] and t.text.endswith("± 0.39 Btu/h·ft²"))
    assert text_width(heat.text, paper.LARGE) > lefts[1] - lefts[0] > text_width(heat.text, heat.size)


BLOCKS = {
    "heat_flow_gamma_W": 59.89, "heat_flux_gamma_W_m2": 8.483, "surface_gamma_lowest_C": -0.25, "probe_corner_C": 11.3,
    "cells": 193248.0, "audit_residual": 4.9e-10,
}  # fmt: skip


def blocks(report=BLOCKS):
    """An invented run of blocks: a wall with a slab, of which nothing is a floor."""
    edges = {f"{axis}_edge": (f"{axis}_edge", np.linspace(0.0, 1.0, 5)) for axis in "xyz"}
    centres = {axis: (axis, np.linspace(0.125, 0.875, 4)) for axis in "xyz"}
    fields = xarray.Dataset({"temperature": (("x", "y", "z"), np.full((4, 4, 4), 283.15))}, {**edges, **centres})
    parts = '[{"name": "wall", "kind": "block", "box": [0, 0.25, 0, 1, 0, 1]}]'
    return RunRecord(Choice("", fields.assign_attrs(outlines=parts), report, "Corner"), None, "")


@pytest.mark.parametrize("units", ["si", "ip"])
@pytest.mark.parametrize("made", [blocks, lambda: air_alone({"nusselt_floor": 3.88, "rayleigh": 1e5, "steps": 2e4})])
def test_pages_without_a_floor_hold_every_number_of_the_report(made, units):
    record = made()
    rows = [tuple(row) for row in read(page_html(run_page(record)), units).rows if len(row) == 2]
    for line in report_rows(record.report, units):
        assert rows.count((line.label, line.text.replace("-", "−"))) == 1, line


def test_a_block_is_named_with_both_its_sides():
    parts = [part for chapter in run_page(blocks()).chapters for part in chapter.parts]
    drawing = next(part for part in parts if isinstance(part, Figure))
    texts = [mark.text.si for mark in drawing.draw(840.0).marks if isinstance(mark, TextMark)]
    assert "wall, 250 mm × 1000 mm" in texts


@pytest.mark.parametrize("units", ["si", "ip"])
def test_a_comparison_holds_every_number_of_every_choice(record, units):
    warmer = replace(record, choice=replace(record.choice, report=record.report | {"heat_flux_up_W_m2": 71.234}))
    choices = [ComparedRecord("a", record, None), ComparedRecord("b", warmer, None)]
    page = compare_page(ComparisonRecord("Rooms", choices, ""))
    rows = [tuple(row) for row in read(page_html(page), units).rows if len(row) == 3]
    for key, value in record.report.items():
        other = warmer.report[key]
        if isinstance(value, int | float):
            unit = unit_of(key).name(units)
            texts = [told(key, each).pick(units).removesuffix(unit).rstrip() for each in (value, other)]
            name = label_of(key).pick(units)
            assert (f"{name}, {unit}" if unit else name, *texts) in rows, key


def test_what_a_phone_shows_of_a_comparison_first(record):
    """The answer in lines and both tables; what only looks things up is folded, and is on paper all the same."""
    said = Told("At the heat that a gives:\nCoolest water: a.\nMost even: b.", "At:\nCoolest: a.\nMost even: b.")
    choices = [ComparedRecord(name, record, record) for name in ("a", "b")]
    page = compare_page(ComparisonRecord("Rooms", choices, "", answer=said))
    lines = [part.text.si for part in page.chapters[0].parts if isinstance(part, Text)]
    assert lines == ["At the heat that a gives: Coolest water: a.", "Most even: b."]
    folded = {chapter.anchor for chapter in page.chapters if chapter.folded}
    assert folded == {"floors-water", "limits", "numbers-heat", "numbers-water", "inputs"}
    html = page_html(page)
    assert html.count("<details><summary><h2>") == len(folded) and "beforeprint" in html
    alone = compare_page(ComparisonRecord("Rooms", [ComparedRecord("a", record, None)], ""))
    assert "floors-water" not in {chapter.anchor for chapter in alone.chapters if chapter.folded}


def test_many_rows_go_on_further_sheets_with_their_heads(tmp_path):
    """Of 200 rows every one is on paper once, under the heads of the table on each sheet."""
    from viz.report import paper
    from viz.report.told import same

    rows = [[same(f"quantity {k}"), same(f"{k} W")] for k in range(200)]
    page = run_page(blocks())
    chapter = replace(page.chapters[0], parts=[Table(same("All."), [same("Name"), same("Worth")], rows)])
    setter = paper._Setter(replace(page, chapters=[chapter]), "si")
    setter.compose()
    texts = [[line.text for line in lines_of(sheet)] for sheet in setter.sheets]
    assert len(texts) > 2 and all("Worth" in sheet for sheet in texts if any("quantity" in text for text in sheet))
    told_rows = sorted(text for sheet in texts for text in sheet if text.startswith("quantity"))
    assert told_rows == sorted(row[0].si for row in rows)
    assert min(line.place[1] for sheet in setter.sheets for line in lines_of(sheet)) > 0.35  # in


def pictured():
    return replace(air_alone({"nusselt_floor": 3.88}), pictures={"air_section": PIXEL})


@pytest.mark.parametrize("made", [blocks, pictured])
def test_pages_without_a_floor_are_set_on_paper(made, tmp_path):
    path = write_paper(run_page(made()), tmp_path / "page.pdf")
    assert path.read_bytes().startswith(b"%PDF")


PIXEL = palette_png(np.zeros((2, 3), np.uint8), np.zeros((256, 3), np.uint8), 255)


def test_whole_cases_side_by_side_are_not_named_after_the_first():
    assert _title_of({"key": "", "changes": {"crawl": {}, "attic": {}}}) == "crawl beside attic"
    assert _title_of({"key": "", "changes": {"a": {"tube.runs": 1}, "b": {"tube.runs": 2}}}) == ""
    assert _title_of({"key": "plates.spacing", "changes": {"a": {}, "b": {}}}) == ""


def test_sources_speak_the_readers_units():
    limit = {"what": "air", "key": "cavity_air_C", "value": 40.0, "highest": 60.0, "kept": True, "source": "at 60 °C"}
    assert limits_chapter([limit], {}).parts[-1].rows[0][-1] == Told("at 60 °C", "at 140 °F")
    listed = cautions_chapter([Warned("wiring", same("text"), "at 60 °C")]).parts[0]
    assert listed.items[0][1] == Told("text [at 60 °C]", "text [at 140 °F]")


def test_the_answer_stands_before_the_contents(record):
    html = page_html(run_page(record))
    assert html.index('id="answer"') < html.index("<nav") < html.index('id="section"')


LEAST_ON_PAPER = 8.0
"""Letters that everybody reads on paper [pt]."""

SHEET_BETWEEN_MARGINS = 186.0 / 25.4 * 72.0
"""A4 less the margins of the page's style [pt]."""


def test_letters_of_figures_are_read_on_paper(record):
    """A figure is as wide as the sheet; a browser prints it so, too."""
    figures = [part for chapter in run_page(record).chapters for part in chapter.parts if isinstance(part, Figure)]
    assert len(figures) > 5
    for figure in figures:
        drawing = figure.draw(WIDE)
        letters = [mark.size for mark in drawing.marks if isinstance(mark, TextMark)]
        assert min(letters) * SHEET_BETWEEN_MARGINS / drawing.width >= LEAST_ON_PAPER


def test_one_subject_of_several_choices_stands_once():
    """Where it is worst, with those that have it less; what all say names none."""

    def warm(degrees, badness):
        return Warned("wiring", same(f"air {degrees} °C"), "a code", badness=badness)

    hot, test = Warned("hot water", same("burns"), "a code"), Warned("test", same("with air"), "a code")
    (wiring, water, tested) = together([("a", [warm(38, 8.0), hot]), ("b", [warm(42, 12.0), hot, test])])
    assert (wiring.subject, wiring.text.si) == ("wiring (b; less: a)", "air 42 °C")
    assert (water.subject, tested.subject) == ("hot water", "test (b)")


def test_levels_of_an_axis_have_the_same_decimals():
    assert level_texts([78.0, 78.2, 78.4]) == ["78.0", "78.2", "78.4"]
    assert level_texts([-2.5, 0.0, 100.0]) == ["−2.5", "0.0", "100.0"]
    assert level_texts([10.0, 20.0]) == ["10", "20"]


def test_parts_of_a_band_are_half_widths_with_its_digits():
    """A standard error of 0.04 W is a half width of 0.08 W; a part that is rounding is none."""
    key = "heat_flow_down_W"
    report = {key: 0.5534, f"{key}_uncertainty": 0.094, f"{key}_standard_error": 0.04, f"{key}_mesh_error": 0.0493}
    (table,) = chapters._bands(report)
    assert [cell.si for cell in table.rows[0][1:]] == ["0.553 ± 0.094 W", "0.080 W", "0.049 W"]
    (table,) = chapters._bands(report | {f"{key}_mesh_error": 1e-12})
    assert table.rows[0][3].si == "none"


def test_long_numbers_of_cards_are_set_smaller():
    """What would not fit a card in large type: a number with its ± and a long unit, in either unit system."""

    def size(number):
        facts = Chapter("short", "In short", [Facts([(same("Heat up"), number, same("of it"))])])
        return re.search('<span class="(big[^"]*)"', page_html(Page("Den", same(""), [facts], same(""))))[1]

    assert size(Told("84.8 ± 2.6 W/m²", "26.90 ± 0.83 Btu/h·ft²")) == "big long"
    assert size(Told("27.75 ± 0.24 °C", "81.95 ± 0.42 °F")) == "big"

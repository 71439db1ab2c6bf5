"""The page of a house: whole, self-contained, in both unit systems, drawings that can be read as XML."""

import json
import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from invented_house import invented_plan

from sim.house.record import house_record
from sim.store.texts import json_text
from viz.house_page import house_page, write_house_page
from viz.page_style import STYLE, UNFOLD

VOID = {"meta", "br", "link", "img"}


class Balance(HTMLParser):
    """Follows tags, and keeps ids, links and what was left open."""

    def __init__(self):
        super().__init__()
        self.open, self.wrong, self.ids, self.links = [], [], [], []

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        self.ids += [values["id"]] if "id" in values else []
        self.links += [values["href"]] if tag == "a" else []
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        pass

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


@pytest.fixture(scope="module")
def record():
    return json.loads(json_text(house_record(invented_plan())))


@pytest.fixture(scope="module")
def page(record):
    return house_page(record)


def words(page):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.split("</style>")[1]))


def test_tags_are_closed_and_links_lead_somewhere(page):
    found = Balance()
    found.feed(page)
    assert not found.wrong
    assert not found.open
    assert {link.removeprefix("#") for link in found.links} <= set(found.ids)
    assert len(found.links) == 9


def test_nothing_is_fetched(page):
    outside = page.replace("http://www.w3.org/2000/svg", "")
    assert "http" not in outside
    assert re.findall("<script[^>]*>", page) == ["<script>"] and UNFOLD in page and "import(" not in page
    assert "@import" not in page
    assert set(re.findall(r"url\([^)]*\)", outside)) <= {"url(#hatch)", "url(#hatch-phone)", "url(#hatch-paper)"}


def test_a_screen_shows_the_chosen_source_and_folds_schedules_and_the_others(page, record):
    folded = re.findall(r"<section[^>]*><details><summary><h2>Laid out for: ([^<]*)</h2>", page)
    assert folded == [layout["source"] for layout in record["layouts"][1:]] != []
    assert page.count("<h3>Bay schedule, ") == page.count("<details><summary><h3>") == len(record["layouts"])


def test_a_phone_folds_what_it_does_not_need_at_first_and_nothing_that_can_hurt(page, record):
    """Folded by the script alone: in the file they are open, so paper and a reader without scripts have them whole."""
    folded = re.findall(r'<details class="narrow" open><summary><h(\d)>([^<]*)</h\1>', page)
    sections = {words for level, words in folded if level == "2"}
    assert sections == {"Heat sources side by side", "Water by the weather", "Commissioning sheet"}
    parts = [words for level, words in folded if level == "3"]
    assert parts == ["Circuits", "Manifolds and balancing", "Quantities", "Coils to cut"] * len(record["layouts"])
    assert "!narrow.matches" in UNFOLD
    for kept in ("cautions", "build"):
        section = page[page.index(f'id="{kept}"') :]
        assert "<details" not in section[: section.index("</section>")]


def test_drawings_are_xml_and_say_what_they_show(page):
    drawings = re.findall(r"<svg.*?</svg>", page, flags=re.S)
    # a storey and two charts, each for a desk, for a phone and for paper
    assert len(drawings) == 9
    for drawing in drawings:
        assert ElementTree.fromstring(drawing).attrib["aria-label"]
    plan = drawings[0]
    for name in ("R1.1", "R2.1", "R1  Family room", "manifold G", "2 m"):
        assert f">{name}<" in plan


POINT = 96.0 / 72.0
"""Of a printer in pixels of a page."""

SHEET = min(210.0, 8.5 * 25.4) - 2.0 * 12.0
"""Between the margins of the narrower of A4 and letter [mm]."""


@pytest.mark.parametrize("units", ["si", "ip"])
def test_no_letter_of_a_printed_drawing_is_smaller_than_eight_points(record, units):
    """Paper has drawings of its own, in their own size: nothing scales them, as they fit between its margins."""
    printed = re.findall(r'<div class="paper">(<svg.*?</svg>)', house_page(record, units), flags=re.S)
    assert len(printed) == 3
    for drawing in printed:
        root = ElementTree.fromstring(drawing)
        assert float(root.attrib["width"]) <= SHEET / 25.4 * 96.0
        sizes = [float(text.attrib["font-size"]) for text in root.iter() if "font-size" in text.attrib]
        assert sizes and min(sizes) >= 8.0 * POINT
    print_rules = STYLE.split("@media print")[1]
    assert ".screen { display:none }" in print_rules and ".paper svg { max-height:none }" in print_rules


def test_quantities_of_many_rooms_stand_in_tables_that_paper_has_room_for(record):
    layout = record["layouts"][0]
    total = layout["quantities"]["total"]
    rooms = {f"R{number}": total for number in range(11)} | {"total": total}
    page = house_page({**record, "layouts": [{**layout, "quantities": rooms}]})
    part = page[page.index("<h3>Quantities</h3>") : page.index("<h3>Coils to cut</h3>")]
    heads = [re.findall(r"<th[^>]*>([^<]+)", table) for table in part.split("<table")[1:]]
    assert [len(own) for own in heads] == [8, 5] and heads[1] == ["R8", "R9", "R10", "total", "counted how"]


def test_a_long_remark_takes_the_width_of_a_phone(record):
    """A sentence in the last column of a card stands below it, not one word a line."""
    need = {**record["needs"][0], "limit": "laminate at its surface", "limit_output_W": 1762.0}
    page = house_page({**record, "needs": [need, *record["needs"][1:]]})
    assert re.search(r'<td class="long" data-head="">no more than 1,762 W within limits', page)


def test_what_the_user_wrote_is_escaped(page):
    assert "House &amp; garden" in page
    assert "Kitchen &lt;east&gt;" in page
    assert "<east>" not in page


def test_numbers_of_the_record_are_on_the_page(page):
    told = words(page)
    # load of R2 735 W less 676 W that its floor gives
    assert "R2 falls short by 59 W" in told
    assert "Design day −18.0 °C" in told
    assert "1,134" in told
    # tube of R1 by hand 35.96 m (test_house_record), 5 % more 37.76
    assert "36.0" in told
    assert "37.8" in told


def test_valve_settings_where_the_valves_are_known(record):
    assert "valve open" in house_page(record)
    bare = json.loads(json.dumps(record))
    for layout in bare["layouts"]:
        for row in layout["circuits"]:
            row["valve_opening_percent"] = None
    assert "valve open" not in house_page(bare)


def test_inch_pound_page(record):
    told = words(house_page(record, "ip"))
    # 53 °C, -18 °C, 6.9 bar, 1134 W
    for value in ("127.4 °F", "−0.4 °F", "100 psi", "3,869", "6 ft"):
        assert value in told
    assert not re.search(r"\d (W|kW|kPa|m/s|l/min)\b", told)


@pytest.mark.parametrize(("units", "here"), [("si", "30 °C"), ("ip", "86 °F")])
def test_whoever_is_cited_is_cited_in_the_readers_units(record, units, here):
    """A cable's ambient of 30 °C is 86 °F; what a source wrote in other units stands in brackets."""
    told = words(house_page(record, units))
    cited = re.search(r"NFPA 70-2023, 310\.15\(B\) \(from ([^,]+),", told)
    assert cited and cited[1] == here
    assert "below about 54 °C (130 °F" in told and "drop 5.5 to 11 K (10 to 20 °F)" in told


@pytest.mark.parametrize(
    "wanted",
    [
        "Pull the tube in the order",
        "Pressure test at 6.9 bar",
        "Each circuit filled and purged by itself",
        "Check the local code and ask a licensed professional",
        "treated lumber",
        "tried with the model",
        "does not fit",
        "Broken where a valve is left open",
        "set this curve at the control",
        "Heating is off from 18.0 °C outdoors",
        "A design aid, not an approval",
    ],
)
def test_what_the_site_needs_is_said(page, wanted):
    assert wanted in words(page)


def test_cautions_stand_once_for_all_sources(page):
    cautions = page.split('id="cautions"')[1]
    assert cautions.count("nails and screws") == 1
    assert "high-temperature boiler" in cautions


@pytest.mark.parametrize("kept", [0, 1])
def test_a_house_with_one_outdoor_temperature_or_none_has_its_page(record, kept):
    layouts = [layout | {"outdoor": layout["outdoor"][:kept]} for layout in record["layouts"]]
    page = house_page(record | {"layouts": layouts})
    assert ("Supply and return against the outdoor temperature" in page) == bool(kept)


def test_page_is_written_beside_its_record(record, tmp_path):
    (tmp_path / "house.json").write_text(json.dumps(record), encoding="utf-8")
    written = write_house_page(tmp_path, "ip")
    assert written == tmp_path / "house.html"
    assert written.read_text("utf-8") == house_page(record, "ip")


def test_the_chosen_source_comes_first_and_alone_on_paper(record):
    names = [layout["source"] for layout in record["layouts"]]
    for chosen, first in (("", names[0]), (names[1], names[1])):
        page = house_page(record, "si", chosen)
        found = re.findall(r'<section id="for-([a-z-]+)" class="sheet( other)?"', page)
        assert [bool(other) for _, other in found] == [False, True]
        assert found[0][0] == first.replace(" ", "-")


def test_coils_and_filling_are_on_the_page(page):
    told = words(page)
    # R1 35.96 m and R2 by the same sum, with 5 %: one coil of 100 ft is too short for either, 300 ft hold both
    assert "Coils to cut" in told and "R1.1 37.8 m, R2.1" in told
    assert "expansion vessel, at least" in told


def test_a_room_that_its_floor_cannot_serve_is_not_called_cooler_than_the_one_that_sets_the_water(record):
    """R2 alone would need warmer water than R1, but beyond a limit of its floor: R1 has the say, which is told."""
    warmer = [dict(row) for row in record["needs"]]
    warmer[0]["supply_C"], warmer[1]["supply_C"], warmer[1]["limit"] = 50.0, 66.0, "oak at its surface"
    warmer[1]["limit_output_W"] = 600.0
    told = words(house_page({**record, "needs": warmer, "set_by": "R1"}))
    assert "R1 needs the warmest water by itself" not in told
    assert "R1 needs the warmest water of the rooms whose floors can give their load; R2 would only have it" in told


@pytest.mark.parametrize("also_first", [False, True])
def test_a_room_that_no_water_serves_has_its_page(record, also_first):
    """Its needed water is none in house.json: of the one that cannot, and where all cannot, of the one that sets it."""
    first, other = record["needs"]
    none = {"supply_C": None, "mean_water_C": None, "limit": "bathroom floor", "limit_output_W": 187.0}
    needs = [first | none if also_first else first, other | none]
    text = words(house_page({**record, "needs": needs, "set_by": first["room"]}))
    assert ("needs the warmest water by itself" in text) is also_first
    assert (f"{other['room']} would only have it beyond a limit of its floor" in text) is not also_first

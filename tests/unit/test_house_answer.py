"""What whoever builds it asks first: water, pump, circuits, what to buy, who falls short, what to beware of."""

import json
import re

import pytest
from invented_house import invented_plan

from sim.house.record import house_record
from sim.results.house_answer import house_answer
from sim.results.house_words import in_words, plainly, weather_words
from sim.store.texts import json_text
from viz.house_page import house_page
from viz.page_parts import PageReader


@pytest.fixture(scope="module")
def record():
    return json.loads(json_text(house_record(invented_plan())))


@pytest.fixture(scope="module")
def answers(record):
    return dict(house_answer(record["layouts"][0], PageReader("si").value))


def test_every_question_has_its_answer_from_the_layout(record, answers):
    layout = record["layouts"][0]
    assert list(answers) == ["Water", "Pump", "Circuits", "To buy", "Rooms", "Beware"]
    assert answers["Water"].startswith("53.0 °C on the design day, back at 47.4 °C; R2 sets it.")
    longest = max(layout["circuits"], key=lambda row: row["length_m"])
    told = f"2: 1 in R1, 1 in R2; the longest, {longest['circuit']}, {longest['length_m']:.1f} m."
    assert answers["Circuits"] == told
    assert answers["Rooms"] == in_words(layout["verdict"], PageReader("si").value)


def test_pump_of_every_manifold(record, answers):
    (manifold,) = record["layouts"][0]["manifolds"]
    assert answers["Pump"] == f"G {manifold['flow_l_min']:.2f} l/min at {manifold['head_kPa']:.1f} kPa."


def test_what_is_bought_is_what_is_counted(record, answers):
    total = record["layouts"][0]["quantities"]["total"]
    for key, words in (("plates", "plates"), ("clips", "clips"), ("ports", "manifold ports"), ("rim_pieces", "rim")):
        assert f"{round(total[key]):,} {words}" in answers["To buy"]
    assert total["hangers"] == 0 and "hanger" not in answers["To buy"]
    coils = [row["coil_m"] for row in record["layouts"][0]["coils"]]
    told = re.findall(r"(\d+) coils? of ([\d.]+) m", answers["To buy"])
    assert sum(int(count) for count, _ in told) == len(coils)
    assert {float(metres) for _, metres in told} == {round(metres, 1) for metres in coils}


def test_what_is_not_kept_stands_first_among_what_to_beware_of(record, answers):
    cautions = record["layouts"][0]["cautions"]["si"]
    assert len(cautions) > 3 and all(row["subject"] in answers["Beware"] for row in cautions)
    broken = {**cautions[-1], "broken": True}
    kept = [{**row, "broken": False} for row in cautions[:-1]]
    layout = {**record["layouts"][0], "cautions": {"si": [*kept, broken]}}
    told = dict(house_answer(layout, plainly_all))["Beware"]
    assert told.startswith(f"not kept: {broken['subject']}. Also: ") and told.count(broken["subject"]) == 1


def plainly_all(key, value):
    return f"{value:.1f}"


def test_a_manifold_with_water_of_its_own_is_told(record):
    layout = record["layouts"][0]
    (manifold,) = layout["manifolds"]
    mixing = {**layout, "manifolds": [manifold, {**manifold, "manifold": "N", "supply_C": 41.0}]}
    assert "N mixes its own, 41.0 °C." in dict(house_answer(mixing, PageReader("si").value))["Water"]
    assert "mixes" not in dict(house_answer(layout, PageReader("si").value))["Water"]


@pytest.mark.parametrize(("units", "water"), [("si", "53.0 °C"), ("ip", "127.4 °F")])
def test_the_page_answers_before_it_shows_anything_else(record, units, water):
    page = house_page(record, units)
    build, plan = page.index('id="build"'), page.index('id="plan"')
    assert build < plan and water in page[build:plan]
    order = [page.index(f'id="{name}"') for name in ("plan", "for-condensing-boiler", "cautions", "weather", "rooms")]
    assert order == sorted(order), "how to build it, then what hurts, then how it was found"
    for room in record["layouts"][0]["rooms"]:
        assert f">{room['room']}<" in page[build:plan]


def short(*names):
    rows = [{"room": name, "shortfall_W": 100.0} for name in names]
    held = [{"room": name, "limit": "occupied floor", "most_W": 650.0} for name in names]
    return {"set_by": "A", "spared": None, "short": rows, "limits": [], "no_say": held, "not_kept": [],
            "weather": [], "outdoors_C": []}  # fmt: skip


def test_many_rooms_that_fall_short_are_told_with_their_sum():
    few, many = in_words(short("A", "B"), plainly), in_words(short(*"ABCDE"), plainly)
    assert few.startswith("A falls short by 100 W, B falls short by 100 W. A: no more than 650 W")
    assert many.startswith("5 rooms fall short, by 500 W in all: A 100 W, B 100 W,")
    assert many.endswith("No more within limits (occupied floor) than: A 650 W, B 650 W, C 650 W, D 650 W, E 650 W.")


def test_many_rooms_by_the_weather_are_told_once_for_as_many_temperatures():
    rows = [{"room": name, "least_percent": 50.0, "most_percent": 60.0, "points": 2} for name in "ABCD"]
    rows.append({"room": "E", "least_percent": 97.0, "most_percent": 97.0, "points": 1})
    words = weather_words({**short(), "weather": rows, "outdoors_C": [-10.0, 0.0]})
    assert "at 2 of 2 outdoor temperatures A 50 to 60 %, B 50 to 60 %, C 50 to 60 %, D 50 to 60 %" in words
    assert "E 97 % at 1 of 2 outdoor temperatures" in words and words.count("outdoor temperatures") == 2

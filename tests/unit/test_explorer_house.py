"""A house in the explorer: what can be changed, what is refused, what is told while bays are solved, its page."""

import json
import re
import shutil
import threading
import time
from functools import partial
from pathlib import Path

import pytest
from house_cases import SMALL
from invented_house import invented_plan

from sim.case.errors import CaseError
from sim.case.house_load import load_house
from sim.explorer.house_controls import house_controls, room_controls
from sim.explorer.house_session import opened_house, saved_text
from sim.explorer.jobs import Reply
from sim.house.record import house_record, outline_record
from sim.house.solve_house import check_house
from sim.jobs.job import Outcome
from viz.explorer.house_picture import house_picture
from viz.house_page import house_page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
HOSTILE = '<img src=x onerror="document.title=1">'


@pytest.fixture
def house(tmp_path):
    path = tmp_path / "small.toml"
    path.write_text(SMALL.replace('title = "Three rooms"', f"title = '{HOSTILE}'"), encoding="utf-8")
    return opened_house(path.read_text("utf-8"), "small", str(path))


def test_a_covering_changes_the_bay_and_is_undone(house):
    changed = house.set("room.0.covering", "carpet").set("room.0.thickness", "9 mm")
    layer = changed.house.rooms[0].coverings[0]
    assert (layer.material, layer.thickness) == ("carpet", 0.009)
    assert changed.undo().house.rooms[0].coverings[0].thickness != 0.009
    assert changed.undo().undo().text == house.text and changed.undo().redo().text == changed.text
    assert changed.set("room.0.covering", "").house.rooms[0].coverings == ()
    assert changed.again().text == house.text and changed.again().undo().text == changed.text
    assert changed.change == 3 and changed.undo().change == 4


def test_water_spacings_loads_and_wishes_of_the_house(house):
    other = house.set("design.drop", "12 degF").set("design.spacings", "300 mm, none").set("source.1.supply", "")
    other = other.set("room.1.load", "0.5 kW").set("room.1.sets_water", "no")
    design, sources, room = other.house.design, other.house.sources, other.house.rooms[1]
    assert design.drop == pytest.approx(12 / 1.8) and design.spacings == (0.3, None)
    assert sources[1].supply is None and room.load == 500.0 and room.sets_water is False
    assert other.set("room.1.sets_water", "").house.rooms[1].sets_water is not False


@pytest.mark.parametrize(
    ("key", "typed", "said"),
    [
        ("design.drop", "warm", "design.drop"),
        ("room.0.temperature", "90 degC", 'room "A".temperature'),
        ("room.0.covering", "moon rock", "material"),
        ("design.spacings", "1 mm", "spacing"),
        ("source.0.supply", "300 degC", 'source "condensing boiler".supply'),
    ],
)
def test_what_does_not_fit_is_refused_and_changes_nothing(house, key, typed, said):
    with pytest.raises(CaseError) as refused:
        house.set(key, typed)
    assert said in str(refused.value)
    assert house.set("design.drop", "6 K").change == 2


def test_the_saved_file_is_the_house_that_is_shown(house, tmp_path):
    changed = house.set("room.0.covering", "oak").set("design.water_limit", "60 degC")
    beside = tmp_path / "small-explored.toml"
    beside.write_text(saved_text(changed), encoding="utf-8")
    again = load_house(beside)
    assert again.model_copy(update={"name": "small", "path": changed.house.path}) == changed.house


def test_every_control_takes_what_it_shows(house):
    for control in [*house_controls(house.house), *room_controls(house.house, 0)]:
        if control["kind"] == "text" and control["si"]:
            for system in ("si", "ip"):
                assert house.set(control["key"], control[system]).house.rooms, control


def test_a_bare_number_has_the_unit_that_is_shown(house):
    laid = house.set("room.0.covering", "carpet").house
    controls = {control["key"]: control for control in [*house_controls(laid), *room_controls(laid, 0)]}
    told = {key: control["unit"]["ip"] for key, control in controls.items() if control["kind"] == "text"}
    assert told.pop("design.spacings") == told.pop("room.0.thickness") == "in"
    assert told.pop("room.0.load") == "Btu/h" and set(told.values()) == {"°F"}
    for control in controls.values():
        if control["kind"] == "text" and control["si"]:
            assert control["si"].endswith((control["unit"]["si"], "none")), control


def test_the_picture_is_plain_and_tells_shortfalls_in_both_systems():
    picture = house_picture(house_record(invented_plan()))
    told = json.loads(json.dumps(picture, allow_nan=False))
    layout = told["layouts"][0]
    assert {room["name"] for room in layout["rooms"]} == {"R1", "R2"} and "°F" in layout["facts"][1]["ip"]
    places = [room for storey in layout["storeys"] for room in storey["rooms"]]
    assert all(0 <= edge <= 100 for room in places for edge in room["at"])
    assert all(0 < share < 100 for room in places for share in room["under"])
    assert "6 ft" in layout["storeys"][0]["svg"]["ip"] and "2 m" in layout["storeys"][0]["svg"]["si"]


def test_the_plan_is_there_before_anything_is_solved(house):
    """Rooms, bays and circuits as placed, drawn as those of a solved house are: a room can be chosen meanwhile."""
    placed, _ = check_house(house.house)
    told = json.loads(json.dumps(house_picture(outline_record(house.house, placed)), allow_nan=False))
    assert [room["name"] for storey in told["storeys"] for room in storey["rooms"]] == ["A", "B", "U"]
    for room in placed:
        (storey,) = (one for one in told["storeys"] if one["name"] == room.room.storey)
        assert all(f">{circuit.name}<" in storey["svg"]["si"] for circuit in room.split.circuits)


def test_the_load_that_is_shown_is_less_what_comes_from_above():
    record = house_record(invented_plan())
    row = record["layouts"][0]["rooms"][0]
    row |= {"load_W": 1143.0, "from_above_W": 193.0}
    shown = house_picture(record)["layouts"][0]["rooms"][0]["cells"]["load"]
    assert shown["si"] == "950 W"


class Line:
    """The far end of a process's line."""

    def __init__(self):
        self.said = []

    def send(self, reply):
        self.said.append(reply)


def bench_with(monkeypatch, tmp_path, solve):
    from sim.explorer import house_work

    monkeypatch.setattr(house_work, "solve_house", solve)
    monkeypatch.setattr(house_work, "house_record", lambda plan: {"plan": plan})
    line = Line()
    bench = house_work.HouseBench(line, lambda record: dict(record), tmp_path)
    return bench, line, house_work.HouseJob


def wait_for(line, kind):
    for _ in range(200):
        if any(reply.kind == kind for reply in line.said):
            return
        time.sleep(0.02)
    raise AssertionError(f"no {kind} in {line.said}")


def test_bays_are_named_as_they_are_solved_and_a_newer_change_stops_them(monkeypatch, tmp_path):
    begun, go_on = threading.Event(), threading.Event()

    def solve(house, solver, wish):
        heard = solver.batch("curves of bays", 3)
        for number in range(3):
            if house.title == "first" and number == 1:
                begun.set()
                assert go_on.wait(5.0)
            heard(Outcome(f"R{number}", tmp_path, "", reused=False))
        return house.title

    bench, line, job = bench_with(monkeypatch, tmp_path, solve)
    threading.Thread(target=bench.run, daemon=True).start()
    first, second = (SMALL.replace("Three rooms", title) for title in ("first", "second"))
    bench.heed(job(1, first, "small", None, "coarse"))
    assert begun.wait(10.0)
    bench.heed(job(2, second, "small", None, "coarse"))
    go_on.set()
    wait_for(line, "answer")
    kinds = [(reply.change, reply.kind) for reply in line.said]
    assert (1, "dropped") in kinds and (1, "answer") not in kinds and kinds[-1] == (2, "answer")
    assert kinds[0] == (1, "outline") and kinds.count((2, "outline")) == 0, "once, before the first bay"
    told = [reply.told for reply in line.said if reply.kind == "progress" and reply.change == 2]
    assert [one["done"] for one in told] == [0, 1, 2, 3] and told[-1]["bay"] == "R2"


def test_a_house_that_cannot_be_laid_out_says_why(monkeypatch, tmp_path):
    def solve(house, solver, wish):
        raise ValueError("the passes ended too early")

    bench, line, job = bench_with(monkeypatch, tmp_path, solve)
    threading.Thread(target=bench.run, daemon=True).start()
    bench.heed(job(1, SMALL, "small", None, "own"))
    wait_for(line, "failed")
    assert line.said[-1].told == "the passes ended too early"


def invented_work(line, picture, store):
    """A house's process that solves nothing: the shortfall is that of the invented plan; a drop of 7 K fails."""
    record = house_record(invented_plan())
    while True:
        job = line.recv()
        progress = {"what": "curves of bays", "done": 1, "of": 2, "bay": "A"}
        line.send(Reply("progress", job.change, job.mesh, progress))
        time.sleep(0.4)
        if '"7 K"' in job.text:
            line.send(Reply("failed", job.change, job.mesh, "no water gives it"))
        else:
            line.send(Reply("answer", job.change, job.mesh, picture(record) | {"seconds": 0.4}))


@pytest.fixture(scope="module")
def browser():
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not here")
    pytest.importorskip("aiohttp", reason="aiohttp is not here")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    with sync_api.sync_playwright() as playing:
        found = playing.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield found
        found.close()


def endless_work(line, picture, store):
    """A house's process that has placed it and solves for ever."""
    job, record = line.recv(), house_record(invented_plan())
    storeys = picture(record)["layouts"][0]["storeys"]
    line.send(Reply("outline", job.change, job.mesh, {"storeys": storeys}))
    line.recv()


@pytest.fixture
def tab(request, browser, house, monkeypatch, tmp_path):
    """The house's page in a browser; with another process where a test names one, and what it comes to say."""
    import explorer_stage as stage
    from playwright import sync_api
    from test_explorer_turned import Patient

    from sim.explorer import house_talk
    from sim.explorer.kept import Kept
    from sim.explorer.pages import ServedPage
    from viz.explorer import HOUSE_PAGE

    work, words = getattr(request, "param", (invented_work, "Laid out with"))
    monkeypatch.setattr(house_talk, "work_on_house", work)
    look = {"units": "si", "ends": "It ends."}
    talk = partial(house_talk.HouseTalk, house, house_picture, tmp_path, Kept(), look)
    pages = {"house": ServedPage(HOUSE_PAGE, talk), "bay": stage.page(None)}
    with stage.served(pages, "house", keep_open=True) as (_, address, _):
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.complaints = []
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.goto(address)
        sync_api.expect(page.locator("#state")).to_contain_text(words, timeout=20_000)
        page.expect = partial(Patient, sync_api.expect)
        yield page
        page.close()


@pytest.mark.parametrize("tab", [(endless_work, "choose a room on it meanwhile")], indirect=True)
def test_while_the_first_bays_are_solved_the_plan_is_there_to_choose_a_room(tab):
    assert tab.locator(".plan button").count() == 2 and tab.locator("#facts").is_hidden()
    assert tab.locator("#plans").evaluate("host => getComputedStyle(host).opacity") == "1"
    tab.locator("#ip").click()
    assert "6 ft" in tab.locator(".plan svg").first.text_content() and tab.complaints == []


def test_the_page_of_a_house_as_a_person_uses_it(tab):
    expect, state, body = tab.expect, tab.locator("#state"), tab.locator("body")
    assert tab.locator("h1").inner_text() == HOSTILE and tab.title().startswith(HOSTILE)
    tab.locator("#own select").first.select_option("carpet")
    expect(body).to_have_class(re.compile("stale"))
    expect(state).to_contain_text("curves of bays, 1 of 2, last that of A")
    expect(state).to_contain_text("greyed numbers are those of the house before")
    expect(state).to_contain_text("Laid out with")
    expect(body).not_to_have_class(re.compile("stale"))
    field = tab.get_by_label("Room temperature")
    field.fill("90 degC")
    field.press("Enter")
    expect(tab.locator("#own .why:visible")).to_contain_text("at most 60 °C")
    expect(field).to_have_value("90 degC")
    expect(body).not_to_have_class(re.compile("stale"))
    drop = tab.get_by_label("Water cools on its way by")
    drop.fill("7")
    drop.press("Enter")
    expect(state).to_contain_text("no water gives it")
    expect(body).to_have_class(re.compile("stale"))
    tab.locator("#undo").click()
    expect(body).not_to_have_class(re.compile("stale"))
    tab.locator("#ip").click()
    assert "°F" in tab.locator("#facts").inner_text()
    with tab.expect_download() as saved:
        tab.locator("#save").click()
    assert "carpet" in Path(saved.value.path()).read_text("utf-8")
    assert tab.complaints == []


@pytest.mark.parametrize("width", [1280, 390])
def test_a_shortfall_covers_no_name_and_the_chosen_room_no_circuits(tab, width):
    tab.set_viewport_size({"width": width, "height": 900})
    found = tab.evaluate(
        """() => {
          const apart = (a, b) => a.right <= b.left || b.right <= a.left
            || a.bottom <= b.top + 1 || b.bottom <= a.top + 1;
          const box = one => one.getBoundingClientRect();
          return [...document.querySelectorAll('.plan')].map(plan => {
            const texts = [...plan.querySelectorAll('svg text')].filter(one => /R\\d/.test(one.textContent)).map(box);
            const badges = [...plan.querySelectorAll('.badge')], edge = box(plan);
            const depth = one => Number(getComputedStyle(one).zIndex) || 0, drawn = depth(plan.querySelector('svg'));
            const over = [...plan.querySelectorAll('button')].filter(one => depth(one) >= drawn);
            return { badges: badges.length, over: over.length,
              clear: badges.every(one => texts.every(text => apart(box(one), text))
                && box(one).left >= edge.left && box(one).right <= edge.right) };
          });
        }"""
    )
    assert sum(plan["badges"] for plan in found) > 0
    assert all(plan["clear"] and not plan["over"] for plan in found)


def test_the_page_of_a_house_is_folded_on_a_phone_and_whole_at_a_desk_and_on_paper(browser):
    """Cautions stand open everywhere; what is opened by hand stays so after printing."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.set_content(house_page(house_record(invented_plan())))
    folds, open_now = page.locator("details.narrow"), page.locator("details.narrow[open]")
    assert open_now.count() == 0 < folds.count() and page.locator("#cautions .caution").first.is_visible()
    page.locator("#sources summary").click()
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert open_now.count() == folds.count()
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert open_now.count() == 1
    page.set_viewport_size({"width": 1280, "height": 900})
    page.wait_for_function("document.querySelectorAll('details.narrow:not([open])').length === 0")
    page.close()

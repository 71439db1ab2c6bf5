"""The explorer's page in a browser, as a person uses it; solvers are invented (`explorer_stage`) but for the last."""

import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytest.importorskip("aiohttp", reason="aiohttp is not here, so the explorer cannot be served")
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not here, so the page is not tried")
import explorer_stage as stage  # noqa: E402

from sim.case.load import load_case, parse_case  # noqa: E402

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium here, so the page is not tried in a browser")
expect = sync_api.expect
expect.set_options(timeout=20_000)
ROOT = Path(__file__).parents[2]
OAK = ROOT / "cases/demo/family-oak.toml"
HOSTILE = "<img src=x onerror=\"document.title='struck'\"><script>document.title='struck'</script>"
SOLVED = re.compile("own mesh, 1,000 cells")


@pytest.fixture(scope="module")
def browser():
    with sync_api.sync_playwright() as playing:
        browser = playing.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="module", autouse=True)
def threads_as_processes():
    """Real ones are tried in `test_explorer` and by the last test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sim.explorer.solver.hire", stage.hire)
        yield


@pytest.fixture(scope="module")
def oak():
    return load_case(OAK)


@pytest.fixture(scope="module")
def address(oak):
    with stage.served({"bay": stage.page(oak)}, "bay", keep_open=True) as (_, address, _):
        yield address


@pytest.fixture
def tab(browser, address):
    """A tab that shows the oak floor, solved."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    context.set_default_timeout(20_000)
    page = context.new_page()
    page.goto(address)
    expect(page.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
    yield page
    context.close()


def heat(page):
    """The heat up that is shown: on this stage the plate spacing in mm."""
    return page.locator("#big .fact b").first


def fresh(page):
    expect(page.locator("body")).not_to_have_class(re.compile("stale"), timeout=20_000)


def type_at(page, label, text):
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Enter")


def slider(page, label):
    return page.get_by_label(f"{label}, slider")


def test_a_drag_moves_the_floor_and_leaves_one_step_to_undo(tab):
    box = slider(tab, "Plates every").bounding_box()
    tab.mouse.move(box["x"] + 0.08 * box["width"], box["y"] + box["height"] / 2)
    tab.mouse.down()
    for share in (0.2, 0.35, 0.5, 0.65):
        tab.mouse.move(box["x"] + share * box["width"], box["y"] + box["height"] / 2)
        time.sleep(0.12)
    tab.mouse.up()
    shown = tab.get_by_label("Plates every", exact=True).input_value()
    assert float(shown.split()[0]) > 350.0
    expect(heat(tab)).to_have_text(f"{float(shown.split()[0]):.1f} W/m²")
    expect(tab.locator("#state")).to_contain_text(SOLVED)
    tab.click("#undo")
    expect(heat(tab)).to_have_text("225.0 W/m²")
    expect(tab.locator("#undo")).to_be_disabled()
    tab.click("#redo")
    expect(tab.get_by_label("Plates every", exact=True)).to_have_value(shown)


def test_numbers_are_old_until_newer_ones_come(tab):
    """At no moment is a number of other values on the page without being greyed."""
    tab.evaluate("""() => {
      window.seen = [];
      new MutationObserver(look).observe(document.body, { subtree: true, childList: true, attributes: true });
      function look() {
        const heat = document.querySelector('#big .fact b').textContent, field = document.getElementById('knob0');
        if (field.parentNode.classList.contains('typed')) return;  // not sent yet, and said so
        window.seen.push([heat, field.value, document.body.classList.contains('stale')]);
      }
    }""")
    for millimetres in (300, 310, 320, 330):
        type_at(tab, "Plates every", f"{millimetres} mm")
        time.sleep(0.05)
    expect(heat(tab)).to_have_text("330.0 W/m²")
    fresh(tab)
    seen = tab.evaluate("window.seen")
    assert any(stale for *_, stale in seen)
    wrong = [row for row in seen if not row[2] and float(row[0].split()[0]) != float(row[1].split()[0])]
    assert not wrong, wrong[:5]


def test_inches_are_understood_and_units_flip(tab):
    type_at(tab, "Plates every", "16 in")
    expect(heat(tab)).to_have_text("406.4 W/m²")
    tab.click("#ip")
    expect(tab.get_by_label("Plates every", exact=True)).to_have_value("16 in")
    expect(tab.get_by_label("Water entering", exact=True)).to_have_value("122 °F")
    expect(heat(tab)).to_contain_text("Btu")
    type_at(tab, "Water entering", "120")  # a bare number is in the units that are shown
    expect(tab.get_by_label("Water entering", exact=True)).to_have_value("120 °F")
    type_at(tab, "Plates every", "9 1/4")
    expect(tab.get_by_label("Plates every", exact=True)).to_have_value("9.25 in")
    tab.click("#si")
    expect(tab.get_by_label("Water entering", exact=True)).to_have_value("48.89 °C")


def test_a_bad_value_is_explained_at_its_control(tab):
    type_at(tab, "Plates every", "100 mm")
    row = tab.locator(".knob").first
    expect(row.locator(".why")).to_contain_text("plates would overlap: shorten them or space them wider")
    expect(tab.get_by_label("Plates every", exact=True)).to_have_attribute("aria-invalid", "true")
    expect(tab.get_by_label("Plates every", exact=True)).to_have_value("100 mm")
    fresh(tab)  # nothing has changed, so the numbers are still those of the bay
    expect(heat(tab)).to_have_text("225.0 W/m²")
    type_at(tab, "Plates every", "250 mm")
    expect(row.locator(".why")).to_be_hidden()
    expect(heat(tab)).to_have_text("250.0 W/m²")


def test_what_is_only_shown_is_never_sent_back(tab):
    """8.86 in is 225 mm, rounded: looking at it and leaving must not change the bay."""
    tab.click("#ip")
    field = tab.get_by_label("Plates every", exact=True)
    expect(field).to_have_value("8.86 in")
    field.focus()
    field.press("End")
    field.press("Tab")
    expect(tab.locator("#undo")).to_be_disabled()


def test_typing_is_not_overwritten_by_what_comes_meanwhile(tab):
    tab.click("#pin")
    field = tab.get_by_label("Plates every", exact=True)
    field.fill("40")
    tab.get_by_role("button", name="Unpin").wait_for()
    time.sleep(0.3)
    expect(field).to_have_value("40")


def test_pins_stand_side_by_side_and_lead_back(tab):
    tab.click("#pin")
    type_at(tab, "Plates every", "400 mm")
    expect(heat(tab)).to_have_text("400.0 W/m²")
    tab.click("#pin")
    cards = tab.locator(".pinned-one")
    expect(cards).to_have_count(2)
    expect(cards.nth(0).locator("h3")).to_have_text("1. plates every 225 mm")
    expect(cards.nth(1).locator("h3")).to_contain_text("2. plates every 400 mm")
    expect(cards.nth(0)).to_contain_text("225.0 W/m²")
    for number in (0, 1):
        expect(cards.nth(number).locator("canvas")).to_have_attribute("style", re.compile("width: [1-9][0-9]{2}px"))
    cards.nth(0).get_by_role("button", name="Back to this").click()
    expect(heat(tab)).to_have_text("225.0 W/m²")
    cards.nth(1).get_by_role("button", name="Unpin").click()
    expect(cards).to_have_count(1)


def test_the_case_file_that_is_saved_is_the_bay_that_is_shown(tab, oak):
    type_at(tab, "Plates every", "12 in")
    type_at(tab, "Water entering", "47 °C")
    expect(heat(tab)).to_have_text("304.8 W/m²")
    with tab.expect_download() as saved:
        tab.click("#save")
    assert saved.value.suggested_filename == "family-oak-explored.toml"
    case = parse_case(Path(saved.value.path()).read_text(), oak.name, oak.path)
    assert case == oak.with_({"plates.spacing": "12 in", "water.supply": "47 degC"})
    with tab.expect_download() as page:
        tab.click("#report")
    assert page.value.suggested_filename == "family-oak-report.html"


def test_a_report_that_cannot_be_written_says_why(tab):
    tab.get_by_role("radio", name="1").check(force=True)
    tab.click("#report")
    expect(tab.locator("#save-why")).to_have_text("It could not be made: the disk is full.")
    expect(tab.locator("#report")).to_be_enabled()
    fresh(tab)


def test_a_solve_that_fails_says_why_and_keeps_saying_it(tab):
    type_at(tab, "Water entering", f"{stage.FAILS} °C")
    state = tab.locator("#state")
    expect(state).to_contain_text("could not be solved: the passes ended too early")
    time.sleep(1.3)
    expect(state).to_contain_text("could not be solved: the passes ended too early")
    expect(tab.locator("body")).to_have_class(re.compile("stale"))
    tab.click("#ip")
    expect(state).to_contain_text("could not be solved")
    tab.click("#undo")
    expect(state).to_contain_text(SOLVED)
    fresh(tab)


def test_a_solver_that_hangs_freezes_nothing(tab):
    type_at(tab, "Water entering", f"{stage.HANGS} °C")
    expect(tab.locator("#state")).to_contain_text("for 3 s", timeout=8_000)
    expect(tab.locator("body")).to_have_class(re.compile("stale"))
    tab.click("#pin")
    expect(tab.locator(".pinned-one")).to_contain_text("as soon as it is solved")
    tab.click("#undo")  # what was solved before is there at once, though the solver still hangs
    expect(heat(tab)).to_have_text("225.0 W/m²")
    fresh(tab)


def test_a_slow_start_tells_how_long_it_has_taken(browser, oak):
    slow = oak.with_({"water.supply": f"{stage.HANGS} degC"})
    with stage.served({"bay": stage.page(slow)}, "bay", keep_open=True) as (_, address, _):
        page = browser.new_page()
        page.goto(address)
        expect(page.locator("#state")).to_contain_text(re.compile(r"Getting ready for \d{1,2} s"))
        page.close()


def test_a_solver_that_crashes_is_told_and_replaced(tab):
    type_at(tab, "Water entering", f"{stage.CRASHES} °C")
    expect(tab.locator("#state")).to_contain_text("process ended (exit code 7)")
    type_at(tab, "Water entering", "46 °C")
    expect(tab.locator("#state")).to_contain_text(SOLVED)
    fresh(tab)


def test_the_wished_heat_finds_its_water(tab):
    tab.fill("#wish", "55")
    tab.press("#wish", "Enter")
    expect(tab.locator("#needed")).to_contain_text("needs water of 55.0 °C")
    tab.click("#use")
    expect(tab.get_by_label("Water entering", exact=True)).to_have_value("55 °C")
    tab.fill("#wish", "much")
    tab.press("#wish", "Enter")
    expect(tab.locator("#wish-why")).to_contain_text("no number found")


def test_a_computed_flow_tells_how_far_it_is_and_comes(tab):
    tab.click("#flow")
    expect(tab.locator("#air-state")).to_contain_text("means within 3.0 %, 1.0 % are wanted; about 30 s left")
    type_at(tab, "Plates every", "250 mm")  # one goes on meanwhile
    expect(heat(tab)).to_have_text("250.0 W/m²")
    expect(tab.locator("#air-there")).to_be_visible()
    expect(tab.locator("#air-state")).to_contain_text("It is of the bay before your last changes")
    expect(tab.locator("#air-numbers")).to_contain_text("225.0 W/m²")
    assert "250.0" not in tab.locator("#air-numbers").inner_text()
    tab.click("#undo")
    expect(tab.locator("#air-state")).not_to_contain_text("before your last changes")


def test_a_computed_flow_can_be_cancelled(tab):
    type_at(tab, "Water entering", "55 °C")
    expect(tab.locator("#state")).to_contain_text(SOLVED)
    tab.click("#flow")
    tab.click("#cancel")
    expect(tab.locator("#air-state")).to_have_text("The computed flow was cancelled.")
    expect(tab.locator("#flow")).to_be_visible()


def test_two_tabs_do_not_disturb_each_other(tab, browser, address):
    other = tab.context.new_page()
    other.goto(address)
    expect(other.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
    type_at(tab, "Plates every", "350 mm")
    type_at(other, "Plates every", "270 mm")
    other.click("#ip")
    expect(heat(tab)).to_have_text("350.0 W/m²")
    tab.reload()  # a tab that is loaded again finds what it had done
    expect(heat(tab)).to_have_text("350.0 W/m²")
    expect(other.get_by_label("Plates every", exact=True)).to_have_value("10.63 in")
    tab.click("#undo")
    expect(heat(tab)).to_have_text("225.0 W/m²")
    other.close()


def test_everything_can_be_done_from_the_keyboard(tab):
    def tab_to(name, most=60):
        for _ in range(most):
            tab.keyboard.press("Tab")
            if tab.evaluate("document.activeElement.id || document.activeElement.getAttribute('aria-label')") == name:
                return
        raise AssertionError(f"{name} is not reached")

    tab_to("Plates every, slider")
    for _ in range(3):
        tab.keyboard.press("ArrowRight")
    expect(tab.get_by_label("Plates every", exact=True)).to_have_value("240 mm")
    expect(heat(tab)).to_have_text("240.0 W/m²")
    tab_to("map")
    tab.keyboard.press("ArrowRight")
    expect(tab.locator("#reading b")).to_contain_text("°C")
    tab.keyboard.press("Control+z")
    expect(heat(tab)).to_have_text("235.0 W/m²")
    tab_to("pin", 90)
    tab.keyboard.press("Enter")
    expect(tab.locator(".pinned-one")).to_have_count(1)
    outline = tab.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"


def test_a_hostile_title_does_nothing(browser, oak):
    title = HOSTILE.replace('"', '\\"')
    case = parse_case(OAK.read_text().replace("Family room, 19 mm oak over fastened plates", title), "hostile")
    with stage.served({"bay": stage.page(case)}, "bay", keep_open=True) as (_, address, _):
        page = browser.new_page()
        page.goto(address)
        expect(page.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
        expect(page.locator("h1#title")).to_have_text(HOSTILE)
        assert page.title().startswith("<img") and page.locator("#bay img").count() == 0
        page.close()


def test_a_wrong_address_shows_nothing(browser, address):
    page = browser.new_page()
    answer = page.goto(re.sub(r"[^/]+/bay/$", "guess/bay/", address))
    assert answer.status == 403 and page.inner_text("body").strip() == "Not this address."
    page.close()


def test_the_page_asks_nobody_else_for_anything(browser, address):
    page, asked = browser.new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    expect(page.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
    assert asked and all(url.startswith((address, "data:", "blob:")) for url in asked)
    page.close()


def test_bays_to_begin_with_and_a_file_of_ones_own(browser, tmp_path):
    with stage.served({"bay": stage.page(None)}, "bay", keep_open=True) as (_, address, _):
        page = browser.new_page()
        page.goto(address)
        page.get_by_role("button", name="Kitchen, vinyl plank over hung plates").click()
        expect(page.locator("#title")).to_have_text("Kitchen, vinyl plank over hung plates")
        page.click("#others")
        air = (ROOT / "cases/air/plate-end.toml").read_text()
        for text, words in (("kind = 'house'", "use joistbay house"), ("water = 3", "water"), (air, "joist bays")):
            (tmp_path / "bad.toml").write_text(text)
            page.set_input_files("#file", tmp_path / "bad.toml")
            expect(page.locator("#open-why")).to_contain_text(words)
        page.set_input_files("#file", ROOT / "cases/demo/bathroom-tile.toml")
        expect(page.locator("#title")).to_have_text("Bathroom, 9 mm tile over fastened plates")
        expect(page.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
        page.close()


def test_it_ends_after_its_last_tab_and_the_page_says_so(browser, oak):
    with stage.served({"bay": stage.page(oak)}, "bay", linger=0.5) as (server, address, thread):
        page = browser.new_page()
        page.goto(address)
        expect(page.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
        page.close()
        thread.join(10.0)
        assert not thread.is_alive()
    with stage.served({"bay": stage.page(oak)}, "bay") as (server, address, thread):
        page = browser.new_page()
        page.goto(address)
        expect(page.locator("#state")).to_contain_text(SOLVED, timeout=30_000)
        server.stop()
        expect(page.locator("#gone")).to_contain_text("The program has ended", timeout=15_000)
        expect(page.locator("body")).to_have_class(re.compile("stale"))
        expect(page.locator("#undo")).to_be_disabled()
        page.close()


@pytest.mark.slow
def test_the_program_itself_shows_what_a_solve_gives(browser, oak, tmp_path):
    """The command with its real solvers: the page's numbers are those of sim.solve, Ctrl-C ends it in one line."""
    import sim

    words = [sys.executable, "-m", "sim", "explore", str(OAK), "--no-browser"]
    running = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT)
    try:
        page = browser.new_page()
        page.goto(running.stdout.readline().split()[-1])
        expect(page.locator("#state")).to_contain_text("own mesh, ", timeout=120_000)
        expect(heat(page)).to_have_text(f"{sim.solve(oak).report['heat_flux_up_W_m2']:.1f} W/m²")
        page.fill("#wish", "60")
        page.press("#wish", "Enter")
        expect(page.locator("#needed b")).to_have_text(re.compile(r"50\.[0-9] °C"), timeout=60_000)
        with page.expect_download(timeout=60_000) as saved:
            page.click("#report")
        assert "Family room" in Path(saved.value.path()).read_text()
        running.send_signal(signal.SIGINT)
        assert running.wait(15.0) == 130 and running.stderr.read().strip().splitlines()[-1] == "stopped"
        page.close()
    finally:
        running.kill()

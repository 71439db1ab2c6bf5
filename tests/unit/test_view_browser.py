"""The page of a scene in a browser without a screen: it is not blank, turns, switches, reads, and loads nothing."""

import io
import shutil

import numpy as np
import pytest
from PIL import Image
from test_view import fake_run, make_scene, with_roll

from viz.view.page import scene_page

sync_api = pytest.importorskip("playwright.sync_api")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    """The page of a bay with air, with what it asked for and complained of."""
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    file = tmp_path_factory.mktemp("page") / "view.html"
    file.write_text(scene_page(make_scene(fields=with_roll(fake_run.make_fields(step=0.03)))), encoding="utf-8")
    with sync_api.sync_playwright() as playwright:
        flags = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
        shown = browser.new_page(viewport={"width": 520, "height": 600})
        shown.asked, shown.complaints = [], []
        shown.on("request", lambda request: shown.asked.append(request.url))
        shown.on("pageerror", lambda error: shown.complaints.append(str(error)))
        shown.on("console", lambda message: shown.complaints.append(message.text))
        shown.goto(file.as_uri())
        shown.wait_for_selector("html[data-ready=yes]", timeout=30_000)
        yield shown
        browser.close()


def picture(page):
    """What the canvas shows (height, width, 3)."""
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return np.asarray(Image.open(io.BytesIO(page.locator("#picture").screenshot())).convert("RGB")).astype(int)


def changed(before, after):
    """Share of the pixels that differ visibly."""
    return float((np.abs(before - after).max(axis=2) > 24).mean())


def test_the_scene_is_not_blank_and_turns_by_pointer_and_keys(page):
    before = picture(page)
    assert (np.abs(before - before[2, 2]).max(axis=2) > 24).mean() > 0.1
    azimuth = float(page.locator("html").get_attribute("data-azimuth"))
    box = page.locator("#picture").bounding_box()
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 320, box["y"] + 230, steps=4)
    page.mouse.up()
    dragged = picture(page)
    assert changed(before, dragged) > 0.03
    page.locator("#picture").focus()
    page.keyboard.press("ArrowRight")
    turned = picture(page)
    assert changed(dragged, turned) > 0.02
    assert abs(float(page.locator("html").get_attribute("data-azimuth")) - azimuth) > 5.0
    page.keyboard.press("0")
    assert changed(before, picture(page)) < 0.01


@pytest.mark.parametrize("layer", ["floor", "plates", "water", "air", "solids"])
def test_letters_switch_layers(page, layer):
    key = page.locator(f'[data-layer="{layer}"]').get_attribute("data-key")
    before, box = picture(page), page.locator(f"#layer-{layer}")
    assert box.is_checked()
    page.keyboard.press(key)
    assert not box.is_checked() and changed(before, picture(page)) > 0.0005
    page.keyboard.press(key)
    assert box.is_checked() and changed(before, picture(page)) < 0.0005


def test_units_change_and_the_middle_is_read(page):
    page.locator("#picture").focus()
    page.keyboard.press("r")
    assert "°C" in page.locator("#reading").inner_text()
    page.keyboard.press("u")
    page.keyboard.press("r")
    assert "°F" in page.locator("#reading").inner_text()
    assert page.locator("tbody .ip").first.is_visible()
    page.keyboard.press("u")


def test_air_flows_only_when_asked(page):
    still = picture(page)
    page.wait_for_timeout(150)
    assert changed(still, picture(page)) == 0.0
    page.keyboard.press("g")
    page.wait_for_timeout(600)
    assert changed(still, picture(page)) > 0.0
    page.keyboard.press("g")


def test_it_asked_for_nothing_and_complained_of_nothing(page):
    assert [url for url in page.asked if not url.startswith("file:")] == [] and page.complaints == []

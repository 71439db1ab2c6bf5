"""The bay of the explorer as a scene to turn: made when asked for, old after a change, given to its tab alone."""

import shutil
from functools import partial
from pathlib import Path

import pytest

pytest.importorskip("aiohttp", reason="aiohttp is not here, so the explorer cannot be served")
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not here, so the page is not tried")
import explorer_stage as stage  # noqa: E402

from sim.case.load import load_case  # noqa: E402
from sim.explorer.bay_talk import BayTalk, Staff  # noqa: E402
from sim.explorer.jobs import Makers, PageJob, Reply  # noqa: E402
from sim.explorer.kept import Kept  # noqa: E402
from sim.explorer.pages import ServedPage  # noqa: E402
from sim.explorer.shelf import shelf  # noqa: E402
from viz.explorer import BAY_PAGE  # noqa: E402
from viz.explorer.picture import look  # noqa: E402

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium here, so the page is not tried in a browser")
OAK = Path(__file__).parents[2] / "cases/demo/family-oak.toml"


class Patient:
    """An expectation that waits for a busy machine."""

    def __init__(self, expect, locator):
        self._found = expect(locator)

    def __getattr__(self, name):
        return partial(getattr(self._found, name), timeout=30_000)


def solver(line, makers, warm):
    """Solves nothing; the scene is a page that a script marks as alive, and that tries to reach its surroundings."""
    reach = "try { parent.document.title = 'struck' } catch (error) { document.body.dataset.kept = 'out' }"
    while True:
        job = line.recv()
        if isinstance(job, PageJob):
            text = f"<body><p>a scene</p><script>{reach}</script></body>"
            line.send(Reply(job.what, job.change, "page", text))
        else:
            line.send(Reply("answer", job.change, job.mesh, stage.invented(job.case, 1000)))


def follower(line, makers, job):
    """Follows no air, and gives its scene and what came out."""
    line.send(Reply("scene", job.change, "air", "<p>plumes</p>"))
    line.send(Reply("answer", job.change, "air", stage.invented(job.case, 5000)))


def test_a_bay_is_turned_on_request_within_a_frame_that_reaches_nothing():
    told = look() | {"units": "si", "ends": "It ends."}
    crew = Staff(solver, follower)
    talk = partial(BayTalk, shelf(), load_case(OAK), Makers(None, None, None), Kept(), told, crew)
    pages, expect = {"bay": ServedPage(BAY_PAGE, talk)}, partial(Patient, sync_api.expect)
    with stage.served(pages, "bay", keep_open=True) as (_, address, _), sync_api.sync_playwright() as playing:
        browser = playing.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(address)
        expect(page.locator("#state")).to_contain_text("own mesh")
        page.locator("#turn").click()
        frame = page.frame_locator("#scene")
        expect(frame.locator("p")).to_have_text("a scene")
        expect(frame.locator("body")).to_have_attribute("data-kept", "out")
        assert page.title() != "struck"
        expect(page.locator("#turned-words")).to_contain_text("as it stands")
        page.get_by_label("Plates every", exact=True).fill("300 mm")
        page.get_by_label("Plates every", exact=True).press("Enter")
        expect(page.locator("#turned-words")).to_contain_text("before your last change")
        assert page.request.get(f"{address}scene.html?tab=another").status == 404
        page.locator("#flow").click()
        page.locator("#turn-air").click()
        expect(frame.locator("p")).to_have_text("plumes")
        browser.close()

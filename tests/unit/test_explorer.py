"""The explorer without a browser: sessions, controls, the case file that it saves, its solvers, its server."""

import asyncio
import http.client
import math
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError
from sim.case.load import load_case, parse_case
from sim.case.short_file import short_text
from sim.explorer.controls import controls_of
from sim.explorer.jobs import Makers, PageJob, SolveJob
from sim.explorer.kept import Kept
from sim.explorer.names import told_apart, what_differs
from sim.explorer.session import MOST_PINS, opened
from sim.explorer.shelf import shelf
from sim.explorer.work import QUICK_RAYS, Overtaken, SolverBench, _progress, quick_fineness
from sim.run import prepare, solve_model

pytest.importorskip("aiohttp", reason="aiohttp is not here, so the explorer's server cannot be tried")
import explorer_stage as stage

from sim.cli.main import main

ROOT = Path(__file__).parents[2]
OAK = ROOT / "cases/demo/family-oak.toml"
ACROSS = """
span = "bay"
[bay]
length = "8 ft"
[[floor.covering]]
material = "oak"
thickness = "3/4 in"
[tube]
direction = "across"
across_spacing = "12 in"
[rim]
outdoor_temperature = "20 degF"
[water]
supply = "120 degF"
[room]
temperature = "68 degF"
[below]
temperature = "60 degF"
"""


@pytest.fixture(scope="module")
def oak():
    return load_case(OAK)


def keys(case):
    return [control.key for control in controls_of(case)]


# Sessions.


def test_a_change_is_undone_and_done_again(oak):
    session = opened(oak).set("plates.spacing", "12 in").set("water.supply", "45 degC")
    assert session.case.plates.spacing == pytest.approx(0.3048)
    back = session.undo().undo()
    assert back.case == oak and not back.past and len(back.future) == 2
    again = back.redo()
    assert again.case.plates.spacing == pytest.approx(0.3048) and again.case.water.supply == oak.water.supply
    assert not again.set("water.supply", "40 degC").future  # a new change leaves no way on to the old ones


def test_every_change_has_a_number_of_its_own(oak):
    session = opened(oak)
    seen = [session.change]
    for step in (lambda s: s.set("water.supply", "45 degC"), lambda s: s.undo(), lambda s: s.redo(),
                 lambda s: s.set("water.supply", "46 degC"), lambda s: s.undo()):  # fmt: skip
        session = step(session)
        seen.append(session.change)
    assert len(set(seen)) == len(seen) and seen == sorted(seen)


def test_a_drag_is_one_step_to_undo(oak):
    session = opened(oak)
    for millimetres in (230, 240, 250):
        session = session.set("plates.spacing", f"{millimetres} mm", moving=True)
    session = session.set("plates.spacing", "260 mm")
    assert session.undo().case == oak
    session = session.set("plates.spacing", "300 mm", moving=True)  # the next drag is a step of its own
    assert session.undo().case.plates.spacing == pytest.approx(0.26)


def test_a_drag_that_begins_where_it_is_can_be_undone(oak):
    session = opened(oak).set("plates.spacing", "225 mm", moving=True).set("plates.spacing", "240 mm", moving=True)
    assert session.case != oak and session.undo().case == oak


def test_a_bad_value_leaves_the_session_as_it_is(oak):
    session = opened(oak)
    for key, text in (("plates.spacing", "100 mm"), ("water.supply", "hot"), ("water.supply", "200 degC"),
                      ("tube.runs", "9"), ("no.such", "1 m"), ("plates.width", "2 furlongs")):  # fmt: skip
        with pytest.raises(CaseError) as caught:
            session.set(key, text)
        assert caught.value.problems[0].key == key
    assert session.case == oak


def test_the_same_value_is_no_change(oak):
    session = opened(oak)
    assert session.set("water.supply", "50 degC").change == session.change


def test_pins_are_held_once_each_and_the_oldest_goes(oak):
    session = opened(oak).pin()
    assert len(session.pin().pins) == 1
    for celsius in range(40, 40 + MOST_PINS):
        session = session.set("water.supply", f"{celsius} degC").pin()
    assert [pin.number for pin in session.pins] == list(range(2, MOST_PINS + 2))
    assert [pin.number for pin in session.unpin(3).pins] == [2, *range(4, MOST_PINS + 2)]


def test_pins_are_named_by_what_tells_them_apart(oak):
    wider, cooler = oak.with_({"plates.spacing": "12 in"}), oak.with_({"water.supply": "45 degC"})
    assert [name["si"] for name in told_apart([oak, wider])] == ["plates every 225 mm", "plates every 304.8 mm"]
    assert told_apart([oak, wider])[1]["ip"] == "plates every 12 in"
    assert "water 45 °C" in told_apart([oak, wider, cooler])[2]["si"]
    bare = oak.with_({"plates.spacing": "none"})
    assert told_apart([oak, bare])[1]["si"].startswith("no plates")
    assert what_differs(oak, oak) == {"si": "", "ip": ""}


# Controls.


def test_a_bay_has_the_controls_of_what_it_holds(oak):
    assert "plates.drop" not in keys(oak)
    assert "plates.drop" in keys(load_case(ROOT / "cases/demo/kitchen-vinyl.toml"))
    bare = keys(load_case(ROOT / "cases/arrangements/hung-bare.toml"))
    assert not [key for key in bare if key.startswith("plates")] and "tube.runs" in bare
    across = keys(parse_case(ACROSS))
    assert "tube.runs" not in across and "tube.across_spacing" in across and "cavity.insulation.thickness" not in across


@pytest.mark.parametrize("bay", shelf(), ids=lambda bay: bay.name)
def test_ends_of_sliders_hold_the_value_and_may_be_set(bay):
    """What a slider offers is accepted, but for plates that would overlap and the like, which the door explains."""
    for control in controls_of(bay.case):
        told = control.as_dict()
        if told["kind"] != "quantity":
            continue
        for system in ("si", "ip"):
            scale = told[system]
            assert scale["low"] - scale["step"] <= scale["value"] <= scale["high"] + scale["step"]
            middle = round((scale["low"] + scale["high"]) / 2 / scale["step"]) * scale["step"]
            opened(bay.case).set(control.key, f"{middle} {scale['unit']}")


def test_a_thicker_layer_stays_of_the_same_stuff(oak):
    batt = oak.cavity.insulation
    thinner = opened(oak).set("cavity.insulation.thickness", "80 mm").case.cavity.insulation
    assert thinner.thermal_resistance == pytest.approx(batt.thermal_resistance * 0.08 / batt.thickness)
    wood = opened(oak).set("floor.covering[0].thickness", "10 mm").case.floor.coverings[0]
    assert wood.conductivity == oak.floor.coverings[0].conductivity
    tile = opened(oak).set("floor.covering[0].material", "ceramic tile").case.floor.coverings[0]
    assert tile.conductivity != wood.conductivity and tile.thickness == pytest.approx(0.019)


# The file that is saved.


@pytest.mark.parametrize("system", ["SI", "IP"])
@pytest.mark.parametrize("path", sorted([*ROOT.glob("cases/demo/*.toml"), *ROOT.glob("cases/arrangements/*.toml")]),
                         ids=lambda path: path.stem)  # fmt: skip
def test_a_saved_file_reads_back_to_the_same_case(path, system):
    case = load_case(path)
    for other in (case, case.with_({"water.supply": "43.21 degC"})):
        assert parse_case(short_text(other, system), case.name, case.path) == other


def test_a_saved_file_keeps_what_was_written_and_no_more(oak):
    text = short_text(oak.with_({"plates.spacing": "12 in"}), "IP")
    assert 'spacing = "12 in"' in text and 'supply = "122 degF"' in text and "emissivity" not in text
    assert 'plates = "none"' in short_text(oak.with_({"plates.spacing": "none"}), "SI")


# Answers that are kept, and solvers.


def test_kept_answers_go_by_content(oak):
    kept = Kept()
    kept.put(oak, "quick", {"a": 1})
    same = oak.with_({"plates.spacing": "300 mm"}).with_({"plates.spacing": "225 mm"})
    assert kept.best(same) == ("quick", {"a": 1}) and kept.best(oak.with_({"water.supply": "51 degC"})) is None
    kept.put(oak, "own", {"a": 2})
    assert kept.best(oak) == ("own", {"a": 2})


INVENTED = Makers(lambda fields, report, title: {"title": title}, lambda *all: "page", lambda *all: "scene")
"""Pictures and pages that cost nothing."""


class Line:
    """A line that keeps what is sent."""

    def __init__(self):
        self.replies, self.came = [], threading.Event()

    def send(self, reply):
        self.replies.append(reply)
        self.came.set()

    def wait(self, kind, seconds=120.0):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            for reply in self.replies:
                if reply.kind == kind:
                    return reply
            self.came.wait(0.1)
        raise AssertionError(f"no {kind} among {self.replies}")


def bench():
    line = Line()
    made = SolverBench(line, INVENTED)
    threading.Thread(target=made.run, daemon=True).start()
    return line, made


def test_a_solver_answers_and_finds_the_water(oak):
    """The needed water gives the flux that was wished for when it is put into the bay."""
    line, made = bench()
    made.heed(SolveJob(1, oak, "quick", 50.0))
    answer, needed = line.wait("answer").told, line.wait("needed").told
    assert answer["numbers"][0]["key"] == "heat_flux_up_W_m2" and answer["title"] == oak.title
    assert answer["limits"] and answer["cautions"] and answer["room"] == pytest.approx(20.0)
    water = needed["water"]["value"]
    line.replies.clear()
    made.heed(SolveJob(2, oak.with_({"water.supply": water + ZERO_CELSIUS}), "quick"))
    assert line.wait("answer").told["numbers"][0]["value"] == pytest.approx(50.0, rel=2e-3)


def test_a_change_of_water_alone_gives_what_a_new_model_gives(oak):
    """Mesh and view factors of the last bay serve, the numbers are those of a fresh solve."""
    warmer = oak.with_({"water.supply": "60 degC"})
    (line, made), (other, fresh) = bench(), bench()
    made.heed(SolveJob(1, oak, "quick"))
    line.wait("answer")
    line.replies.clear()
    made.heed(SolveJob(2, warmer, "quick"))
    fresh.heed(SolveJob(2, warmer, "quick"))
    again, anew = line.wait("answer").told["numbers"], other.wait("answer").told["numbers"]
    assert [one["value"] for one in again] == pytest.approx([one["value"] for one in anew], rel=1e-4)


def test_no_water_gives_an_absurd_flux(oak):
    line, made = bench()
    made.heed(SolveJob(1, oak, "quick", 400.0))
    why = line.wait("needed").told["why"]
    assert "water of 95.0 °C gives" in why["si"] and "water of 203.0 °F gives" in why["ip"]


def test_an_overtaken_solve_is_dropped_and_the_newest_comes(oak):
    """On the bay's own mesh: what a newer change has overtaken tells no numbers."""
    line = Line()
    made = SolverBench(line, INVENTED)
    made._newest = 5
    with pytest.raises(Overtaken):
        made._do(SolveJob(4, oak, "own"))
    assert not line.replies
    for change in (6, 7, 8):
        made.heed(SolveJob(change, oak, "own"))
    assert [job.change for job in made._waiting] == [8]


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted([*ROOT.glob("cases/demo/*.toml"), *ROOT.glob("cases/arrangements/*.toml")]),
                         ids=lambda path: path.stem)  # fmt: skip
def test_the_quick_mesh_is_as_near_as_the_page_says(path):
    """Heat within 4 %, ripple within 10 % of the bay's own mesh: what the page tells of a drag's numbers."""
    case = load_case(path)
    quick = solve_model(prepare(case, quick_fineness(case), rays=QUICK_RAYS)).report
    own = solve_model(prepare(case)).report
    assert quick["heat_flux_up_W_m2"] == pytest.approx(own["heat_flux_up_W_m2"], rel=0.04)
    assert quick["ripple_K"] == pytest.approx(own["ripple_K"], rel=0.10)


def test_a_report_is_written_though_a_newer_change_has_come(oak):
    """Who asks for the page of a bay gets it, or its button would wait for ever."""
    line = Line()
    made = SolverBench(line, INVENTED)
    made._newest = 5
    made._do(PageJob(4, oak.with_({"mesh.fineness": "coarse"}), "si"))
    assert line.wait("page").told == "page"


# A talk, with processes that invent.


def talked(case, *steps, until=("answer",), seconds=20.0):
    """What a tab hears that says some things, until the last kinds of message have come."""
    heard = []

    async def run():
        talk = stage.page(case).talk()
        try:
            talk.begin(heard.append)
            for step in steps:
                talk.hear(step)
            end = time.monotonic() + seconds
            while not until_met(heard, until) and time.monotonic() < end:
                await asyncio.sleep(0.02)
        finally:
            talk.end()

    asyncio.run(run())
    assert until_met(heard, until), [message["kind"] for message in heard]
    return heard


def until_met(heard, until):
    kinds = [message["kind"] for message in heard]
    return all(kind in kinds for kind in until)


def test_answers_carry_the_change_that_they_belong_to(oak):
    heard = talked(oak, {"do": "set", "key": "plates.spacing", "text": "300 mm", "seq": 1}, until=("answer", "working"))
    change = [message for message in heard if message["kind"] == "session"][-1]["change"]
    for message in heard:
        if message["kind"] == "answer" and message["change"] == change:
            assert message["numbers"][0]["value"] == pytest.approx(300.0)
    assert change == 2


def test_a_refusal_names_the_control_and_the_way_out(oak):
    heard = talked(oak, {"do": "set", "key": "plates.spacing", "text": "100 mm", "seq": 1}, until=("refused",))
    refused = next(message for message in heard if message["kind"] == "refused")
    assert refused["key"] == "plates.spacing" and "shorten them or space them wider" in refused["why"][0]


def test_a_failed_solve_says_why(oak):
    step = {"do": "set", "key": "water.supply", "text": f"{stage.FAILS} degC", "seq": 1}
    failed = next(message for message in talked(oak, step, until=("failed",)) if message["kind"] == "failed")
    assert failed["why"] == "the passes ended too early" and failed["change"] == 2


def test_a_crashed_solver_is_told_and_replaced(oak):
    """The next change is answered by a new process."""
    heard = []

    async def run():
        talk = stage.page(oak).talk()
        talk.begin(heard.append)
        talk.hear({"do": "set", "key": "water.supply", "text": f"{stage.CRASHES} degC", "seq": 1})
        while not until_met(heard, ("failed",)):
            await asyncio.sleep(0.02)
        talk.hear({"do": "set", "key": "water.supply", "text": "48 degC", "seq": 2})
        while not any(message["kind"] == "answer" and message["change"] == 3 for message in heard):
            await asyncio.sleep(0.02)
        talk.end()

    asyncio.run(asyncio.wait_for(run(), 30.0))
    assert "ended (exit code 7)" in next(message["why"] for message in heard if message["kind"] == "failed")


NONSENSE = (
    {}, {"do": "no such"}, {"do": "set"}, {"do": "set", "key": 3, "text": None}, {"do": "unpin", "number": "x"},
    {"do": "take", "number": 99}, {"do": "wish", "text": "much"}, {"do": "open", "text": "not toml ["},
    {"do": "open", "text": "kind = 'blocks'"}, {"do": "open", "text": "kind = 'house'"}, {"do": "cancel"},
    {"do": "set", "key": "plates", "text": "x" * 10_000}, {"do": "set", "key": "title", "text": "<b>", "seq": []},
    {"do": ["set"]}, {"do": "set", "key": "floor.covering[9].material", "text": "oak"}, {"do": "open", "bay": 3},
)  # fmt: skip
"""What no page of ours says."""


def test_whatever_a_tab_says_the_talk_goes_on(oak):
    last = {"do": "set", "key": "plates.spacing", "text": "333 mm", "seq": 99}
    heard = talked(oak, *NONSENSE, last, until=("answer",))
    assert [message for message in heard if message["kind"] == "session"][-1]["seq"] == 99


# The server.


def asked(address, path="", host=None, method="GET", **headers):
    """Status and headers of a request."""
    place, _, rest = address.removeprefix("http://").partition("/")
    line = http.client.HTTPConnection(place, timeout=10.0)
    line.request(method, f"/{rest}{path}", headers={"Host": host or place, **headers})
    answer = line.getresponse()
    return answer.status, dict(answer.getheaders()), answer.read()


def test_the_server_refuses_without_token_and_under_foreign_names(oak):
    with stage.served({"bay": stage.page(oak)}, "bay") as (server, address, _):
        status, headers, _ = asked(address)
        assert status == 200 and "default-src 'none'" in headers["Content-Security-Policy"]
        assert headers["Referrer-Policy"] == "no-referrer"
        root = address.replace(server.token, "{}")
        for token in ("", "x", server.token[:-1], server.token + "x", server.token.swapcase()):
            assert asked(root.format(token))[0] == 403
        assert asked(address, host="evil.example")[0] == 403
        assert asked(address, host=f"evil.example:{server.port}")[0] == 403
        assert asked(f"http://127.0.0.1:{server.port}/")[0] == 403
        assert asked(f"http://127.0.0.1:{server.port}/favicon.ico")[0] == 403
        for path in ("..%2f..%2fpyproject.toml", "../../../DEVELOPERS.md", ".hidden", "no-such.js", "%2e%2e/page.css"):
            assert asked(address, path)[0] in (403, 404), path
        assert asked(address, "page.js")[0] == 200


def test_a_line_is_opened_to_our_own_page_alone(oak):
    upgrade = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
               "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="}  # fmt: skip
    with stage.served({"bay": stage.page(oak)}, "bay") as (server, address, _):
        for origin in ({}, {"Origin": "http://evil.example"}, {"Origin": "null"}):
            assert asked(address, "talk?tab=a", **upgrade, **origin)[0] == 403
        wrong = address.replace(server.token, "wrong")
        assert asked(wrong, "talk?tab=a", **upgrade, Origin=f"http://127.0.0.1:{server.port}")[0] == 403


def test_the_server_listens_on_this_machine_alone(oak):
    with stage.served({"bay": stage.page(oak)}, "bay") as (server, *_):
        own = socket.gethostbyname(socket.gethostname())
        rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
        listening = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{server.port:04X}")]
        assert listening == [f"0100007F:{server.port:04X}"]
        if not own.startswith("127."):
            with pytest.raises(OSError, match="."), socket.create_connection((own, server.port), timeout=2.0):
                pass


# The command.


def test_the_command_refuses_what_it_cannot_show(tmp_path, capsys):
    blocks, air = "cases/verification/plane-wall/case.toml", "cases/air/plate-and-tube.toml"
    for path, words in ((ROOT / blocks, "joist bays"), (ROOT / air, "joist bays"),
                        (tmp_path / "none.toml", "no such file")):  # fmt: skip
        assert main(["explore", str(path), "--no-browser"]) == 2
        said = capsys.readouterr().err
        assert words in said and "Traceback" not in said
    assert main(["explore", "--port", "99999"]) == 2
    assert "--port 99999" in capsys.readouterr().err


def test_a_taken_port_is_said(capsys):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert main(["explore", "--port", str(taken.getsockname()[1]), "--no-browser"]) == 2
    assert "leave it out for a free one" in capsys.readouterr().err


def test_without_its_library_one_line_says_what_to_install(monkeypatch, capsys):
    monkeypatch.setattr("sim.machine.extras.find_spec", lambda name: None)
    assert main(["explore", "--no-browser"]) == 2
    said = capsys.readouterr().err.strip()
    assert "\n" not in said and "[explore]" in said and "pip install" in said


def test_no_other_command_imports_any_of_it():
    code = (
        "import sys; from sim.cli.main import main; main(['check', 'cases/demo/family-oak.toml']); "
        "print([m for m in sys.modules if m.startswith(('aiohttp', 'sim.explorer', 'viz.explorer'))], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.stderr.strip().endswith("[]"), done.stderr


@pytest.mark.parametrize(
    ("error", "longest", "share", "left"),
    [
        # errors fall with the root of the time: from 2 to 1 % it takes four times the 10 s of air that took 5 s
        (0.02, 100.0, 0.25, 15.0),
        # but never longer than the longest: 20 s of air are left
        (0.02, 30.0, 1.0 / 3.0, 10.0),
        (0.008, 100.0, 1.0, 0.0),
        # before anything is known of the error
        (math.inf, 50.0, 0.2, 20.0),
    ],
)
def test_what_is_left_of_a_computed_flow(error, longest, share, left):
    told = _progress(SimpleNamespace(time=10.0), SimpleNamespace(largest_error=error), 5.0, (longest, 0.01))
    assert (told["share"], told["left_s"]) == (pytest.approx(share), pytest.approx(left))
    assert told["sure"] is math.isfinite(error)

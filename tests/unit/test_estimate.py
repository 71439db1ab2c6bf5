"""About how long it will take: kept from run to run, said before, and how much is left meanwhile."""

import subprocess
import sys
import time
from dataclasses import replace
from types import SimpleNamespace

import pytest

from sim.case.load import load_case
from sim.cli import estimate
from sim.cli.durations import about, between
from sim.cli.estimate import announce, announce_flow, announced, learn_air, learning, time_with_air
from sim.cli.house_estimate import house_foretold, worked
from sim.cli.progress import Progress, _left
from sim.cli.run import _followed
from sim.house.bay_jobs import solve_points
from sim.house.bay_solver import BaySolver, _curve_jobs, _job
from sim.house.curve import EXCESSES
from sim.machine import pace
from sim.machine.pace import known_pace, learn_pace
from sim.problems.air_box import build_grids
from sim.problems.air_run import solve_air
from sim.problems.air_work import A_STEP, foretold_work
from sim.resolved.companion import for_companion
from sim.resolved.means import Evidence

CASE = load_case("cases/demo/family-oak.toml")


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    """The user's cache folder lies in a place of the test's own."""
    monkeypatch.setattr(pace, "_file", lambda: tmp_path / "cache" / "pace.json")
    monkeypatch.setattr(estimate, "busyness", lambda: 1.0)
    return tmp_path / "cache" / "pace.json"


def test_a_pace_is_kept_and_mixed_with_what_was_known():
    assert known_pace("compare") is None
    learn_pace("compare", 4e-5)
    assert known_pace("compare").seconds == pytest.approx(4e-5)
    learn_pace("compare", 1e-5)
    assert known_pace("compare").seconds == pytest.approx(2e-5)  # the geometric mean of 4 and 1
    assert known_pace("compare").memory > 1e6


@pytest.mark.parametrize("text", ["", "[]", '{"compare": 3}', '{"compare": [0, 1]}', '{"compare": ["a", 1]}', "{"])
def test_a_damaged_file_is_none(own_cache, text):
    own_cache.parent.mkdir()
    own_cache.write_text(text, "utf-8")
    assert known_pace("compare") is None
    learn_pace("compare", 1e-5)
    assert known_pace("compare").seconds == pytest.approx(1e-5)


def test_what_makes_no_sense_is_not_kept():
    for seconds in (0.0, -1.0, float("nan"), float("inf")):
        learn_pace("compare", seconds)
    assert known_pace("compare") is None


def said(**options):
    notes = []
    announce(SimpleNamespace(note=notes.append, expect=lambda *seconds: None), "compare", [CASE] * 4, **options)
    return notes


def test_nothing_is_said_where_it_is_short():
    learn_pace("compare", 1e-9)
    assert said() == []


def test_before_anything_is_known_a_usual_machine_is_gone_by(monkeypatch):
    monkeypatch.setattr(estimate, "size_of", lambda case: 1_000_000)
    (note,) = said()  # by hand: 4 · 1,000,000 · 40 µs = 160 s
    # from half of that to two and a half times it, as nothing is known of this machine
    assert note.startswith("About 80 s to 7 min and 0.5 GB for 4 solves")
    assert "a usual machine, not yet by this one" in note


def test_every_kind_of_work_has_an_estimate(monkeypatch):
    """Before run, water, spacing and warmup, and before a single run with computed air."""
    monkeypatch.setattr(estimate, "size_of", lambda case: 1_000_000)
    airy = CASE.model_copy(update={"air": CASE.air.model_copy(update={"model": "resolved", "longest": 100.0})})
    for work, case, told in (
        ("run", CASE, "About 10 to 50 s"), ("water", CASE, "About 60 s to 5 min"),
        ("spacing", CASE, "About 80 s to 7 min"), ("march", CASE, "About 5 to 25 min"),  # 12 h: 25 + 36 steps
        ("grids", CASE, "About 2 to 10 min and 4.0 GB for three grids"),
        ("run", airy, "About 25 min to 1.7 h and 1.0 GB for 1 solve"),  # 6e-7 · 1e8 · 25 s and 100 s, the longest
    ):  # fmt: skip
        notes = []
        announce(SimpleNamespace(note=notes.append, expect=lambda *seconds: None), work, [case])
        assert notes[0].startswith(told), (work, notes)
        if case is airy:
            assert "air.longest, air.error or a coarse mesh shorten it" in notes[0]


def test_a_warm_up_of_blocks_is_foretold_too(monkeypatch):
    """By hand: a million cells, 25 + 3 · 0.278 steps for 1000 s, 4 µs each: 103 s, half to two and a half times."""
    monkeypatch.setattr(estimate, "size_of", lambda case: 1_000_000)
    notes, brick = [], load_case("cases/verification/brick-cooling/case.toml")
    brick = brick.model_copy(update={"time": brick.time.model_copy(update={"duration": 1000.0})})
    announce(SimpleNamespace(note=notes.append, expect=lambda *seconds: None), "blocks march", [brick])
    assert notes[0].startswith("About 52 s to 4 min and 0.5 GB for a build-up of 1,000,000 cells")


def test_a_flow_of_air_alone_is_foretold():
    """What it takes lies between a tenth of what is told of steady flows and that; to its longest is the most."""
    case = load_case("cases/verification/side-heated-square-1e3/case.toml")
    grids, steps = build_grids(case), []
    work = foretold_work(case, grids)
    solve_air(case, lambda look, stepper: steps.append((stepper.domain.cells, look.steps)))
    done = sum(max(n for own, n in steps if own == cells) * (cells + A_STEP) for cells in {c for c, _ in steps})
    assert 0.1 * work.usual < done < work.usual < 0.1 * work.most
    longer = foretold_work(case.with_(**{"air.longest": 2.0 * case.air.longest}), grids)
    assert (longer.usual, longer.most) == pytest.approx((work.usual, 2.0 * work.most))
    endless = foretold_work(case.with_(**{"air.steady": 0.0}), grids)
    assert endless.usual == endless.most == work.most
    # buoyancy times the difference drives the flow: more of one and less of the other is as quick
    warmer = [replace(one, difference=1e4 * one.difference) for one in grids]
    lighter = [replace(one, box=replace(one.box, air=heavier(one.box.air))) for one in warmer]
    assert foretold_work(case, lighter).most == pytest.approx(work.most, rel=1e-12)
    assert foretold_work(case, warmer).most > 2.0 * work.most
    notes = []
    announce_flow(SimpleNamespace(note=notes.append), case, grids)
    assert notes[0].startswith("About 1 s where it becomes steady") and f"{work.cells:,} cells" in notes[0]


def heavier(air):
    return replace(air, buoyancy=1e-4 * air.buoyancy)


def test_work_teaches_unless_kernels_were_compiled(monkeypatch):
    monkeypatch.setattr(estimate, "size_of", lambda case: sizes[0])
    sizes = [100_000]
    looks, work = iter([0.0, 0.0, 15.0, 0.0]), iter([0.0, 0.0, 5.0, 0.0])  # one look, then two where it learns
    monkeypatch.setattr(estimate, "monotonic", looks.__next__)
    monkeypatch.setattr(estimate, "thread_time", work.__next__)  # others had the processor for the other 10 s
    progress = SimpleNamespace(note=lambda text: None, expect=lambda *seconds: None, compiled=0)
    with announced(progress, "water", [CASE]):
        progress.compiled += 1
    assert known_pace("water") is None
    with announced(progress, "water", [CASE]):
        pass
    assert known_pace("water").seconds == pytest.approx(5e-5)
    sizes[0] = estimate.LEAST_TAUGHT - 1  # most of such a solve is not its cells
    with announced(progress, "run", [CASE]):
        pass
    assert known_pace("run") is None


def test_computed_air_teaches_by_what_was_followed(monkeypatch):
    monkeypatch.setattr(estimate, "size_of", lambda case: sizes[0])
    sizes = [1000]  # a bay of so few cells takes what its solids take: that would make another's hours
    learn_air(CASE, 50.0, 1e6)
    assert known_pace("air") is None
    sizes[0] = 1_000_000
    elsewhere = CASE.with_(**{"air.model": "resolved", "air.device": "gpu"})
    monkeypatch.setattr(estimate, "goes_together", lambda case: case is elsewhere)
    learn_air(elsewhere, 50.0, 1.0)
    assert known_pace("air") is None, "an accelerator's pace is not the processor's"
    notes = []
    announce(SimpleNamespace(note=notes.append, expect=lambda *seconds: None), "run", [elsewhere])
    assert notes == []
    learn_air(CASE, 50.0, 1e6)
    assert known_pace("air").seconds == pytest.approx(1e6 / (1e8 * 50.0))


def test_computed_air_is_told_as_most_bays_take_it_whatever_else_runs(monkeypatch):
    """By hand, a million cells: 6e-7 · 1e8 · 25 s = 25 min, 200 s = 3.3 h."""
    monkeypatch.setattr(estimate, "size_of", lambda case: 1_000_000)
    monkeypatch.setattr(estimate, "busyness", lambda: 4.0)
    assert time_with_air(CASE) == "about 25 min to 3.3 h on this machine when idle"
    looser = CASE.with_(**{"air.model": "resolved", "air.error": 0.02})  # half as well known takes a quarter
    assert time_with_air(looser) == "about 6 to 50 min on this machine when idle"


def test_air_that_an_accelerator_follows_is_neither_foretold_nor_learned(monkeypatch):
    """Paces are the processor's: by them a bay of two minutes would be said to take 20 hours."""
    monkeypatch.setattr(estimate, "size_of", lambda case: 1_000_000)
    monkeypatch.setattr("sim.airflow.device.seam.choose_backend", lambda device: object())
    case, notes = CASE.with_({"air.model": "resolved", "air.device": "gpu"}), []
    progress = SimpleNamespace(compiled=0, note=notes.append, expect=lambda *seconds: None)
    announce(progress, "run", [case])
    with house_foretold(progress, 1) as foretell:
        foretell([case], 1)
    learn_air(case, 50.0, 1e6)
    assert notes == [] and known_pace("air") is None and known_pace("house") is None


def test_a_house_with_computed_air_goes_by_the_pace_of_air(monkeypatch):
    """By hand: two bays at four temperatures, 1000^(4/3) cells followed for 50 s at 2 µs each, over two workers."""
    monkeypatch.setattr("sim.cli.house_estimate.size_of", lambda case: 1000)
    learn_pace("air", 2e-6)
    notes = []
    progress = SimpleNamespace(compiled=0, note=notes.append, expect=lambda *seconds: None)
    monkeypatch.setattr("sim.cli.house_estimate.busyness", lambda: 1.0)
    with house_foretold(progress, 2) as foretell:
        foretell([CASE.with_({"air.model": "resolved", "air.longest": 50.0})] * 2, 2)
    (note,) = notes
    most = 2e-6 * 2 * 4 * 1e4 * 50.0 / 2
    # nine in ten are known after 25 to 200 s of both starts, more than all of them are followed for but the soonest
    assert note.startswith(f"About {between(0.5 * most, most)} for up to 8 solves with computed air, 4 temperatures")
    assert "of 2 bays;" in note and "Every finished solve is kept" in note
    assert known_pace("house") is None


def test_a_house_is_foretold_as_other_work_is(monkeypatch):
    """By hand: 100,000 cells and 30,000 besides at 0.25 ms, ten times the usual, on a machine three times as slow."""
    monkeypatch.setattr("sim.cli.house_estimate.size_of", lambda case: 100_000)
    monkeypatch.setattr("sim.cli.house_estimate.busyness", lambda: 3.0)
    notes, resolved = [], CASE.with_({"air.model": "resolved", "air.longest": 50.0})
    progress = SimpleNamespace(compiled=0, note=notes.append, expect=lambda *seconds: None)
    for work, seconds in (("house", 50.0), ("air", 1e3)):  # beyond belief: of each ten times the usual is gone by
        learn_pace(work, seconds)
    with house_foretold(progress, 1) as foretell:
        foretell([CASE], 1)
    assert notes[0].startswith(f"About {between(0.7 * 32.5, 1.4 * 3.0 * 32.5)} and ")
    with house_foretold(progress, 1) as foretell:
        foretell([resolved], 1)
    most = 6e-6 * 100_000 ** (4 / 3) * 50.0 * 4
    assert notes[1].startswith(f"About {between(0.5 * most, 3.0 * most)} for up to 4 solves with computed air")
    assert "of 1 bay;" in notes[1]


def test_silence_is_short_in_pipes_and_what_is_left_is_told(monkeypatch, capsys):
    monkeypatch.setattr("sim.cli.progress.SILENCE", 0.05)
    with Progress() as progress:
        progress.stage("bay: solving 7 cells")
        progress.expect(1e5)  # told once, beforehand
        time.sleep(0.2)
        progress.measured(100.0)
        time.sleep(0.5)
    lines = capsys.readouterr().err.splitlines()
    assert lines[0] == "bay: solving 7 cells" and len(lines) > 2
    assert lines[1].startswith("bay: solving 7 cells, ") and " left" not in lines[1]
    assert "about 2 min left" in lines[-1]


def test_what_is_left_of_a_march_is_told_after_its_first_short_steps(monkeypatch, capsys):
    now = [0.0]
    monkeypatch.setattr("sim.cli.progress.monotonic", lambda: now[0])
    progress = Progress()
    tell = progress.steps("bay", 1000.0)
    moment = SimpleNamespace(system=SimpleNamespace(surfaces=()),
                             flows=SimpleNamespace(balance=SimpleNamespace(delivered={})))  # fmt: skip
    for at, spent in ((10.0, 10.0), (260.0, 60.0)):  # 250 s of the bay in 50 s: 740 s more in 148 s
        now[0] = spent
        tell(moment, SimpleNamespace(time=at, length=1.0))
    first, second = capsys.readouterr().err.splitlines()
    assert "left" not in first and second.endswith("about 2 min left")


def test_an_estimate_is_the_pace_times_the_cells(monkeypatch):
    monkeypatch.setattr(estimate, "size_of", lambda case: 20_000 if case.mesh.fineness == "coarse" else 100_000)
    learn_pace("compare", 4e-4)
    (note,) = said()  # by hand: 4 · 100,000 · 0.4 ms = 160 s
    assert note.startswith("About 2 to 4 min and ")  # 0.7 to 1.4 times that
    assert "for 4 solves of 100,000 cells, going by earlier runs here" in note
    assert note.endswith("; --fineness coarse takes about 20 % of that.")
    assert said(workers=2)[0].startswith("About 56 s to 2 min")


def test_a_pace_beyond_belief_is_not_gone_by(monkeypatch):
    """A thousand times slower than a usual machine: ten times is believed, 4 · 100,000 · 0.4 ms."""
    monkeypatch.setattr(estimate, "size_of", lambda case: 100_000)
    learn_pace("compare", 4e-2)
    assert said()[0].startswith("About 2 to 4 min and ")


def test_a_busy_machine_is_taken_as_it_is(monkeypatch):
    """What a machine has done is kept as if it had been idle; the estimate goes to what it takes while others work."""
    monkeypatch.setattr(estimate, "size_of", lambda case: 100_000)
    monkeypatch.setattr(estimate, "busyness", lambda: 5.0)
    learn_pace("compare", 1e-4)
    assert said()[0].startswith("About 28 s to 5 min")  # 0.7 · 40 s; 1.4 · 5 · 40 s
    tell = learning("study", [CASE], lambda outcome: None)
    for _ in range(2):  # the first teaches nothing
        tell(SimpleNamespace(failure="", reused=False, seconds=50.0))
    assert known_pace("study").seconds == pytest.approx(50.0 / 5.0 / 100_000)


def test_busyness_is_what_others_took_of_the_processor(monkeypatch):
    monkeypatch.setattr(pace, "_BEGAN", (0.0, 0.0))
    for spent, taken, told in ((10.0, 2.0, 5.0), (10.0, 12.0, 1.0), (10.0, 0.01, pace.MOST_BUSY), (0.1, 0.0, 1.0)):
        monkeypatch.setattr(pace.time, "monotonic", lambda spent=spent: spent)
        monkeypatch.setattr(pace.time, "process_time", lambda taken=taken: taken)
        assert pace.busyness() == pytest.approx(told)
    monkeypatch.undo()


def test_what_is_left_of_a_solve_is_told_by_how_far_its_residual_has_come(monkeypatch):
    """Half of the way from 1 to 2e-6 on a scale of powers is 1.4e-3: after 30 s of it, 30 s are left."""
    from sim.cli import progress as module
    from sim.solver.steady import SteadyOptions

    assert SteadyOptions().residual == module.ENOUGH
    now = [0.0]
    monkeypatch.setattr("sim.cli.progress.monotonic", lambda: now[0])
    progress = Progress()
    progress.expect(500.0)
    progress.on_pass(SimpleNamespace(number=0, residual=1.0))
    now[0] = 30.0
    progress.on_pass(SimpleNamespace(number=4, residual=(2e-6) ** 0.5))
    assert progress._end == pytest.approx(60.0) and "about 30 s left" in progress._rest()
    now[0] = 55.0
    progress.on_pass(SimpleNamespace(number=8, residual=1e-6))
    assert progress._rest() == ""


def test_what_is_left_of_a_search_is_told_by_its_first_solve(monkeypatch):
    """Six times the work of the first solve, which took 20 s with its mesh: 100 s more."""
    now = [0.0]
    monkeypatch.setattr("sim.cli.progress.monotonic", lambda: now[0])
    progress = Progress()
    progress.expect(7.0, 6.0)
    for number, at in ((0, 12.0), (1, 20.0), (0, 20.0)):
        now[0] = at
        progress.on_pass(SimpleNamespace(number=number, residual=0.1))
    assert "about 2 min left" in progress._rest() and progress._end == pytest.approx(120.0)
    now[0] = 90.0
    progress.on_pass(SimpleNamespace(number=0, residual=0.1))
    assert progress._end == pytest.approx(120.0)  # further solves are smaller


def test_jobs_teach_unless_they_failed_or_were_taken_up(monkeypatch):
    monkeypatch.setattr(estimate, "size_of", lambda case: 100_000)
    heard = []
    tell = learning("study", [CASE], heard.append)
    tell(SimpleNamespace(failure="", reused=False, seconds=500.0))  # kernels were compiled
    tell(SimpleNamespace(failure="no", reused=False, seconds=5.0))
    tell(SimpleNamespace(failure="", reused=True, seconds=0.0))
    assert known_pace("study") is None
    tell(SimpleNamespace(failure="", reused=False, seconds=5.0))
    assert known_pace("study").seconds == pytest.approx(5e-5)
    assert len(heard) == 4


def test_what_is_left_of_jobs(monkeypatch, capsys):
    """The first job loads and compiles for all: three more of 30 s at most; then by what the second took, 10 s."""
    now = [0.0]
    monkeypatch.setattr("sim.cli.progress.monotonic", lambda: now[0])
    progress = Progress()
    tell = progress.outcomes(4)
    for name, at in (("a", 30.0), ("b", 40.0)):
        now[0] = at
        tell(SimpleNamespace(name=name, failure="", reused=False, seconds=30.0))
    first, second = capsys.readouterr().err.splitlines()
    assert first == "1 of 4 done: a, 30.0 s, at most 90 s left".replace("90 s", about(90.0))
    assert second == "2 of 4 done: b, 30.0 s, about 20 s left"


# errors fall with the root of the time: twice the error wanted takes four times as long in all
@pytest.mark.parametrize(
    ("excess", "told"),
    [
        (2.0, "about 5 min left"), (0.5, "nearly done"), (float("inf"), "at most 15 min left"),
        (100.0, "about 15 min left"),
    ],  # fmt: skip
)
def test_what_is_left_of_computed_air(excess, told):
    assert _left(100.0, 1000.0, excess, 100.0) == told


def test_an_error_that_is_small_enough_has_to_stay_so():
    """Known since 80 s of air: it goes on until that is four fifths of all, so to 100 s; 90 s took 45 s."""
    assert _left(90.0, 1000.0, 0.9, 45.0, 80.0) == "about 5 s left"


def test_times_as_one_says_them():
    told = [about(seconds) for seconds in (0.2, 89.0, 90.0, 5399.0, 5400.0)]
    assert told == ["1 s", "89 s", "2 min", "90 min", "1.5 h"]


def test_a_house_says_before_its_first_bay_how_long_it_will_take_and_learns_from_it(monkeypatch):
    monkeypatch.setattr("sim.cli.house_estimate.busyness", lambda: 1.0)
    learn_pace("house", 2e-4)
    notes = []
    progress = SimpleNamespace(compiled=0, note=notes.append, expect=lambda seconds: None)
    with house_foretold(progress, 2) as foretell:
        foretell([], 3)
        assert not notes, "all bays are kept: nothing to wait for"
        foretell([CASE, CASE], 3)
        foretell([CASE], 3)
    (note,) = notes
    usual = 2e-4 * 2 * (estimate.size_of(CASE) + 30_000) / 2
    assert note.startswith(f"About {between(0.7 * usual, 1.4 * usual)} and")
    assert "2 of 3 bays" in note and "earlier runs here" in note
    assert note.endswith("kept, and --fineness coarse shortens it.")
    assert known_pace("house").seconds < 2e-4, "it was done at once"


def test_a_house_teaches_what_processors_worked_however_busy_the_machine_and_however_many_shared_it(monkeypatch):
    """By hand: 26 s of processors for two bays of 100,000 cells and 30,000 besides each: 0.1 ms a cell."""
    monkeypatch.setattr("sim.cli.house_estimate.size_of", lambda case: 100_000)
    for busy, workers in ((1.0, 1), (6.0, 2)):
        seconds = iter((4.0, 30.0))
        monkeypatch.setattr("sim.cli.house_estimate.busyness", lambda busy=busy: busy)
        monkeypatch.setattr("sim.cli.house_estimate.worked", lambda seconds=seconds: next(seconds))
        learn_pace("house", 1e-4)
        quiet = SimpleNamespace(compiled=0, note=lambda text: None, expect=lambda seconds: None)
        with house_foretold(quiet, workers) as foretell:
            foretell([CASE, CASE], 2)
        assert known_pace("house").seconds == pytest.approx(1e-4, rel=1e-9)


def test_tiny_bays_teach_a_house_nothing(monkeypatch):
    monkeypatch.setattr("sim.cli.house_estimate.size_of", lambda case: 2_000)
    quiet = SimpleNamespace(compiled=0, note=lambda text: None, expect=lambda seconds: None)
    with house_foretold(quiet, 1) as foretell:
        foretell([CASE], 1)
    assert known_pace("house") is None


def test_helpers_that_have_ended_count_as_work():
    before = worked()
    busy = "import time; end = time.process_time() + 0.3\nwhile time.process_time() < end: pass"
    subprocess.run([sys.executable, "-c", busy], check=True)
    assert worked() - before >= 0.3


def test_a_coarse_house_is_not_told_to_be_coarse():
    notes = []
    learn_pace("house", 1e-3)
    with house_foretold(SimpleNamespace(compiled=0, note=notes.append, expect=lambda seconds: None), 1) as foretell:
        foretell([CASE.with_({"mesh.fineness": "coarse"})], 1)
    assert notes[0].endswith("; what is solved is kept.")


def test_each_solve_of_computed_air_is_kept_by_itself_and_asked_for_once(tmp_path):
    """A curve by films is one job, with computed air four: what a stopped house had solved is not solved again."""
    resolved = CASE.with_({"air.model": "resolved"})
    told = []
    solver = Blind(tmp_path, foretell=lambda fresh, count: told.append((len(fresh), count)))
    jobs = _curve_jobs(resolved)
    assert [job.arguments[1] for job in jobs] == [(excess,) for excess in EXCESSES] and len(_curve_jobs(CASE)) == 1
    for job in jobs[:-1]:
        (tmp_path / job.key).mkdir()
    for last in (jobs[-1], jobs[0]):
        with pytest.raises(ValueError, match="zip"):
            solver.curves([resolved, CASE])
        (tmp_path / last.key).mkdir(exist_ok=True)
    assert told == [(2, 2), (1, 2)]


class Blind(BaySolver):
    """Solves nothing."""

    def _answers(self, jobs, what):
        return []


def test_bays_that_are_kept_are_not_foretold(tmp_path):
    told = []
    (tmp_path / _job(CASE, solve_points, EXCESSES).key).mkdir()
    solver = Blind(tmp_path)
    solver.foretell = lambda fresh, count: told.append(([case.plates.spacing for case in fresh], count))
    with pytest.raises(ValueError, match="zip"):
        solver.curves([CASE, CASE, CASE.with_(**{"plates.spacing": "600 mm"})])
    assert told == [([0.6], 2)]


def test_rounds_on_larger_cells_are_said_to_be_those_of_the_companion(monkeypatch, capsys):
    """A run begins at 0 s of air twice; who reads along is told why."""
    now = [0.0]
    monkeypatch.setattr("sim.cli.progress.monotonic", lambda: now[0])
    progress = Progress()
    heard = progress.rounds(0.01, 600.0)
    for number, tell in ((1.0, for_companion(heard)), (2.0, heard)):
        now[0] = 10.0 * number
        tell(SimpleNamespace(time=5.0, steps=9, flows={"up": 5.0}), Evidence(3, 3, 5.0, 5.0, {}, 0.0), 2.0)
    first, own = capsys.readouterr().err.splitlines()
    first, _, rest = first.partition(" for these, then the mesh itself: ")  # on 80 columns what is left is seen
    assert "on larger cells first, " in first and first.endswith(" left") and rest.startswith("5 s of air of at most")
    assert "larger cells" not in own and "left: 5 s of air" in own
    assert for_companion(None) is None


def test_what_is_left_goes_by_the_ripple_too(monkeypatch, capsys):
    """Heat is known, the ripple to twice what is wanted: by the root of the time four times as much air, 30 s more."""
    now = [0.0]
    monkeypatch.setattr("sim.cli.progress.monotonic", lambda: now[0])
    heard, now[0] = Progress().rounds(0.01, 600.0), 10.0
    record, known = SimpleNamespace(time=10.0, steps=9, flows={"up": 5.0}), {"up": 0.005}
    heard(record, Evidence(30, 20, 10.0, 8.0, known, 0.0, ripple_error=0.1), 10.0)
    (told,) = capsys.readouterr().err.splitlines()
    assert "about 30 s left" in told and "±0.5% of 1.0%, ripple ±10% of 5%" in told


def test_a_run_that_is_taken_up_teaches_by_what_it_followed_itself():
    """Rounds that end at 90 and 100 s of air, each 10 s long, in 4 s: 20 s were followed, not 100."""
    assert _followed([(90.0, 10.0, 2.0), (100.0, 10.0, 4.0)]) == (20.0, 4.0)
    assert _followed([]) == (0.0, 0.0)

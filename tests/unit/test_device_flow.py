"""The flow on an accelerator, its kernels rehearsed on the processor: the same steps, looks, means and rounds."""

import os
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import get_args

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sim.airflow.box import Limits, build_box, march, march_on
from sim.airflow.device import flows, looks, moves, seam
from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.layout import held_share, stage_weights
from sim.airflow.device.seam import NoDeviceError, Rehearsal, choose_backend
from sim.airflow.device.tables import flow_problem
from sim.airflow.device.warm import warm_up
from sim.airflow.flow import air_of_numbers
from sim.airflow.grid_tables import axis_tables
from sim.airflow.momentum import Fields, crossing_rate
from sim.airflow.step import BEFORE, NOW, build_stepper
from sim.airflow.watch import FlowError
from sim.case.load import parse_case
from sim.jobs import bay_workers
from sim.machine.devices import DeviceWord
from sim.resolved import on_device, settings
from sim.run import prepare, solve, solve_model
from sim.solver.newton import DivergedError
from sim.study.many import solve_many
from tests.unit.device_cases import KINDS, both_after, farthest, problem_of
from tests.verification.test_resolved import LARGE, SQUARE, square


@pytest.mark.parametrize("kind", KINDS)
def test_step_is_the_processors(kind):
    rng = np.random.default_rng(KINDS.index(kind))
    (pair,) = both_after([problem_of(kind, rng)], Rehearsal(), lengths=(0.5, 0.4))
    assert max(farthest(pair)) < 1e-11


def test_closed_faces_in_many_planes(monkeypatch):
    """Their last transform is then a product, and the division apart from it."""
    monkeypatch.setattr(flows, "FEW_PLANES", 0)
    (pair,) = both_after([problem_of(KINDS[0], np.random.default_rng(0))], Rehearsal(), lengths=(0.5, 0.4))
    assert max(farthest(pair)) < 1e-11


def test_weights_are_the_steppers():
    assert [stage_weights(stage) for stage in range(3)] == list(zip(NOW, BEFORE, strict=True))
    first, second, third = (now + before for now, before in zip(NOW, BEFORE, strict=True))
    assert_allclose([held_share(stage) for stage in range(3)], [-first, -second, 1.0 - third], rtol=1e-15)


@pytest.mark.parametrize("eddies, mover", [(True, moves.move_heat_and_eddies), (False, moves.move_heat)])
def test_the_kernels_that_are_wanted_are_made_ready(eddies, mover):
    launched = set()

    class Listed(Rehearsal):
        def cells(self, body, extra, air):
            launched.add(body)
            super().cells(body, extra, air)

    warm_up(Listed(), eddies)
    assert {body for body in launched if "move_heat" in body.__name__} == {mover}


def test_crossing_rates_are_the_processors(monkeypatch):
    """Of columns in several pieces, the last one short."""
    monkeypatch.setattr(looks, "PIECE", 3)
    problems = [flow_problem(*problem_of(kind, np.random.default_rng(2))) for kind in (KINDS[0], KINDS[2])]
    batch = FlowBatch(problems, Rehearsal())
    for bay, problem in enumerate(problems):
        domain = problem.domain
        rate = crossing_rate(0, domain.shape[0], Fields(*batch.fields(bay)), axis_tables(domain))
        assert_allclose(batch.air.clock["crossing"][bay], rate, rtol=1e-13)


def test_bays_do_not_mix():
    """A batch of different grids gives each bay what it has alone, also one that rests or begins while others go."""
    rng = np.random.default_rng(3)
    problems = [flow_problem(*problem_of(kind, rng, 2)) for kind in KINDS[:3]]
    rounds = [([1, 2, 0], np.array([1e-3, 2e-3, 5e-4])), ([1, 0, 2], np.array([8e-4, 1e-3, 6e-4]))]
    together = FlowBatch(problems, Rehearsal())
    for counts, sizes in rounds:
        together.take_steps(counts, sizes)
    for bay, problem in enumerate(problems):
        alone = FlowBatch([problem], Rehearsal())
        for counts, sizes in rounds:
            alone.take_steps(counts[bay : bay + 1], sizes[bay : bay + 1])
        for mine, theirs in zip(together.fields(bay), alone.fields(0), strict=True):
            assert_allclose(mine, theirs, rtol=0.0, atol=1e-13)


def test_looks_are_those_of_a_march():
    """Steps, levels, means and heat of walls as `march_on` has them, new wall temperatures included."""
    problem = problem_of(KINDS[1], np.random.default_rng(5))
    stepper, batch = build_stepper(*problem), FlowBatch([flow_problem(*problem)], Rehearsal())
    until, total, mean = 6.0 * stepper.largest_step(), np.zeros(stepper.walls.count), np.zeros(problem[0].shape)

    def sample(look, stepper):
        nonlocal total, mean, last
        total, mean = total + (look.time - last) * stepper.heat_flow(), mean + (look.time - last) * stepper.state[3]
        last = look.time

    batch.means.weights[:] = 1.0
    for end in (until, 2.0 * until):
        last, total[:] = stepper.time, 0.0
        batch.walls.begin(0)
        march_on(stepper, Limits(end, 0.0, 10**6, None, 2), sample)
        batch.go_until(0, end)
        while batch.busy:
            batch.look(2)
        assert batch.steps[0] == stepper.steps
        assert_allclose(batch.time[0], stepper.time, rtol=1e-12)
        assert_allclose(batch.levels[0], stepper.level, rtol=0.0, atol=1e-11)
        assert_allclose(batch.walls.mean(0) * (until), total, rtol=0.0, atol=1e-9)
        warmer = problem[2] + 0.5
        stepper.set_wall_temperature(warmer)
        batch.walls.give(0, warmer)
    assert_allclose(batch.means.flow(0).temperature * 2.0 * until, mean, rtol=0.0, atol=1e-9)
    with pytest.raises(ValueError, match="make a new batch"):
        batch.walls.give(0, np.zeros_like(warmer))


def test_quick_flow_rests_early():
    """A bay whose flow is too quick for its steps rests after the first of them, and its neighbour goes on."""
    problems = [flow_problem(*problem_of(KINDS[0], np.random.default_rng(n))) for n in (0, 1)]
    batch = FlowBatch(problems, Rehearsal())
    assert_array_equal(batch.take_steps([3, 3], np.full(2, 1e-4), np.array([1e-9, np.inf])), [1, 3])


def test_bad_values_end_one_bay():
    problems = [problem_of(KINDS[0], np.random.default_rng(n)) for n in (0, 1)]
    problems[1][3].temperature[0, 0, 0] = np.nan
    batch = FlowBatch([flow_problem(*problem) for problem in problems], Rehearsal())
    for bay in (0, 1):
        batch.go_until(bay, 1e-3)
    while batch.busy:
        batch.look()
    assert list(batch.failed) == [1] and isinstance(batch.failed[1], FlowError)
    assert np.isfinite(batch.fields(0)[3]).all() and batch.time[0] == pytest.approx(1e-3)


def test_air_alone_on_a_device(monkeypatch):
    """A march of a box goes through the same looks and ends in the same flow."""
    monkeypatch.setattr(seam, "choose_backend", lambda device: Rehearsal())
    planes = np.linspace(0.0, 1.0, 6)
    box = build_box([planes, planes[::5], planes], air_of_numbers(1e4, 0.71), {"x-": 1.0, "x+": 0.0})
    looks, ends = {"cpu": [], "gpu": []}, {}
    for device, heard in looks.items():
        own = replace(box, device=device)
        ends[device] = march(own, until=0.004, listener=lambda look, _, heard=heard: heard.append(look))
    assert ends["gpu"].steps == ends["cpu"].steps and ends["gpu"].stop_reason == "time"
    for mine, theirs in zip(looks["gpu"], looks["cpu"], strict=True):
        assert_allclose([mine.time, mine.speed, mine.change], [theirs.time, theirs.speed, theirs.change], rtol=1e-9)
    assert_allclose(ends["gpu"].temperature, ends["cpu"].temperature, rtol=0.0, atol=1e-12)


SIMULATED = """
import numpy as np
from numba import cuda
from sim.airflow.device import heat, moves, pressure, seam
from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.tables import flow_problem
from tests.unit.device_cases import KINDS, problem_of

class Launcher(seam.Rehearsal):
    "Kernels as they are made for a device, launched on the simulator of one; arrays and products as rehearsed."
    _cuda, _launch_stream, _kernels = cuda, 0, seam.Accelerator._kernels
    cells, faces, each = (getattr(seam.Accelerator, name) for name in ("cells", "faces", "each"))

    def __init__(self):
        self._ready = self._kernels

seam.THREADS = 16
problem = flow_problem(*problem_of(KINDS[1], np.random.default_rng(1), 1))
ends = []
for backend in (seam.Rehearsal(), Launcher()):
    batch = FlowBatch([problem, problem], backend)
    batch.take_steps([1, 0], np.array([1e-3, 1e-3]))
    ends.append([*batch.fields(0), *batch.fields(1)])
assert all(np.array_equal(a, b) for a, b in zip(*ends)), "kernels differ from their rehearsal"
print("same")
"""


def test_kernels_on_a_simulated_device():
    """What is launched on hardware, indices and guards included, on the simulator of Numba."""
    variables = {**os.environ, "NUMBA_ENABLE_CUDASIM": "1", "PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run([sys.executable, "-c", SIMULATED], env=variables, capture_output=True, text=True)
    assert done.stdout == "same\n", done.stderr


def test_a_further_backend_is_a_word_and_what_makes_it(monkeypatch):
    assert set(get_args(DeviceWord)) == {"cpu", "auto", *seam.BACKENDS}
    with pytest.raises(ValueError, match='device is "toy"; must be one of cpu, gpu, auto'):
        choose_backend("toy")
    monkeypatch.setattr(seam, "BACKENDS", {**seam.BACKENDS, "toy": Rehearsal})
    assert isinstance(choose_backend("toy"), Rehearsal) and choose_backend("cpu") is None
    monkeypatch.setattr(seam, "BACKENDS", {"toy": Rehearsal})
    assert isinstance(choose_backend("auto"), Rehearsal), "the first that is there"


def test_stored_kernels_go_by_body_and_sources(monkeypatch):
    """A kernel is stored under a name that no other body has, nor the same body once a source of it has changed."""
    bodies, loop = (moves.move_air, moves.move_heat), seam._each_cell
    names = [seam._named_after(body, loop, {}).__qualname__ for body in bodies]
    monkeypatch.setattr(seam, "stamp_of", lambda source: f"changed {source.name}")
    names += [seam._named_after(body, loop, {}).__qualname__ for body in bodies]
    assert len(set(names)) == 4 and names[0].startswith("_each_cell_move_air_")


def test_rounds_with_solids(monkeypatch):
    """Coupled bays of a batch, each with its own end, come out as the processor has them one by one."""
    monkeypatch.setattr(seam, "choose_backend", lambda device: Rehearsal() if device == "gpu" else None)
    monkeypatch.setattr(settings.AirSettings, "with_long_rounds", lambda own, cells: own)
    cases = [square(20, 40, more=f'longest = "{seconds} s"').with_(LARGE) for seconds in (5, 8)]
    heard = []
    batch = solve_many(cases, device="gpu", workers=1, heard=lambda bay, answer: heard.append(bay))
    for mine, theirs in zip(batch, solve_many(cases), strict=True):
        assert mine.air.evidence.rounds == theirs.air.evidence.rounds == heard.count(batch.index(mine))
        assert_allclose(mine.air.heat, theirs.air.heat, rtol=0.0, atol=1e-9 * np.abs(theirs.air.heat).max())
        assert_allclose(mine.air.mean.temperature, theirs.air.mean.temperature, rtol=1e-9)
        assert_allclose(mine.solution.state.temperature, theirs.solution.state.temperature, rtol=1e-9)


@pytest.mark.parametrize("holds_both", [True, False])
def test_companion_goes_beside_its_bay(monkeypatch, holds_both):
    """Together or one after the other, bay and companion come out as the processor has them; who is told of what."""
    monkeypatch.setattr(seam, "choose_backend", lambda device: Rehearsal() if device == "gpu" else None)
    monkeypatch.setattr(settings.AirSettings, "with_long_rounds", lambda own, cells: own)
    monkeypatch.setattr(on_device, "_fit", lambda backend, starts: holds_both)
    told = {"gpu": [], "cpu": []}
    found = {}
    for device, heard in told.items():
        case = square(20, 40, more=f'longest = "2 s"\ndevice = "{device}"')
        listener = partial(lambda heard, record, evidence, seconds: heard.append(evidence.companion), heard)
        found[device] = solve_model(prepare(case), air_listener=listener)
    own, larger = told["cpu"].count(False), told["cpu"].count(True)
    assert own and larger and told["gpu"] == [True] * (0 if holds_both else larger) + [False] * own
    mine, theirs = found["gpu"].air, found["cpu"].air
    for a, b in ((mine, theirs), (mine.coarser.air, theirs.coarser.air)):
        assert a.evidence.rounds == b.evidence.rounds
        assert_allclose(a.heat, b.heat, rtol=0.0, atol=1e-9 * np.abs(b.heat).max())
        assert_allclose(a.mean.temperature, b.mean.temperature, rtol=1e-9)


def test_what_goes_wrong_beside_a_companion_is_raised(monkeypatch):
    """An answer that fails in its thread ends the run with what it failed of."""
    monkeypatch.setattr(seam, "choose_backend", lambda device: Rehearsal())

    def fails(self, heat, time, steps):
        raise DivergedError("no number")

    monkeypatch.setattr("sim.resolved.remote.SolidSide.answer", fails)
    with pytest.raises(DivergedError, match="no number"):
        solve(square(20, 40, more='longest = "2 s"\ndevice = "gpu"').with_(LARGE))


def test_processes_answer_as_this_one_does(monkeypatch):
    """More bays than processes: each holds several, and every bay has its own answers."""
    monkeypatch.setattr(seam, "choose_backend", lambda device: Rehearsal() if device == "gpu" else None)
    cases = [square(20, 40, more=f'longest = "{seconds} s"').with_(LARGE) for seconds in (3, 4, 5)]
    here, there = (solve_many(cases, device="gpu", workers=workers) for workers in (1, 2))
    for mine, theirs in zip(here, there, strict=True):
        assert mine.air.evidence.rounds == theirs.air.evidence.rounds
        assert_allclose(mine.solution.state.temperature, theirs.solution.state.temperature, rtol=1e-9)


def test_what_goes_wrong_with_one_case_stands_in_its_place(monkeypatch):
    monkeypatch.setattr(seam, "choose_backend", lambda device: Rehearsal())
    monkeypatch.setattr("sim.airflow.domain.MOST_CELLS", 1e5)
    good = square(20, 40, more='longest = "2 s"')
    text = SQUARE.format(top=20, bottom=40, emissivity=0.0, more="")
    tiny = parse_case(text.replace('cell = "10 mm"\nwall_cell = "6 mm"', 'cell = "0.2 mm"\nwall_cell = "0.2 mm"'))
    first, second = solve_many([tiny, good], device="gpu", workers=1)
    assert isinstance(first, ValueError) and "million cells" in str(first)
    assert second.air.stop_reason == "time"


def test_many_cases_go_where_they_say(monkeypatch):
    """Without a device the cases' own counts; "cpu" holds for cases that name another."""
    chosen = []
    monkeypatch.setattr(seam, "choose_backend", lambda device: chosen.append(device))
    monkeypatch.setattr(bay_workers.BaySolids, "solve", lambda self, bay, case: bay_workers.LastReply(case.air.device))
    cases = [square(20, 40), square(20, 40, more='device = "auto"')]
    assert solve_many(cases[1:]) == ["cpu"] and solve_many(cases, device="cpu") == ["cpu", "cpu"]
    assert chosen == ["auto", "cpu"]


class Stream:
    """A stream as the array library has it: current by thread, and what is put to use ends with any block."""

    here = threading.local()

    def __init__(self, **_):
        self.ptr = id(self)

    def use(self):
        self.here.current = self

    def __enter__(self):
        self.here.blocks = [*getattr(self.here, "blocks", ["null"]), self]
        self.use()

    def __exit__(self, *_):
        self.here.blocks.pop()
        self.here.current = self.here.blocks[-1]


def copied_in_a_block(array, stream):
    with stream:
        return array


def test_the_librarys_work_stays_on_the_kernels_stream(monkeypatch):
    """After copies, and in another thread: on a stream of its own, tables and clocks would come when they like."""
    xp = SimpleNamespace(cuda=SimpleNamespace(Stream=Stream), asnumpy=copied_in_a_block)
    kernels = SimpleNamespace(external_stream=lambda ptr: ptr)
    monkeypatch.setattr(seam, "_libraries", lambda: (kernels, xp))
    monkeypatch.setattr(seam, "_device_name", lambda xp: "device seven")
    monkeypatch.setattr(seam, "Products", lambda *given: None)
    found = seam.Accelerator()
    monkeypatch.setattr(seam, "accelerator", lambda: found)
    found.to_host(np.zeros(3))
    copied_in_a_block(np.zeros(3), Stream())
    assert Stream.here.current is found.stream
    with ThreadPoolExecutor(1) as other:
        other.submit(choose_backend, "gpu").result()
        assert other.submit(lambda: Stream.here.current).result() is found.stream


def test_libraries_that_do_not_go_together_are_no_device(monkeypatch):
    class Broken:
        name = "device seven"

        def probe(self):
            raise AttributeError("module has no row_stack")

    monkeypatch.setattr(seam, "Accelerator", Broken)
    with pytest.raises(NoDeviceError, match="device seven: its libraries .* row_stack"):
        seam.accelerator.__wrapped__()


def test_batch_that_does_not_fit_is_refused_with_numbers(monkeypatch):
    monkeypatch.setattr(Rehearsal, "free_memory", lambda self: 1e4)
    problem = flow_problem(*problem_of(KINDS[0], np.random.default_rng(0)))
    with pytest.raises(ValueError, match=r"2 bays .* 32 closed faces need 0.0 GB .* larger cells"):
        FlowBatch([problem, problem], Rehearsal())


def test_no_device_is_said_in_one_line(monkeypatch):
    def missing():
        raise NoDeviceError("no accelerator here")

    monkeypatch.setattr(seam, "accelerator", missing)
    assert choose_backend("cpu") is None and choose_backend("auto") is None
    with pytest.raises(NoDeviceError, match="no accelerator"):
        choose_backend("gpu")

"""`joistbay warmup` killed without warning and taken up again: little is lost, and the result is the same."""

import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
import tomli_w
from numpy.testing import assert_allclose

from sim.jobs.checkpoint import read_checkpoint
from sim.results.in_time import read_series
from sim.solver.march import REST
from tests.verification.small_bays import BASE, merged

EVERY = 0.25
"""Seconds between checkpoints here, instead of the usual 20."""

PROGRAM = """
import sys, time
from sim.jobs import checkpoint
checkpoint.EVERY = float(sys.argv[1])
usual = checkpoint.CheckpointWriter.listening

def listening(keeper, moment, step):
    usual(keeper, moment, step)
    print(time.time(), step.time, file=log, flush=True)

checkpoint.CheckpointWriter.listening = listening
from sim.cli.main import main
with open(sys.argv[2], "a") as log:
    sys.exit(main(sys.argv[3:]))
"""

CHANGES = {
    "mesh": {"across": "60 mm", "along": "200 mm", "through": "60 mm"},
    "time": {"duration": "6 h", "snapshots": ["6 min", "6 h"]},
    "control": {"thermostat": "floor", "setpoint": "23 degC", "sensor": "stripe"},
}


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "bay.toml"
    path.write_text(tomli_w.dumps(merged(BASE, CHANGES)), encoding="utf-8")
    return path


def begin(case, out, log, *more):
    command = [sys.executable, "-c", PROGRAM, str(EVERY), str(log), "warmup", str(case), "--out", str(out)]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE}
    return subprocess.Popen([*command, "--no-pictures", *more], env=os.environ | {"PYTHONPATH": os.getcwd()}, **quiet)


def steps(log):
    """Clock [s] and simulated time [s] of every step so far; a line half written does not count."""
    lines = log.read_text("utf-8").split("\n")[:-1] if log.exists() else []
    return np.array([[float(number) for number in line.split()] for line in lines]).reshape(-1, 2)


def wait_for_steps(process, log, store, simulated):
    """Until a checkpoint lies there and the run has come so far [s]."""
    for _ in range(15_000):
        done = steps(log)
        if len(done) and done[-1, 1] > simulated and list(store.glob("*.npz")):
            return
        if process.poll() is not None:
            raise AssertionError(f"the run ended too early: {process.stderr.read().decode()}")
        time.sleep(0.02)
    raise AssertionError("no checkpoint in five minutes")


def finish(process):
    _, errors = process.communicate(timeout=300)
    assert process.returncode == 0, errors.decode()


def result(out):
    (file,) = out.glob("choices/*/series.nc")
    return read_series(file)


@pytest.mark.slow
def test_a_killed_run_loses_little_and_ends_the_same(case, tmp_path):
    whole, out, first, second = (tmp_path / name for name in ("whole", "out", "first.log", "second.log"))
    store = tmp_path / "out.work"
    process = begin(case, out, first)
    wait_for_steps(process, first, store, 1800.0)
    process.send_signal(signal.SIGKILL)
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    assert not out.exists()

    (file,) = store.glob("*.npz")
    kept, done = read_checkpoint(file).start.time, steps(first)
    lost = done[-1, 0] - done[done[:, 1] <= kept][-1, 0]
    # a checkpoint is written at a rest, once the last one is old enough
    assert lost <= EVERY + (REST + 2.0) * np.diff(done[:, 0]).max()

    finish(begin(case, out, second, "--resume"))
    assert kept < steps(second)[0, 1] < done[-1, 1] + 3600.0
    assert not store.exists()
    finish(begin(case, whole, tmp_path / "third.log"))

    found, expected = result(out), result(whole)
    assert_allclose(found["time"].values[-1], 6 * 3600.0, rtol=1e-12, atol=0)
    assert found.identical(expected)

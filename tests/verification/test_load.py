"""Under load: memory stays flat over many solves, large meshes stay within what is stated, long work is taken up."""

import ctypes
import gc
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from small_bays import small_bay

from sim.cli.main import main
from sim.run import solve
from tests.tiny_bays import TINY

SLAB = """
kind = "blocks"
[[box]]
x = ["0 m", "0.1 m"]
y = ["0 m", "0.1 m"]
z = ["0 m", "0.1 m"]
conductivity = "1 W/(m*K)"
[[face]]
name = "low"
on = "z-"
temperature = "30 degC"
[[face]]
name = "high"
on = "z+"
film = "8 W/(m^2*K)"
ambient = "20 degC"
"""
LARGE = SLAB + '[mesh]\nacross = "0.5 mm"\nalong = "0.5 mm"\nthrough = "0.5 mm"\n'
LARGE_BYTES = 4.0e9
"""Most that a case of eight million cells may take: 2.6 GB were measured, 3.0 with the libraries, and some to spare."""

DAYS = 4
"""Rounds of a day's work, of seven commands each."""

LEAK = 100e3
"""Most that a solve may leave behind [B]; 3 kB were measured, one field of the small bay takes some 25 kB."""


def resident():
    """Memory of this process that lies in the machine's [B], after the allocator has handed back what it holds free.

    Without that a page or two of free blocks too many, as threads come and go, look like what a run left behind.
    """
    gc.collect()
    if hasattr(libc := ctypes.CDLL(None), "malloc_trim"):
        libc.malloc_trim(0)
    for line in Path("/proc/self/status").read_text("ascii").splitlines():
        if line.startswith("VmRSS"):
            return 1024.0 * float(line.split()[1])
    pytest.skip("no /proc on this system")


def leak_of(solves, before=10):
    """Bytes left behind by each of so many solves, after those that fill what is kept for good."""
    case = small_bay("no plates")
    for _ in range(before):
        solve(case)
    began = resident()
    for _ in range(solves):
        solve(case)
    return (resident() - began) / solves


def test_repeated_solves_leave_nothing_behind():
    assert leak_of(16, before=6) < 2 * LEAK, "a result that is held is 350 kB; a hundred solves in the slow tier"


@pytest.mark.slow
def test_a_hundred_solves_leave_nothing_behind():
    assert leak_of(100, before=20) < LEAK


LARGEST_STEP = 2e6
"""Most that a day's run may leave behind [B]: run, page, comparison, warm-up and water, with all their pictures."""


def day_of(place):
    """What somebody does again and again in one process, a notebook or a script: solve, draw, keep, read, compare."""
    bay = place / "bay.toml"
    bay.write_text(TINY + '[time]\nduration = "30 min"\n', "utf-8")
    for command in (
        ["run", str(bay), "--out", str(place / "run")],
        ["report", str(place / "run")],
        ["view", str(place / "run")],
        ["export", str(place / "run"), "--to", "csv", "--out", str(place / "floor.csv")],
        ["compare", str(bay), "--spacing", "150mm,200mm", "--out", str(place / "compared")],
        ["warmup", str(bay), "--out", str(place / "warm"), "--no-pictures"],
        ["water", str(bay), "--flux", "30 W/m^2"],
    ):
        assert main(command) == 0


@pytest.mark.slow
def test_a_day_of_repeated_runs_leaves_nothing_behind(tmp_path, capsys):
    for _ in range(3):
        day_of(tmp_path)
    began, files, threads = resident(), open_files(), threading.active_count()
    for _ in range(DAYS):
        day_of(tmp_path)
        capsys.readouterr()
    assert (resident() - began) / DAYS < LARGEST_STEP
    assert open_files() <= files
    assert threading.active_count() <= threads


def open_files():
    """Descriptors that this process has open."""
    return len(list(Path("/proc/self/fd").iterdir()))


def most_memory(*arguments, cwd):
    """Exit code of a command, and the most memory that it had itself [B], whatever ran before it."""
    begun = subprocess.Popen([sys.executable, "-m", "sim", *arguments], cwd=cwd, env=ENVIRONMENT)
    _, status, used = os.wait4(begun.pid, 0)
    begun.returncode = os.waitstatus_to_exitcode(status)
    return begun.returncode, 1024.0 * used.ru_maxrss


ENVIRONMENT = {"PYTHONPATH": str(Path.cwd()), "PATH": "/usr/bin:/bin", "HOME": str(Path.home())}


@pytest.mark.slow
def test_eight_million_cells_stay_within_what_is_stated(tmp_path):
    (tmp_path / "large.toml").write_text(LARGE, "utf-8")
    code, most = most_memory("run", "large.toml", "--no-pictures", cwd=tmp_path)
    assert code == 0
    assert most < LARGE_BYTES


@pytest.mark.slow
def test_a_thousand_samples_are_taken_up_with_memory_flat(tmp_path):
    (tmp_path / "slab.toml").write_text(SLAB, "utf-8")
    asked = ["study", "slab.toml", "--inputs", "face.1.ambient=15..25 degC", "--no-pictures", "--out", "out"]
    begun = subprocess.Popen([sys.executable, "-m", "sim", *asked, "--samples", "1000"], cwd=tmp_path, env=ENVIRONMENT)
    kept = tmp_path / "out.work"
    while begun.poll() is None and (not kept.is_dir() or len(list(kept.iterdir())) < 100):
        time.sleep(0.1)
    begun.send_signal(signal.SIGTERM)
    assert begun.wait(10.0) == 143
    assert len(list(kept.iterdir())) >= 100
    code, most = most_memory(*asked, "--samples", "1000", "--resume", cwd=tmp_path)
    assert code == 0
    _, few = most_memory("study", "slab.toml", *asked[2:-1], "few", "--samples", "20", cwd=tmp_path)
    assert most < few + 200e6

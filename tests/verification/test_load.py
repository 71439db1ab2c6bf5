"""Under load: memory stays flat over many solves, large meshes stay within what is stated, long work is taken up."""

import gc
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from small_bays import small_bay

from sim.run import solve

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

LEAK = 100e3
"""Most that a solve may leave behind [B]; 3 kB were measured, one field of the small bay takes some 25 kB."""


def resident():
    """Memory of this process that lies in the machine's [B]."""
    for line in Path("/proc/self/status").read_text("ascii").splitlines():
        if line.startswith("VmRSS"):
            return 1024.0 * float(line.split()[1])
    pytest.skip("no /proc on this system")


def leak_of(solves, before=10):
    """Bytes left behind by each of so many solves, after those that fill what is kept for good."""
    case = small_bay("no plates")
    for _ in range(before):
        solve(case)
    gc.collect()
    began = resident()
    for _ in range(solves):
        solve(case)
    gc.collect()
    return (resident() - began) / solves


def test_repeated_solves_leave_nothing_behind():
    assert leak_of(30) < 10 * LEAK, "a coarse look; a hundred in the slow tier"


@pytest.mark.slow
def test_a_hundred_solves_leave_nothing_behind():
    assert leak_of(100, before=20) < LEAK


def most_memory(*arguments, cwd):
    """Exit code of a command, and the most memory that it had [B]."""
    code = subprocess.run([sys.executable, "-m", "sim", *arguments], cwd=cwd, env=ENVIRONMENT, check=False).returncode
    return code, 1024.0 * resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss


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
    time.sleep(60.0)
    begun.send_signal(signal.SIGTERM)
    assert begun.wait(10.0) == 143
    kept = len(list((tmp_path / "out.work").iterdir()))
    assert kept > 10
    code, most = most_memory(*asked, "--samples", "1000", "--resume", cwd=tmp_path)
    assert code == 0
    _, few = most_memory("study", "slab.toml", *asked[2:-1], "few", "--samples", "20", cwd=tmp_path)
    assert most < few + 200e6

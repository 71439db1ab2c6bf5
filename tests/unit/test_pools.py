"""Cases, results and errors travel between processes; pools take `solve` as it is, after threads have run."""

import copy
import pickle
import subprocess
import sys

import numpy as np
import pytest

import joistbay
from sim.case.errors import Problem
from sim.case.load import parse_case
from sim.case.quantities import UnitError
from sim.jobs.spread import spread
from sim.machine.threads import share_loop
from tests.tiny_bays import TINY

ERRORS = [
    joistbay.CaseError("oak.toml", [Problem("plates.width", "3", "must be less", "write less")]),
    UnitError("no number found", "write one"),
    *(error("oak: why") for error in (joistbay.NotConvergedError, joistbay.BalanceError, joistbay.StoreError)),
    *(error("oak: why") for error in (joistbay.UnreachableError, joistbay.NoSpacingError, joistbay.HouseError)),
    *(error("oak: why") for error in (joistbay.FlowError, joistbay.MarchError)),
]


@pytest.fixture(scope="module")
def solved():
    return joistbay.solve(parse_case(TINY))


@pytest.mark.parametrize("error", ERRORS, ids=lambda error: type(error).__name__)
def test_errors_travel_whole(error):
    for other in (pickle.loads(pickle.dumps(error)), copy.deepcopy(error)):
        assert type(other) is type(error) and str(other) == str(error) and vars(other) == vars(error)


def test_results_travel_whole(solved):
    for other in (pickle.loads(pickle.dumps(solved)), copy.deepcopy(solved)):
        assert other.case == solved.case and dict(other.report) == dict(solved.report)
        assert str(other.balance) == str(solved.balance)
        np.testing.assert_array_equal(other.floor, solved.floor)
        with pytest.raises(TypeError):
            other.report.values["ripple_K"] = 0.0


POOL = """
import multiprocessing, sys
from concurrent.futures import ProcessPoolExecutor
import joistbay, numba
from sim.machine.threads import share_loop
if __name__ == "__main__":
    assert len(share_loop(lambda a, b: b - a, 10, 10**9)) == numba.get_num_threads() > 1
    case = joistbay.load_bay("tiny.toml")
    there = {}
    for way in ("fork", "spawn"):
        with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(way)) as pool:
            there[way] = [found.report["ripple_K"] for found in pool.map(joistbay.solve, [case, case])]
    here = joistbay.solve(case).report["ripple_K"]
    assert there == {"fork": [here, here], "spawn": [here, here]}, there
"""



def ran(script):
    """A script run in its folder, where a tiny bay lies."""
    (script.parent / "tiny.toml").write_text(TINY, "utf-8")
    return subprocess.run([sys.executable, script], capture_output=True, text=True, timeout=300, cwd=script.parent)


def test_the_standard_pool_takes_solve(tmp_path):
    """Forked after a loop was shared between threads, which a fork does not carry over, and begun anew."""
    script = tmp_path / "pool.py"
    script.write_text(POOL)
    ended = ran(script)
    assert ended.returncode == 0, ended.stderr[-2000:]


def test_dask_takes_solve(solved):
    dask = pytest.importorskip("dask")
    wanted = [dask.delayed(joistbay.solve)(solved.case) for _ in range(2)]
    for scheduler in ("threads", "processes"):
        found = dask.compute(*wanted, scheduler=scheduler, num_workers=2)
        assert [result.report["ripple_K"] for result in found] == [solved.report["ripple_K"]] * 2


def test_a_script_without_main_guard_may_use_workers(tmp_path):
    """Processes of ours do not run the caller's script once more; its first line is said once."""
    script = tmp_path / "plain.py"
    script.write_text(
        "import joistbay\nprint('begin')\n"
        "case = joistbay.load_bay('tiny.toml')\n"
        "print(len(joistbay.solve_many([case, case], workers=2)))\n"
        "print(len(joistbay.compare(case, 'plates.spacing', ['120 mm', 'none'], workers=2).choices))\n"
    )
    ended = ran(script)
    assert ended.stdout.split() == ["begin", "2", "2"], ended.stderr[-2000:]


def test_spread_keeps_the_order_and_failures_in_their_places():
    found = spread(pow_of_two, [3, "x", 5, 1], 2)
    assert found[0] == 8 and found[2] == 32 and found[3] == 2
    assert isinstance(found[1], TypeError)


def pow_of_two(value):
    return 2**value


def test_a_forked_process_shares_no_loop(tmp_path):
    """Threads of the pool do not live on in a fork; the loop is done whole by the one that is left."""
    code = (
        "import os\nfrom sim.machine.threads import share_loop\n"
        "kernel = lambda a, b: (a, b)\nshare_loop(kernel, 10, 10**6)\n"
        "child = os.fork()\n"
        "if child == 0:\n    os._exit(0 if share_loop(kernel, 10, 10**6) == [(0, 10)] else 1)\n"
        "raise SystemExit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))\n"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=60).returncode == 0
    assert share_loop(lambda a, b: (a, b), 10, 0) == [(0, 10)]

"""Sharing a loop between threads: every index once, results in order, also after a fork."""

import os

import numba
import numpy as np
import pytest

from sim.solver.threads import share_loop


@numba.njit(nogil=True)
def _mark(start, stop, counts):
    for n in range(start, stop):
        counts[n] += n
    return stop - start


@pytest.mark.parametrize("count", [0, 1, 2, 3, 7, 1000])
@pytest.mark.parametrize("cells", [1, 10**9])
def test_every_index_once(count, cells):
    counts = np.zeros(count, int)
    pieces = share_loop(_mark, count, cells, counts)
    assert sum(pieces) == count
    assert (counts == np.arange(count)).all()


def test_small_loops_stay_where_they_are():
    assert len(share_loop(_mark, 10, 10, np.zeros(10, int))) == 1


@pytest.mark.skipif(numba.get_num_threads() < 2, reason="one thread only")
def test_large_loops_are_split():
    assert len(share_loop(_mark, 10, 10**9, np.zeros(10, int))) == numba.get_num_threads()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
def test_works_in_a_forked_child():
    share_loop(_mark, 10, 10**9, np.zeros(10, int))
    child = os.fork()
    if child == 0:
        os._exit(0 if sum(share_loop(_mark, 10, 10**9, np.zeros(10, int))) == 10 else 1)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0

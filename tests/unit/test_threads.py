"""Sharing a loop between threads: every index once, results in order, also after a fork."""

import os

import numba
import numpy as np
import pytest

from sim.machine.threads import _libraries, side_by_side, single_threaded_blas
from sim.solver.threads import SMALLEST_SHARED_LOOP, share_loop


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


def test_exchange_areas_are_the_same_whatever_dense_algebra_would_do(monkeypatch):
    """Their algebra runs on one thread wherever it is asked for: with more its last digits are others."""
    from threadpoolctl import threadpool_info, threadpool_limits

    from sim.case.load import parse_case
    from sim.physics import radiation
    from sim.run import prepare
    from sim.solver.assemble_cavity import SEED, with_other_rays
    from tests import tiny_bays

    seen = []

    def heard(*given):
        seen.extend(library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas")
        return usual(*given)

    usual = radiation.total_exchange
    monkeypatch.setattr(radiation, "total_exchange", heard)
    with threadpool_limits(limits=2, user_api="blas"):
        model = prepare(parse_case(tiny_bays.TINY))
        again = with_other_rays(model.system.cavity, model.cells, SEED)
    np.testing.assert_array_equal(again.patches.exchange, model.system.cavity.patches.exchange)
    assert set(seen) == {1}


@pytest.mark.skipif(numba.get_num_threads() < 2, reason="one thread only")
def test_threads_are_as_many_as_the_work_is_worth():
    """Half the cells from which sharing pays for each thread, and all threads where there is work enough."""
    small = share_loop(_mark, 1000, SMALLEST_SHARED_LOOP, np.zeros(1000, int))
    assert len(small) == 2


@pytest.mark.parametrize("threads", [1, 4])
def test_work_side_by_side_comes_back_in_order(threads, monkeypatch):
    """Whatever the threads, also where a piece itself has work to share, and as told where one fails."""
    monkeypatch.setattr(numba, "get_num_threads", lambda: threads)
    monkeypatch.setattr(numba, "set_num_threads", lambda count: None)
    inner = [lambda n=n: n for n in range(3)]
    found = side_by_side([lambda n=n: (n, side_by_side(inner)) for n in range(6)])
    assert found == [(n, [0, 1, 2]) for n in range(6)]
    with pytest.raises(ZeroDivisionError):
        side_by_side([lambda: 1, lambda: 1 // 0])


def test_all_dense_algebra_is_held_to_one_thread_and_set_free_again():
    """SciPy's own library too, whether it came before or after the first look."""
    import scipy.linalg  # noqa: F401
    from threadpoolctl import threadpool_info, threadpool_limits

    def threads():
        return {library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"}

    _libraries.cache_clear()
    with threadpool_limits(limits=2, user_api="blas"):
        with single_threaded_blas():
            assert threads() == {1}
        assert threads() == {2}

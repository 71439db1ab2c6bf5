"""Sharing of compiled slab loops between threads.

A kernel is a function ``kernel(start, stop, *arguments)`` compiled with ``nogil=True``. While slabs are shared,
the BLAS below NumPy and SciPy must stay on one thread each: it would otherwise start threads of its own.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from functools import cache, partial
from typing import TYPE_CHECKING, TypeVar, TypeVarTuple

import numba

if TYPE_CHECKING:
    from threadpoolctl import ThreadpoolController

Given = TypeVarTuple("Given")
Found = TypeVar("Found")
Value = TypeVar("Value")

SMALLEST_SHARED_LOOP = 40_000
"""Cells below which waking a second thread costs more than it saves (some 30 µs a call)."""

BUSIER_LOOP = 8_000
"""The same of loops that take 10 to 40 ns a cell, and not 2: a bay of 31,616 cells takes a tenth less time so."""

MOST_SIDE_BY_SIDE = 4
"""Pieces of work side by side at most: each holds matrices of its own."""

_own = threading.local()


def _pool(workers: int) -> ThreadPoolExecutor:
    """This thread's pool of the given size, made on first use."""
    pools: dict[int, ThreadPoolExecutor] = _own.__dict__.setdefault("pools", {})
    if workers not in pools:
        pools[workers] = ThreadPoolExecutor(workers, thread_name_prefix="air")
    return pools[workers]


def _begin_alone() -> None:
    """In a forked child: threads do not survive a fork, and it is one of several that share the processors."""
    global _forked
    _forked = True
    _own.__dict__.clear()


_forked = False
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_begin_alone)


def share_loop(
    kernel: Callable[[int, int, *Given], Found],
    count: int,
    cells: int,
    *arguments: *Given,
    smallest: int = SMALLEST_SHARED_LOOP,
) -> list[Found]:
    """Run ``kernel(start, stop, *arguments)`` over ``range(count)`` and return the result of each piece.

    Parameters
    ----------
    kernel : callable
        Compiled without the interpreter lock; pieces must not depend on one another.
    count : int
        Length of the loop.
    cells : int
        Cells that the whole loop touches: decides whether sharing pays.
    *arguments
        Passed on unchanged.
    smallest : int
        Cells from which it does: half of them for each thread, so that more threads take more.

    Notes
    -----
    The number of threads is numba's (``NUMBA_NUM_THREADS`` or ``numba.set_num_threads``); one in a forked process.
    Numba's own parallel loops are not used: their threads would end a forked process.
    """
    if cells < smallest or _forked:  # first: asking Numba costs more than many a small loop
        return [kernel(0, count, *arguments)]
    threads = min(numba.get_num_threads(), count, max(2 * cells // max(smallest, 1), 1))
    if threads < 2:
        return [kernel(0, count, *arguments)]
    cuts = [count * t // threads for t in range(threads + 1)]
    pool = _pool(threads - 1)
    others = [pool.submit(kernel, a, b, *arguments) for a, b in zip(cuts[1:-1], cuts[2:], strict=True)]
    return [kernel(0, cuts[1], *arguments), *(other.result() for other in others)]


@contextmanager
def single_threaded_blas() -> Iterator[None]:
    """Within it, dense algebra uses one thread: its matrices are small, and ours share the machine already.

    A bay of 79 000 cells solved in 0.26 s so, in 0.49 s with two threads, and far slower beside other work.
    """
    with _blas_of(1):
        yield


@contextmanager
def threaded_blas() -> Iterator[None]:
    """Within it, dense algebra uses as many threads as loops do: its matrices are large, and nothing runs beside it."""
    with _blas_of(numba.get_num_threads()):
        yield


def _blas_of(threads: int) -> AbstractContextManager[object]:
    """Dense algebra on so many threads."""
    return _libraries("scipy.linalg" in sys.modules).limit(limits=threads, user_api="blas")


@cache
def _libraries(scipy_is_there: bool) -> ThreadpoolController:
    """The libraries of dense algebra, looked for once (some 10 ms), and once more when SciPy has brought its own."""
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()


@contextmanager
def one_thread_each(count: int) -> Iterator[Callable[[Callable[[Value], Found], Sequence[Value]], list[Found]]]:
    """What has a piece of work done with each of up to so many values, every one in a thread of its own.

    The threads of loops are shared out evenly. With one alone, or in a forked process, one value comes after the other.
    """
    threads = 1 if _forked else numba.get_num_threads()
    if min(threads, count) < 2:
        yield lambda work, values: [work(value) for value in values]
        return
    share = partial(numba.set_num_threads, max(threads // count, 1))
    with single_threaded_blas(), ThreadPoolExecutor(min(threads, count), "starts", initializer=share) as pool:
        yield lambda work, values: list(pool.map(work, values))


def side_by_side(works: Sequence[Callable[[], Found]]) -> list[Found]:
    """What some pieces of work that do not depend on one another find, in their order; the threads are shared out.

    One after the other with fewer than four threads, or in a forked process.
    """
    threads = 1 if _forked else numba.get_num_threads()
    workers = min(threads, len(works), MOST_SIDE_BY_SIDE)
    if threads < MOST_SIDE_BY_SIDE or workers < 2:
        return [work() for work in works]
    share = partial(numba.set_num_threads, threads // workers)
    with single_threaded_blas(), ThreadPoolExecutor(workers, initializer=share) as pool:
        return list(pool.map(lambda work: work(), works))

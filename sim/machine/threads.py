"""Sharing of compiled slab loops between threads.

A kernel is a function ``kernel(start, stop, *arguments)`` compiled with ``nogil=True``. While slabs are shared,
the BLAS below NumPy and SciPy must stay on one thread each: it would otherwise start threads of its own.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

import numba

SMALLEST_SHARED_LOOP = 40_000
"""Cells below which waking a second thread costs more than it saves (some 30 µs a call)."""

_pools: dict[int, ThreadPoolExecutor] = {}


def _pool(workers: int) -> ThreadPoolExecutor:
    """The pool of the given size, made on first use."""
    if workers not in _pools:
        _pools[workers] = ThreadPoolExecutor(workers, thread_name_prefix="air")
    return _pools[workers]


def _begin_alone() -> None:
    """In a forked child: threads do not survive a fork, and it is one of several that share the processors."""
    global _forked
    _forked = True
    _pools.clear()


_forked = False
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_begin_alone)


def share_loop(
    kernel: Callable[..., Any], count: int, cells: int, *arguments: Any, smallest: int = SMALLEST_SHARED_LOOP
) -> list[Any]:
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
        Cells from which it does.

    Notes
    -----
    The number of threads is numba's (``NUMBA_NUM_THREADS`` or ``numba.set_num_threads``); one in a forked process.
    Numba's own parallel loops are not used: their threads would end a forked process.
    """
    if cells < smallest or _forked or (threads := min(numba.get_num_threads(), count)) < 2:
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
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1, user_api="blas"):
        yield

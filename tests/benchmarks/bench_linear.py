"""The linear solver beside PyAMG (Ruge-Stüben as preconditioner of conjugate gradients), on the same matrices.

    python tests/benchmarks/bench_linear.py                     # 0.1, 0.3 and 1 million cells
    python tests/benchmarks/bench_linear.py --cells 8e6 --alone # ours only

Both solve to a residual of 1e-8 in one process, by turns, kernels compiled beforehand; times are the best
of the repeats and include the set-up. Memory is the growth of the process's high-water mark, in a process
of its own, plus the solver's own form of the matrix. Nothing here asserts a time.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

import numba
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

import hard_grids

from sim.solver.linear import solve_linear
from sim.solver.multigrid import StencilOperator, build_multigrid

TOLERANCE = 1.0e-8
PROBLEMS = {
    "bay, plates hung flat": lambda n: hard_grids.bay(*n, hung=True),
    "bay, plates upright": lambda n: hard_grids.bay(*n, upright=True),
    "flat sheets": lambda n: hard_grids.flat_sheets(*n),
    "upright sheets": lambda n: hard_grids.upright_sheets(*n),
}


def make(problem, cells):
    """Operator with about the number of cells asked for, and a right-hand side: heat at the top and midway."""
    scale = (cells / 1.0e6) ** (1 / 3)
    size = [max(round(n * scale), 8) for n in (113, 164, 54)]
    operator = StencilOperator(*PROBLEMS[problem](size))
    rhs = np.zeros(operator.shape)
    rhs[..., -1] = 1.0
    rhs[operator.shape[0] // 2] += 0.5
    idle = (operator.sink == 1.0) & (operator.diagonal() == 1.0)
    return operator, np.where(idle, 0.0, rhs)


def ours(operator, rhs):
    """(set-up seconds, solve seconds, iterations, multigrid) of this project's solver."""
    began = time.perf_counter()
    multigrid = build_multigrid(operator)
    ready = time.perf_counter()
    found = solve_linear(operator.apply, rhs, None, multigrid, TOLERANCE, 100)
    ended = time.perf_counter()
    assert found.converged
    return ready - began, ended - ready, found.iterations, multigrid


def peer(matrix, rhs):
    """(set-up seconds, solve seconds, iterations, None) of PyAMG."""
    import pyamg

    began = time.perf_counter()
    hierarchy = pyamg.ruge_stuben_solver(matrix)
    ready = time.perf_counter()
    residuals: list[float] = []
    hierarchy.solve(rhs.ravel(), tol=TOLERANCE, accel="cg", maxiter=200, residuals=residuals)
    return ready - began, time.perf_counter() - ready, len(residuals) - 1, None


def status(field):
    """A line of /proc/self/status in bytes."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return 1024 * next(int(line.split()[1]) for line in lines if line.startswith(field))


def peak_memory(problem, cells, who):
    """Doubles a cell that one solve adds to the process, matrix included (run in a process of its own)."""
    small, operator = make(problem, 2.0e4), make(problem, cells)
    if who == "ours":
        run, arguments, matrix = ours, operator, 4 * operator[0].sink.size * 8
    else:
        small, arguments = ((o.to_sparse(), b) for o, b in (small, operator))
        run, csr = peer, arguments[0]
        matrix = csr.data.nbytes + csr.indices.nbytes + csr.indptr.nbytes
    run(*small)
    Path("/proc/self/clear_refs").write_text("5")  # resets the high-water mark
    before = status("VmRSS")
    run(*arguments)
    return (status("VmHWM") - before + matrix) / 8 / operator[0].sink.size


def memory_apart(problem, cells, who):
    """``peak_memory`` in a fresh process."""
    command = [sys.executable, __file__, "--memory", who, "--cells", str(cells), "--problem", problem]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


@numba.njit(nogil=True)
def _triad(start, stop, a, b, c):
    a, b, c = a[start:stop], b[start:stop], c[start:stop]
    for n in range(a.size):
        a[n] = b[n] + 0.5 * c[n]


def bandwidth():
    """Memory bandwidth of all threads together on long arrays [bytes/s], writes counted with their reads."""
    from sim.solver.threads import share_loop

    a, b, c = (np.ones(20_000_000) for _ in range(3))
    seconds = []
    for _ in range(6):
        began = time.perf_counter()
        share_loop(_triad, a.size, a.size, a, b, c)
        seconds.append(time.perf_counter() - began)
    return 32 * a.size / min(seconds)


def traffic(multigrid):
    """Bytes that one iteration must move, each array counted once a sweep.

    Per cell and level 24 floats in the cycle (lateral conductances four times, the eliminated columns and
    right-hand side twice, vectors); per cell 8 doubles for the operator's product, 13 for the vectors of
    conjugate gradients, and 24 bytes to load and unload.
    """
    cells = multigrid.levels[0].grid.cells
    return cells * (24 * 4 * multigrid.complexity + 21 * 8 + 24)


def best(runs):
    """The run with the least total time."""
    return min(runs, key=lambda run: run[0] + run[1])


def row(problem, cells, repeats, alone, speed):
    """Measure one problem and print its line."""
    operator, rhs = make(problem, cells)
    mine, other, matrix = [], [], None if alone else operator.to_sparse()
    for _ in range(repeats):
        mine.append(ours(operator, rhs))
        if matrix is not None:
            other.append(peer(matrix, rhs))
    a, doubles = best(mine), memory_apart(problem, cells, "ours")
    share = traffic(a[3]) * a[2] / a[1] / speed
    line = f"{problem:22s} {operator.sink.size / 1e6:6.2f}  {a[0]:6.2f} {a[1]:6.2f} {a[2]:4d}"
    line += f" {doubles:6.1f} {share:6.0%}"
    if other:
        b, peer_doubles = best(other), memory_apart(problem, cells, "peer")
        ratio = (b[0] + b[1]) / (a[0] + a[1])
        line += f"   {b[0]:6.2f} {b[1]:6.2f} {b[2]:4d} {peer_doubles:6.1f}   {ratio:5.1f} {peer_doubles / doubles:5.1f}"
    print(line, flush=True)


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cells", type=float, nargs="+", default=[1e5, 3e5, 1e6])
    parser.add_argument("--problem", nargs="+", choices=PROBLEMS, default=list(PROBLEMS))
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--alone", action="store_true", help="without PyAMG")
    parser.add_argument("--memory", choices=["ours", "peer"], help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.memory:
        print(peak_memory(options.problem[0], options.cells[0], options.memory))
        return
    ours(*make("bay, plates hung flat", 1.5e5))  # compiles, or loads, the kernels
    speed = bandwidth()
    print(f"{numba.get_num_threads()} threads; memory bandwidth {speed / 1e9:.0f} GB/s; residual {TOLERANCE:g}")
    print(f"{'':22s} {'':6s}  {'this project':>33s}   {'PyAMG Ruge-Stüben + CG':>27s}   {'PyAMG/ours':>11s}")
    print(
        f"{'problem':22s} {'Mcells':>6s}  {'set-up':>6s} {'solve':>6s} {'it':>4s} {'dbl/c':>6s} {'bandw.':>6s}"
        f"   {'set-up':>6s} {'solve':>6s} {'it':>4s} {'dbl/c':>6s}   {'time':>5s} {'mem.':>5s}"
    )
    for cells in options.cells:
        for problem in options.problem:
            row(problem, cells, options.repeats, options.alone, speed)


if __name__ == "__main__":
    main()

"""Time of a flow step per air cell, beside the memory bandwidth that the same run measures.

    python tests/benchmarks/bench_airflow.py                     # boxes of 0.1, 0.3 and 1 million cells
    python tests/benchmarks/bench_airflow.py --cells 2e5 --bounded --sheet

A step is three Runge-Kutta stages and one exact pressure solution. Bandwidth is that of a triad
a = b + s c over arrays far larger than the caches, on the same threads, the best of the repeats; the share is what a
step would move if every array that a loop names crossed memory once, over what the triad moves in that time.
Nothing here asserts a time: read the numbers on an idle machine.
"""

from __future__ import annotations

import argparse
import time

import numba
import numpy as np

from sim.airflow.box import build_box
from sim.airflow.cuts import box_to_modes, to_box
from sim.airflow.domain import Sheet
from sim.airflow.flow import air_of_numbers
from sim.airflow.heat import heat_bounded, heat_central
from sim.airflow.modes import solve_lines, to_cells
from sim.airflow.momentum import move_x, move_y, move_z
from sim.airflow.nested_product import near
from sim.airflow.pressure import gather, subtract_gradient, sum_to_cells
from sim.airflow.rows import compiled
from sim.airflow.step import build_stepper
from sim.machine.threads import share_loop, single_threaded_blas

DOUBLES_A_STAGE = 4 * (4 + 5)
"""Arrays a stage names: four fields read all four, what is held, and move their own, rates and result."""
DOUBLES_A_STEP = 3 * DOUBLES_A_STAGE + 4 + 3 * 2 + 7 + 3 + 3 + 1 + 3
"""Those of a step: its stages, divergence, solve, gradient, and the mean pressure with what is held of it."""


@compiled
def triad(start, stop, a, b, c, scale):
    for i in range(start, stop):
        a[i] = b[i] + scale * c[i]


def best(repeats, work):
    """Shortest time of some runs [s], after one that is not counted."""
    work()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def bandwidth(repeats):
    """Triad bandwidth [B/s], counting two reads, the write and the read before it."""
    size = 20_000_000
    a, b, c = (np.full(size, v) for v in (0.0, 1.0, 2.0))
    return 4 * 8 * size / best(repeats, lambda: share_loop(triad, size, size, a, b, c, 3.0))


def box_of(cells, bounded, sheet):
    """A box shaped like a joist cavity, with or without a hung plate."""
    scale = (cells / 1.0e6) ** (1 / 3)
    sizes = [max(round(n * scale), 8) for n in (120, 110, 76)]
    edges = [np.linspace(0.0, length, n + 1) for length, n in zip((0.37, 0.4, 0.23), sizes, strict=True)]
    planes = [e[len(e) // 3] for e in edges]
    plate = Sheet("plate", 2, edges[2][-5], ((planes[0], edges[0][-1 - len(edges[0]) // 3]), (0.0, planes[1]), (0, 0)))
    return build_box(
        edges, air_of_numbers(1e6, 0.71), {"x-": 1.0, "x+": 0.0},
        sheets=[plate] if sheet else [], scheme="bounded" if bounded else "central",
    )  # fmt: skip


def stepper_of(cells, bounded, sheet):
    """Its stepper."""
    box = box_of(cells, bounded, sheet)
    return build_stepper(box.domain, box.air, box.wall_temperature, box.start(), box.scheme)


def parts(stepper, step, repeats):
    """Nanoseconds per cell of every shared loop, by name."""
    tools, slabs, cells = stepper.pressure.tools, stepper.domain.shape[0], stepper.domain.cells
    arguments = (stepper.state, stepper._room(), tools.tables, stepper._stage(step, 0.0))
    heat, lists = (heat_central, stepper.heat_lists)
    if stepper.scheme == "bounded":
        heat, lists = heat_bounded, (stepper.heat_lists, stepper.domain.openness)
    movers = zip((move_x, move_y, move_z), tools.lists, strict=True)
    loops = [(kernel, slabs, (*arguments, own)) for kernel, own in movers]
    loops += [(heat, slabs, (*arguments, lists)), (gather, tools.values.shape[0], (stepper.state, tools))]
    loops += [(solve_lines, tools.values.shape[1], (tools.values, tools.modes))]
    if (cuts := tools.cuts).jump.size:
        loops += [(to_box, cuts.part.shape[0], (tools.values, cuts))]
        loops += [(near, cuts.jump.size, (cuts.jump, cuts.flow, cuts.inverse))]
        loops += [(box_to_modes, tools.values.shape[0], (tools.spare, cuts))]
        loops += [(sum_to_cells, tools.values.shape[0], (tools.values, tools.spare, tools.modes))]
    else:
        loops += [(to_cells, tools.values.shape[0], (tools.values, tools.modes))]
    loops += [(subtract_gradient, slabs, (stepper.state, tools.values, tools))]
    return {
        kernel.__name__: best(repeats, lambda k=kernel, n=count, a=args: share_loop(k, n, cells, *a)) / cells * 1e9
        for kernel, count, args in loops
    }


def report(cells, bounded, sheet, repeats):
    """One line a size, and one a loop."""
    with single_threaded_blas():
        stepper = stepper_of(cells, bounded, sheet)
        step, count = stepper.largest_step(), stepper.domain.cells
        seconds = best(repeats, lambda: stepper.take_steps(1, step, watchful=False))
        share = DOUBLES_A_STEP * 8 * count / seconds / bandwidth(repeats)
        shape = " × ".join(map(str, stepper.domain.shape))
        closed = stepper.pressure.tools.cuts.jump.size
        print(
            f"{shape} cells, {stepper.scheme}, {closed} closed faces: "
            f"{seconds / count * 1e6:.4f} µs per cell and step, {share:.0%} of the triad's bandwidth"
        )
        for name, nanoseconds in parts(stepper, step, repeats).items():
            print(f"    {name:18s} {nanoseconds:6.2f} ns per cell")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cells", type=float, nargs="+", default=[1e5, 3e5, 1e6])
    parser.add_argument("--bounded", action="store_true", help="bounded advection of the temperature")
    parser.add_argument("--sheet", action="store_true", help="hang a plate into the box")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--device", choices=("cpu", "gpu"), default="cpu", help="gpu: an accelerator, see bench_device")
    parser.add_argument("--batch", type=int, nargs="+", default=[1], help="boxes side by side, on an accelerator")
    parser.add_argument("--eddies", action="store_true", help="with the model of eddies, on an accelerator")
    parser.add_argument("--coupled", help="a case whose four spacings are compared first, on an accelerator")
    chosen = parser.parse_args()
    if chosen.device == "gpu":
        from bench_device import run

        run(chosen, box_of)
        raise SystemExit
    print(f"{numba.get_num_threads()} threads, triad {bandwidth(chosen.repeats) / 1e9:.1f} GB/s")
    for size in chosen.cells:
        report(size, chosen.bounded, chosen.sheet, chosen.repeats)

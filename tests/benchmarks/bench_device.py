"""Time of a flow step on an accelerator: single boxes, batches, every kernel's share; and a coupled comparison.

    python tests/benchmarks/bench_airflow.py --device gpu --cells 1e5 1e6 --batch 1 8 64 --sheet --bounded
    python tests/benchmarks/bench_airflow.py --device gpu --coupled cases/demo/kitchen-vinyl.toml

Bandwidth is that of a copy between arrays far larger than the caches. The share is what a step would move if every
array that a kernel or a product names crossed memory once, over what the copy moves in that time.
"""

from __future__ import annotations

import os
import time

import numpy as np

from sim.airflow.device import eddies, lists, moves, pressure
from sim.airflow.device.flows import FEW_PLANES, FlowBatch
from sim.airflow.device.layout import FIRST
from sim.airflow.device.seam import accelerator
from sim.airflow.device.tables import flow_problem
from sim.airflow.subgrid import VREMAN

PLAIN = 3 * (5 + 3) + 4 * 3 + 3 * (4 + 1) + 4 * 1 + 4 + 6 * 2 + 2 + (1 + 2 * 3 + 1) + (3 + 2)
"""Arrays of doubles that a step names without obstacles and eddies: velocities moved in three stages, with the impulse
(two of them read old rates, two write them), heat likewise, sources, six products, modes, gradients, crossing rates."""
OBSTACLES, THICK = 2 + 1, 2
"""More with closed faces: a second division, pressures sampled; sources added apart where they lie in many planes."""
EDDIES = (3 + 1) + (5 + 4) + 3 * 4
"""More with eddies: finding them and their rates, and reading these in three stages."""


def seconds_of(device, work, repeats):
    """Shortest time [s] of a recorded piece of work."""
    run = device.record(work)
    times = []
    for _ in range(repeats):
        device.stream.synchronize()
        began = time.perf_counter()
        run()
        device.stream.synchronize()
        times.append(time.perf_counter() - began)
    return min(times)


def bandwidth(device, copies=10):
    """Copy bandwidth [B/s], counting what is read and what is written, by the device's own clock."""
    cuda, stream, size = device.xp.cuda, device.stream, 8 * 2**27
    a, b = device.xp.zeros(size // 8), device.xp.random.rand(size // 8)
    begin, end = cuda.Event(), cuda.Event()
    for _ in range(2):  # the first time warms up
        begin.record(stream)
        for _ in range(copies):
            a.data.copy_from_device_async(b.data, size, stream)
        end.record(stream)
        end.synchronize()
    return 2 * size * copies / (1e-3 * cuda.get_elapsed_time(begin, end))


def problem_of(box_of, cells, bounded, sheet, eddy):
    """The box of `bench_airflow.stepper_of` as one bay of a batch."""
    box = box_of(cells, bounded, sheet)
    subgrid = VREMAN if eddy else 0.0
    return flow_problem(box.domain, box.air, box.wall_temperature, box.start(), box.scheme, subgrid)


def parts(device, batch, repeats=5):
    """Nanoseconds per cell of every kernel and product of a stage, ten of each in a row."""
    grid, air, seen = batch.grid, batch.air, batch.seen
    turbulent = any(problem.subgrid for problem in batch.problems)
    movers = (moves.move_air_and_eddies, moves.move_heat_and_eddies) if turbulent else (moves.move_air, moves.move_heat)
    apart = (eddies.find_eddies, eddies.hold_rates) if turbulent else ()
    bodies = (*movers, *apart, pressure.find_sources, pressure.subtract_gradients)
    work = {body.__name__: lambda body=body: device.cells(body, 1, seen) for body in bodies}
    work["crossing rates"] = lambda: batch._find_largest(1)
    work["divide_modes"] = lambda: device.cells(pressure.divide_modes, FIRST, seen)
    work["amend"] = lambda: device.each(lists.amend, seen.lists.at.size, 1, seen)
    for axis, modes in zip("xyz", batch._modes, strict=True):
        work[f"product along {axis}"] = lambda modes=modes: device.rotate(air.source, modes, air.first)
    if grid.most_faces:
        work["all of closed faces"] = lambda: batch._close_faces(0)
    air.clock["left"][:] = 1
    cells = sum(p.domain.cells for p in batch.problems)
    found = {}
    for name, one in work.items():
        found[name] = seconds_of(device, lambda one=one: [one() for _ in range(10)], repeats) / 10 / cells * 1e9
    air.clock["left"][:] = 0
    return found


def report(problem, bays, copy, steps=40):
    """One line a batch."""
    device = accelerator()
    batch = FlowBatch([problem] * bays, device)
    size = 0.3 * batch.largest_step(0)
    batch.take_steps(np.full(bays, 3), np.full(bays, size))
    device.stream.synchronize()
    began = time.perf_counter()
    batch.take_steps(np.full(bays, steps), np.full(bays, size))
    device.stream.synchronize()
    seconds = (time.perf_counter() - began) / steps
    cells, faces = bays * problem.domain.cells, problem.influence.matrix.shape[0]
    thick = THICK if batch._rows[2].shape[1] > FEW_PLANES else 0
    doubles = PLAIN + (OBSTACLES + thick if faces else 0) + (EDDIES if problem.subgrid else 0)
    moved = 8 * (doubles * cells + bays * faces**2)
    shape = " × ".join(map(str, problem.domain.shape))
    print(
        f"{bays:3d} of {shape} cells, {problem.scheme}, {faces} closed faces{', eddies' if problem.subgrid else ''}: "
        f"{seconds / cells * 1e9:.3f} ns per cell and step, {seconds * 1e3:.3f} ms a step, "
        f"{moved / seconds / copy:.0%} of the copy's bandwidth",
        flush=True,
    )
    return batch


def coupled(path, text="9 in,12 in,18 in,none"):
    """A comparison with computed air: wall time with its shares."""
    from sim.case.load import load_case
    from sim.study.many import solve_many

    case = load_case(path).with_(**{"air.model": "resolved"})
    lines, began = [], time.perf_counter()
    cases = [case.with_text("plates.spacing", spacing) for spacing in text.split(",")]
    results = solve_many(cases, device="gpu", timeline=lines, workers=min(len(cases), os.cpu_count() or 1))
    seconds = time.perf_counter() - began
    print(f"{case.name}: {text} on {accelerator().name} in {seconds:.1f} s")
    for line in lines:
        print(line)
        print(f"set-up   {seconds - line.flow - line.waiting:8.1f} s (meshes, view factors, films; kernels meanwhile)")
    for spacing, result in zip(text.split(","), results, strict=True):
        print(f"    {spacing:6s} {result.report['heat_flux_up_W_m2']:.2f} W/m² upwards, {result.air.stop_reason}")


def run(chosen, box_of):
    """What the command line asks for."""
    device = accelerator()
    if chosen.coupled:
        coupled(chosen.coupled)
    copy = bandwidth(device)
    print(f"on {device.name}, copy {copy / 1e9:.0f} GB/s", flush=True)
    for cells in chosen.cells:
        problem = problem_of(box_of, cells, chosen.bounded, chosen.sheet, chosen.eddies)
        for bays in chosen.batch:
            batch = report(problem, bays, copy)
        for name, nanoseconds in parts(device, batch).items():
            print(f"    {name:18s} {nanoseconds:7.4f} ns per cell and use")

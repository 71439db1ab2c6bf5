"""What a bay followed in time costs, a step and a cell, and beside a general solver for stiff equations.

    python tests/benchmarks/bench_in_time.py [CASE] [--refined 1.6] [--hours 12] [--peer-refined 0.6] [--peer-hours 2]

First the whole case: a step of the water, films, radiation and water in every step. Then the same bay with fewer
cells, its cavity closed to heat (so that cells are the only unknowns), against SciPy's BDF with sparse LU
factorisations of the same Jacobian, in one run. Both are held against a run with a hundredth of the tolerance.
Kernels are compiled beforehand by a coarse run; nothing here asserts a time.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags

from sim.case.load import load_case
from sim.machine.threads import single_threaded_blas
from sim.problems.warm_up import warm_up
from sim.run import mesh_fineness, prepare
from sim.solver.flows import evaluate
from sim.solver.march import MarchOptions, Start, march, uniform_state
from sim.solver.newton import tangent
from sim.solver.storage import build_storage
from sim.solver.terms.cavity import Cavity

DEMO = Path(__file__).resolve().parents[2] / "cases/demo/kitchen-vinyl.toml"


def say(*lines: str) -> None:
    """Print some lines."""
    sys.stdout.write("\n".join(lines) + "\n")
    sys.stdout.flush()


def bench_case(case, refined: float, hours: float) -> None:
    """Follow a whole case."""
    case = case.with_(**{"time.duration": 3600.0 * hours})
    model = prepare(case, mesh_fineness(case).scaled(1.0 / refined))
    began = time.process_time()
    history = warm_up(case, model=model).history
    spent = time.process_time() - began
    cells, steps = model.grid.size, len(history.steps)
    passes, iterations = (sum(getattr(step, kind) for step in history.steps) for kind in ("passes", "iterations"))
    say(
        f"{case.name}, {cells:,} cells, {hours:g} h: {history.seconds:.1f} s (load {os.getloadavg()[0]:.1f}), "
        f"{spent:.1f} s of processor time with its steady state",
        f"  {steps} steps, {history.rejected} tried in vain, {passes} passes, {iterations} linear iterations",
        f"  {1e6 * history.seconds / (steps * cells):.2f} µs a step and cell, worst audit {history.residual:.0e}",
    )


def ours(system, storage, state, seconds: float, tolerance: float):
    """Our temperatures at the end, how many steps, and the time it took [s]."""
    options = MarchOptions(tolerance=tolerance, longest_step=seconds / 10.0)
    history = march(system, storage, Start(state), seconds, options=options)
    return history.end.state.temperature, len(history.steps), history.seconds


def peer(system, storage, state, seconds: float, tolerance: float):
    """The same by SciPy's BDF."""
    solid = np.flatnonzero(storage.cells > 0.0)
    capacity = storage.cells[solid]
    full = state.temperature.copy()

    def flows_at(values):
        full[solid] = values
        return evaluate(system, replace(state, temperature=full))

    def rate(_, values):
        return -flows_at(values).cells[solid] / capacity

    def slope(_, values):
        matrix = tangent(system, flows_at(values)).to_sparse()[solid][:, solid]
        return (diags(-1.0 / capacity) @ matrix).tocsc()

    began = time.perf_counter()
    found = solve_ivp(
        rate, (0.0, seconds), full[solid].copy(), "BDF", jac=slope, atol=tolerance, rtol=1e-7, first_step=10.0
    )
    spent = time.perf_counter() - began
    full[solid] = found.y[:, -1]
    return full.copy(), len(found.t) - 1, spent


def bench_peer(case, refined: float, hours: float) -> None:
    """Our steps beside the peer's on one problem."""
    model = prepare(case, mesh_fineness(case).scaled(1.0 / refined))
    system = replace(model.system, terms=tuple(t for t in model.system.terms if not isinstance(t, Cavity)))
    storage, seconds = build_storage(model.cells, system), 3600.0 * hours
    state = uniform_state(system, case.room.temperature)
    tolerance = case.time.tolerance
    with single_threaded_blas():
        exact, *_ = ours(system, storage, state, seconds, tolerance / 100.0)
        runs = {
            "ours": ours(system, storage, state, seconds, tolerance),
            "BDF": peer(system, storage, state, seconds, tolerance),
        }
    cells = model.grid.size
    say(f"{case.name} with a closed cavity, {cells:,} cells, {hours:g} h (load {os.getloadavg()[0]:.1f})")
    for name, (temperature, steps, spent) in runs.items():
        wrong = float(np.sqrt(storage.cells @ (temperature - exact) ** 2 / storage.total))
        cost = 1e6 * spent / (steps * cells)
        say(f"  {name:5s} {spent:7.1f} s, {steps:4d} steps, {cost:6.2f} µs a step and cell, wrong by {wrong:.1e} K")
    say(f"  time ratio {runs['BDF'][2] / runs['ours'][2]:.1f}")


def main() -> None:
    """Run both parts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", nargs="?", default=DEMO)
    parser.add_argument("--refined", type=float, default=1.6)
    parser.add_argument("--hours", type=float, default=12.0)
    parser.add_argument("--peer-refined", type=float, default=0.6)
    parser.add_argument("--peer-hours", type=float, default=2.0)
    asked = parser.parse_args()
    case = load_case(asked.case)
    warm_up(case.with_(**{"mesh.fineness": "coarse", "time.duration": 600.0}))
    bench_peer(case, asked.peer_refined, asked.peer_hours)
    bench_case(case, asked.refined, asked.hours)


if __name__ == "__main__":
    main()

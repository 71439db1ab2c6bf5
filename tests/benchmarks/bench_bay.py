"""Where the time of a whole steady bay goes: mesh, view factors, passes (films, radiation, water).

    python tests/benchmarks/bench_bay.py [CASE] [--refined 1.6]

Kernels are compiled beforehand by a coarse run; each stage is the best of three. Nothing here asserts a time.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from sim.bay.cells import fill_cells
from sim.bay.faces import cavity_faces
from sim.bay.grid import build_grid
from sim.case.load import load_case
from sim.run import build_geometry, mesh_fineness, solve
from sim.solver.assemble import build_system
from sim.solver.steady import solve_steady

DEMO = Path(__file__).resolve().parents[2] / "cases/demo/kitchen-vinyl.toml"


def best(work, repeats: int = 3):
    """The last result and the shortest time [s] of some work."""
    spent = []
    for _ in range(repeats):
        began = time.perf_counter()
        result = work()
        spent.append(time.perf_counter() - began)
    return result, min(spent)


def main() -> None:
    """Time the stages of one case and print them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case", nargs="?", default=DEMO)
    parser.add_argument("--refined", type=float, default=1.6)
    asked = parser.parse_args()
    case = load_case(asked.case)
    solve(case.with_(**{"mesh.fineness": "coarse"}))
    geometry = build_geometry(case)
    fineness = mesh_fineness(case).scaled(1.0 / asked.refined)
    grid, mesh_time = best(lambda: build_grid(geometry, fineness))
    cells, fill_time = best(lambda: fill_cells(geometry, grid))
    system, system_time = best(lambda: build_system(geometry, cells, case.air.model))
    solution, solve_time = best(lambda: solve_steady(system))
    faces, patches = len(cavity_faces(cells)), len(system.cavity.patches.emitting_area) if system.cavity else 0
    total = mesh_time + fill_time + system_time + solve_time
    lines = [
        f"{case.name}: {grid.size:,} cells, {faces:,} cavity faces in {patches:,} patches",
        f"  mesh and cells                  {mesh_time + fill_time:6.2f} s",
        f"  equations and view factors      {system_time:6.2f} s",
        f"  {len(solution.history) - 1:2d} passes                       {solve_time:6.2f} s",
        f"  all                             {total:6.2f} s",
    ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()

"""How long a run with learned films takes beside one with correlations: `python tests/benchmarks/bench_films.py`.

Processor time of solving (grid, films, view factors and passes; nothing drawn) for several bays, each in turn by
either air and the least of a few rounds, on one thread; printed with their ratio and the number of passes. No time is
asserted.
"""

from __future__ import annotations

import os

os.environ |= dict.fromkeys(("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")

import time
from pathlib import Path

import numpy as np

from sim.case.load import load_case
from sim.run import solve

CASES = Path(__file__).resolve().parents[2] / "cases"
BAYS = (
    "arrangements/hung-plates", "arrangements/hung-bare", "arrangements/lowered-plates", "arrangements/lowered-bare",
    "demo/kitchen-vinyl", "demo/family-oak",
)  # fmt: skip
ROUNDS = 5


def seconds(name: str, air: str) -> tuple[float, float]:
    """Processor seconds of one solve, and its passes."""
    case = load_case(CASES / f"{name}.toml").with_text("span", "pitch").with_text("mesh.fineness", "coarse")
    begun = time.process_time()
    found = solve(case.with_text("air.model", air))
    return time.process_time() - begun, found.report["outer_iterations"]


def main() -> None:
    """A line for each bay: both times, their ratio, both numbers of passes."""
    for name in BAYS[:2]:
        for air in ("correlations", "films"):
            seconds(name, air)
    ratios = []
    for name in BAYS:
        rounds = [[seconds(name, air) for air in ("correlations", "films")] for _ in range(ROUNDS)]
        plain, films = (min(own[at][0] for own in rounds) for at in (0, 1))
        ratios.append(films / plain)
        passes = " and ".join(f"{own[1]:.0f}" for own in rounds[0])
        print(f"{name:28s} {plain:5.2f} s {films:5.2f} s  {ratios[-1]:.2f}  passes {passes}", flush=True)
    print(f"films over correlations: median {np.median(ratios):.2f}, largest {max(ratios):.2f}")


if __name__ == "__main__":
    main()

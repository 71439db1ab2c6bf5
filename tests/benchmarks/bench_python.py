"""Twenty plate widths by `joistbay.solve_many` on two processes against the same loop here, in one run.

    python tests/benchmarks/bench_python.py [--fineness normal] [--case cases/demo/family-oak.toml]

Prints both times and their ratio; kernels are compiled before, and the processes' start counts. Never asserts a time.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import joistbay

DEMO = Path(__file__).resolve().parents[2] / "cases/demo/family-oak.toml"


def main() -> None:
    """Measure the loop and the pool on the same cases."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--case", type=Path, default=DEMO)
    parser.add_argument("--fineness", default="normal")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--widths", type=int, default=20)
    asked = parser.parse_args()
    case = joistbay.load_bay(asked.case).with_({"mesh.fineness": asked.fineness})
    cases = [case.with_({"plates.width": f"{60 + 3 * number} mm"}) for number in range(asked.widths)]
    joistbay.solve(cases[0])
    began = time.perf_counter()
    loop = [joistbay.solve(each).report["ripple_K"] for each in cases]
    middle = time.perf_counter()
    pool = [found.report["ripple_K"] for found in joistbay.solve_many(cases, workers=asked.workers)]
    ended = time.perf_counter()
    apart = max(abs(one / other - 1.0) for one, other in zip(pool, loop, strict=True))
    here, spread = middle - began, ended - middle
    print(f"{asked.widths} widths: loop {here:.1f} s, {asked.workers} processes {spread:.1f} s, {here / spread:.2f} x")
    print(f"ripples differ by {apart:.1e} at most")



if __name__ == "__main__":
    main()

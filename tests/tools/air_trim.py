"""What the cells of the computed bays cost, from twins on cells half as large: `python tests/tools/air_trim.py --put`.

After `air_fit.py` and before `air_errors.py --put`. For every kind of bay the mean change of heat upwards and ripple,
and its spread. Where heat upwards changes by far more than its standard error over the twins of a law, the law gets a
factor on films that takes it out.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from typing import Any

import numpy as np
from air_errors import LAWS, ONE_THREAD, group, on_its_cells
from air_set_file import bays, twins

from sim.case.load import parse_case
from sim.physics.learned_films import DATA
from sim.run import prepare, solve_model

UP, RIPPLE = "heat_flow_up_W", "ripple_K"
TRIAL = 0.96
"""Factor with which the answer of the heat is found."""

BEYOND = 3.0
"""Standard errors of the twins' mean that it must exceed."""

FEW = 6
"""Twins by which the heat's answer is found."""


def solved(bay: dict[str, Any], finer: float) -> float:
    """Heat upwards of a bay with films times a factor [W]."""
    case = parse_case(bay["text"], "twin").with_(**{"mesh.fineness": "coarse", "air.model": "films"})
    with on_its_cells(finer):
        return float(solve_model(prepare(case)).report[UP])


def changes() -> dict[str, list[tuple[dict[str, Any], float, float]]]:
    """Of every kind its twins with the change of heat upwards and of ripple [-]."""
    finer, found = twins(), defaultdict(list)
    for bay in bays():
        if bay["number"] in finer:
            own, half = bay["report"], finer[bay["number"]]["report"]
            found[group(bay)].append((bay, half[UP] / own[UP] - 1.0, half[RIPPLE] / own[RIPPLE] - 1.0))
    return found


def finer_of(own: list[Any], pool: Any) -> float:
    """The factor on films that changes the mean heat upwards as cells half as large do; 1 where that is little."""
    up = np.log1p([change for _, change, _ in own])
    if abs(up.mean()) < BEYOND * up.std(ddof=1) / np.sqrt(len(own)):
        return 1.0
    some = [bay for bay, _, _ in own[:FEW]]
    usual, less = (np.array(list(pool.map(partial(solved, finer=f), some))) for f in (1.0, TRIAL))
    return float(np.exp(up.mean() / (np.log(less / usual).mean() / np.log(TRIAL))))


def show(found: dict[str, list[Any]]) -> None:
    """What cells half as large change, kind by kind."""
    for kind, own in sorted(found.items()):
        up, ripple = (100.0 * np.array([each[n] for each in own]) for n in (1, 2))
        print(
            f"{kind} ({len(own)}): heat up {up.mean():+.2f} %, spread {up.std(ddof=1):.2f}; "
            f"ripple {ripple.mean():+.1f} %, spread {ripple.std(ddof=1):.1f}",
            flush=True,
        )


def trim(situations: list[int], workers: int, found: dict[str, list[Any]] | None = None) -> None:
    """Put the factors of some laws into the data file."""
    found = changes() if found is None else found
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        for number in situations:
            finer = finer_of([twin for kind in LAWS[number] for twin in found[kind]], pool)
            data = json.loads(DATA.read_text("utf-8"))
            data["laws"][number]["finer"] = round(finer, 4)
            DATA.write_text(json.dumps(data) + "\n", encoding="utf-8")
            print(f"{' and '.join(LAWS[number])}: films times {finer:.4f}", flush=True)


def main() -> None:
    """Table of changes, and with `--put` the factors into the data file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--put", action="store_true")
    parser.add_argument("--situations", default="0,1,2,3", help="laws to trim")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    found = changes()
    show(found)
    if options.put:
        trim([int(number) for number in options.situations.split(",")], options.workers, found)


if __name__ == "__main__":
    main()

"""Compute the set of bays that teach the films: `python tests/tools/air_set.py --keep DIR --count 320 --workers 2`.

Every bay is one process on one thread and leaves one file in DIR; bays whose file is there are not computed again, so a
stopped run goes on where it stood. With --seconds no bay is begun that late, and bays under way end with the means that
they then have, if those are good enough.
"""

from __future__ import annotations

import argparse
import os
import sys
import tarfile
import traceback
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from time import monotonic, time
from typing import Any

for _name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import numpy as np
from air_set_design import SEED, Bay, design

from sim.airflow.statistics import batch_error
from sim.case.load import parse_case
from sim.resolved.march import lay_out, resolve_air, take_round
from sim.resolved.means import BATCHES, Round, window_start
from sim.results.floor import surface_map
from sim.results.report import summarise
from sim.run import air_settings, prepare
from sim.solve.balance import audit

ERROR, IMBALANCE = 0.005, 0.010
"""Standard error of the mean heat flows and imbalance at which a bay is done."""

ENOUGH = 3.0
"""How many times that is still good enough for a bay that ran out of time."""

LEAST_ROUNDS = 3 * BATCHES
"""Rounds that a window must hold before its errors count."""

SIZES = {"coarse": (0.014, 0.0050), "normal": (0.010, 0.0035), "fine": (0.007, 0.0025)}
"""Largest cell of the air and cell at its walls [m]."""

CELLS_IN_GAP = 4.0
LEAST_WALL_CELL = 0.6
"""Cells at walls are small enough for so many in the gap over what hangs, but no smaller than this share of the usual."""


def bay_case(bay: Bay, fineness: str, solids: str = "coarse") -> Any:
    """The case of a bay with resolved air."""
    case = parse_case(bay.text, f"bay-{bay.number:04d}")
    cell, wall = SIZES[fineness]
    gap = max(case.plates.drop if case.plates else 0.0, 0.0) or case.tube.depth or 1.0
    wall = max(min(wall, gap / CELLS_IN_GAP), LEAST_WALL_CELL * wall)
    changes = {"air.model": "resolved", "mesh.fineness": solids, "air.cell": cell, "air.wall_cell": wall}
    return case.with_(**changes, **{"air.error": ERROR})


def compute(bay: Bay, fineness: str, deadline: float, folder: Path, solids: str) -> tuple[int, str]:
    """March one bay and leave its file; what became of it in a word."""
    began = monotonic()
    if time() > deadline - 20.0:
        return bay.number, "not begun"
    case = bay_case(bay, fineness, solids)
    model = prepare(case)
    if 1 in model.grid.shape:
        fineness = "fine"
        case = bay_case(bay, fineness, solids)
        model = prepare(case)
    settings = replace(air_settings(case), imbalance=IMBALANCE, longest=3600.0)
    bench = lay_out(model.system, model.cells, settings)
    warmth = bench.stepper.state[3]
    warmth += np.where(bench.stepper.domain.air, np.random.default_rng(SEED).uniform(-0.5, 0.5, warmth.shape), 0.0)
    while True:
        take_round(bench)
        off = unsteadiness(bench.rounds)
        if off <= 1.0:
            break
        if time() > deadline:
            if off > ENOUGH:
                return bay.number, f"late: {len(bench.rounds)} rounds, {monotonic() - began:.0f} s"
            break
    solution, air = resolve_air(
        model.system, model.cells, replace(settings, longest=bench.rounds[-1].time), bench=bench
    )
    audit(solution.balance)
    report = summarise(case, model.geometry, model.cells, solution, air)
    seconds = monotonic() - began
    np.savez_compressed(
        folder / f"bay-{bay.number:04d}.npz", **arrays(bay, case, fineness, model, solution, air, report, seconds)
    )
    return bay.number, f"{seconds:.0f} s, {air.domain.air.sum()} cells, {len(bench.rounds)} rounds, {off:.2f} of the limit"


def unsteadiness(rounds: list[Round]) -> float:
    """The largest standard error or the imbalance of the present window, over what is allowed; infinite at first."""
    window = rounds[window_start(len(rounds)) :]
    if len(window) < LEAST_ROUNDS:
        return np.inf
    flows = {path: [r.flows[path] for r in window] for path in window[0].flows}
    shares = [(path, *batch_error(values, BATCHES)) for path, values in flows.items()]
    error = max(e / abs(mean) for path, mean, e in shares if abs(mean) > 1e-6 and path in ("up", "water"))
    taken = float(np.average([r.heat.sum() for r in window], weights=[r.duration for r in window]))
    return max(error / ERROR, abs(taken) / abs(np.mean(flows["water"])) / IMBALANCE)


def arrays(bay: Bay, case: Any, fineness: str, model: Any, solution: Any, air: Any, report: Any, seconds: float) -> dict:
    """What is kept of a bay."""
    cavity, cells = model.system.cavity, model.cells
    heat = solution.flows.walls
    floor = surface_map(cells, solution, "up")
    small = np.float32
    volume = np.where(air.domain.air, air.domain.volumes, 0.0)
    weight = np.maximum(volume.sum(axis=(0, 1)), 1e-30)
    profile = (volume * np.where(air.domain.air, air.mean.temperature, 0.0)).sum(axis=(0, 1)) / weight
    return {
        "number": bay.number, "arrangement": bay.arrangement, "text": bay.text, "held": bay.held, "mesh": fineness,
        "sizes": np.array([case.air.cell, case.air.wall_cell]), "seconds": seconds,
        "report_keys": list(report.values), "report": np.array([float(v) for v in report.values.values()]),
        "flows": np.array([list(r.flows.values()) for r in air.rounds]), "paths": list(air.rounds[0].flows),
        "imbalance": air.evidence.imbalance, "rounds": air.evidence.rounds,
        "centre": cavity.centre.astype(small), "area": cavity.walls.area.astype(small), "body": cavity.body,
        "side": cavity.side, "zone": cavity.walls.zone.astype(np.int16), "heat": heat.convective.astype(small),
        "radiant": heat.radiant.astype(small),
        "wall": heat.temperature.astype(small), "air": solution.state.air.astype(small), "zones": list(cells.zone_names),
        "bodies": [body.name for body in cells.bodies], "floor": floor.temperature.astype(small),
        "x": cells.grid.x.astype(small), "y": cells.grid.y.astype(small),
        "levels": air.domain.edges[2].astype(small), "profile": profile.astype(small),
        "cells": int(air.domain.air.sum()), "simulated": air.rounds[-1].time,
    }  # fmt: skip


def _guarded(*arguments: Any) -> tuple[int, str]:
    try:
        return compute(*arguments)
    except Exception:
        return arguments[0].number, "failed: " + traceback.format_exc(limit=3).replace("\n", " | ")


def size_of(bay: Bay) -> float:
    """Roughly how long a bay takes: the volume of its air times its height."""
    case = parse_case(bay.text, "bay")
    batt = case.cavity.insulation.thickness if case.cavity.insulation else 0.0
    height = case.bay.joist_depth - batt
    pitch = case.plates.spacing if case.plates else 0.3
    pitch = case.tube.across_spacing if case.tube.direction == "across" else pitch
    return float(case.bay.clear_width * pitch * height**1.7)


def bundle(folder: Path, into: Path) -> None:
    """All files of the set in one, complete or as it was before."""
    fresh = into.with_suffix(".new")
    with tarfile.open(fresh, "w") as tar:
        for path in sorted(folder.glob("bay-*.npz")):
            tar.add(path, path.name)
    fresh.replace(into)


def main() -> None:
    """Compute what is missing, the longest first within each stretch of the design."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--count", type=int, default=320)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--numbers", type=str, default="", help="only these bays, by number")
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--fineness", default="coarse")
    parser.add_argument("--solids", default="coarse")
    parser.add_argument("--seconds", type=float, default=1e9)
    parser.add_argument("--longest-first", action="store_true")
    parser.add_argument("--bundle", type=Path, help="also keep all files in this one archive")
    options = parser.parse_args()
    deadline = time() + options.seconds
    options.keep.mkdir(parents=True, exist_ok=True)
    bays = design(options.count)[options.first :]
    if options.numbers:
        chosen = {int(n) for n in options.numbers.split(",")}
        bays = [bay for bay in bays if bay.number in chosen]
    missing = [b for b in bays if not (options.keep / f"bay-{b.number:04d}.npz").is_file()]
    missing.sort(key=size_of, reverse=options.longest_first)
    print(f"{len(missing)} bays to compute", flush=True)
    # Kernels are compiled once, here, and read by the workers.
    smallest = missing.pop(0)
    print(*_guarded(smallest, options.fineness, deadline, options.keep, options.solids), flush=True)
    print(f"kernels compiled, {deadline - time():.0f} s left", flush=True)
    last = time()
    with ProcessPoolExecutor(options.workers, get_context("spawn")) as pool:
        work = [
            pool.submit(_guarded, bay, options.fineness, deadline, options.keep, options.solids) for bay in missing
        ]
        for done in as_completed(work):
            print(*done.result(), f"[{deadline - time():.0f}]", flush=True)
            if options.bundle and time() > last + 30.0:
                bundle(options.keep, options.bundle)
                last = time()
    if options.bundle:
        bundle(options.keep, options.bundle)


if __name__ == "__main__":
    sys.exit(main())

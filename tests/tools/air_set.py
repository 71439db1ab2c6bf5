"""Compute the set of bays that teach the films: `python tests/tools/air_set.py --keep DIR --count 288 --workers 2`.

Every bay leaves one file in DIR; bays whose file is there are not computed again, so a stopped run goes on where it
stood. `air_set_file.py DIR` then packs them. With `--device gpu` the flows go together on an accelerator, where this
package has that (`sim.solve_many`); otherwise every bay is one process on one thread.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from air_set_design import Bay, design

import sim
from sim.case.load import parse_case
from sim.results.floor import surface_map

SIZES = {"coarse": (0.014, 0.0050), "normal": (0.010, 0.0035), "fine": (0.007, 0.0025)}
"""Largest cell of the air and cell at its walls [m]."""

CELLS_IN_GAP = 4.0
"""Cells at walls are small enough for so many in the gap over what hangs."""

LEAST_WALL_CELL = 0.6
"""But no smaller than this share of the usual."""

AIR = {"air.model": "resolved", "air.error": 0.005, "air.longest": 260.0, "air.companion": False}
ONE_THREAD = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def bay_case(bay: Bay, fineness: str) -> Any:
    """The case of a bay with resolved air."""
    case = parse_case(bay.text, f"bay-{bay.number:04d}")
    cell, wall = SIZES[fineness]
    gap = (case.plates.drop if case.plates else 0.0) or case.tube.depth or 1.0
    wall = max(min(wall, gap / CELLS_IN_GAP), LEAST_WALL_CELL * wall)
    return case.with_(**AIR, **{"mesh.fineness": "coarse", "air.cell": cell, "air.wall_cell": wall})


def keep(result: Any) -> dict[str, Any]:
    """What is kept of a computed bay."""
    solution, cells, air = result.solution, result.cells, result.air
    cavity, heat = solution.system.cavity, solution.flows.walls
    inside, small = air.domain.air, np.float32
    volume = np.where(inside, air.domain.volumes, 0.0)
    level = (volume * np.where(inside, air.mean.temperature, 0.0)).sum(axis=(0, 1))
    values = {key: float(value) for key, value in result.report.values.items()}
    return {
        "sizes": np.array([result.case.air.cell, result.case.air.wall_cell]), "cells": int(inside.sum()),
        "report_keys": list(values), "report": np.array(list(values.values())), "why": air.stop_reason,
        "imbalance": air.evidence.imbalance, "rounds": air.evidence.rounds, "steps": air.now.steps,
        "largest_error": air.evidence.largest_error, "simulated": air.rounds[-1].time,
        "centre": cavity.centre.astype(small), "area": cavity.walls.area.astype(small), "side": cavity.side,
        "heat": heat.convective.astype(small), "wall": heat.temperature.astype(small),
        "air": solution.state.air.astype(small), "zones": list(cells.zone_names),
        "floor": surface_map(cells, solution, "up").temperature.astype(small),
        "x": cells.grid.x.astype(small), "y": cells.grid.y.astype(small),
        "levels": air.domain.edges[2].astype(small),
        "profile": (level / np.maximum(volume.sum(axis=(0, 1)), 1e-30)).astype(small),
    }  # fmt: skip


def alone(bay: Bay, fineness: str) -> dict[str, Any] | Exception:
    """One bay in this process, or what it ended in."""
    try:
        return keep(sim.solve(bay_case(bay, fineness)))
    except Exception as error:  # the others go on
        return error


def computed(bays: Sequence[Bay], options: argparse.Namespace) -> Iterator[tuple[Bay, Any]]:
    """Every bay with what is kept of it, as they come."""
    if options.device != "cpu":
        cases = [bay_case(bay, options.fineness) for bay in bays]
        sim.solve_many(
            cases, device=options.device, workers=options.workers, harvest=keep,
            listener=lambda number, kept: write(bays[number], kept, options),
        )  # fmt: skip
        return
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    with ProcessPoolExecutor(options.workers, get_context("spawn")) as pool:
        work = {pool.submit(alone, bay, options.fineness): bay for bay in bays}
        for done in as_completed(work):
            yield work[done], done.result()


def write(bay: Bay, kept: Any, options: argparse.Namespace) -> None:
    """Leave a bay's file, and tell."""
    if isinstance(kept, Exception):
        print(bay.number, "failed:", kept, flush=True)
        return
    named = {"number": bay.number, "arrangement": bay.arrangement, "text": bay.text, "held": bay.held}
    np.savez_compressed(options.keep / f"bay-{bay.number:04d}.npz", **named, mesh=options.fineness, **kept)
    print(bay.number, kept["rounds"], "rounds", kept["cells"], "cells", kept["why"], flush=True)


def main() -> None:
    """Compute what is missing."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--count", type=int, default=288)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--fineness", default="normal", choices=sorted(SIZES))
    parser.add_argument("--device", default="cpu", choices=("cpu", "gpu", "auto"))
    options = parser.parse_args()
    options.keep.mkdir(parents=True, exist_ok=True)
    missing = [b for b in design(options.count) if not (options.keep / f"bay-{b.number:04d}.npz").is_file()]
    print(f"{len(missing)} bays to compute", flush=True)
    for bay, kept in computed(missing, options):
        write(bay, kept, options)


if __name__ == "__main__":
    main()

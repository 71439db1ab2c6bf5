"""Compute the set of bays that teach the films, part after part of the design:

    python tests/tools/air_set.py --keep DIR --count 288 --workers 2
    python tests/tools/air_set.py --keep DIR --part 1 --count 64
    python tests/tools/air_set.py --keep DIR --part 2 --count 48
    python tests/tools/air_set.py --keep DIR --part 3 --count 160
    python tests/tools/air_set.py --keep DIR --part 4 --count 64
    python tests/tools/air_set.py --keep DIR --half --numbers 3,16,40

Every bay leaves one file in DIR; bays whose file is there are not computed again, so a stopped run goes on where it
stood. `air_set_file.py DIR` then packs them. With `--half` cells are half as large: what the mesh of the others costs.
With `--device gpu` the flows go together on an accelerator, `--together` at a time; otherwise every bay is one process
on one thread. `--share 0/2` and `1/2` are the halves that two machines, or two accelerators of one, can take.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from air_set_design import PARTS, Bay, design

import sim
from sim.case.load import parse_case
from sim.results.floor import surface_map

CELL, WALL_CELL = 0.010, 0.0035
"""Largest cell of the air and cell at its walls [m]; half of it for twins. In the set they grow by a quarter of the
distance from a wall; what is computed now grows faster where plates hang flat (`sim/resolved/suited.py`)."""

CELLS_IN_GAP = 4.0
"""Cells at walls are small enough for so many in the gap over what hangs."""

LEAST_WALL_CELL = 0.6
"""But no smaller than this share of the usual."""

AIR = {"air.model": "resolved", "air.error": 0.005, "air.companion": False}
LONGEST = 260.0
"""Time that a flow is followed at most [s]; high cavities need more."""

ONE_THREAD = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def bay_case(bay: Bay, half: bool = False, longest: float = LONGEST) -> Any:
    """The case of a bay with resolved air."""
    case = parse_case(bay.text, f"bay-{bay.number:04d}")
    gap = (case.plates.drop if case.plates else 0.0) or case.tube.depth or 1.0
    wall, share = max(min(WALL_CELL, gap / CELLS_IN_GAP), LEAST_WALL_CELL * WALL_CELL), 0.5 if half else 1.0
    cells = {"mesh.fineness": "coarse", "air.cell": share * CELL, "air.wall_cell": share * wall}
    return case.with_(**AIR, **cells, **{"air.longest": longest})


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


def alone(bay: Bay, half: bool, longest: float) -> dict[str, Any] | Exception:
    """One bay in this process, or what it ended in."""
    try:
        return keep(sim.solve(bay_case(bay, half, longest)))
    except Exception as error:  # the others go on
        return error


def compute(bays: Sequence[Bay], options: argparse.Namespace) -> None:
    """Compute bays and leave their files as they come."""
    if options.device != "cpu":
        size = options.together or len(bays)
        for piece in (bays[at : at + size] for at in range(0, len(bays), size)):
            sim.solve_many(
                [bay_case(bay, options.half, options.longest) for bay in piece],
                device=options.device, workers=options.workers, harvest=keep,
                listener=lambda number, kept, piece=piece: write(piece[number], kept, options),
            )  # fmt: skip
        return
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    with ProcessPoolExecutor(options.workers, get_context("spawn")) as pool:
        work = {pool.submit(alone, bay, options.half, options.longest): bay for bay in bays}
        for done in as_completed(work):
            write(work[done], done.result(), options)


def path_of(bay: Bay, options: argparse.Namespace) -> Path:
    """Where a bay's file goes."""
    return Path(options.keep / f"{'half' if options.half else 'bay'}-{bay.number:04d}.npz")


def write(bay: Bay, kept: Any, options: argparse.Namespace) -> None:
    """Leave a bay's file, and tell."""
    if isinstance(kept, Exception):
        print(bay.number, "failed:", kept, flush=True)
        return
    named = {"number": bay.number, "arrangement": bay.arrangement, "text": bay.text, "held": bay.held}
    path = path_of(bay, options)
    partly = path.with_suffix(".part")
    with partly.open("wb") as file:
        np.savez_compressed(file, **named, **kept)
    partly.rename(path)  # a stopped run leaves no half of a file
    print(bay.number, kept["rounds"], "rounds", kept["cells"], "cells", kept["why"], flush=True)


def asked_for(options: argparse.Namespace) -> list[Bay]:
    """The bays that the command line asks for and that are not there yet."""
    bays = {bay.number: bay for bay in design(options.count, options.part)}
    numbers = [int(number) for number in options.numbers.split(",")] if options.numbers else list(bays)
    first, of = map(int, options.share.split("/"))
    return [bays[n] for n in numbers[first::of] if n in bays and not path_of(bays[n], options).is_file()]


def main() -> None:
    """Compute what is missing."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--keep", type=Path, required=True)
    parser.add_argument("--part", type=int, default=0, choices=range(len(PARTS)))
    parser.add_argument("--count", type=int, default=288)
    parser.add_argument("--numbers", default="", help="these of them only, in this order")
    parser.add_argument("--share", default="0/1", help="every so many of them")
    parser.add_argument("--half", action="store_true", help="on cells half as large")
    parser.add_argument("--longest", type=float, default=LONGEST, help="time that a flow is followed at most [s]")
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    parser.add_argument("--device", default="cpu", choices=("cpu", "gpu", "auto"))
    parser.add_argument("--together", type=int, default=0, help="bays in one call on an accelerator")
    options = parser.parse_args()
    options.keep.mkdir(parents=True, exist_ok=True)
    missing = asked_for(options)
    print(f"{len(missing)} bays to compute", flush=True)
    compute(missing, options)


if __name__ == "__main__":
    main()

"""How far films are from the computed bays of the set: `python tests/tools/air_errors.py --out errors.json`.

Every bay is solved with learned films and with correlations and held beside what its computed air gave. With `--put`
the errors of bays that were never fitted go into `sim/physics/learned_films.json` as the bands that reports state.
"""

from __future__ import annotations

import argparse
import json
import os
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from air_set_file import bays
from scipy.interpolate import RegularGridInterpolator

from sim.case.load import parse_case
from sim.physics.learned_films import DATA
from sim.run import NotConvergedError, prepare, solve_model

ONE_THREAD = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
MODELS = ("films", "correlations")


def errors_of(kept: dict[str, Any], models: tuple[str, ...] = MODELS) -> dict[str, Any]:
    """Errors of one bay by model."""
    truth = dict(zip(map(str, kept["report_keys"]), map(float, kept["report"]), strict=True))
    found: dict[str, Any] = {name: str(kept[name]) for name in ("arrangement", "held", "text")} | {"truth": truth}
    found["number"] = int(kept["number"])
    for model in models:
        case = parse_case(str(kept["text"]), f"bay-{found['number']}")
        case = case.with_(**{"mesh.fineness": "coarse", "air.model": model})
        found[model] = compared(case, truth, kept)
    return found


def compared(case: Any, truth: dict[str, float], kept: dict[str, Any]) -> dict[str, float]:
    """Errors of one solution: shares for heat, kelvin for temperatures."""
    try:
        result = solve_model(prepare(case))
    except NotConvergedError:
        return {"passes": 999.0}
    own = result.report.values
    shares = {"up": "heat_flow_up_W", "down": "heat_flow_down_W", "ripple": "ripple_K"}
    found = {name: own[key] / truth[key] - 1.0 for name, key in shares.items()}
    kelvins = {"peak": "surface_peak_C", "plate": "plate_mean_C"}
    found |= {name: own[key] - truth[key] for name, key in kelvins.items() if key in own and key in truth}
    floor = np.asarray(result.floor)
    shape = tuple(result.grid.shape[:2])
    difference = (floor if floor.shape == shape else floor.T) - floor_at(kept, result.grid)
    area = np.outer(result.grid.widths(0), result.grid.widths(1))
    mean = np.average(difference, weights=area)
    found["map"] = float(np.sqrt(np.average((difference - mean) ** 2, weights=area)))
    return found | {"passes": own["outer_iterations"], "ripple_K": own["ripple_K"], "up_W_m2": own["heat_flux_up_W_m2"]}


def floor_at(kept: dict[str, Any], grid: Any) -> Any:
    """The computed bay's floor [°C] at the middles of another grid's cells."""
    middles = [0.5 * (kept[axis][1:].astype(float) + kept[axis][:-1]) for axis in ("x", "y")]
    if min(map(len, middles)) < 2:
        return np.broadcast_to(kept["floor"] - 273.15, grid.shape[:2])
    at = np.meshgrid(grid.centres(0), grid.centres(1), indexing="ij")
    return RegularGridInterpolator(middles, kept["floor"] - 273.15, bounds_error=False, fill_value=None)(tuple(at))


def situation(row: dict[str, Any]) -> int:
    """Which law a bay has, by its arrangement: those across the joists without plates are bare tubes; 2: none."""
    if row["arrangement"] in ("fastened", "sheathing"):
        return 2
    return 0 if "plates" in row["text"] and row["arrangement"] != "upright" else 1


def put_bands(rows: list[dict[str, Any]]) -> None:
    """Bands of each situation into the data file: 95th percentiles over its bays that were never fitted."""
    data = json.loads(DATA.read_text("utf-8"))
    for number, law in enumerate(data["laws"]):
        own = [row["films"] for row in rows if row["held"] and situation(row) == number]
        for key, band in (("up", "up_percent"), ("ripple", "ripple_percent")):
            law["bands"][band] = round(100.0 * float(np.percentile(np.abs([r[key] for r in own]), 95)), 1)
        law["bands"]["bays"] = len(own)
    DATA.write_text(json.dumps(data) + "\n", encoding="utf-8")


def table(rows: list[dict[str, Any]], model: str) -> list[str]:
    """Median and 95th percentile of every error, over taught bays, held bays, and arrangements of held ones."""
    lines = []
    groups = {"taught": [r for r in rows if not r["held"]], "held": [r for r in rows if r["held"]]}
    for name in sorted({r["held"] for r in rows if r["held"]}):
        groups[f"held: {name}"] = [r for r in rows if r["held"] == name]
    for name in sorted({r["arrangement"] for r in rows}):
        groups[f"held {name}"] = [r for r in rows if r["held"] and r["arrangement"] == name]
    for name, own in groups.items():
        cells = []
        for key in ("up", "down", "ripple", "peak", "map", "plate", "passes"):
            values = np.abs([r[model][key] for r in own if key in r[model]])
            if len(values):
                cells.append(f"{key} {np.median(values):.3f} {np.percentile(values, 95):.3f}")
        lines.append(f"{model} {name} ({len(own)}): " + " | ".join(cells))
    return lines


def main() -> None:
    """Errors of every bay, kept as JSON, and their table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--put", action="store_true", help="put the bands into the data file")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--only", default="films,correlations")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    models = tuple(options.only.split(","))
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    with ProcessPoolExecutor(options.workers, get_context("spawn")) as pool:
        rows = list(pool.map(partial(errors_of, models=models), bays()))
    options.out.write_text(json.dumps(rows))
    for model in models:
        print("\n".join(table(rows, model)), flush=True)
    if options.put:
        put_bands(rows)


if __name__ == "__main__":
    main()

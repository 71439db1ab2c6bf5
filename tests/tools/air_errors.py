"""How far films are from the computed bays of the set: `python tests/tools/air_errors.py --out errors.json`.

Every bay that was never fitted (with `--all` the others too) is solved with learned films and correlations and held
beside what its computed air gave, on the cells that it was computed on; a stopped run goes on from its file. It tells
how many numbers lie inside the bands that reports state (`air_bands.py`), well inside what was computed and near its
edge. With `--put` the errors of correlations go into `sim/physics/learned_films.json`; the factor on films that makes
heat what it is on cells half as large is left out meanwhile. Bays whose means are not known to 1 % take no part, nor do
those that lie outside what the films are said to serve.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from air_set_design import PARTS
from air_set_file import bays
from scipy.interpolate import RegularGridInterpolator

from sim import build_up
from sim.bay import bay_air
from sim.case import taught
from sim.case.load import parse_case
from sim.physics.learned_bands import NUMBERS
from sim.physics.learned_films import DATA, learned_law
from sim.results.air_words import PLACES
from sim.run import NotConvergedError, prepare, solve_model
from sim.solver import learned_air

ONE_THREAD = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
MODELS = ("films", "correlations")
KNOWN, SPARED, FEW = 0.01, "spared", 10

LAWS = (("flat",), ("bare",), ("fastened", "sheathing"), ("upright",))
"""Kinds of bays of each law."""


def errors_of(kept: dict[str, Any], models: tuple[str, ...] = MODELS) -> dict[str, Any]:
    """Errors of one bay by model."""
    found = {name: kept[name] for name in ("number", "arrangement", "held", "text")} | {"truth": kept["report"]}
    for model in models:
        case = parse_case(kept["text"], f"bay-{kept['number']}")
        case = case.with_(**{"mesh.fineness": "coarse", "air.model": model})
        with on_its_cells():
            found[model] = compared(case, kept["report"], kept)
    return found


@contextmanager
def on_its_cells(finer: float = 1.0) -> Iterator[None]:
    """Films as on the cells of the set, or with another factor, whether a bay lies within their range or not."""
    with (
        patch.object(learned_air, "learned_law", lambda n: replace(learned_law(n), finer=finer)),
        patch.object(taught, "uses_learned_films", lambda case: case.air.model == "films"),
        patch.object(build_up, "uses_learned_films", lambda case: case.air.model == "films"),
        patch.object(bay_air, "uses_learned_films", lambda case: case.air.model == "films"),
    ):
        yield


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
    learned = result.solution.system.cavity.walls.learned
    if learned is not None:
        found |= {"nearer": learned.nearer} | {f"band_{n}": b for n, b in zip(NUMBERS, learned.bands, strict=True)}
    return found | {"passes": own["outer_iterations"], "ripple_K": own["ripple_K"], "up_W_m2": own["heat_flux_up_W_m2"]}


def floor_at(kept: dict[str, Any], grid: Any) -> Any:
    """The computed bay's floor [°C] at the middles of another grid's cells."""
    middles = [0.5 * (kept[axis][1:].astype(float) + kept[axis][:-1]) for axis in ("x", "y")]
    if min(map(len, middles)) < 2:
        return np.broadcast_to(kept["floor"] - 273.15, grid.shape[:2])
    at = np.meshgrid(grid.centres(0), grid.centres(1), indexing="ij")
    return RegularGridInterpolator(middles, kept["floor"] - 273.15, bounds_error=False, fill_value=None)(tuple(at))


def group(row: dict[str, Any]) -> str:
    """Which band a bay has, by its arrangement."""
    if row["arrangement"] == "across":
        return "flat" if "plates" in row["text"] else "bare"
    return str(row["arrangement"])


def served(bay: dict[str, Any]) -> bool:
    """Whether a bay lies within the learned films' range."""
    return not taught.beyond_taught(parse_case(bay["text"]))


def drawn_last(row: dict[str, Any]) -> bool:
    """Whether a bay is of the design's last part."""
    return int(row["number"]) >= PARTS[-1].first


def put_bands(rows: list[dict[str, Any]]) -> None:
    """Errors of correlations into the data file, of each group."""
    data = json.loads(DATA.read_text("utf-8"))
    held = [row for row in rows if never_fitted(row) and "correlations" in row]
    groups = {kind: [row["correlations"] for row in held if group(row) == kind] for kind in map(group, held)}
    data["correlations"] |= {kind: bands_of(own) for kind, own in sorted(groups.items())}
    DATA.write_text(json.dumps(data) + "\n", encoding="utf-8")


def bands_of(own: list[dict[str, float]]) -> dict[str, Any]:
    """Half widths [%] that hold 19 of 20 bays of a group: 95th percentiles, of a few bays twice the largest error.

    They are shares of what the law gave, as reports apply them, and not of the truth: a law that gives half the ripple
    is off by 50 % of it, and by 100 % of its own.
    """
    settled = [one for one in own if "up" in one]
    found: dict[str, Any] = {"bays": len(settled)}
    for key in ("up", "down", "ripple"):
        off = np.array([off_percent(one[key]) for one in settled])
        found[f"{key}_percent"] = round(float(2.0 * off.max() if len(off) < FEW else np.percentile(off, 95)), 1)
        found[f"{key}_computed"] = _ends([1.0 / (1.0 + one[key]) for one in settled])
    return found


def _ends(times: list[float]) -> list[float]:
    """What computed air gives in 19 of 20 bays of a group, in multiples of what the law gave: from, to.

    Of a few bays the outermost, and as much again of what lies between them on either side.
    """
    if len(times) >= FEW:
        return [round(float(end), 3) for end in np.percentile(times, [2.5, 97.5])]
    beyond = 0.5 * (max(times) - min(times))
    return [round(max(min(times) - beyond, 0.0), 3), round(max(times) + beyond, 3)]


def inside(rows: list[dict[str, Any]]) -> list[str]:
    """How many of heat up, heat down and ripple lie inside their bands, by where the bays lie."""
    settled = [row["films"] for row in rows if never_fitted(row) and "up" in row.get("films", {})]
    lines, least = [], 0.0
    for most, where in PLACES:
        own = [one for one in settled if least < one["nearer"] <= most or one["nearer"] == least == 0.0]
        least = most
        hits = {n: sum(off_percent(one[n]) <= one[f"band_{n}"] for one in own) for n in NUMBERS}
        widths = {n: np.median([one[f"band_{n}"] for one in own]) for n in NUMBERS if own}
        cells = (f"{n} {hits[n]} in ± {widths[n]:.1f} % (median)" for n in widths)
        lines.append(f"{where} what was computed ({len(own)}): {', '.join(cells)}")
    return lines


def off_percent(error: float) -> float:
    """A law's error as a share of what it gave [%], from its share of the truth."""
    return float(100.0 * abs(1.0 / (1.0 + error) - 1.0))


def never_fitted(row: dict[str, Any]) -> bool:
    """Whether a bay is held out for good: those spared teach in the end."""
    return row["held"] not in ("", SPARED)


def table(rows: list[dict[str, Any]], model: str) -> list[str]:
    """Median and 95th percentile of every error, over taught bays, held bays, and arrangements of held ones."""
    lines = []
    held, fresh = list(filter(never_fitted, rows)), list(filter(drawn_last, rows))
    groups = {"taught": [r for r in rows if not never_fitted(r)], "held": held, "drawn last": fresh}
    for name in sorted({r["held"] for r in held}):
        groups[f"held: {name}"] = [r for r in held if r["held"] == name]
    for name in sorted({group(r) for r in rows}):
        groups[f"held {name}"] = [r for r in held if group(r) == name]
        groups[f"drawn last {name}"] = [r for r in fresh if group(r) == name]
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
    parser.add_argument("--all", action="store_true", help="those that teach too")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--only", default="films,correlations")
    parser.add_argument("--last", action="store_true", help="correlations for bays that were drawn last only")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    models = tuple(options.only.split(","))
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    rows = json.loads(options.out.read_text("utf-8")) if options.out.is_file() else []
    there = {row["number"] for row in rows}
    known = (bay for bay in bays() if bay["largest_error"] <= KNOWN and bay["number"] not in there and served(bay))
    wanted = [bay for bay in known if options.all or never_fitted(bay)]
    with ProcessPoolExecutor(options.workers, get_context("spawn")) as pool:
        work = [
            pool.submit(errors_of, bay, models if drawn_last(bay) or not options.last else MODELS[:1])
            for bay in sorted(wanted, key=lambda bay: (not drawn_last(bay), group(bay) == "flat"))
        ]
        for done in as_completed(work):
            rows.append(done.result())
            options.out.write_text(json.dumps(rows), "utf-8")
    for model in models:
        print("\n".join(table([row for row in rows if model in row], model)), flush=True)
    print("\n".join(inside(rows)), flush=True)
    if options.put:
        put_bands(rows)


if __name__ == "__main__":
    main()

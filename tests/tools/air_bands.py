"""How far learned films are off by where a bay lies: `python tests/tools/air_bands.py --out apart.json --put`.

Bays that teach are left out in turn, a fifth at a time: the law is fitted to the others, with the choice of
coefficients that it has, and every bay left out is solved with it and held beside its computed air. A stopped run goes
on from its file. From these errors come the bands of `sim.physics.learned_bands`: the growth with which they are
likeliest (exponentially distributed, the mean by the bay's place), the base so that 19 of 20 lie inside. Bays that
never teach take no part; `air_errors.py` holds the bands against them.
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
from unittest.mock import patch

import air_fit
import numpy as np
from air_errors import KNOWN, ONE_THREAD, compared, group, off_percent, on_its_cells
from air_set_file import bays
from scipy.optimize import minimize_scalar

from sim.case.load import parse_case
from sim.physics.learned_bands import NUMBERS
from sim.physics.learned_films import DATA, law_from, learned_data
from sim.solver import learned_air

FOLDS, FEW, FOLDS_OF_FEW = 5, 60, 10
"""Parts that are left out in turn; more of them where few bays teach, as a law of still fewer is another one."""

PLACED = {
    "flat": ("drop", "height", "across", "open across", "open along", "length"),
    "bare": ("drop", "height", "across"),
    "upright": ("drop", "height", "across", "open along", "length"),
    "fastened": ("height", "across", "open across", "open along", "length"),
    "sheathing": ("height", "across"),
}
"""Measures by which bays of a kind lie far from the middle."""

CENTRAL = (5.0, 95.0)
"""Percentiles of a measure's computed values that are called its ends."""

FARTHEST = 97.0
"""Share of the bays beyond whose place bands grow no more [%]."""

HELD = 0.95
MOST_GROWTH = 2.5
LEAST = 0.02
"""Errors count as no smaller than this share of their mean."""


def left_out(taught: list[air_fit.Bay], situation: int, out: Path, workers: int) -> None:
    """Solve every bay that teaches a law with one fitted to the others; errors join the file."""
    rows = json.loads(out.read_text("utf-8")) if out.is_file() else []
    own = sorted((bay for bay in taught if bay.situation == situation), key=lambda bay: bay.number)
    folds = FOLDS if len(own) >= FEW else FOLDS_OF_FEW
    order = np.random.default_rng(FOLDS).permutation(len(own))
    kept = {bay["number"]: bay for bay in bays()}
    active = air_fit.coefficients_of(learned_data()["laws"][situation]) != 0.0
    for fold in range(folds):
        out_now = set(order[fold::folds].tolist())
        wanted = [own[at] for at in sorted(out_now) if kept[own[at].number]["largest_error"] <= KNOWN]
        if {bay.number for bay in wanted} <= {row["number"] for row in rows}:
            continue
        crew = air_fit.Crew([bay for at, bay in enumerate(own) if at not in out_now], workers)
        c, _ = air_fit.fit(crew, air_fit.RIDGE, active, np.zeros(air_fit.COUNT))
        crew.close()
        law = air_fit.as_law(c) | {"sharper": air_fit.SHARPER[situation]}
        found = spread(partial(errors_by, law), [kept[bay.number] for bay in wanted], workers)
        rows += [row | {"measures": bay.measures.all()} for bay, row in zip(wanted, found, strict=True) if "up" in row]
        out.write_text(json.dumps(rows), "utf-8")
        print(f"law {situation}: {fold + 1} of {folds} parts left out and solved", flush=True)


def spread(work: Any, pieces: list[Any], workers: int) -> list[Any]:
    """What some work makes of every piece, in their order, by processes of their own where there are several."""
    if workers == 1:
        return list(map(work, pieces))
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        return list(pool.map(work, pieces))


def errors_by(law: dict[str, Any], kept: dict[str, Any]) -> dict[str, Any]:
    """Errors of one bay by a law's coefficients."""
    case = parse_case(kept["text"], f"bay-{kept['number']}").with_(**{"mesh.fineness": "coarse", "air.model": "films"})
    with on_its_cells(), patch.object(learned_air, "learned_law", lambda _: law_from(law)):
        found = compared(case, kept["report"], kept)
    return {"number": kept["number"], "kind": group(kept)} | found


def bands_of(kind: str, rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Coefficients of a kind's bands from the errors of bays left out."""
    off = np.array([[off_percent(row[name]) for name in NUMBERS] for row in rows])
    names = PLACED[kind]
    values = np.array([[row["measures"][name] for name in names] for row in rows])
    low, high = np.percentile(values, CENTRAL, axis=0)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    far = np.square((values - middle) / half).mean(axis=1)
    farthest = float(np.percentile(far, FARTHEST))
    found: dict[str, Any] = {
        "bays": len(rows),
        "measures": {name: _round([middle[at], half[at]]) for at, name in enumerate(names)},
        "quantiles": _round(np.percentile(far, np.linspace(0.0, 100.0, 11))),
        "farthest": _round([farthest])[0],
    }
    for at, name in enumerate(NUMBERS):
        found[name] = _round(_width(off[:, at], np.minimum(far, farthest)))
    return found


def _width(off: Any, far: Any) -> tuple[float, float]:
    """Base and growth of one number's band: growth by likelihood, the base so that 19 of 20 lie inside."""
    bounded = np.maximum(off, LEAST * off.mean())

    def unlikely(growth: float) -> float:
        return float(np.log((bounded * np.exp(-growth * far)).mean()) + growth * far.mean())

    growth = float(minimize_scalar(unlikely, bounds=(0.0, MOST_GROWTH), method="bounded").x)
    return float(np.quantile(off * np.exp(-growth * far), HELD)), growth


def _round(values: Any) -> list[float]:
    return [round(float(value), 4) for value in values]


def put_bands(rows: list[dict[str, Any]]) -> None:
    """Bands of every kind into the data file."""
    data = json.loads(DATA.read_text("utf-8"))
    kinds = sorted({row["kind"] for row in rows})
    data["bands"] |= {kind: bands_of(kind, [row for row in rows if row["kind"] == kind]) for kind in kinds}
    DATA.write_text(json.dumps(data) + "\n", encoding="utf-8")


def main() -> None:
    """Leave bays out, solve them, and with `--put` the bands."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="errors of bays left out")
    parser.add_argument("--put", action="store_true", help="put the bands into the data file")
    parser.add_argument("--situations", default="0,1,2,3")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    asked = [int(number) for number in options.situations.split(",")]
    taught = air_fit.teachers(options.workers, asked)
    for situation in asked:
        left_out(taught, situation, options.out, options.workers)
    if options.put:
        put_bands(json.loads(options.out.read_text("utf-8")))


if __name__ == "__main__":
    main()

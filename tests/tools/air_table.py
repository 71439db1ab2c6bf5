"""Write the guide's tables of cavity air (docs/physics.md) anew.

    python tests/tools/air_table.py --keep DIR
    python tests/tools/air_table.py --errors errors.json

Correlations, learned films and resolved air, on the six arrangements and on three plate spacings of the kitchen, none
of which taught the films: resolved runs take minutes each; they are kept in DIR and not repeated. And the errors of
bays that were never fitted, from what `air_errors.py` found.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
from air_errors import drawn_last, group, never_fitted
from readme_tables import ROOT, put

from sim.case import taught
from sim.case.load import load_case, parse_case
from sim.problems.save_result import save_result
from sim.resolved import FILMS_FILE
from sim.run import prepare, solve, solve_model

ARRANGEMENTS = ("hung-bare", "hung-plates", "lowered-bare", "lowered-plates", "tight-bare", "tight-plates")
SPACINGS = ("9 in", "12 in", "18 in")
HEAD = (
    "| Case | Upward flux, W/m²: correlations | learned | resolved | Ripple, K: correlations | learned | resolved | "
    "Error of the mean | Time of the flow, s |",
    "|---|---|---|---|---|---|---|---|---|",
)
FLUX, RIPPLE = "heat_flux_up_W_m2", "ripple_K"


def resolved_report(case: Any, folder: Path) -> dict[str, float]:
    """Report of a case with resolved air, solved unless its folder is there."""
    if not (folder / FILMS_FILE).is_file():
        save_result(solve_model(prepare(case.with_text("air.model", "resolved"))), folder)
        print(f"{folder.name}: done", flush=True)
    return dict(json.loads((folder / "report.json").read_text("utf-8")))


def line(name: str, case: Any, folder: Path) -> str:
    """One line of the table."""
    found = resolved_report(case, folder)
    plain, learned = solve(case.with_text("air.model", "correlations")).report, solve(case).report
    cells = [f"{plain[FLUX]:.1f}", f"{learned[FLUX]:.1f}", f"{found[FLUX]:.1f}"]
    cells += [f"{plain[RIPPLE]:.2f}", f"{learned[RIPPLE]:.2f}", f"{found[RIPPLE]:.2f}"]
    cells += [f"{found['air_error_percent']:.2f} %", f"{found['air_march_s']:.0f}"]
    return f"| {name} | {' | '.join(cells)} |"


def air_lines(keep: Path) -> list[str]:
    """The whole table."""
    lines = list(HEAD)
    for name in ARRANGEMENTS:
        lines.append(line(name, load_case(ROOT / f"cases/arrangements/{name}.toml"), keep / name))
    kitchen = load_case(ROOT / "cases/demo/kitchen-vinyl.toml")
    folders = [keep / f"kitchen-{spacing.replace(' ', '-')}" for spacing in SPACINGS]
    for spacing, folder in zip(SPACINGS, folders, strict=True):
        case = kitchen.with_text("plates.spacing", spacing)
        lines.append(line(f"kitchen-vinyl, plates every {spacing}", case, folder))
    return lines


FAMILIES = (
    ("**drawn last**", "films", drawn_last),
    ("the same by correlations", "correlations", drawn_last),
    ("drawn last: plates hung flat", "films", lambda row: drawn_last(row) and group(row) == "flat"),
    ("drawn last: upright plates", "films", lambda row: drawn_last(row) and group(row) == "upright"),
    ("plates hung flat", "films", lambda row: group(row) == "flat"),
    ("bare tube", "films", lambda row: group(row) == "bare"),
    ("upright plates", "films", lambda row: group(row) == "upright"),
    ("plates fastened, air below", "films", lambda row: group(row) == "fastened"),
    ("bare tube at the sheathing, air below", "films", lambda row: group(row) == "sheathing"),
    ("drops of 6 to 12 mm", "films", lambda row: _hung_at(row, 0.0, 0.012)),
    ("one drop, 30 to 34 mm", "films", lambda row: row["held"] == "drop" and _hung_at(row, 0.02, 0.04)),
    ("air up to 40 mm", "films", lambda row: _air(row) <= 0.040),
    ("air over 210 mm", "films", lambda row: _air(row) >= 0.210),
    ("joists 18.4 to 20.2 in apart", "films", lambda row: row["held"] == "joist spacing"),
    ("one emissivity, 0.3", "films", lambda row: row["held"] == "emissivity"),
    ("one covering, cork", "films", lambda row: row["held"] == "covering"),
    ("I-joists", "films", lambda row: row["held"] == "I-joists"),
)
NUMBERS = (
    ("up", 100.0, 1), ("down", 100.0, 1), ("ripple", 100.0, 0), ("peak", 1.0, 2), ("map", 1.0, 2), ("plate", 1.0, 2),
)  # fmt: skip
ERRORS_HEAD = (
    "| Bays | Number | Heat up, % | Heat down, % | Ripple, % | Peak, K | Floor map, rms K | Plate, K |",
    "|---|---|---|---|---|---|---|---|",
)


def _air(row: dict[str, Any]) -> float:
    """Height of a bay's air [m]."""
    return taught.height_of_air(parse_case(row["text"]))


def _hung_at(row: dict[str, Any], low: float, high: float) -> bool:
    """Whether plates or tube hang at a drop between two [m]."""
    case = parse_case(row["text"])
    drop = case.plates.drop if case.plates else case.tube.depth
    return taught.hangs(case) and low <= drop <= high


def error_lines(rows: list[dict[str, Any]]) -> list[str]:
    """Median and 95th percentile of every error, family after family."""
    lines = list(ERRORS_HEAD)
    for name, model, belongs in FAMILIES:
        own = [row[model] for row in rows if never_fitted(row) and belongs(row) and model in row]
        cells = [_errors([abs(r[key]) * factor for r in own if key in r], digits) for key, factor, digits in NUMBERS]
        if own:
            lines.append(f"| {name} | {len(own)} | {' | '.join(cells)} |")
    return lines


def _errors(values: list[float], digits: int) -> str:
    if not values:
        return "–"
    return ", ".join(f"{np.percentile(values, share):.{digits}f}" for share in (50, 95))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--keep", type=Path, help="folder for the runs with resolved air")
    parser.add_argument("--errors", type=Path, help="what air_errors.py found")
    chosen = parser.parse_args()
    if chosen.keep:
        put("air", air_lines(chosen.keep.resolve()))
    if chosen.errors:
        put("learned", error_lines(json.loads(chosen.errors.read_text("utf-8"))))

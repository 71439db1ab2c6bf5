"""Write the guide's tables of cavity air (docs/physics.md) anew.

    python tests/tools/air_table.py --air
    python tests/tools/air_table.py --errors errors.json

Correlations, learned films and resolved air on arrangements and demo bays, none of which taught the films; what
computed air gave there is kept in `tests/data/air_cases.json`. And the errors of bays that were never fitted, from what
`air_errors.py` found.
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
from sim.run import solve

CASES = ROOT / "tests/data/air_cases.json"
"""What computed air gave, on default cells and on cells half as large, by file and what is changed in it."""

HEAD = (
    "| Case | Upward flux, W/m²: correlations | learned | resolved | on cells half as large "
    "| Ripple, K: correlations | learned | resolved | on cells half as large | Error of the mean |",
    "|---|---|---|---|---|---|---|---|---|---|",
)
FLUX, RIPPLE = "heat_flux_up_W_m2", "ripple_K"


def case_named(name: str) -> Any:
    """The case of a name: a file under `cases`, and after a comma a key and its value."""
    file, _, change = name.partition(", ")
    case = load_case(ROOT / f"cases/{file}.toml").with_text("span", "pitch")
    return case.with_text(*change.split(" ", 1)) if change else case


def line(name: str, kept: dict[str, dict[str, float]]) -> str:
    """One line of the table."""
    case, resolved, half = case_named(name), kept["default"], kept["half"]
    plain, own = solve(case.with_text("air.model", "correlations")).report, solve(case).report
    learned = [f"{own[FLUX]:.1f}", f"{own[RIPPLE]:.2f}"] if taught.uses_learned_films(case) else ["–", "–"]
    cells = [f"{plain[FLUX]:.1f}", learned[0], f"{resolved[FLUX]:.1f}", f"{half[FLUX]:.1f}"]
    cells += [f"{plain[RIPPLE]:.2f}", learned[1], f"{resolved[RIPPLE]:.2f}", f"{half[RIPPLE]:.2f}"]
    shown = name.split("/")[1].replace("plates.spacing none", "no plates").replace("plates.spacing", "plates every")
    return f"| {shown} | {' | '.join(cells)} | {resolved['air_error_percent']:.2f} % |"


def air_lines() -> list[str]:
    """The whole table."""
    return [*HEAD, *(line(name, kept) for name, kept in json.loads(CASES.read_text("utf-8"))["cases"].items())]


FAMILIES = (
    ("**drawn last**", "films", drawn_last),
    ("the same by correlations", "correlations", drawn_last),
    ("drawn last: plates hung flat", "films", lambda row: drawn_last(row) and group(row) == "flat"),
    ("drawn last: upright plates", "films", lambda row: drawn_last(row) and group(row) == "upright"),
    ("plates hung flat", "films", lambda row: group(row) == "flat"),
    ("bare tube", "films", lambda row: group(row) == "bare"),
    ("upright plates", "films", lambda row: group(row) == "upright"),
    ("plates fastened, air below", "films", lambda row: group(row) == "fastened"),
    ("bare tube at the subfloor, air below", "films", lambda row: group(row) == "sheathing"),
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
    parser.add_argument("--air", action="store_true", help="films beside what computed air gave")
    parser.add_argument("--errors", type=Path, help="what air_errors.py found")
    chosen = parser.parse_args()
    if chosen.air:
        put("air", air_lines())
    if chosen.errors:
        put("learned", error_lines(json.loads(chosen.errors.read_text("utf-8"))))

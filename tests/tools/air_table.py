"""Write the guide's table of cavity air (docs/physics.md) anew: `python tests/tools/air_table.py --keep DIR`.

Correlations, learned films and resolved air, on the six arrangements and on three plate spacings of the kitchen, none
of which taught the films. Resolved runs take minutes each; they are kept in DIR and not repeated.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from readme_tables import ROOT, put

from sim.case.load import load_case
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


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, required=True, help="folder for the runs with resolved air")
    put("air", air_lines(parser.parse_args().keep.resolve()))

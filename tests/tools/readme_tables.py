"""Write the tables of README.md anew: `python tests/tools/readme_tables.py accuracy|mesh [--full]`.

Each table stands between two comment lines that name it; everything between them is replaced.
"""

from __future__ import annotations

import argparse
import re
from itertools import groupby
from pathlib import Path

from sim.case.load import load_case
from sim.run import mesh_fineness, solve
from sim.study.verify import Row, verify

ROOT = Path(__file__).resolve().parents[2]
MESH_CASES = ("kitchen-vinyl", "family-oak", "bedroom-carpet", "bathroom-tile", "family-oak-rug")


def accuracy_lines(rows: list[Row]) -> list[str]:
    """One line a problem: how many numbers, the worst of them against its limit, and the source."""
    lines = ["| Problem | Numbers | Within limits | Worst, as a share of its limit | Source |", "|---|---|---|---|---|"]
    for name, group in groupby(rows, lambda row: row.case):
        own = list(group)
        worst = max(own, key=lambda row: abs(row.difference) / row.allowed)
        share = f"{abs(worst.difference) / worst.allowed:.2f} ({worst.quantity.replace('_', ' ')})"
        passed = sum(row.passed for row in own)
        sources = "; ".join(dict.fromkeys(row.source for row in own))
        lines.append(f"| {name} | {len(own)} | {passed} of {len(own)} | {share} | {sources} |")
    return lines


def mesh_lines() -> list[str]:
    """The demo bays on their own mesh and on one twice as fine in every direction."""
    lines = [
        "| Case | Cells | Upward flux, W/m² | twice as fine | Change | Peak surface, °C | twice as fine | Change, K |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name in MESH_CASES:
        case = load_case(ROOT / f"cases/demo/{name}.toml")
        fineness = mesh_fineness(case)
        own, fine = (solve(case, fineness=size).report for size in (fineness, fineness.refined()))
        flux, peak = "heat_flux_up_W_m2", "surface_peak_C"
        lines.append(
            f"| {name} | {own['cells']:,.0f} | {own[flux]:.2f} | {fine[flux]:.2f} | "
            f"{100 * (own[flux] / fine[flux] - 1):+.2f} % | {own[peak]:.2f} | {fine[peak]:.2f} | "
            f"{own[peak] - fine[peak]:+.2f} |"
        )
    return lines


def put(name: str, lines: list[str]) -> None:
    """Replace what stands between the comment lines of a table."""
    path = ROOT / "README.md"
    begin, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
    found = re.compile(f"{re.escape(begin)}.*?{re.escape(end)}", re.S)
    text = path.read_text("utf-8")
    if not found.search(text):
        raise SystemExit(f"README.md has no lines {begin} and {end}")
    path.write_text(found.sub(lambda _: "\n".join([begin, *lines, end]), text), "utf-8")


def main() -> None:
    """Make the table that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("table", choices=("accuracy", "mesh"))
    parser.add_argument("--full", action="store_true", help="accuracy on the fine meshes")
    asked = parser.parse_args()
    put(asked.table, accuracy_lines(verify(full=asked.full)) if asked.table == "accuracy" else mesh_lines())


if __name__ == "__main__":
    main()

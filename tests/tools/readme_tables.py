"""Write the tables of the guide in docs/ anew: `python tests/tools/readme_tables.py accuracy|mesh|warm-up [--full]`.

Each table stands between two comment lines that name it; everything between them is replaced.
"""

from __future__ import annotations

import argparse
import re
from itertools import groupby
from pathlib import Path

from sim.build_up import mesh_fineness
from sim.case.constants import ZERO_CELSIUS
from sim.case.load import load_case
from sim.problems.warm_up import warm_up
from sim.run import solve
from sim.verify.accuracy import AccuracyRow, verify

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
WARM_UP_CASES = ("kitchen-vinyl", "bathroom-tile", "family-oak", "bedroom-carpet")
MESH_CASES = ("kitchen-vinyl", "family-oak", "bedroom-carpet", "bathroom-tile", "family-oak-rug")


def accuracy_lines(rows: list[AccuracyRow]) -> list[str]:
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


def warm_up_lines() -> list[str]:
    """The demo bays from a cold start under a step of the water, beside what the layers of their floors store."""
    lines = [
        "| Case | 63 % of the heat up, h | 90 %, h | Stored by the floor's layers, Σ ρ c t, kJ/(m²·K) | divided by the "
        "surface's film, h | Delay of the layers, h |",
        "|---|---|---|---|---|---|",
    ]
    for name in WARM_UP_CASES:
        found = warm_up(load_case(ROOT / f"cases/demo/{name}.toml"))
        report, steady, floor = found.report, found.steady.report, found.case.floor
        layers = [(layer.thickness, layer.solid) for layer in (*floor.coverings, floor.sheathing)]
        stored = [thickness * solid.density * solid.specific_heat for thickness, solid in layers]
        flux, room = steady["heat_flux_up_W_m2"], found.case.room.temperature - ZERO_CELSIUS
        film = flux / (steady["surface_mean_C"] - room)
        resistances = [thickness / solid.conductivity[2] for thickness, solid in layers]
        delay = layers_delay(stored, resistances, 1.0 / film, (steady["water_mean_C"] - room) / flux)
        lines.append(
            f"| {name} | {report['flux_63_h']:.2f} | {report['flux_90_h']:.2f} | {sum(stored) / 1e3:.1f} | "
            f"{sum(stored) / film / 3600.0:.2f} | {delay / 3600.0:.2f} |"
        )
    return lines


def layers_delay(stored: list[float], resistances: list[float], surface: float, whole: float) -> float:
    """Mean delay of the heat through layers between water and room [s]: Σ C R (1 − R / R_whole).

    For each layer C [J/(m² K)] and the resistance R [m² K/W] from its middle to the room; `surface` is that of the
    film, `whole` that from water to room. Exact for a chain of lumps; layers are listed from the room down.
    """
    delay, above = 0.0, surface
    for heat, resistance in zip(stored, resistances, strict=True):
        middle = above + 0.5 * resistance
        delay += heat * middle * (1.0 - middle / whole)
        above += resistance
    return delay


def put(name: str, lines: list[str]) -> None:
    """Replace what stands between the comment lines of a table."""
    begin, end = f"<!-- {name} -->", f"<!-- end of {name} -->"
    found = re.compile(f"{re.escape(begin)}.*?{re.escape(end)}", re.S)
    for path in PAGES:
        text = path.read_text("utf-8")
        if found.search(text):
            path.write_text(found.sub(lambda _: "\n".join([begin, *lines, end]), text), "utf-8")
            return
    raise SystemExit(f"no page of the guide has lines {begin} and {end}")


def main() -> None:
    """Make the table that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("table", choices=("accuracy", "mesh", "warm-up"))
    parser.add_argument("--full", action="store_true", help="accuracy on the fine meshes")
    asked = parser.parse_args()
    makers = {
        "accuracy": lambda: accuracy_lines(verify(full=asked.full)),
        "mesh": mesh_lines,
        "warm-up": warm_up_lines,
    }
    put(asked.table, makers[asked.table]())


if __name__ == "__main__":
    main()

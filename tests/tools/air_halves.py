"""Bays with computed air on the default cells, on cells half and twice as large: `python tests/tools/air_halves.py`.

The table of `docs/air-mesh.md`. All bays and meshes are one batch, on an accelerator with `--device gpu`; without one
it takes hours. *Told* is of a batch, which has no companion; beside it what a companion, the cells twice as large,
makes of the ripple's.
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

import sim
from sim.case.load import load_case, parse_case
from sim.results.air_errors import LEAST_UNSEEN, LEFT_OPEN, MOST_UNSEEN
from sim.results.bay_report import bay_values
from sim.run import air_settings

ROOT = Path(__file__).parents[2]
MESHES = {"default": 1.0, "half": 0.5, "twice": 2.0}
"""Size of the cells over those of the default."""

KEPT = re.compile("heat_flux_up_W_m2|ripple_K|surface_peak_C|heat_flow_down_W|air_")
"""Numbers of a report that are kept."""

UP, RIPPLE = "heat_flux_up_W_m2", "ripple_K"

PLAIN = """
title = "{title}"
span = "pitch"
ceiling = "none"
[bay]
joist_spacing = "{joists}"
joist_width = "1 1/2 in"
joist_depth = "{depth}"
length = "14 ft"
{floor}
{plates}
[tube]
{tube}
[cavity.insulation]
material = "glass wool batt"
{batt}
[water]
supply = "{water}"
flow = "0.5 gpm"
[room]
temperature = "68 degF"
[below]
kind = "unheated space"
temperature = "{below}"
"""

FLOOR = '[[floor.covering]]\nmaterial = "{}"\nthickness = "{}"\n'
SHEATHING = '[floor.sheathing]\nmaterial = "{}"\nthickness = "{}"\n'
PLATES = """[plates]
width = "{}"
length = "{}"
spacing = "{}"
thickness = "0.4 mm"
material = "aluminium 3003"
position = "hung"
drop = "{}"
"""
PLYWOOD = SHEATHING.format("plywood", "3/4 in")
R_13 = 'thickness = "3 1/2 in"\nthermal_resistance = "R-13"'
R_19 = 'thickness = "6 1/4 in"\nthermal_resistance = "R-19"'
HALF_INCH = 'size = "1/2"\nruns = {}\n'

STRANGERS: Mapping[str, Mapping[str, str]] = {
    "24 in, bare tube": {
        "joists": "24 in", "depth": "9 1/4 in", "tube": HALF_INCH.format(1) + 'depth = "3 in"\n', "plates": "",
        "floor": FLOOR.format("carpet", "8 mm") + PLYWOOD,
        "batt": R_13, "water": "190 degF", "below": "54 degF",
    },
    "19.2 in, long plates": {
        "joists": "19.2 in", "depth": "9 1/4 in", "tube": HALF_INCH.format(2),
        "plates": PLATES.format("5 in", "16 in", "18 in", "2 1/2 in"),
        "floor": FLOOR.format("oak", "3/4 in") + PLYWOOD,
        "batt": R_13, "water": "167 degF", "below": "54 degF",
    },
    "12 in, one tube": {
        "joists": "12 in", "depth": "9 1/4 in", "tube": HALF_INCH.format(1),
        "plates": PLATES.format("150 mm", "300 mm", "350 mm", "20 mm"),
        "floor": FLOOR.format("ceramic tile", "3/8 in") + PLYWOOD,
        "batt": R_19, "water": "54 degC", "below": "54 degF",
    },
    "upright plate": {
        "joists": "16 in", "depth": "11 1/4 in", "tube": HALF_INCH.format(1),
        "plates": PLATES.format("4 in", "12 in", "16 in", "1 in") + 'orientation = "upright"\n',
        "floor": FLOOR.format("vinyl plank", "5 mm") + PLYWOOD,
        "batt": R_13, "water": "53 degC", "below": "54 degF",
    },
    "mud room": {
        "joists": "24 in", "depth": "11 1/4 in", "tube": HALF_INCH.format(1),
        "plates": PLATES.format("6 1/4 in", "11 in", "15 in", "2 1/4 in"),
        "floor": FLOOR.format("ceramic tile", "1/4 in") + SHEATHING.format("plywood", "5/8 in"),
        "batt": R_19, "water": "148 degF", "below": "48 degF",
    },
    "den": {
        "joists": "13 3/4 in", "depth": "8 in", "tube": 'size = "3/8"\nruns = 2\n',
        "plates": PLATES.format("4 1/2 in", "16 in", "20 in", "3/4 in"),
        "floor": FLOOR.format("carpet", "1/4 in") + FLOOR.format("plywood", "1/4 in")
        + PLYWOOD,
        "batt": R_13, "water": "160 degF", "below": "54 degF",
    },
    "hall": {
        "joists": "19 1/2 in", "depth": "14 in", "tube": 'size = "3/4"\nruns = 2\ndepth = "3 in"\n', "plates": "",
        "floor": FLOOR.format("cork flooring", "6 mm") + PLYWOOD,
        "batt": 'thickness = "9 1/2 in"\nthermal_resistance = "R-30"', "water": "165 degF", "below": "54 degF",
    },
}  # fmt: skip
"""Bays that nobody had looked at before their mesh was chosen: what of `PLAIN` is theirs."""

KITCHEN = "demo/kitchen-vinyl"
FILES: Mapping[str, tuple[str, str]] = {
    **{name: (f"arrangements/{name}", "") for name in (
        "hung-bare", "hung-plates", "lowered-bare", "lowered-plates", "tight-bare", "tight-plates",
    )},
    **{f"kitchen-vinyl, plates every {apart}": (KITCHEN, apart) for apart in ("9 in", "12 in", "18 in")},
    "kitchen-vinyl, no plates": (KITCHEN, "none"),
    **{name: (f"demo/{name}", "") for name in ("family-oak", "bathroom-tile", "bedroom-carpet")},
}  # fmt: skip
"""Bays of files: which, and how far apart its plates are, where that is not as filed."""


def bays() -> dict[str, Any]:
    """All bays by name, with computed air and without companion."""
    found: dict[str, Any] = {}
    for name, (file, apart) in FILES.items():
        case = load_case(ROOT / f"cases/{file}.toml").with_text("span", "pitch")
        found[name] = case.with_text("plates.spacing", apart) if apart else case
    found |= {name: parse_case(PLAIN.format(title=name, **own), name) for name, own in STRANGERS.items()}
    return {name: case.with_(**{"air.model": "resolved", "air.companion": False}) for name, case in found.items()}


def on_cells(case: Any, share: float, error: float | None = None) -> Any:
    """A bay on cells of so many times the default's size, its means known to a standard error [-]."""
    sizes = air_settings(case).sizes
    stated = {"air.cell": share * sizes.cell, "air.wall_cell": share * sizes.wall} if share != 1.0 else {}
    return case.with_(**stated, **({"air.error": error} if error else {}))


def kept(result: Any) -> dict[str, float]:
    """What is kept of a computed bay."""
    values = {key: float(value) for key, value in result.report.values.items() if KEPT.match(key)}
    air = result.air
    thinner = bay_values(result.case, result.geometry, result.cells, air.thinner)
    layers = {f"{RIPPLE}_layers": abs(values[RIPPLE] - thinner[RIPPLE])}
    return values | layers | {"cells": air.domain.cells, "unseen": air.unseen, "seconds": air.rounds[-1].time}


def computed(cases: Mapping[str, Any], device: str, error: float | None) -> dict[str, dict[str, Any]]:
    """Every bay's numbers by mesh; what went wrong stands in their place."""
    asked = [(name, mesh) for name in cases for mesh in MESHES]
    wanted = [on_cells(cases[name], MESHES[mesh], error) for name, mesh in asked]
    outcomes = sim.solve_many(wanted, device=device, harvest=kept)
    found: dict[str, dict[str, Any]] = {name: {} for name in cases}
    for (name, mesh), outcome in zip(asked, outcomes, strict=True):
        found[name][mesh] = str(outcome) if isinstance(outcome, Exception) else outcome
    return found


HEAD = (
    "| Case | Cells of air | Default | Half as large | Heat changes by | told on default | Ripple: default "
    "| half as large | told | told with a companion |",
    "|---|---|---|---|---|---|---|---|---|---|",
)


def companion_band(own: Mapping[str, float], larger: Mapping[str, float]) -> float:
    """± of a ripple [K] under `joistbay run`, whose companion's cells are twice as large."""
    unseen, change = own["unseen"] * own[RIPPLE], abs(own[RIPPLE] - larger[RIPPLE])
    mesh = max(own[f"{RIPPLE}_layers"], min(max(LEFT_OPEN * change, LEAST_UNSEEN * unseen), MOST_UNSEEN * unseen))
    return float(np.hypot(np.hypot(2.0 * own[f"{RIPPLE}_standard_error"], mesh), own[f"{RIPPLE}_ray_error"]))


def line(name: str, meshes: Mapping[str, Mapping[str, float]]) -> str:
    """One line of the table."""
    own, half = meshes["default"], meshes["half"]
    told = own[f"{UP}_uncertainty"] / own[UP]
    heat = [f"{each[UP]:.2f} ± {each[f'{UP}_standard_error']:.2f}" for each in (own, half)]
    change = f"{100.0 * (half[UP] / own[UP] - 1.0):+.1f} %".replace("-", "−")
    ripple = [f"{own[RIPPLE]:.2f}", f"{half[RIPPLE]:.2f}", f"±{own[f'{RIPPLE}_uncertainty']:.2f}"]
    cells = [f"{own['cells']:,.0f}".replace(",", " "), *heat, change, f"±{100.0 * told:.1f} %", *ripple]
    beside = f"±{companion_band(own, meshes['twice']):.2f}"
    return f"| {name} | {' | '.join([*cells, beside])} |"


CASES = ROOT / "tests/data/air_cases.json"
HOW = (
    'tests/tools/air_halves.py, joistbay.solve_many, one accelerator; span = "pitch"; half: air.cell and air.wall_cell '
    "half of what the default takes"
)


def put_cases(found: Mapping[str, Mapping[str, Mapping[str, float]]]) -> None:
    """Keep what bays of files gave for tests and for the guide's table of cavity air (`air_table.py`)."""
    cases = {}
    for name, (file, apart) in FILES.items():
        if not name.startswith("tight"):  # no air that moves at tube or floor
            cases[f"{file}, plates.spacing {apart}" if apart else file] = {
                mesh: {key: round(found[name][mesh][key], 4) for key in (UP, RIPPLE, "air_error_percent", "cells")}
                for mesh in ("default", "half")
            }
    CASES.write_text(json.dumps({"made": str(date.today()), "how": HOW, "cases": cases}, indent=1) + "\n", "utf-8")


def main(argv: Sequence[str] | None = None) -> None:
    """Compute, keep and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--device", default="auto")
    parser.add_argument("--error", type=float, help="standard error of means, in place of the default's 1 %%")
    parser.add_argument("--only", nargs="*", help="names of bays")
    parser.add_argument("--keep", type=Path, default=Path("air-halves.json"))
    parser.add_argument("--put", action="store_true", help="keep bays of files in tests/data/air_cases.json")
    chosen = parser.parse_args(argv)
    cases = {name: case for name, case in bays().items() if not chosen.only or name in chosen.only}
    found = computed(cases, chosen.device, chosen.error)
    chosen.keep.write_text(json.dumps(found, indent=1), encoding="utf-8")
    if chosen.put:
        put_cases(found)
    print("\n".join([*HEAD, *(line(name, meshes) for name, meshes in found.items())]))


if __name__ == "__main__":
    main()

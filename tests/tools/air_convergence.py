"""Mesh convergence of every verification folder with computed air: three meshes, as a table and a picture.

    python tests/tools/air_convergence.py run [FOLDER ...]    solve what is missing: half the cells, its own, twice them
    python tests/tools/air_convergence.py show                docs/air-mesh-convergence.md and .png from what was solved

Results are kept in `docs/air-mesh-convergence.csv`, a line a number. A run may take LIMIT seconds of processor time;
what would take longer is left out, and the table says so.
"""

from __future__ import annotations

import csv
import json
import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

from sim.case.constants import ZERO_CELSIUS
from sim.case.load import parse_case
from sim.problems.kind import timed
from sim.problems.kinds import kind_stated
from sim.verify.folder import CASES, Check, load_checks

DOCS = Path(__file__).resolve().parents[2] / "docs"
KEPT = DOCS / "air-mesh-convergence.csv"
FACTORS = (0.5, 1.0, 2.0)
"""Cells along an axis over those of the case file."""

LIMIT = 600
"""Processor time of a run [s]."""

FIELDS = ("folder", "key", "factor", "published", "computed", "seconds")


def folders() -> list[str]:
    """Every folder with computed air."""
    return sorted(file.parent.name for file in CASES.glob("*/case.toml") if 'model = "resolved"' in file.read_text())


def solve_one(name: str, factor: float) -> dict[str, float]:
    """The expected numbers of a folder on one mesh, by key."""
    path = CASES / name / "case.toml"
    case = parse_case(path.read_text("utf-8"), name, str(path))
    kind = kind_stated(case)
    found = kind.summarise(kind.solve(case, factor))  # type: ignore[arg-type]
    checks = [(timed(check.key, check.at), check) for check in load_checks(CASES / name).checks]
    return {key: found[key] + (ZERO_CELSIUS if _kelvin(check) else 0.0) for key, check in checks}


def _kelvin(check: Check) -> bool:
    """Whether a temperature is published in kelvin, which reports give in °C."""
    return check.unit == "K" and check.key.endswith("_C")


def limited(name: str, factor: float) -> tuple[dict[str, float] | None, float]:
    """`solve_one` in a process of its own, or None where the limit ended it; and its processor time [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = subprocess.run(
        [sys.executable, __file__, "one", name, str(factor)], stdout=subprocess.PIPE, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (LIMIT, LIMIT)),
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return (json.loads(told.stdout.splitlines()[-1]) if told.returncode == 0 else None), seconds


def kept() -> list[dict[str, str]]:
    """The lines so far."""
    return list(csv.DictReader(KEPT.open())) if KEPT.exists() else []


def run(names: list[str]) -> None:
    """Solve what is missing, the coarser meshes first."""
    for factor in FACTORS:
        for name in names:
            if any(row["folder"] == name and float(row["factor"]) == factor for row in kept()):
                continue
            found, seconds = limited(name, factor)
            published = {timed(check.key, check.at): check.published for check in load_checks(CASES / name).checks}
            values = (found or {}).items()
            rows = [(name, key, factor, published[key], value, round(seconds, 1)) for key, value in values]
            _append(rows or [(name, "", factor, "", "", round(seconds, 1))])
            print(f"{name} at {factor:g}: {seconds:.0f} s, {'left out' if found is None else 'done'}", flush=True)


def _append(rows: list[tuple[Any, ...]]) -> None:
    new = not KEPT.exists()
    with KEPT.open("a", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerows([FIELDS, *rows] if new else rows)


def errors(rows: list[dict[str, str]]) -> dict[str, dict[float, float]]:
    """Largest error of a folder's heat flows and mean Nusselt numbers on each mesh [%], against what is published."""
    found: dict[str, dict[float, float]] = {}
    for row in rows:
        if _is_mean_heat(row["key"]):
            error = 100.0 * abs(float(row["computed"]) / float(row["published"]) - 1.0)
            mesh = found.setdefault(row["folder"], {})
            mesh[float(row["factor"])] = max(error, mesh.get(float(row["factor"]), 0.0))
    return found


def _is_mean_heat(key: str) -> bool:
    heat = key.startswith(("heat_flow_", "nusselt_")) or key.endswith(("_convective_W", "_radiant_W"))
    return heat and not any(word in key for word in ("highest", "lowest", "swing", "period"))


def table(rows: list[dict[str, str]]) -> Iterator[str]:
    """A line a number: what is published, and how far each mesh is from it."""
    yield "| Folder | Number | Published | half the cells | as filed | twice | s |"
    yield "|---|---|---|---|---|---|---|"
    meshes = {(row["folder"], row["key"], float(row["factor"])): row for row in rows}
    missing = {(row["folder"], float(row["factor"])) for row in rows if not row["key"]}
    for folder, key in dict.fromkeys((row["folder"], row["key"]) for row in rows if row["key"]):
        cells = [_cell(meshes.get((folder, key, factor)), (folder, factor) in missing) for factor in FACTORS]
        at = {factor: meshes[folder, key, factor] for factor in FACTORS if (folder, key, factor) in meshes}
        times = " / ".join(f"{float(row['seconds']):.0f}" for row in at.values())
        published = next(iter(at.values()))["published"]
        yield f"| `{folder}` | {key} | {float(published):.5g} | {' | '.join(cells)} | {times} |"


def _cell(row: dict[str, str] | None, missing: bool) -> str:
    if row is None:
        return "over ten minutes" if missing else "not run"
    published, computed = float(row["published"]), float(row["computed"])
    if row["key"].split(" at ")[0].endswith("_C"):
        return f"{computed - published:+.3f} K"
    return f"{100.0 * (computed / published - 1.0):+.2f} %" if published else f"{computed:.2g}"


SAID = {
    "tall-cavity": "on filed cells its weak oscillation, 11 % above the Rayleigh number at which it begins, has not "
    "the swings that are published; `joistbay verify --full` holds it on twice as many, the default tier not at all",
}
"""What a reader has to know of a folder's numbers."""


def show() -> None:
    """Table and picture."""
    rows = kept()
    lines = list(table(rows))
    head = "# Mesh convergence of computed air\n\nMade by `tests/tools/air_convergence.py`; errors against published "
    head += "numbers, processor seconds of each run (some on another machine, flows in three dimensions and the finest "
    head += "in two on an accelerator)."
    if any("not run" in line for line in lines):
        head += " Not run: left for a machine with more time, `run` takes it up."
    for name, said in SAID.items():
        head += f"\n\n`{name}`: {said}."
    if left := [name for name in folders() if not any(row["folder"] == name for row in rows)]:
        head += f"\n\nNot in the table, for want of time: `{'`, `'.join(left)}`, flows in three dimensions, at high "
        head += "Rayleigh numbers or long to follow. `joistbay verify`, plain and with `--full`, holds "
        head += "them on two meshes."
    (DOCS / "air-mesh-convergence.md").write_text(
        "\n".join([head, "", "![errors](air-mesh-convergence.png)", "", *lines, ""]), "utf-8"
    )
    figure, axes = plt.subplots(figsize=(8.0, 6.0), layout="constrained")
    for number, (folder, mesh) in enumerate(sorted(errors(rows).items())):
        pairs = sorted(mesh.items())
        style = ("-", "--", ":", "-.")[number // 10 % 4]
        axes.plot([f for f, _ in pairs], [max(e, 0.01) for _, e in pairs], "o", ls=style, label=folder, ms=4, lw=1.2)
    axes.plot(FACTORS, [4.0, 1.0, 0.25], "k", lw=3, alpha=0.2, label="second order")
    axes.set(xscale="log", yscale="log", xlabel="cells along an axis over those filed", ylabel="largest error, %")
    axes.set_xticks(FACTORS, [f"{factor:g}" for factor in FACTORS])
    axes.minorticks_off()
    figure.legend(loc="outside right upper", fontsize=7)
    figure.savefig(DOCS / "air-mesh-convergence.png", dpi=110)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["one", name, factor]:
            print(json.dumps(solve_one(name, float(factor))))
        case ["run", *names]:
            run(names or folders())
        case _:
            show()

"""`joistbay compare` of air alone: each flow followed once; a table and a folder of runs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.choices import Wanted
from sim.cli.errors import UsageError
from sim.cli.keeping import folder_entry, keep, kept_line
from sim.cli.load import check_size, usual_folder
from sim.cli.options import Output
from sim.cli.progress import Progress
from sim.store.run_folder import PICTURES_FOLDER, VERSIONS_FILE

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase
    from sim.problems.air_run import AirRun

AIR_SWEEP, AIR_TABLE = "air.json", "air.csv"
ENTRIES = (AIR_SWEEP, AIR_TABLE, "choices", VERSIONS_FILE, PICTURES_FOLDER)
"""Everything that the folder of a sweep holds."""


@dataclass(frozen=True, slots=True)
class AirSweep:
    """Flows of one case for several values of a key, by the name of each choice."""

    case: BlocksCase
    keys: tuple[str, ...]
    runs: Mapping[str, AirRun]

    def rows(self) -> list[dict[str, Any]]:
        """The report of every choice."""
        return [{"choice": name} | run.report.as_dict() for name, run in self.runs.items()]


def air_choices(case: BlocksCase, other: str | None, varied: Sequence[str], paired: bool) -> Wanted:
    """The values asked for.

    Raises
    ------
    UsageError
        There are none, or something of bays was asked for.
    """
    from sim.cli.choices import wanted_choices

    if other or not varied:
        raise UsageError(f"{case.name}: is air alone; compare it with --vary, such as --vary air.rayleigh=1000,2000")
    return wanted_choices(case, None, varied, paired)  # type: ignore[arg-type]


def compare_air(case: BlocksCase, wanted: Wanted, output: Output) -> int:
    """Follow the flow for every value, keep all runs, and show how heat and speed depend on the key."""
    from sim.cli.run_air import follow_with_progress
    from sim.store.target import check_target

    variants = wanted.variants(case)  # type: ignore[arg-type]
    for name, variant in zip(wanted.names, variants, strict=True):
        if not variant.air_alone:  # type: ignore[attr-defined]
            raise UsageError(f"{case.name}: {name}: is no air alone any more; compare values that leave it so")
        check_size(variant)
    keys = (re.sub(r"\W+", "-", key).strip("-") for key in wanted.keys)
    folder = output.out or usual_folder(case, f"-compare-{'-'.join(keys)}")
    check_target(folder, ENTRIES)
    runs: dict[str, AirRun] = {}
    with Progress() as progress:
        for number, (name, variant) in enumerate(zip(wanted.names, variants, strict=True), 1):
            progress.stage(f"{name}, {number} of {len(variants)}")
            runs[name] = follow_with_progress(variant, progress)  # type: ignore[arg-type]
        sweep = AirSweep(case, wanted.keys, runs)
        show = partial(_show, sweep, output)
        keep(partial(_save, sweep), folder, show)
        pictures = [] if output.no_pictures else _draw(sweep, folder, progress)
    show(folder, pictures)
    return 0


def _draw(sweep: AirSweep, folder: Path, progress: Progress) -> list[Path]:
    """Nusselt numbers of all choices in one picture."""
    from sim.cli.pictures import draw_each
    from viz.air_sweep import draw_air_sweep

    title = sweep.case.title or sweep.case.name
    return draw_each({"nusselt.png": lambda: draw_air_sweep(sweep.rows(), title=title)}, folder, progress)


def _save(sweep: AirSweep, folder: str | Path) -> Path:
    from sim.problems.air_run import save_air
    from sim.store.run_folder import versions, write_folder
    from sim.store.tables import write_table
    from sim.store.texts import file_name, json_text

    def fill(place: Path) -> None:
        for name, run in sweep.runs.items():
            save_air(run, place / "choices" / file_name(name))
        (place / AIR_SWEEP).write_text(json_text(_told(sweep)), encoding="utf-8")
        write_table(place / AIR_TABLE, sweep.rows())
        (place / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")

    return write_folder(folder, fill, owned=ENTRIES)


def _told(sweep: AirSweep) -> dict[str, Any]:
    return {"case": sweep.case.name, "keys": list(sweep.keys), "choices": sweep.rows()}


def _show(sweep: AirSweep, output: Output, folder: Path | None, pictures: Sequence[Path]) -> None:
    from sim.cli.show import console, each_system, plain_table
    from sim.results.air_motion import air_headline, ending
    from sim.results.people import full_name, shown_value
    from sim.store.texts import json_text

    if output.json:
        print(json_text(_told(sweep) | folder_entry(folder)), end="")
        return
    out, table = console(output.units), plain_table()
    out.print(sweep.case.title or sweep.case.name, style="bold")
    keys = air_headline(sweep.rows()[0])
    table.add_column("")
    for key in keys:
        table.add_column(full_name(key), justify="right")
    units = "si" if sweep.case.air.rayleigh else each_system(output.units)[0]
    for row in sweep.rows():
        table.add_row(row["choice"], *(shown_value(row, key, units) for key in keys))
    out.print(table)
    for name, run in sweep.runs.items():
        out.print(f"{name}: {ending(run.report.as_dict())}")
    out.print(kept_line(folder, list(pictures)), soft_wrap=True)

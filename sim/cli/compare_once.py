"""`joistbay compare` of blocks and of air alone: each choice solved once; a table and a folder of runs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.errors import UsageError
from sim.cli.keeping import folder_entry, keep, kept_line
from sim.cli.load import check_size, usual_folder
from sim.cli.options import Output
from sim.cli.progress import Progress, compilation_announced
from sim.cli.work import Work

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.problems.at_rest import Solved
    from sim.study.side_by_side import SideBySide


def compare_once(
    cases: Mapping[str, AnyCase], keys: tuple[str, ...], start: AnyCase, output: Output, work: Work
) -> int:
    """Solve every choice, keep all runs, and show their numbers side by side.

    Parameters
    ----------
    cases : by the name of the choice; all of one kind
    keys : dotted keys that set them apart
    start : the case that they start from
    """
    from sim.store.folder_lock import locked
    from sim.store.target import check_target
    from sim.study.side_by_side import ENTRIES, SideBySide, save_side_by_side

    if work.resume or work.scheduler is not None:
        option = "--resume" if work.resume else "--scheduler"
        raise UsageError(f"{start.name}: {option} is for comparing joist bays; leave it out")
    for case in cases.values():
        check_size(case)
    named = "-".join(re.sub(r"\W+", "-", key).strip("-") for key in keys)
    folder = output.out or usual_folder(start, f"-compare{'-' if named else ''}{named}")
    check_target(folder, ENTRIES)
    with locked(folder), Progress() as progress:
        found = SideBySide(start, keys, _solve(cases, work.pool().workers, progress))
        show = partial(_show, found, output)
        keep(partial(save_side_by_side, found), folder, show)
        pictures = [] if output.no_pictures or not found.air_alone else _draw(found, folder, progress)
    show(folder, pictures)
    return 0


def _solve(cases: Mapping[str, AnyCase], workers: int, progress: Progress) -> dict[str, Solved]:
    """One after the other, telling how far each is; by several workers, how many are done."""
    from sim.cli.run import solve_with_progress
    from sim.cli.run_air import follow_with_progress
    from sim.problems.kinds import AIR_ALONE

    if workers > 1 and len(cases) > 1:
        return _shared(cases, workers, progress)
    runs: dict[str, Solved] = {}
    for number, (name, case) in enumerate(cases.items(), 1):
        progress.stage(f"{name}, {number} of {len(cases)}")
        if AIR_ALONE.holds(case):
            runs[name] = follow_with_progress(case, progress)
        else:
            runs[name] = solve_with_progress(case, progress)
    return runs


def _shared(cases: Mapping[str, AnyCase], workers: int, progress: Progress) -> dict[str, Solved]:
    from sim.study.many import solve_many

    names = list(cases)
    progress.stage(f"{len(names)} choices by {workers} workers")

    def hear(number: int, outcome: object) -> None:
        progress.on_step(f"{names[number]}: {'failed' if isinstance(outcome, Exception) else 'done'}")

    with compilation_announced(progress):
        outcomes = solve_many(list(cases.values()), workers=workers, listener=hear)
    runs: dict[str, Solved] = {}
    for name, outcome in zip(names, outcomes, strict=True):
        if isinstance(outcome, Exception):
            raise outcome
        runs[name] = outcome
    return runs


def _draw(found: SideBySide, folder: Path, progress: Progress) -> list[Path]:
    """Nusselt numbers of all choices in one picture."""
    from sim.cli.pictures import draw_each
    from viz.air_sweep import draw_air_sweep

    return draw_each({"nusselt.png": lambda: draw_air_sweep(found)}, folder, progress)


def _show(found: SideBySide, output: Output, folder: Path | None, pictures: Sequence[Path]) -> None:
    from sim.cli.show import console, print_sentence
    from sim.results.air_motion import ending
    from sim.store.texts import json_text

    if output.json:
        print(json_text(found.as_dict() | folder_entry(folder)), end="")
        return
    out = console(output.units)
    out.print(found.title, style="bold")
    if found.air_alone:
        out.print(_flows(found, output))
        for name, run in found.runs.items():
            out.print(f"{name}: {ending(run.report.as_dict())}")
    else:
        _print_blocks(out, found, output)
    for remark in found.remarks:
        print_sentence(out, remark)
    out.print(kept_line(folder, list(pictures)), soft_wrap=True)


def _flows(found: SideBySide, output: Output) -> Any:
    """One line a flow."""
    from sim.cli.show import each_system, plain_table
    from sim.problems.kinds import AIR_ALONE
    from sim.results.people import full_name, shown_value

    table, keys = plain_table(), found.shown
    table.add_column("")
    for key in keys:
        table.add_column(full_name(key), justify="right")
    units = "si" if AIR_ALONE.holds(found.case) and found.case.air.rayleigh else each_system(output.units)[0]
    for name, report in found.reports.items():
        table.add_row(name, *(shown_value(report, key, units) for key in keys))
    return table


def _print_blocks(out: Any, found: SideBySide, output: Output) -> None:
    """One column a choice; its numbers in groups as `joistbay run` prints them."""
    from sim.cli.choices import heading
    from sim.cli.show import print_choices
    from sim.results.people import full_name

    labels = {key: full_name(key) for key in found.shown}
    out.print("Each solved once, in its steady state")
    print_choices(out, found.rows(), labels, output.units, heading(found.keys[0]) if len(found.keys) == 1 else "")
    if same := len(found.alike):
        out.print(f"{same} more {'number is' if same == 1 else 'numbers are'} the same in all.")

"""`joistbay warmup` of blocks, or of any other kind that is followed once: one march, its reports side by side."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

from sim.bay.geometry import needed
from sim.cli.durations import about
from sim.cli.errors import UsageError, modelled, solved
from sim.cli.estimate import announced
from sim.cli.keeping import folder_entry, keep, kept_line, written_text
from sim.cli.load import check_size, usual_folder
from sim.cli.options import PagedOutput, UnitChoice
from sim.cli.progress import LEAST_LEFT, LEAST_SHARE, Progress, compilation_announced
from sim.cli.report import page_beside
from sim.cli.show import console, print_choices, report_table
from sim.cli.work import ALONE, Work

if TYPE_CHECKING:
    from sim.case.load import AnyCase
    from sim.problems.blocks_in_time import InTime
    from sim.problems.kind import KindInTime


def warmup_blocks(
    path: Path, case: AnyCase, output: PagedOutput, choices: Mapping[str, str | None], work: Work
) -> int:
    """Follow a case that is one march, keep it and show its reports.

    Parameters
    ----------
    path : of the case file, for messages.
    choices : options that only bays know, by name; each must be None.
    work : must be that of this process alone.
    """
    from sim.problems.kinds import kind_in_time
    from sim.store.folder_lock import locked
    from sim.store.target import check_target

    kind = needed(kind_in_time(case))
    _check(path, kind, choices, work)
    folder = output.out or usual_folder(case, "-warmup")
    check_target(folder)
    check_size(case)
    with locked(folder), Progress() as progress:
        found = _follow(kind, case, progress)
        show = partial(_show, found, kind.until(case), output)
        keep(partial(kind.save, found), folder, show, written_text(case))
        files = [] if output.no_pictures else _draw(found, folder, output.units, progress)
        files += [] if output.no_page else page_beside(folder, output.units, progress)
    show(folder, files)
    return 0


def _draw(found: InTime, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    """A section at the end."""
    from sim.cli.pictures import draw_run

    return draw_run(found.end, folder, units, progress)


def _show(found: InTime, end: float, output: PagedOutput, folder: Path | None, pictures: list[Path]) -> None:
    if output.json:
        _print_json(found, folder)
    else:
        _print_reports(found, end, output.units, folder, pictures)


def _check(path: Path, kind: KindInTime[Any, Any, InTime], choices: Mapping[str, str | None], work: Work) -> None:
    """Refuse options without use."""
    for name in (name for name, value in choices.items() if value is not None):
        raise UsageError(f"--{name}: {path} is {kind.word}; only joist bays know that option")
    if work != ALONE:
        raise UsageError(f"{path}: is one march, of {kind.word} in time; leave out --workers, --scheduler and --resume")


def _follow(kind: KindInTime[Any, Any, InTime], case: AnyCase, progress: Progress) -> InTime:
    """Follow the case, telling how far it is."""
    end = kind.until(case)
    began = monotonic()

    def tell(moment: Any, step: Any) -> None:
        left = (monotonic() - began) * (end - step.time) / step.time
        rest = f", about {about(left)} left" if 100.0 * step.time >= LEAST_SHARE * end and left >= LEAST_LEFT else ""
        progress.on_step(f"{_shown(step.time)} of {_shown(end)}, {100.0 * step.time / end:.0f} % done{rest}")

    progress.stage(f"{case.name}: in time")
    foretold = nullcontext() if case.air.is_resolved else announced(progress, "blocks march", [case])
    with foretold, compilation_announced(progress), modelled(case.name), solved(case.name):
        return kind.follow(case, tell)


def _print_json(found: InTime, folder: Path | None) -> None:
    from sim.store.texts import json_text

    reports = [{"time_s": time, "report": report.as_dict()} for time, report in found.reports.items()]
    told = {"case": found.case.name} | folder_entry(folder) | {"reports": reports}
    print(json_text(told | ({"air_remarks": list(found.remarks)} if found.remarks else {})), end="")


def _print_reports(
    found: InTime, end: float, units: UnitChoice, folder: Path | None, pictures: list[Path]
) -> None:
    out = console(units)
    out.print(found.case.title or found.case.name, style="bold")
    rows: list[dict[str, Any]] = [{"choice": _shown(time)} | one.as_dict() for time, one in found.reports.items()]
    steps = len(found.history.steps)
    out.print(f"\nFollowed for {_shown(end)} in {steps} steps")
    if len(rows) == 1:
        out.print(report_table(found.end.report.as_dict(), units))
    else:
        print_choices(out, rows, _labels(rows[0]), units, "")
    for remark in found.remarks:
        out.print(f"\n{remark}")
    lines = "" if folder is None else f"; every step is a line of {folder / 'history.csv'}"
    out.print(f"\n{kept_line(folder, pictures)}{lines}", soft_wrap=True)


def _labels(row: Mapping[str, Any]) -> dict[str, str]:
    from sim.results.people import BAND, MESH, quantity

    labels: dict[str, str] = {}
    for key in (key for key in row if key != "choice" and not key.endswith((BAND, MESH))):
        labels |= {key: quantity(key).label} | ({key + BAND: "  ±"} if key + BAND in row else {})
    return labels


def _shown(time: float) -> str:
    """A time [s] in seconds, or in hours where it is longer than two."""
    return f"{time:.4g} s" if time <= 7200.0 else f"{time / 3600.0:.4g} h"

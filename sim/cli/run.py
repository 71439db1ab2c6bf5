"""`joistbay run`: solve one case."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.errors import modelled, solved
from sim.cli.load import check_size, load, usual_folder
from sim.cli.options import USUAL, FinenessWord, Output, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.show import CAUTION, console, report_table

if TYPE_CHECKING:
    from sim.run import Result


def run(case: Path, /, *, fineness: FinenessWord | None = None, output: Output = USUAL) -> int:
    """Solve one case in steady state and keep it as a run folder.

    Parameters
    ----------
    case
        A case file.
    fineness
        Mesh fineness instead of the one in the case.
    """
    from sim.results.target import check_target
    from sim.study.save import save_result

    asked = load(case, fineness)
    folder = output.out or usual_folder(asked)
    check_target(folder)
    check_size(asked)
    with Progress() as progress:
        result = solve_with_progress(asked, progress)
        save_result(result, folder)
        pictures = [] if output.no_pictures else _draw(result, folder, output.units, progress)
    if output.json:
        _print_json(result, folder)
    else:
        _print_report(result, output.units, folder, pictures)
    return 0


def solve_with_progress(case: Any, progress: Progress) -> Result:
    """Prepare and solve a case, telling how far it is."""
    progress.stage(f"{case.name}: mesh and view factors")
    from sim.run import prepare, solve_model

    with compilation_announced(progress):
        with modelled(case.name):
            model = prepare(case)
        progress.stage(f"{case.name}: solving {model.grid.size:,} cells")
        with solved(case.name):
            return solve_model(model, listener=progress.on_pass)


def _draw(result: Result, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    from sim.cli.pictures import draw_run

    return draw_run(result, folder, units, progress)


def _print_json(result: Result, folder: Path) -> None:
    from sim.study.save import json_text

    print(
        json_text({"case": result.case.name, "folder": str(folder), "report": result.report.as_dict()}),
        end="",
    )


def _print_report(result: Result, units: UnitChoice, folder: Path, pictures: list[Path]) -> None:
    out = console()
    out.print(result.case.title or result.case.name, style="bold")
    out.print()
    out.print(report_table(result.report.as_dict(), units))
    out.print()
    if result.case.kind == "bay":
        out.print(f"{CAUTION}\n", soft_wrap=True)
    kept = f", {len(pictures)} pictures in {folder / 'pictures'}" if pictures else ""
    out.print(f"Kept in {folder}{kept}", soft_wrap=True)

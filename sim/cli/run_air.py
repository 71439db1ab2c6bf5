"""`joistbay run` of a case of air alone: only its flow is computed."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

from sim.cli.durations import about
from sim.cli.errors import SolveError
from sim.cli.estimate import announce_flow
from sim.cli.keeping import folder_entry, keep, kept_line, written_text
from sim.cli.options import PagedOutput
from sim.cli.progress import LEAST_LEFT, Progress, compilation_announced
from sim.cli.report import page_beside
from sim.cli.show import console, print_sentence, report_table

if TYPE_CHECKING:
    from sim.airflow.stepping import FlowStepper, Look
    from sim.case.blocks_case import BlocksCase
    from sim.problems.air_run import AirRun

SCALES = "Dimensionless: lengths in L, velocities in α/L, times in L²/α, temperatures in ΔT, heat flows in k ΔT L."
WALLS = "Air alone: walls have stated temperatures or let no heat through."


def run_air(case: BlocksCase, folder: Path, output: PagedOutput) -> int:
    """Follow the flow, keep it and show its report."""
    from sim.problems.air_run import save_air

    written = written_text(case)
    with Progress() as progress:
        run = follow_with_progress(case, progress)
        show = partial(_show, run, output)
        keep(partial(save_air, run), folder, show, written)
        pictures = [] if output.no_pictures else _draw(folder, output, progress)
        pictures += [] if output.no_page else page_beside(folder, output.units, progress)
    show(folder, pictures)
    return 0


def _show(run: AirRun, output: PagedOutput, folder: Path | None, pictures: list[Path]) -> None:
    if output.json:
        _print_json(run, folder)
    else:
        _print_report(run, output, folder, pictures)


def follow_with_progress(case: BlocksCase, progress: Progress) -> AirRun:
    """Follow the flow of a case, telling how far it is; a flow that breaks down is one line."""
    from sim.airflow.watch import FlowError
    from sim.problems.air_box import build_grids
    from sim.problems.air_run import solve_air

    progress.stage(f"{case.name}: flow of the air")
    grids = build_grids(case)
    announce_flow(progress, case, grids)
    unit = "L²/α" if case.air.rayleigh else "s"

    began = monotonic()

    def hear(look: Look, stepper: FlowStepper) -> None:
        told = f"time {look.time:.4g} of at most {case.air.longest:.4g} {unit}, step {look.steps:,}"
        left = (monotonic() - began) * (case.air.longest - look.time) / look.time if look.time > 0.0 else 0.0
        rest = f", at most {about(left)} left" if left >= LEAST_LEFT else ""
        progress.on_step(f"{told}, change {look.change:.1e}, growth {look.growth:+.2g}{rest}")

    with compilation_announced(progress):
        try:
            return solve_air(case, listener=hear, grids=grids)
        except FlowError as error:
            raise SolveError(f"{case.name}: {error}; use smaller cells, or scheme = \"bounded\"") from error
        except MemoryError:
            raise SolveError(f"{case.name}: the memory is too small for this mesh; use larger cells") from None


def _draw(folder: Path, output: PagedOutput, progress: Progress) -> list[Path]:
    from sim.cli.air_pictures import draw_air

    return draw_air(folder, output.units, progress)


def _print_json(run: AirRun, folder: Path | None) -> None:
    from sim.results.air_covered import covered_alone
    from sim.results.air_motion import ending
    from sim.store.texts import json_text

    told: dict[str, object] = {"case": run.case.name} | folder_entry(folder) | {"report": run.report.as_dict()}
    told |= {"ending": ending(run.report.as_dict()), "air_remarks": [*run.remarks, *covered_alone(run.report.values)]}
    print(json_text(told), end="")


def _print_report(run: AirRun, output: PagedOutput, folder: Path | None, pictures: list[Path]) -> None:
    from sim.results.air_answer import air_answer
    from sim.results.air_covered import covered_alone
    from sim.results.air_motion import ending

    out = console(output.units)
    out.print(run.case.title or run.case.name, style="bold")
    out.print()
    for sentence in (*air_answer(run.case, run.report.as_dict(), output.units), ending(run.report.as_dict())):
        print_sentence(out, sentence)
    out.print()
    out.print(SCALES if run.problem.dimensionless else WALLS)
    out.print(report_table(run.report.as_dict(), "si" if run.problem.dimensionless else output.units))
    out.print()
    for remark in (*run.remarks, *covered_alone(run.report.values)):
        print_sentence(out, remark)
    out.print(kept_line(folder, pictures), soft_wrap=True)

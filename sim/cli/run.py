"""`joistbay run`: solve one case."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.errors import SolveError, UsageError, modelled, solved
from sim.cli.grids import FINER, print_grids, solve_on_grids
from sim.cli.keeping import folder_entry, keep, kept_line, written_text
from sim.cli.load import check_size, load, usual_folder
from sim.cli.options import USUAL_PAGED, AirWord, DeviceWord, FinenessWord, PagedOutput, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.report import page_beside
from sim.cli.show import CAUTION, console, report_table
from sim.cli.stopping import say_when_stopped, writes_to
from sim.cli.warnings import print_answer, print_warnings, warnings_as_dict

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase
    from sim.case.load import AnyCase
    from sim.resolved.air import RoundListener
    from sim.resolved.means import Evidence, Round
    from sim.run import Result
    from sim.study.grid_convergence import GridStudy


def run(
    case: Path,
    /,
    *,
    fineness: FinenessWord | None = None,
    air: AirWord | None = None,
    device: DeviceWord | None = None,
    uncertainty: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    resume: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
    output: PagedOutput = USUAL_PAGED,
) -> int:
    """Solve one case in steady state and keep it as a run folder.

    Parameters
    ----------
    case
        A case file.
    fineness
        Mesh fineness instead of the one in the case.
    air
        How the cavity's air is modelled, instead of the case's air.model: resolved computes its flow, in minutes.
    device
        Where resolved air is followed, instead of the one in the case: cpu, gpu (an accelerator), or auto.
    uncertainty
        Solve on three grids, up to twice as fine (some eight times the cells), and put ± on the headline numbers; the
        finest grid's result is kept. With computed air the case's own grid is the finest.
    resume
        Go on with a run with resolved air that was stopped; what was lost is less than a minute of work.
    """
    from sim.problems.kinds import AIR_ALONE
    from sim.store.folder_lock import locked
    from sim.store.target import check_target

    asked = load(case, fineness, device, output.units, air)
    folder = output.out or usual_folder(asked)
    check_target(folder)
    if AIR_ALONE.holds(asked):
        if resume:
            raise UsageError(
                f"{asked.name}: air alone keeps nothing while it runs, so --resume has nothing to go on from; leave it "
                "out, or name a finished run by air.start_from"
            )
        return _run_air(asked, folder, uncertainty, output)
    if resume and not asked.air.is_resolved:
        rule = "goes on with computed air that was stopped, and this run computes none; leave it out"
        raise UsageError(f"{asked.name}: --resume {rule}, or add --air resolved")
    check_size(asked, FINER if uncertainty and not asked.air.is_resolved else 1)
    with locked(folder):
        return _run(asked, folder, uncertainty, resume, output)


def _run(case: AnyCase, folder: Path, uncertainty: bool, resume: bool, output: PagedOutput) -> int:
    """Solve the case, keep it and show it; what computed air keeps meanwhile goes when the result is there."""
    from sim.problems.save_result import save_result
    from sim.resolved.checkpoint import remove_checkpoints

    written = written_text(case)
    with Progress() as progress:
        checkpoint, kept = _checkpoint(case, folder, resume, uncertainty)
        grids = solve_on_grids(case, progress, checkpoint) if uncertainty else None
        result = grids.with_bands if grids else solve_with_progress(case, progress, checkpoint)
        show = partial(_show, result, grids, output)
        keep(partial(save_result, result), folder, show, written)
        for file in kept:
            remove_checkpoints(file)
        pictures = [] if output.no_pictures else _draw(result, folder, output.units, progress)
        pictures += [] if output.no_page else page_beside(folder, output.units, progress)
    show(folder, pictures)
    return 0


def _show(
    result: Result, grids: GridStudy | None, output: PagedOutput, folder: Path | None, pictures: list[Path]
) -> None:
    if output.json:
        _print_json(result, folder, grids)
    else:
        _print_report(result, output.units, folder, pictures, grids)


def _checkpoint(
    case: AnyCase, folder: Path, resume: bool, uncertainty: bool
) -> tuple[Path | None, tuple[Path, ...]]:
    """File that resolved air keeps beside the results until they are safe, and all of them, one a mesh.

    Old ones go unless they are taken up.
    """
    if not case.air.is_resolved:
        return None, ()
    from hashlib import sha256

    from sim.jobs.identity import case_identity
    from sim.resolved.checkpoint import remove_checkpoints
    from sim.solver.checkpoint_file import is_checkpoint_file
    from sim.study.air_grids import mesh_files

    mark = sha256(case_identity(case).encode()).hexdigest()[:12]
    path = folder.with_name(f"{folder.name}.{mark}.air.npz")
    kept = mesh_files(path) if uncertainty else (path,)
    for file in kept:
        if file.exists() and not is_checkpoint_file(file):
            raise UsageError(f"{file}: is in the way and no checkpoint of joistbay; move it, or choose another --out")
        if not resume:
            remove_checkpoints(file)
    say_when_stopped(partial(_way_on, kept, uncertainty))
    writes_to(*kept)
    return path, kept


def _way_on(kept: tuple[Path, ...], uncertainty: bool) -> str:
    """What a stopped run with computed air has kept, and how it goes on."""
    there = [str(file) for file in kept if file.exists()]
    options = f"{'--uncertainty ' if uncertainty else ''}--resume"
    return f"the computed air is kept in {' and '.join(there)}; {options} goes on with it" if there else ""


def _run_air(case: BlocksCase, folder: Path, uncertainty: bool, output: PagedOutput) -> int:
    """A case in which only the flow of the air is computed."""
    from sim.cli.run_air import run_air
    from sim.store.folder_lock import locked

    if uncertainty:
        raise UsageError(f"{case.name}: is air alone: no --uncertainty for it; compare two values of air.cell")
    check_size(case)
    with locked(folder):
        return run_air(case, folder, output)


def solve_with_progress(case: AnyCase, progress: Progress, checkpoint: Path | None = None) -> Result:
    """Prepare and solve a case, telling how far it is."""
    progress.stage(f"{case.name}: mesh and view factors")
    from sim.cli.estimate import announced
    from sim.run import prepare, solve_model

    with announced(progress, "run", [case]), compilation_announced(progress):
        with modelled(case.name):
            model = prepare(case)
        progress.stage(f"{case.name}: solving {model.grid.size:,} cells")
        with solved(case.name), _no_steady_state(case), _rounds(case, progress) as hear:
            return solve_model(model, listener=progress.on_pass, air_listener=hear, air_checkpoint=checkpoint)


@contextmanager
def _no_steady_state(case: AnyCase) -> Iterator[None]:
    """Around a steady solve of what can also be followed in time: a part that gives no heat away never settles."""
    from sim.problems.kinds import BLOCKS_IN_TIME
    from sim.run import NotConvergedError

    try:
        yield
    except NotConvergedError as error:
        if not BLOCKS_IN_TIME.holds(case):
            raise
        way_out = "a part that takes heat and gives none away has no steady state; joistbay warmup follows [time]"
        raise SolveError(f"{error}; {way_out}") from error


@contextmanager
def _rounds(case: AnyCase, progress: Progress) -> Iterator[RoundListener | None]:
    """Who hears of the rounds of computed air, and learns from them how long it takes."""
    from sim.cli.estimate import learn_air

    if not case.air.is_resolved:
        yield None
        return
    tell, heard = progress.rounds(case.air.error, case.air.longest), []

    def hear(record: Round, evidence: Evidence, seconds: float) -> None:
        if not evidence.companion:
            heard.append((record.time, record.duration, seconds))
        tell(record, evidence, seconds)

    yield hear
    learn_air(case, *_followed(heard))


def _followed(heard: list[tuple[float, float, float]]) -> tuple[float, float]:
    """How long the air was followed in this process, whatever an earlier one had done, and what that took [s]."""
    if not heard:
        return 0.0, 0.0
    (first, duration, _), (last, _, seconds) = heard[0], heard[-1]
    return last - first + duration, seconds


def _draw(result: Result, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    from sim.cli.pictures import draw_run

    files = draw_run(result, folder, units, progress)
    if result.air is None:
        return files
    from sim.cli.air_pictures import draw_air

    return [*files, *draw_air(folder, units, progress)]


def _print_json(result: Result, folder: Path | None, grids: GridStudy | None) -> None:
    from sim.store.texts import json_text

    told = {"case": result.case.name} | folder_entry(folder) | {"report": result.report.as_dict()}
    remarks = [*grids.remarks] if grids else _remarks(result)
    told |= warnings_as_dict(result) | ({"air_remarks": remarks} if result.air else {})
    print(json_text(told | ({"grids": grids.as_dict()} if grids else {})), end="")


def _remarks(result: Result) -> list[str]:
    """What limits the errors that computed air tells of itself, and what they hold; nothing of other air."""
    from sim.results.air_covered import covered_among_solids
    from sim.results.air_remarks import air_remarks

    if not result.air:
        return []
    air = result.case.air
    covered = covered_among_solids(result.report.values, air.cell is not None or air.wall_cell is not None)
    return [*air_remarks(result.air, air.companion), *covered]


def _print_report(
    result: Result, units: UnitChoice, folder: Path | None, pictures: list[Path], grids: GridStudy | None
) -> None:
    from sim.problems.kinds import BLOCKS_IN_TIME

    out, bay = console(units), result.case.joist_bay
    out.print(result.case.title or result.case.name, style="bold")
    out.print()
    if bay is not None:
        print_answer(out, bay, result.report.values, units)
        out.print()
    out.print(report_table(result.report.as_dict(), units))
    out.print()
    if grids:
        print_grids(out, grids, units)
    for remark in [] if grids else _remarks(result):
        out.print(f"{remark}\n")
    if bay is not None:
        print_warnings(out, bay, result.report.values, units)
        out.print(f"\n{CAUTION}\n")
    elif BLOCKS_IN_TIME.holds(result.case):
        out.print("The steady state, with what swings at its mean; joistbay warmup follows [time].\n")
    out.print(kept_line(folder, pictures), soft_wrap=True)

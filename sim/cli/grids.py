"""`joistbay run --uncertainty`: solve on three grids, and show how far the numbers depend on them."""

from __future__ import annotations

from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

from sim.cli.errors import UsageError, solved
from sim.cli.options import UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.show import each_system, plain_table

if TYPE_CHECKING:
    from rich.console import Console

    from sim.case.load import AnyCase
    from sim.study.compare import StudyStep
    from sim.study.grid_convergence import Estimate, GridStudy

FINER = 2
"""By how much the finest of the grids is finer than the case's own."""


NO_BANDS = (
    "No number has a ±, though three grids were computed: on the finest one the air was followed too briefly for any "
    "error to be told."
)
"""Said in place of the table where no band is known."""


def solve_on_grids(case: AnyCase, progress: Progress, checkpoint: Path | None = None) -> GridStudy:
    """Solve a case on a coarser grid, its own and a finer one, telling how far it is.

    With computed air its own grid is the finest, and the air of all three is kept beside `checkpoint`.
    """
    progress.stage(f"{case.name}: three grids")
    from sim.cli.estimate import announced
    from sim.study.air_grids import NoCoarserMeshesError, with_air_uncertainty
    from sim.study.grid_convergence import with_uncertainty

    began = [monotonic()]

    def tell(step: StudyStep) -> None:
        if step.number == step.total and len(began) > 1:  # by the middle grid, which has just been solved
            progress.measured((monotonic() - began[-1]) * FINER**3)
        began.append(monotonic())
        progress.stage(f"{case.name}, grid {step.number} of {step.total}: {step.text}")

    with announced(progress, "grids", [case]), compilation_announced(progress), solved(case.name):
        if case.air.is_resolved:
            rounds = progress.rounds(case.air.error, case.air.longest, "on this grid")
            try:
                return with_air_uncertainty(case, tell, rounds, checkpoint)
            except NoCoarserMeshesError as error:
                raise UsageError(f"{case.name}: --uncertainty: {error}") from None
        return with_uncertainty(case, tell, refinement=float(FINER))


def print_grids(out: Console, study: GridStudy, units: UnitChoice) -> None:
    """Print a table of the numbers on the three grids, and how they converge; of two unit systems the first."""
    if not study.estimates:
        out.print(f"{NO_BANDS}\n")
    else:
        _print_table(out, study, units)
    for remark in study.remarks:
        out.print(f"{remark}\n")


def _print_table(out: Console, study: GridStudy, units: UnitChoice) -> None:
    """The numbers on the three grids, and what their bands are."""
    table = plain_table()
    table.add_column("cells", no_wrap=True)
    for cells in reversed(study.cells):
        table.add_column(f"{cells:,}", justify="right", no_wrap=True)
    by_air = study.result.air is not None
    for head in ("±", *(["mesh", "chance"] if by_air else [])):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True, style="dim")
    if told := not all(found.behaviour == "fitted" for found in study.estimates.values()):
        table.add_column("convergence", no_wrap=True)
    for key, found in study.estimates.items():
        line = _line(key, found, each_system(units)[0], by_air)
        table.add_row(*(line if told else line[:-1]))
    out.print(table)
    ratios = " and ".join(f"{ratio:.2f}" for ratio in reversed(study.ratios))
    out.print(
        f"± is the uncertainty of the finest grid's numbers; each grid's cells are {ratios} times smaller than those "
        f"of the one before. {_by_what(study)} {_holds(study)}\n"
        "Inputs (materials, contact, stated films) are taken as they stand: joistbay study varies them.\n",
    )


def _by_what(study: GridStudy) -> str:
    """What makes the bands of a mesh: one of two ways, or both."""
    from sim.study.fitted import ORDER

    fitted = [found.behaviour == "fitted" for found in study.estimates.values()]
    index = "Its part of the mesh is by the grid convergence index (ASME V&V 20)."
    fit = (
        f"a fit of order {ORDER:g}, or by what the air's cells at walls leave open where that is more: these grids are "
        "too near each other, or chance is too large, to tell an order."
    )
    if all(fitted):
        return f"Its part of the mesh is by {fit}"
    return f"{index} Where the table says fitted, it is by {fit}" if any(fitted) else index


def _holds(study: GridStudy) -> str:
    """What else the bands hold."""
    if study.result.air is not None:
        return (
            "It is the root of the squares of two: mesh, and chance, twice the standard error "
            "of the air's means on the finest mesh and the scatter of traced rays."
        )
    held = ["the scatter of traced rays"] * any(found.scatter for found in study.estimates.values())
    held += ["what the laws of films leave open"] * any(found.law for found in study.estimates.values())
    return f"It holds {' and '.join(held)}." if held else ""


def _line(key: str, found: Estimate, system: Any, by_air: bool) -> list[str]:
    """One number: its values from the coarsest grid to the finest, its band and its parts, unit, how it converges."""
    from sim.results.people import BAND, format_span, full_name, unit_of

    texts, unit = format_span(key, found.values[::-1], system)
    widths = [found.uncertainty, *([found.band, found.scatter] if by_air else [])]
    bands = [f"{unit_of(key + BAND).convert(width, system):.2g}" for width in widths]
    return [full_name(key, system), *texts, *bands, unit, found.told.removeprefix("monotone, ")]

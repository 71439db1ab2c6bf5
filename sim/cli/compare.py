"""`joistbay compare`: choices side by side."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from sim.cli.choices import SPACING, Wanted, heading, wanted_choices, wanted_flux
from sim.cli.errors import FAILED, say_error, solved
from sim.cli.keeping import folder_entry, keep, kept_line
from sim.cli.load import check_size, load_bay, usual_folder
from sim.cli.options import USUAL, DeviceWord, FinenessWord, Output, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.show import CAUTION, choices_table, chunks, console, print_air
from sim.cli.work import ALONE, Work, kept_work

if TYPE_CHECKING:
    from rich.console import Console

    from sim.case.bay_case import Case
    from sim.jobs.jobs import Pool
    from sim.study.compare import Comparison

_FIRST_LINE = {
    "water": {"heat_flux_up_W_m2": "upward heat flux"},
    "heat": {"water_supply_C": "water supply needed"},
}
_LINES = {
    "surface_mean_C": "floor, mean",
    "surface_peak_C": "floor, warmest spot",
    "surface_trough_C": "floor, coolest spot",
    "ripple_K": "ripple, warmest - coolest",
    "area_above_29C_percent": "floor above 29 °C",
    "sheathing_peak_C": "sheathing, warmest spot",
    "share_down_percent": "share of heat lost below",
    "plates_per_m2": "plates",
}
"""Report keys in the two tables, and what they are called there."""


def compare(
    case: Path,
    /,
    *,
    spacing: str | None = None,
    vary: str | None = None,
    flux: Annotated[str | None, Parameter(allow_leading_hyphen=True)] = None,
    fineness: FinenessWord | None = None,
    device: DeviceWord | None = None,
    output: Output = USUAL,
    work: Work = ALONE,
) -> int:
    """Solve a case for several choices, twice: at equal water temperature and at equal delivered heat.

    Parameters
    ----------
    case
        A case file.
    spacing
        Plate spacings, such as 200mm,300mm,none; the case's own list when left out.
    vary
        Any other key with its values, such as tube.runs=1,2,3.
    flux
        Upward heat of the second comparison, such as "60 W/m^2"; when left out, what the first gives.
    fineness
        Mesh fineness instead of the one in the case.
    device
        Where resolved air is followed, instead of the one in the case: cpu, gpu (an accelerator), or auto.
    """
    from sim.store.target import check_target
    from sim.study.save_comparison import COMPARISON_ENTRIES, save_comparison

    asked = load_bay(case, fineness, device)
    wanted, watts = wanted_choices(asked, spacing, vary), wanted_flux(flux)
    folder = output.out or _folder_of(asked, wanted)
    check_target(folder, COMPARISON_ENTRIES)
    for variant in wanted.variants(asked):
        check_size(variant)
    pool = work.pool()
    with Progress() as progress, kept_work(folder, work) as store:
        comparison = _solve(asked, wanted, watts, Places(store, pool), progress)
        progress.stage("writing the results")
        show = partial(_show, comparison, output)
        keep(partial(save_comparison, comparison), folder, show)
        pictures = [] if output.no_pictures else _draw(comparison, folder, output.units, progress)
    show(folder, pictures)
    return report_failures(comparison)


def _show(comparison: Comparison, output: Output, folder: Path | None, pictures: list[Path]) -> None:
    if output.json:
        _print_json(comparison, folder)
    else:
        _print_tables(comparison, output.units, folder, pictures)


def _folder_of(case: Case, wanted: Wanted) -> Path:
    """runs/NAME-compare, with the key unless it is the spacing."""
    key = "" if wanted.key == SPACING else "-" + wanted.key.replace(".", "-")
    return usual_folder(case, f"-compare{key}")


@dataclass(frozen=True, slots=True)
class Places:
    """Where finished choices are kept, and who solves them."""

    store: Path
    pool: Pool


def _solve(case: Case, wanted: Wanted, flux: float | None, places: Places, progress: Progress) -> Comparison:
    progress.stage(f"{case.name}: {len(wanted.names)} choices, twice each")
    from sim.study.compare import compare as compare_choices
    from sim.study.compare_jobs import ChoiceJobs
    from sim.study.together import compare_together, goes_together

    if goes_together(case):
        with compilation_announced(progress), solved(case.name):
            return compare_together(
                case, wanted.key, wanted.values, names=wanted.names, flux=flux, tell=progress.on_step
            )
    performer = ChoiceJobs(places.store, places.pool, progress.outcomes(len(wanted.names)))
    with compilation_announced(progress), solved(case.name):
        return compare_choices(
            case, wanted.key, wanted.values, names=wanted.names, flux=flux, performer=performer
        )


def report_failures(comparison: Comparison) -> int:
    """Say on stderr which choices failed; the exit code, 0 when none did."""
    failed = [choice for choice in comparison.choices if choice.failure]
    for choice in failed:
        say_error(f"{choice.name}: failed; {choice.failure}")
    return FAILED if failed else 0


def _draw(comparison: Comparison, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    from sim.cli.pictures import draw_comparison

    return draw_comparison(comparison, folder, units, progress)


def _print_json(comparison: Comparison, folder: Path | None) -> None:
    from sim.store.texts import json_text

    print(json_text(comparison.as_dict() | folder_entry(folder)), end="")


def _print_tables(comparison: Comparison, units: UnitChoice, folder: Path | None, pictures: list[Path]) -> None:
    from sim.case.constants import ZERO_CELSIUS
    from sim.results.people import format_value

    out = console()
    out.print(comparison.case.title or comparison.case.name, style="bold")
    if comparison.key != "water.supply":
        supply = comparison.case.water.supply - ZERO_CELSIUS
        out.print(f"\nAt equal water temperature, {format_value('water_supply_C', supply, units)} supply")
    else:
        out.print("\nEach at its own water temperature")
    _print_table(out, comparison, "water", units)
    wanted = format_value("heat_flux_up_W_m2", comparison.flux, units)
    out.print(f"\nAt equal delivered heat, {wanted} upwards")
    _print_table(out, comparison, "heat", units)
    for choice in comparison.choices:
        if choice.shortfall:
            out.print(f"{choice.name}: out of reach; {choice.shortfall}", soft_wrap=True)
    print_air(out, [result.report.values for each in comparison.choices if (result := each.result("water"))])
    out.print(f"\n{CAUTION}")
    out.print(f"\n{kept_line(folder, pictures)}", soft_wrap=True)


def _print_table(out: Console, comparison: Comparison, equal: str, units: UnitChoice) -> None:
    """One table, in pieces where the choices do not fit side by side."""
    rows = comparison.rows(equal)
    for piece in chunks(len(rows), out.width):
        shown = [rows[place] for place in piece]
        out.print(choices_table(shown, _FIRST_LINE[equal] | _LINES, units, heading(comparison.key)))

"""`joistbay warmup`: choices of a bay in time; `sim.cli.warmup_blocks` follows what is one march, as blocks are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.choices import wanted_choices
from sim.cli.compare_tables import print_worst
from sim.cli.errors import FAILED, UsageError, modelled, say_error
from sim.cli.estimate import announced
from sim.cli.export import wanted_time
from sim.cli.keeping import folder_entry, keep, kept_line, written_text
from sim.cli.load import load, only_bay, usual_folder
from sim.cli.options import USUAL_PAGED, FinenessWord, PagedOutput, UnitChoice
from sim.cli.progress import Progress, compilation_announced
from sim.cli.report import page_beside
from sim.cli.show import CAUTION, console, print_choices, print_sentence, report_table
from sim.cli.warnings import limit_lines
from sim.cli.work import ALONE, Work, kept_work

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.problems.save_warm_up import StoredWarmUp
    from sim.rules.caution import Caution
    from sim.solver.march import Step
    from sim.solver.stages import Moment

_FIRST_LINE = {"flux_63_h": "upward heat at 63 %"}
_LINES = {
    "flux_90_h": "upward heat at 90 %",
    "flux_overshoot_percent": "upward heat, overshoot",
    "surface_63_h": "rise of the floor at 63 %",
    "surface_90_h": "rise of the floor at 90 %",
    "surface_highest_C": "floor, warmest ever",
    "wood_highest_C": "wood, warmest ever",
    "wood_above_52C_h": "some wood above 52 °C",
    "energy_in_Wh_m2": "heat given by the water",
    "energy_up_Wh_m2": "heat up",
    "energy_down_Wh_m2": "heat down",
    "energy_edge_Wh_m2": "heat out through the edges",
    "energy_stored_Wh_m2": "heat taken up by the bay",
    "water_on_h": "water running",
    "floor_limit_h": "water held back by the floor limit",
}
"""Report keys in the table of several choices, and what they are called there."""

_NO_WAY = "The floor gains no heat on the way to its steady state, so there is no time to 63 % or 90 % of it"
_SOONEST = ("flux_63_h", "flux_90_h")
"""Report keys of the times that are told first."""


def warmup(
    case: Path,
    /,
    *,
    spacing: str | None = None,
    vary: str | None = None,
    snapshots: str | None = None,
    fineness: FinenessWord | None = None,
    output: PagedOutput = USUAL_PAGED,
    work: Work = ALONE,
) -> int:
    """Follow a case in time, as its sections [time], [control], [weather] and [room.node] say.

    Parameters
    ----------
    case
        A case file; without those sections its water comes at once to a bay as warm as the room, for 12 hours.
        A case of blocks needs [time]; its folder is that of a run, with a line a step in history.csv.
    spacing
        Plate spacings to follow side by side, such as 200mm,300mm,none.
    vary
        Any other key with its values, such as water.supply=45degC,55degC.
    snapshots
        Times at which the temperatures of the whole bay are kept, such as 1h,2h,6h; joistbay export writes them.
    fineness
        Mesh fineness instead of the one in the case; coarse will often do.
    """
    from sim.problems.kinds import kind_in_time, kind_of
    from sim.problems.save_warm_up import WARM_UP_ENTRIES, save_warm_ups, warm_ups_in_jobs
    from sim.store.target import check_target

    read = load(case, fineness, units=output.units)
    if (kind := kind_in_time(read)) is None:
        raise UsageError(f"{case}: {kind_of(read).untimed}")
    if not kind.side_by_side:
        from sim.cli.warmup_blocks import warmup_blocks

        choices = {"spacing": spacing, "vary": vary, "snapshots": snapshots}
        return warmup_blocks(case, read, output, choices, work)
    asked = _with_snapshots(only_bay(case, read), snapshots)
    variants = _variants(asked, spacing, vary)
    folder = output.out or usual_folder(asked, "-warmup")
    check_target(folder, WARM_UP_ENTRIES)
    for variant in variants.values():
        with modelled(variant.name):
            kind.check(variant)
    pool, written = work.pool(), written_text(asked)
    with Progress(units=output.units) as progress, kept_work(folder, work) as store:
        progress.stage(f"{asked.name}: {len(variants)} warm-up{'s' * (len(variants) > 1)}")
        with announced(progress, "march", list(variants.values())), compilation_announced(progress):
            listeners = progress.outcomes(len(variants)), partial(_follower, progress)
            done = warm_ups_in_jobs(variants, store, pool, *listeners)
        found = [choice for _, choice, _ in done if choice is not None]
        if found:
            progress.stage("writing the results")
            keep(partial(save_warm_ups, asked, found), folder, partial(_show, asked, found, output), written)
            found = _saved(folder, found)
    with Progress(units=output.units) as progress:
        pictures = [] if output.no_pictures or not found else _draw(asked, found, folder, output.units, progress)
        pictures += [] if output.no_page or not found else page_beside(folder, output.units, progress)
    if found:
        _show(asked, found, output, folder, pictures)
    return _report_failures(done)


def _show(
    case: Case, choices: Sequence[StoredWarmUp], output: PagedOutput, folder: Path | None, pictures: list[Path]
) -> None:
    if output.json:
        _print_json(choices, folder)
    else:
        _print_tables(case, choices, output.units, folder, pictures)


def _with_snapshots(case: Case, snapshots: str | None) -> Case:
    """The case with the snapshots of the option instead of its own."""
    if snapshots is None:
        return case
    times = tuple(wanted_time(text, "--snapshots") for text in snapshots.split(","))
    return case.with_(**{"time.snapshots": times})


def _follower(progress: Progress, name: str, case: Case) -> Callable[[Moment, Step], None]:
    return progress.steps(name, case.time.duration)


def _variants(case: Case, spacing: str | None, vary: str | None) -> dict[str, Case]:
    """The cases to follow, by name: the case itself unless choices are named."""
    if spacing is None and vary is None:
        return {case.title or case.name: case}
    if spacing and vary:
        raise UsageError("--spacing and --vary exclude each other; give one of them")
    wanted = wanted_choices(case, spacing, [vary] if vary else ())
    return dict(zip(wanted.names, wanted.variants(case), strict=True))


def _saved(folder: Path, choices: Sequence[StoredWarmUp]) -> list[StoredWarmUp]:
    """The same warm-ups where they now lie."""
    from sim.problems.save_warm_up import CHOICES_FOLDER, StoredWarmUp

    places = sorted((folder / CHOICES_FOLDER).iterdir(), key=lambda place: int(place.name.split("-")[0]))
    return [StoredWarmUp(choice.name, place) for choice, place in zip(choices, places, strict=True)]


def _draw(
    case: Case, choices: Sequence[StoredWarmUp], folder: Path, units: UnitChoice, progress: Progress
) -> list[Path]:
    from sim.cli.pictures import draw_warm_ups

    return draw_warm_ups(case, choices, folder, units, progress)


def _print_json(choices: Sequence[StoredWarmUp], folder: Path | None) -> None:
    from sim.problems.save_warm_up import warm_ups_as_dict
    from sim.store.texts import json_text

    print(json_text(warm_ups_as_dict(choices) | folder_entry(folder)), end="")


def _print_tables(
    case: Case, choices: Sequence[StoredWarmUp], units: UnitChoice, folder: Path | None, pictures: list[Path]
) -> None:
    out = console(units)
    out.print(case.title or case.name, style="bold")
    for choice in choices:
        print_sentence(out, _in_short(choice, units, len(choices) > 1, _back(choice, units)))
    goes = any("flux_end_percent" in _known(choice) for choice in choices)
    shares = "; shares are of the way to the steady state" if goes else ""
    out.print(f"\nFollowed for {case.time.duration / 3600.0:.4g} h{shares}")
    held, cautions = _held(choices, units)
    out.print("At its warmest in that time:" if len(choices) == 1 else "At their warmest in that time:", style="bold")
    for line in held:
        out.print(line)
    out.print()
    if len(choices) == 1:
        out.print(report_table(_known(choices[0]), units))
    else:
        rows: list[dict[str, Any]] = [{"choice": choice.name} | _known(choice) for choice in choices]
        print_choices(out, rows, _lines(rows), units, "")
    print_worst(out, cautions, units)
    out.print(f"\n{CAUTION}\n")
    out.print(kept_line(folder, pictures), soft_wrap=True)


def _known(choice: StoredWarmUp) -> dict[str, Any]:
    """Its numbers by report key, without those that it has not: shares of a way that the floor does not go."""
    return {key: value for key, value in choice.report.as_dict().items() if value is not None and value == value}


def _back(choice: StoredWarmUp, units: UnitChoice) -> str:
    """When the room is back at its setpoint after a setback; nothing without one."""
    from sim.results.setback import recoveries, told_recovery

    if (case := _case_of(choice)) is None:
        return ""
    found = recoveries(case.control, case.time.clock, choice.series)
    return told_recovery(case.control, case.time.clock, found, units)


def _in_short(choice: StoredWarmUp, units: UnitChoice, named: bool, back: str = "") -> str:
    """When a room is back after a setback, when most of the heat is there, if ever, and how warm the floor gets."""
    from sim.results.people import format_value

    known = _known(choice)
    at = {key: format_value(key, known[key], units) for key in (*_SOONEST, "surface_highest_C") if key in known}
    if "flux_end_percent" not in known:
        told = "" if back else _NO_WAY
    elif "flux_63_h" not in at:
        told = f"{known['flux_end_percent']:.0f} % of the steady heat comes up at the end, and never 63 % of it"
    else:
        most = f"after {at['flux_90_h']}" if "flux_90_h" in at else "not by the end"
        told = f"63 % of the steady heat comes up after {at['flux_63_h']}, 90 % {most}"
    warmest = f"he floor gets {at['surface_highest_C']} at most."
    told = f"{back} {f'{told}; t' if told else 'T'}{warmest}".strip()
    return f"{choice.name}: {told}" if named else told


def _case_of(choice: StoredWarmUp) -> Case | None:
    """The bay of a warm-up, where this version understands it."""
    from sim.cli.report_records import understood
    from sim.store.run_folder import CASE_FILE
    from sim.store.texts import text_of

    case = understood(text_of(choice.folder / CASE_FILE), choice.name)
    return None if case is None else case.joist_bay


def _held(choices: Sequence[StoredWarmUp], units: UnitChoice) -> tuple[list[str], list[tuple[str, Caution]]]:
    """Limits of each warm-up at its warmest, and what to mind with any of them."""
    from sim.case.constants import ZERO_CELSIUS
    from sim.rules.cautions import bay_cautions
    from sim.rules.in_time import at_its_warmest
    from sim.rules.limits import hold, limits_for

    lines: list[str] = []
    found: list[tuple[str, Caution]] = []
    for choice in choices:
        if (bay := _case_of(choice)) is None:
            continue
        values = at_its_warmest(bay, choice.report.values, float(choice.series["surface_mean"].max()) - ZERO_CELSIUS)
        told = limit_lines(hold(limits_for(bay), values), units)
        lines += [f"{choice.name}: {line}" for line in told] if len(choices) > 1 else told
        found += [(choice.name, caution) for caution in bay_cautions(bay, values, units)]
    return lines, found


def _lines(rows: Sequence[dict[str, Any]]) -> dict[str, str]:
    """What the table of several choices shows: what the water gives and where it goes, edges where heat leaves there;
    how long the water ran only where it ever stopped."""
    idle = {"water_on_h"} if not any(row.get("switches") for row in rows) else set()
    idle |= {"energy_edge_Wh_m2"} if not any(row.get("energy_edge_Wh_m2") for row in rows) else set()
    return {key: label for key, label in (_FIRST_LINE | _LINES).items() if key not in idle}


def _report_failures(done: Sequence[tuple[str, StoredWarmUp | None, str]]) -> int:
    """Say on stderr which choices failed; the exit code, 0 when none did."""
    failed = [(name, failure) for name, choice, failure in done if choice is None]
    for name, failure in failed:
        say_error(f"{name}: failed; {failure}")
    return FAILED if failed else 0

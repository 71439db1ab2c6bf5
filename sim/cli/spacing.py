"""`joistbay spacing`: the widest plate spacing that delivers a flux within limits."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from sim.cli.choices import wanted_flux
from sim.cli.errors import UsageError, solved
from sim.cli.estimate import announced
from sim.cli.load import check_size, load_bay
from sim.cli.options import FinenessWord, UnitChoice
from sim.cli.progress import Progress, compilation_announced

if TYPE_CHECKING:
    from rich.console import Console

    from sim.case.bay_case import Case
    from sim.rules.limits import Verdict
    from sim.run import Result
    from sim.study.spacing import SpacingWish, TriedSpacing, WidestSpacing

METRIC_STEP, INCH_STEP = 0.025, 0.0254
"""Usual steps of buildable spacings [m]: 25 mm and 1 in."""

_HEADLINE = (
    "heat_flux_up_W_m2",
    "surface_mean_C",
    "surface_peak_C",
    "ripple_K",
    "share_down_percent",
    "sheathing_peak_C",
    "plates_per_m2",
    "tube_m_per_m2",
)
"""Report keys told of the bay that was found; JSON has all."""

_EVERY = "plates every"
"""Stands once, above the spacings that were solved."""

_LABELS = 48
"""Columns for what a number is."""

_COLUMNS = {"heat_flux_up_W_m2": "upwards", "surface_peak_C": "warmest spot", "ripple_K": "ripple"}
"""Report keys in the table of trials, and what they are called there."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Within:
    """What the spacing has to keep to.

    Parameters
    ----------
    supply
        Supply temperature, such as 45degC; the case's own when left out.
    peak
        Highest floor surface, such as 27degC; the standard's limit for the room when left out.
    ripple
        Largest difference between warmest and coolest spot of the floor, such as 3K; that of [compare] in the case, or
        any, when left out.
    step
        Spacings that can be built are multiples of this, such as 50mm; 1 in where the case speaks in inches or --units
        ip is given, else 25 mm; "none" leaves the spacing as it comes out.
    """

    supply: Annotated[str | None, Parameter(allow_leading_hyphen=True)] = None
    peak: Annotated[str | None, Parameter(allow_leading_hyphen=True)] = None
    ripple: Annotated[str | None, Parameter(allow_leading_hyphen=True)] = None
    step: str | None = None


USUAL_LIMITS = Within()
"""Those of the case and the standard."""


def spacing(
    case: Path,
    /,
    *,
    flux: Annotated[str, Parameter(allow_leading_hyphen=True)],
    within: Within = USUAL_LIMITS,
    fineness: FinenessWord | None = None,
    units: UnitChoice = "both",
    json: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
) -> int:
    """Find the widest plate spacing that delivers an upward heat flux at a supply temperature, within limits.

    Each bay is solved by the model; some four solves are needed. Exit code 1 when no spacing keeps everything: then
    the closest spacing's numbers and what binds are told.

    Parameters
    ----------
    case
        A case file with plates, one plate pitch long (span = "pitch").
    flux
        Least upward heat flux of the floor, such as "60 W/m^2" or "20 Btu/(h*ft^2)".
    fineness
        Mesh fineness instead of the one in the case.
    units
        Units of the tables.
    json
        Print JSON instead of tables.
    """
    from sim.rules.limits import hold, limits_for

    asked = _fed(load_bay(case, fineness, units), within.supply)
    wish, step = _wish(asked, flux, within), _step(asked, within.step, units)
    _check(asked)
    with (
        Progress() as progress,
        announced(progress, "spacing", [asked]),
        compilation_announced(progress),
        solved(asked.name),
    ):
        answer = _solve(asked, wish, step, progress, units)
    found = answer.found.result
    verdicts = hold(limits_for(found.case), found.report.values)
    if json:
        _print_json(answer, verdicts)
    else:
        _print(asked, answer, verdicts, units)
    return 0


def _fed(case: Case, supply: str | None) -> Case:
    """The case with the supply temperature that was asked for."""
    return case if supply is None else case.with_text("water.supply", supply)


def _wish(case: Case, flux: str, within: Within) -> SpacingWish:
    """What the options ask for; the peak is the standard's where none is named."""
    from sim.case.constants import ZERO_CELSIUS
    from sim.rules.limits import limits_for
    from sim.study.spacing import SpacingWish

    usual = next(limit.highest for limit in limits_for(case) if limit.key == "surface_peak_C")
    room = float(case.room.temperature)
    highest = _number("--peak", within.peak, "temperature", room, "the room")
    largest = _number("--ripple", within.ripple, "temperature difference", 0.0, "0 K") or case.compare.ripple
    return SpacingWish(wanted_flux(flux) or 0.0, usual if highest is None else highest - ZERO_CELSIUS, largest)


def _number(option: str, text: str | None, dimension: str, above: float, what: str) -> float | None:
    """An option as a number in SI, which must be more than some other."""
    if text is None:
        return None
    from sim.case.quantities import UnitError, parse

    try:
        value = parse(text, dimension)
    except UnitError as error:
        raise UsageError(f'{option} got "{text}"; {error}') from error
    if not value > above:
        raise UsageError(f'{option} got "{text}"; must be more than {what}')
    return value


def _step(case: Case, text: str | None, units: UnitChoice) -> float | None:
    """What buildable spacings are multiples of [m]; None where nobody cares."""
    from sim.cli.keeping import written_text
    from sim.results.notation_used import writes_inches
    from sim.results.spacing_names import speaks_in_inches

    if text is not None and text.strip().lower() == "none":
        return None
    stated = _number("--step", text, "length", 0.0, "0")
    plates = case.plates
    spoken = writes_inches(written_text(case))  # 50 in are a whole number of millimetres too
    if spoken is None:
        spoken = plates is not None and speaks_in_inches(float(plates.spacing))
    inches = units == "ip" or (units == "both" and spoken)
    return stated or (INCH_STEP if inches else METRIC_STEP)


def _check(case: Case) -> None:
    """Refuse a case whose spacing cannot be sought, or whose bays would be too large, before anything is solved."""
    from sim.study.spacing import check_spaced, reach

    check_spaced(case)
    for distance in reach(case):
        check_size(case.with_(**{"plates.spacing": distance}))


def _solve(case: Case, wish: SpacingWish, step: float | None, progress: Progress, units: UnitChoice) -> WidestSpacing:
    from sim.run import prepare, solve_model
    from sim.study.spacing import spacing_text, widest_spacing

    def tell(number: int, distance: float | None) -> None:
        progress.stage(f"{case.name}: solve {number}, {spacing_text(distance, units)}")

    return widest_spacing(
        case, wish, step=step, solve=lambda bay: solve_model(prepare(bay), listener=progress.on_pass), listener=tell,
        units=units,
    )


def _print_json(answer: WidestSpacing, verdicts: tuple[Verdict, ...]) -> None:
    from sim.rules.cautions import bay_cautions
    from sim.store.texts import json_text

    found = answer.found.result
    told = {
        "limits": [verdict.as_dict() for verdict in verdicts],
        "cautions": [caution.as_dict() for caution in bay_cautions(found.case, found.report.values)],
    }
    print(json_text(answer.as_dict() | told), end="")


def _print(case: Case, answer: WidestSpacing, verdicts: tuple[Verdict, ...], units: UnitChoice) -> None:
    from sim.case.constants import ZERO_CELSIUS
    from sim.cli.show import CAUTION, cautions_table, console, each_system, hanging, print_sentence, source_text
    from sim.cli.warnings import way_to_air
    from sim.results.air_words import correlations_words
    from sim.results.bay_answer import left_open
    from sim.results.people import format_value, full_name
    from sim.rules.cautions import bay_cautions
    from sim.study.spacing import spacing_text

    out, found, label_units = console(units), answer.found.result, each_system(units)[-1 if units == "ip" else 0]
    supply = format_value("water_supply_C", float(case.water.supply) - ZERO_CELSIUS, units)
    out.print(case.title or case.name, style="bold")
    out.print(f"\nWidest with {supply} supply: {spacing_text(answer.found.spacing, units)}, {answer.note}")
    _print_broken(out, found, verdicts, units)
    exact = "" if answer.exact is None else spacing_text(answer.exact.spacing, units)
    if exact and exact != spacing_text(answer.found.spacing, units):
        out.print(f"Exactly it would be {exact}; what can be built is the step below, solved anew (--step).")
    out.print(_wish_text(answer.wish, units))
    law = correlations_words([found.case])
    beyond = correlations_words([trial.result.case for trial in answer.trials]).partition(": ")[2]
    others = f"For bays by correlations: {beyond}." if beyond and not law else ""
    for line in filter(None, (left_open(found.report.values, law), others, way_to_air(found.case))):
        print_sentence(out, line)
    out.print()
    numbers = hanging(_LABELS)
    for key in _HEADLINE:
        numbers.add_row(full_name(key, label_units), format_value(key, found.report[key], units))
    out.print(numbers)
    rows = _trial_rows(answer, units)
    again = f", {answer.solves - len(rows)} of them twice" if len(rows) < answer.solves else ""
    out.print(f"\nBays solved ({answer.solves}{again})")
    out.print(_trials_table(rows))
    out.print("\nLimits at that spacing")
    out.print(_limits_table(verdicts, units))
    for source in dict.fromkeys(verdict.limit.source for verdict in verdicts):
        named = ", ".join(verdict.limit.what for verdict in verdicts if verdict.limit.source == source)
        out.print(f"- {named}: {source_text(source, units)}")
    out.print()
    out.print(cautions_table(bay_cautions(found.case, found.report.values, units), units))
    out.print(f"\n{CAUTION}")


def _print_broken(
    out: Console, found: Result[Case], verdicts: tuple[Verdict, ...], units: UnitChoice
) -> None:
    """Limits that the answer breaks: the search heeds heat, floor and ripple alone."""
    from sim.cli.show import print_sentence
    from sim.cli.warnings import limit_lines
    from sim.rules.ways_out import ways_out

    if broken := tuple(verdict for verdict in verdicts if not verdict.kept):
        for line in (*limit_lines(broken, units), *ways_out(found.case, found.report.values, verdicts, units)):
            print_sentence(out, line)


def _wish_text(wish: SpacingWish, units: UnitChoice) -> str:
    """What was asked for, in a line."""
    from sim.results.people import format_value

    parts = [f"at least {format_value('heat_flux_up_W_m2', wish.flux, units)} upwards"]
    if wish.peak is not None:
        parts.append(f"floor at most {format_value('surface_peak_C', wish.peak, units)}")
    if wish.ripple is not None:
        parts.append(f"ripple at most {format_value('ripple_K', wish.ripple, units)}")
    return f"Wanted: {', '.join(parts)}."


def _trial_rows(answer: WidestSpacing, units: UnitChoice) -> list[tuple[str, ...]]:
    """A line a bay from the closest plates to none; lines that read alike stand once, the answer's with its mark."""
    from math import inf

    from sim.results.people import format_value
    from sim.study.spacing import spacing_text

    rows: dict[tuple[str, ...], str] = {}
    several = len({_by_law(trial) for trial in answer.trials}) > 1
    for trial in sorted(answer.trials, key=lambda trial: trial.spacing or inf):
        cells = (format_value(key, trial.result.report[key], units) for key in _COLUMNS)
        shown = (spacing_text(trial.spacing, units), *cells, *([_by_law(trial)] if several else []))
        mark = "found" if trial is answer.found else "kept" if trial.kept else f"broken: {_broken(trial)}"
        rows[shown] = mark if rows.get(shown) != "found" else "found"
    return [(*shown, mark) for shown, mark in rows.items()]


def _by_law(trial: TriedSpacing) -> str:
    """Which law the air of a bay follows."""
    return "learned films" if "air_band_up_percent" in trial.result.report.values else "correlations"


def _trials_table(rows: list[tuple[str, ...]]) -> Any:
    from sim.cli.show import plain_table

    table = plain_table()
    laws = ["air by"] if len(rows[0]) > len(_COLUMNS) + 2 else []
    for head in (_EVERY, *_COLUMNS.values(), *laws, ""):
        table.add_column(head, no_wrap=True)
    for row in rows:
        table.add_row(row[0].removeprefix(_EVERY).lstrip(), *row[1:])
    return table


def _broken(trial: TriedSpacing) -> str:
    """The columns in which a trial does not keep what was wished."""
    from sim.study.spacing import ROUNDING

    return ", ".join(_COLUMNS[key] for key, margin in trial.margins.items() if margin < -ROUNDING)


def _limits_table(verdicts: tuple[Verdict, ...], units: UnitChoice) -> Any:
    from sim.cli.show import plain_table
    from sim.results.people import format_against

    table = plain_table()
    for head in ("limit", "here", "highest", ""):
        table.add_column(head, no_wrap=True)
    for verdict in verdicts:
        limit = verdict.limit
        values = format_against(limit.key, verdict.value, limit.highest, units)
        table.add_row(limit.what, *values, "kept" if verdict.kept else "BROKEN")
    return table

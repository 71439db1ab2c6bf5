"""`joistbay study`: what uncertain inputs do to the results."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from sim.cli.errors import FAILED, UsageError, say_error
from sim.cli.estimate import announce, learning
from sim.cli.keeping import folder_entry, keep, kept_line, written_text
from sim.cli.load import check_size, load, usual_folder
from sim.cli.options import USUAL_PAGED, DeviceWord, FinenessWord, PagedOutput, UnitChoice, WholeNumber
from sim.cli.progress import Progress, compilation_announced
from sim.cli.report import page_beside
from sim.cli.show import CAUTION, console, each_system, plain_table, print_sentence
from sim.cli.work import ALONE, Work, kept_work

if TYPE_CHECKING:
    from rich.table import Table

    from sim.case.load import AnyCase
    from sim.jobs.job import Pool
    from sim.results.people import Units
    from sim.study.sampling import Performer, Study

SHOWN = ("heat_flux_up_W_m2", "heat_flow_down_W", "surface_peak_C", "ripple_K")
"""Results whose inputs are printed; the folder holds them for every headline number."""

HEADLINES = ("heat_flux_up_W_m2", "ripple_K")
"""Results that are told first, in a sentence each."""

_MOVES = (
    "What moves each result: the result with one input at its low and at its high end; and how far its ranks follow "
    "those of the input: +1 it always rises with it, -1 it always falls, 0 neither."
)

SHOWN_FAILURES = 5
"""Reasons of failed solves that are printed; the others are in the folder."""


MOST_SAMPLES = 100_000
"""More solves than anybody waits for; beyond, the number is a slip."""


def study(
    case: Path,
    /,
    *,
    inputs: Annotated[
        tuple[str, ...], Parameter(name=("--inputs", "--input"), consume_multiple=True, negative=(), show_default=False)
    ] = (),
    samples: WholeNumber = 40,
    seed: WholeNumber = 0,
    fineness: FinenessWord | None = None,
    device: DeviceWord | None = None,
    output: PagedOutput = USUAL_PAGED,
    work: Work = ALONE,
) -> int:
    """Solve a case for many values of its uncertain inputs: intervals of the results, and what matters most.

    Parameters
    ----------
    case
        A case file.
    inputs
        Inputs and their ranges, each KEY=LOW..HIGH UNIT or KEY=LOW..PEAK..HIGH UNIT, such as
        "plates.contact=0.004..0.04 m^2*K/W log" or "air.film_factor=0.7..1.4"; a last word says how values are
        spread: uniform, log or triangular. Of air alone "air.rayleigh=1500..3000", "face.floor.temperature=35..45
        degC", "box.air.z[1]=10..30 mm" (the upper end of a box).
    samples
        Solves with all inputs drawn at once (a Latin hypercube); two more for each input show it alone.
    seed
        Of the draw; the same seed draws the same values.
    fineness
        Mesh fineness instead of the one in the case; coarse will often do.
    device
        Where resolved air is followed, instead of the one in the case: cpu, gpu (an accelerator), or auto.
    """
    from sim.case.errors import shortened
    from sim.store.target import check_target
    from sim.study.save_study import STUDY_ENTRIES, save_study

    asked = load(case, fineness, device, output.units)
    if seed < 0:
        raise UsageError(f"--seed got {shortened(str(seed), 20)}; must be at least 0")
    found = _inputs(asked, inputs, samples)
    folder = output.out or usual_folder(asked, "-study")
    check_target(folder, STUDY_ENTRIES)
    check_size(asked)
    pool, written = work.pool(), written_text(asked)
    with Progress() as progress, kept_work(folder, work) as store:
        total = samples + 2 * len(found) + 1
        progress.stage(f"{asked.name}: {total} solves of {len(found)} inputs")
        from sim.study.sampling import study as solve_study

        with compilation_announced(progress):
            result = solve_study(asked, found, samples, seed, perform=_performer(asked, total, store, pool, progress))
        progress.stage("writing the results")
        show = partial(_show, result, output)
        keep(partial(save_study, result), folder, show, written)
        pictures = [] if output.no_pictures else _draw(result, folder, output.units, progress)
        pictures += [] if output.no_page else page_beside(folder, output.units, progress)
    show(folder, pictures)
    return _report_failures(result)


def _performer(asked: AnyCase, total: int, store: Path, pool: Pool, progress: Progress) -> Performer:
    """Who does the solves: jobs of their own, or an accelerator all at once."""
    from sim.problems.kinds import AIR_ALONE
    from sim.study.on_device import goes_together
    from sim.study.sampling_jobs import TrialJobs
    from sim.study.together import perform_together

    if AIR_ALONE.holds(asked):
        return TrialJobs(store, pool, progress.outcomes(total))
    announce(progress, "study", [asked], total, pool.workers)
    in_jobs = TrialJobs(store, pool, learning("study", [asked], progress.outcomes(total)))
    return perform_together if goes_together(asked) else in_jobs


def _show(result: Study, output: PagedOutput, folder: Path | None, pictures: list[Path]) -> None:
    if output.json:
        _print_json(result, folder)
    else:
        _print_tables(result, output.units, folder, pictures)


def _inputs(case: AnyCase, texts: tuple[str, ...], samples: int) -> Any:
    """The inputs, read and checked, before anything is solved."""
    from sim.case.errors import shortened
    from sim.study.inputs import InputError, parse_inputs

    if samples < 2:
        raise UsageError(f"--samples got {shortened(str(samples))}; an interval needs at least 2")
    if samples > MOST_SAMPLES:
        got = shortened(str(samples), 20)
        raise UsageError(f"--samples got {got}; at most {MOST_SAMPLES:,}, each is a solve of the whole case")
    try:
        return parse_inputs(case, texts)
    except InputError as error:
        raise UsageError(f"--inputs: {error}") from error


def _draw(result: Study, folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    from sim.cli.pictures import draw_study

    return draw_study(result, folder, units, progress)


def _print_json(result: Study, folder: Path | None) -> None:
    from sim.store.texts import json_text

    print(json_text(result.as_dict() | folder_entry(folder)), end="")


def _report_failures(result: Study) -> int:
    """Say on stderr which solves failed; the exit code, 0 when none did."""
    failed = result.failed
    for done in failed[:SHOWN_FAILURES]:
        say_error(f"{done.trial.name}: failed; {done.failure}")
    if len(failed) > SHOWN_FAILURES:
        say_error(f"{len(failed) - SHOWN_FAILURES} more failed; see the last column of samples.csv and ends.csv")
    return FAILED if failed else 0


def _print_tables(result: Study, units: UnitChoice, folder: Path | None, pictures: list[Path]) -> None:
    from sim.results.notation_used import units_written

    out = console(units)
    out.print(result.case.title or result.case.name, style="bold")
    solved = result.interval(result.keys[0]).count
    for sentence in _in_short(result, units):
        print_sentence(out, sentence)
    out.print(f"\n{solved} samples with all inputs drawn at once")
    out.print(interval_table(result, units))
    for line in result.of_the_law():
        out.print(f"{line[0].upper()}{line[1:]}")
    out.print()
    system = units_written(written_text(result.case)) if units == "both" else units  # as the pictures do
    print_sentence(out, _MOVES)
    for key in [key for key in SHOWN if key in result.keys] or result.apart:
        out.print(influence_table(result, key, system))
        out.print()
    for line in _of_the_flows(result):
        out.print(f"{line}\n")
    if not _is_air(result):
        out.print(f"{CAUTION}\n")
    out.print(kept_line(folder, pictures), soft_wrap=True)


def _in_short(result: Study, units: UnitChoice) -> Iterator[str]:
    """The headline numbers' ranges in a sentence each, and which input moves them most."""
    from sim.results.people import format_span, full_name

    for key in [key for key in HEADLINES if key in result.keys] or result.keys[:1]:
        found = result.interval(key)
        ranges = []
        for system in each_system(units):
            (low, high), unit = format_span(key, (found.low, found.high), system)
            ranges.append(f"{low} to {high} {unit}".strip())
        span = " (".join(dict.fromkeys(ranges)) + (")" if len(set(ranges)) > 1 else "")
        yield f"{full_name(key)[0].upper()}{full_name(key)[1:]}: {span} {_share(found.count)}; {_mover(result, key)}."


ENOUGH = 20
"""From so many draws on, one in twenty lies above an interval and one below."""


def _share(draws: int) -> str:
    """How many of the draws lie in their interval of 5 to 95 %."""
    return "in 9 of 10 draws" if draws >= ENOUGH else f"by {draws} draws, too few to say how often; --samples 40 does"


def _mover(result: Study, key: str) -> str:
    """The input that moves a number most, with the number at its ends."""
    most = result.influences(key)[0]
    return f"{most.input.key} moves it most" if most.swing(result.usual.get(key)) > 0.0 else "no input moves it"


def _is_air(result: Study) -> bool:
    from sim.problems.kinds import AIR_ALONE

    return AIR_ALONE.holds(result.case)


def _of_the_flows(result: Study) -> list[str]:
    """How many flows of air alone did not become steady."""
    ended = [done.report for done in result.everything if "steady" in done.report] if _is_air(result) else []
    moving = sum(not report["steady"] for report in ended)
    if not moving:
        return []
    return [f"{moving} of {len(ended)} flows did not become steady; their numbers are means from air.average_from on."]


def interval_table(result: Study, units: UnitChoice) -> Table:
    """One line a result: the case itself, then median, mean and 5-95 % interval of the samples."""
    from sim.results.people import format_span, full_name

    table = plain_table()
    table.add_column("result", no_wrap=True)
    table.add_column("", no_wrap=True, style="dim")
    for head in ("case itself", "mean", "median", "5 %", "95 %"):
        table.add_column(head, justify="right", no_wrap=True)
    for key in result.keys:
        found = result.interval(key)
        values = [result.usual.get(key), found.mean, found.median, found.low, found.high]
        for number, system in enumerate(each_system(units)):
            texts, unit = format_span(key, values, system)
            if number and not unit:
                continue
            label = "" if number else full_name(key, system)
            table.add_row(label, unit, *texts, style="dim" if number else None)
    return table


def influence_table(result: Study, key: str, system: Units) -> Table:
    """One line an input, the most important first: the result at its ends and its rank coefficient."""
    from sim.results.people import format_span, full_name

    influences = result.influences(key)
    units: Literal["SI", "IP"] = "IP" if system == "ip" else "SI"
    ends = [value for each in influences for value in (each.at_low, each.at_high)]
    texts, unit = format_span(key, ends, system)
    table = plain_table()
    table.add_column(f"{full_name(key, system)}, {unit}".rstrip(", "), no_wrap=True, min_width=38)
    for head in ("low end", "result", "high end", "result", "ranks"):
        table.add_column(head, justify="right", no_wrap=True)
    for each, at_low, at_high in zip(influences, texts[::2], texts[1::2], strict=True):
        low, high = each.input.ends(units)
        table.add_row(each.input.key, low, at_low, high, at_high, _coefficient(each.coefficient))
    return table


def _coefficient(value: float) -> str:
    """A rank coefficient; a dash where a result does not vary, so that nothing moves it."""
    if not isfinite(value):
        return "–"
    text = f"{value:+.2f}"
    return text if float(text) else "0.00"

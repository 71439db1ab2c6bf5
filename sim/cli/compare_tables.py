"""What `joistbay compare` prints: the answer, the tables, limits and cautions of every choice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sim.cli.choices import heading
from sim.cli.keeping import kept_line
from sim.cli.options import UnitChoice
from sim.cli.show import CAUTION, cautions_table, console, print_air, print_choices
from sim.cli.warnings import limit_lines, way_to_air

if TYPE_CHECKING:
    from sim.cli.sheet import WholeConsole
    from sim.rules.caution import Caution
    from sim.study.answer import Standing
    from sim.study.compare import ComparedChoice, Comparison

FEET = {"coolest": "bare feet, coolest spot", "warmest": "bare feet, warmest spot"}
"""Lines in words: how a spot is to bare feet."""

_NARROW = {"comfortable": "good"}
"""Words of `sim.rules.foot` that would make columns too wide for four choices at 80 columns."""

_FIRST_LINE = {
    "water": {"heat_flux_up_W_m2": "upward heat flux"},
    "heat": {"water_supply_C": "water supply needed"},
}
_OWN_WATER = {"water_supply_C": "water supply"}
_LINES = {
    "surface_mean_C": "floor, mean",
    "surface_peak_C": "floor, warmest spot",
    "surface_trough_C": "floor, coolest spot",
    "ripple_K": "ripple, warmest - coolest",
    "area_above_29C_percent": "floor above 29 °C",
    "bare_coolest_C": "bare sole, coolest spot",
    "bare_warmest_C": "bare sole, warmest spot",
    **FEET,
    "sheathing_peak_C": "subfloor, warmest spot",
    "share_down_percent": "share of heat down",
    "plates_per_m2": "plates",
    "limits": "limits",
}
"""Report keys in the two tables, and what they are called there."""


def print_tables(
    comparison: Comparison, wish: float | None, units: UnitChoice, folder: Path | None, pictures: list[Path]
) -> None:
    """The answer first, then the tables, then what limits and what is to mind."""
    from sim.results.people import format_value
    from sim.study.answer import answer, supply_words

    out = console(units)
    out.print(comparison.title, style="bold")
    out.print()
    for line in answer(comparison, wish, units):
        out.print(line)
    print_air(out, comparison.reports("water"), way_to_air(comparison.case))
    out.print(f"\n{supply_words(comparison, units)}")
    _print_table(out, comparison, "water", units)
    if comparison.equal_heat:
        out.print(f"\nAt equal delivered heat, {format_value('heat_flux_up_W_m2', comparison.flux, units)} upwards")
        _print_table(out, comparison, "heat", units)
    else:
        out.print(f"\nOnly the water differs: at equal heat all of them are one bay{_one_water(comparison, units)}.")
    for line in out_of_reach(comparison.choices, units):
        out.print(line)
    _print_limits(out, comparison, units)
    _print_cautions(out, comparison, units)
    out.print(f"\n{CAUTION}")
    out.print(f"\n{kept_line(folder, pictures)}", soft_wrap=True)


def out_of_reach(choices: Iterable[ComparedChoice], units: UnitChoice) -> list[str]:
    """Why no water brings some choices to the heat that they are compared at, a line each."""
    from sim.results.spelling import in_one_system

    short = ((choice.name, choice.shortfall.removeprefix(f"{choice.case.name}: ")) for choice in choices)
    return [f"{name}: out of reach; {in_one_system(why, units)}" for name, why in short if why]


def _one_water(comparison: Comparison, units: UnitChoice) -> str:
    """Which water the one bay needs for the flux of the comparison."""
    from sim.results.people import format_value

    need = comparison.choices[0].at_heat
    if need is None:
        return ""
    keys = ("water_supply_C", "heat_flux_up_W_m2")
    supply, flux = (format_value(key, need.result.report[key], units) for key in keys)
    return f", which needs water of {supply} for {flux} upwards"


def _print_table(out: WholeConsole, comparison: Comparison, equal: str, units: UnitChoice) -> None:
    """One table, in pieces where the choices do not fit side by side."""
    rows = _rows(comparison, equal)
    lines = _FIRST_LINE[equal] | _LINES
    if all(row.get("plates_per_m2") == 0.0 for row in rows):
        del lines["plates_per_m2"]
    if equal == "water" and not comparison.equal_water:
        lines = _OWN_WATER | lines
    print_choices(out, rows, lines, units, heading(comparison.key))


def _rows(comparison: Comparison, equal: str) -> list[dict[str, object]]:
    """Report values of each choice, with how the floor is to bare feet and whether limits are kept in words."""
    from sim.rules.foot import spots
    from sim.study.answer import standings

    held = {each.name: each for each in standings(comparison, equal)}
    rows = comparison.rows(equal)
    for choice, row, report in zip(comparison.of(equal), rows, comparison.reports(equal), strict=True):
        name = choice.named(equal)
        if name in held:
            row["limits"] = _kept_word(held[name])
            row |= {spot.name.split()[0]: _NARROW.get(spot.bare, spot.bare) for spot in spots(choice.case, report)}
    return rows


def _kept_word(standing: Standing) -> str:
    broken = any(not verdict.kept for verdict in standing.verdicts)
    return "BROKEN" if broken else "kept"


def _print_limits(out: WholeConsole, comparison: Comparison, units: UnitChoice) -> None:
    """The limits of every choice in both tables: which are broken, or that all are kept and which is nearest."""
    from sim.study.answer import standings

    own = "With this water" if comparison.equal_water else "With their own water"
    out.print("\nLimits")
    for equal, words in (("water", own), ("heat", "At equal heat")):
        if equal == "water" or comparison.equal_heat:
            for line in _limit_lines(standings(comparison, equal), words, units):
                out.print(line)


def _limit_lines(choices: Sequence[Standing], words: str, units: UnitChoice) -> Iterator[str]:
    """What each choice breaks, or that all keep everything and which limit is nearest."""
    broken = [each for each in choices if not all(verdict.kept for verdict in each.verdicts)]
    for each in broken:
        for line in limit_lines(each.verdicts, units):
            yield f"{words}, {each.name}: {line}"
    if broken and len(broken) < len(choices):
        yield f"{words}, all limits are kept by {', '.join(each.name for each in choices if each not in broken)}."
    if not broken and choices:
        near = max(choices, key=lambda each: max(verdict.used for verdict in each.verdicts))
        nearest = limit_lines(near.verdicts, units)[0].partition("nearest: ")[2]
        yield f"{words}, all limits are kept by all choices; nearest: {near.name}, {nearest}."


def _print_cautions(out: WholeConsole, comparison: Comparison, units: UnitChoice) -> None:
    """What to mind with any of the choices at its own water, each subject once, where it is worst."""
    from sim.rules.cautions import bay_cautions

    solved = [(choice.name, choice.case, choice.at_water) for choice in comparison.choices]
    found = [
        (name, caution)
        for name, case, at_water in solved
        if at_water is not None
        for caution in bay_cautions(case, at_water.report.values, units)
    ]
    print_worst(out, found, units)


def print_worst(out: WholeConsole, found: Sequence[tuple[str, Caution]], units: UnitChoice) -> None:
    """Cautions of several choices, each with the name of its choice: every subject once, where it is worst."""
    if found:
        out.print("\nTo mind")
        out.print(cautions_table(list(_worst(found)), units))


def _worst(pairs: Sequence[tuple[str, Caution]]) -> Iterable[Caution]:
    """Cautions by subject: as they are where all say the same, else where it is worst, with the names of all."""
    from dataclasses import replace

    by_subject: dict[str, list[tuple[str, Caution]]] = {}
    for name, caution in pairs:
        by_subject.setdefault(caution.subject, []).append((name, caution))
    everybody = {name for name, _ in pairs}
    for told in by_subject.values():
        whose, worst = max(told, key=lambda pair: (pair[1].broken, pair[1].badness))
        names = [name for name, _ in told]
        alike = len({caution.text for _, caution in told}) == 1
        if alike and set(names) == everybody:
            yield worst
        else:
            yield replace(worst, text=f"{_who(whose, names, alike)}: {worst.text}")


def _who(worst: str, names: Sequence[str], alike: bool) -> str:
    """Whose caution it is: all of whom say the same, or the one where it is worst and who has it less."""
    others = [name for name in names if name != worst]
    if alike or not others:
        return ", ".join(names)
    return f"{worst} (less: {', '.join(others)})"

"""`joistbay water`: the water that a design flux needs, and which limit is reached first."""

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
    from sim.case.bay_case import Case
    from sim.rules.caution import Caution
    from sim.rules.limits import Limit, Verdict
    from sim.run import Model, Result
    from sim.study.characteristic import Characteristic
    from sim.study.water import NeededWater

CURVE_EXCESS = (10.0, 20.0, 30.0, 45.0)
"""Supply temperatures above the room at which the curve is solved [K]; higher by what a stated drop asks for."""

DROP_ROOM = 1.25
"""The lowest is so many times the drop over the circuit, if there is room: water leaves warmer than the room [-]."""


FLOOR_POWER = 1.1
"""Power of the excess in a floor's heat (EN 1264-2): so much less than the heat is the water off, as a share."""


@dataclass(frozen=True, slots=True)
class WaterFindings:
    """Everything that the command found."""

    needed: NeededWater
    verdicts: tuple[Verdict, ...]
    reached: tuple[tuple[Limit, float | None], ...]
    curve: Characteristic

    def cautions(self, units: UnitChoice) -> tuple[Caution, ...]:
        """What to mind with the bay at this water."""
        from sim.rules.cautions import bay_cautions

        return bay_cautions(self.needed.result.case, self.needed.result.report.values, units)


def water(
    case: Path,
    /,
    *,
    flux: Annotated[str, Parameter(allow_leading_hyphen=True)],
    fineness: FinenessWord | None = None,
    curve: Path | None = None,
    units: UnitChoice = "both",
    json: Annotated[bool, Parameter(negative=(), show_default=False)] = False,
) -> int:
    """Find the supply temperature for an upward heat flux, the limits on the way, and the characteristic curve.

    Parameters
    ----------
    case
        A case file.
    flux
        Upward heat flux of the floor, such as "60 W/m^2" or "20 Btu/(h*ft^2)".
    fineness
        Mesh fineness instead of the one in the case.
    curve
        JSON file for the characteristic curve, for other simulations.
    units
        Units of the tables.
    json
        Print JSON instead of tables.
    """
    asked, wanted = load_bay(case, fineness, units), wanted_flux(flux)
    if wanted is None:
        raise UsageError("--flux is missing; write e.g. --flux \"60 W/m^2\"")
    check_size(asked)
    if curve is not None:
        from sim.store.target import check_place

        if curve.is_dir():
            raise UsageError(f"--curve got {curve}; is a folder; name a file, such as {curve / 'curve.json'}")
        check_place(curve)
    with (
        Progress() as progress,
        announced(progress, "water", [asked]),
        compilation_announced(progress),
        solved(asked.name),
    ):
        answer = _answer(asked, wanted, progress)
    if curve is not None:
        from sim.store.texts import json_text

        curve.parent.mkdir(parents=True, exist_ok=True)
        curve.write_text(json_text(answer.curve.as_dict()), encoding="utf-8")
    if json:
        _print_json(answer)
    else:
        _print(asked, answer, units)
    return 0


def _answer(case: Case, flux: float, progress: Progress) -> WaterFindings:
    progress.stage(f"{case.name}: mesh and view factors")
    from sim.rules.limits import hold, limits_for
    from sim.run import prepare, solve_model
    from sim.study.characteristic import characteristic
    from sim.study.water import required_supply

    model = prepare(case)
    progress.stage(f"{case.name}: water for the flux")
    first = solve_model(model, listener=progress.on_pass)
    needed = required_supply(model, first, flux, listener=progress.on_pass)
    limits = limits_for(case)
    verdicts = hold(limits, needed.result.report.values)
    progress.stage(f"{case.name}: where each limit is reached")
    reached = tuple((verdict.limit, _reached(model, first, verdict.limit)) for verdict in verdicts)
    progress.stage(f"{case.name}: characteristic curve")
    supplies = [float(case.room.temperature) + excess for excess in curve_excess(case)]
    return WaterFindings(needed, verdicts, reached, characteristic(model, first, supplies))


def curve_excess(case: Case) -> list[float]:
    """Supply temperatures above the room [K] for the curve: as `CURVE_EXCESS`, or as drop and hottest water allow."""
    from sim.case.constants import HOTTEST

    drop, most = case.water.drop or 0.0, HOTTEST - case.room.temperature
    low = min(max(CURVE_EXCESS[0], DROP_ROOM * drop), 0.5 * (drop + most))
    stretch = min(CURVE_EXCESS[-1] - CURVE_EXCESS[0], most - low) / (CURVE_EXCESS[-1] - CURVE_EXCESS[0])
    return [low + stretch * (excess - CURVE_EXCESS[0]) for excess in CURVE_EXCESS]


def _reached(model: Model[Case], first: Result[Case], limit: Limit) -> float | None:
    """Supply temperature [°C] at which a limit is reached; None where no water up to 95 °C does.

    Where two laws of the air meet there it is the cooler of what both say.
    """
    from sim.case.constants import ZERO_CELSIUS
    from sim.study.water import BetweenLawsError, Target, UnreachableError, supply_for

    if limit.key == "water_supply_C":
        return limit.highest
    try:
        found = supply_for(model, first, Target(limit.key, limit.highest, limit.unheated), tolerance=1e-3)
    except BetweenLawsError as error:
        return min(error.supplies) - ZERO_CELSIUS
    except UnreachableError:
        return None
    return found.supply - ZERO_CELSIUS


def _print_json(answer: WaterFindings) -> None:
    from sim.store.texts import json_text

    values = {
        "report": answer.needed.result.report.as_dict(),
        "limits": [
            verdict.as_dict() | {"reached_at_supply_C": supply}
            for verdict, (_, supply) in zip(answer.verdicts, answer.reached, strict=True)
        ],
        "cautions": [caution.as_dict() for caution in answer.cautions("si")],
        "characteristic": answer.curve.as_dict(),
    }
    print(json_text(values), end="")


def _print(case: Case, answer: WaterFindings, units: UnitChoice) -> None:
    from sim.cli.show import CAUTION, cautions_table, console, each_system, print_sentence, source_text
    from sim.results.people import format_value

    out, report = console(units), answer.needed.result.report
    out.print(case.title or case.name, style="bold")
    for key, words in (
        ("heat_flux_up_W_m2", "upward heat flux"),
        ("water_supply_C", "water supply needed"),
        ("surface_mean_C", "floor surface, mean"),
        ("ripple_K", "ripple"),
        ("share_down_percent", "share of heat down"),
    ):
        out.print(f"{words:<24}{format_value(key, report[key], units)}")
    out.print()
    for line in (_within(case, answer, units), *_left_open(answer, units)):
        print_sentence(out, line)
    out.print()
    out.print(_limits_table(answer, units))
    out.print(_binding(answer, units))
    for source in dict.fromkeys(limit.source for limit, _ in answer.reached):
        named = ", ".join(limit.what for limit, _ in answer.reached if limit.source == source)
        out.print(f"- {named}: {source_text(source, units)}")
    out.print()
    for system in each_system(units):
        out.print(f"Characteristic curve: {answer.curve.words(system)}")
    out.print()
    out.print(cautions_table(answer.cautions(units), units))
    out.print(f"\n{CAUTION}")


def _within(case: Case, answer: WaterFindings, units: UnitChoice) -> str:
    """Whether the wished flux is within all limits, and what the floor gives at most within them."""
    from sim.case.constants import ZERO_CELSIUS
    from sim.results.people import format_value

    broken = list(dict.fromkeys(verdict.limit.what for verdict in answer.verdicts if not verdict.kept))
    said = f"BROKEN by this heat: {', '.join(broken)}." if broken else "All limits are kept."
    known = [supply for _, supply in answer.reached if supply is not None]
    if not known:
        return said
    report, highest = answer.needed.result.report, min(known)
    excess = highest + report["water_mean_C"] - report["water_supply_C"] - (float(case.room.temperature) - ZERO_CELSIUS)
    try:
        most = f": about {format_value('heat_flux_up_W_m2', answer.curve.at(excess), units)}"
    except ValueError:  # beyond what the curve was fitted to
        most = ""
    water = format_value("water_supply_C", highest, units)
    return f"{said} Within all of them this floor takes water of at most {water}{most}."


def _left_open(answer: WaterFindings, units: UnitChoice) -> list[str]:
    """What the air's films leave open in heat and water; by correlations, how to compute the air."""
    from sim.case.constants import ZERO_CELSIUS
    from sim.cli.warnings import way_to_air
    from sim.results.air_words import correlations_words
    from sim.results.bay_answer import left_open
    from sim.results.people import format_value

    case, report = answer.needed.result.case, answer.needed.result.report
    said = left_open(report.values, correlations_words([case]))
    share = report.values.get("air_band_up_percent")
    if share is not None:
        excess = abs(report["water_supply_C"] - (float(case.room.temperature) - ZERO_CELSIUS))
        water = format_value("ripple_K", share / 100.0 * excess / FLOOR_POWER, units)
        said += f" So the water needed is known to ± {water}, as far as the air goes."
    return [line for line in (said, way_to_air(case)) if line]


def _limits_table(answer: WaterFindings, units: UnitChoice) -> Any:
    from sim.cli.show import plain_table
    from sim.results.people import format_against, format_value

    table, hottest = plain_table(), _hottest(units)
    for head in ("limit", "here", "highest", "with water of", ""):
        table.add_column(head, no_wrap=True)
    for verdict, (limit, supply) in zip(answer.verdicts, answer.reached, strict=True):
        table.add_row(
            limit.what,
            *format_against(limit.key, verdict.value, limit.highest, units),
            f"over {hottest}" if supply is None else format_value("water_supply_C", supply, units),
            "kept" if verdict.kept else "BROKEN",
        )
    return table


def _hottest(units: UnitChoice) -> str:
    """The hottest water that is tried, in the wanted units."""
    from sim.case.constants import HOTTEST, ZERO_CELSIUS
    from sim.results.people import format_value

    return format_value("water_supply_C", HOTTEST - ZERO_CELSIUS, units)


def _binding(answer: WaterFindings, units: UnitChoice) -> str:
    """Which limit is reached first as the water is made hotter."""
    from sim.results.people import format_value

    known = [(supply, limit) for limit, supply in answer.reached if supply is not None]
    if not known:
        return f"No limit is reached below {_hottest(units)}."
    supply, limit = min(known, key=lambda pair: pair[0])
    return f"First limit reached: {limit.what}, with water of {format_value('water_supply_C', supply, units)}."

"""What a solved bay keeps and breaks, what to mind with it and what feet make of it."""

from __future__ import annotations

from collections.abc import Mapping
from shlex import quote
from types import MappingProxyType
from typing import TYPE_CHECKING

from sim.cli.options import UnitChoice

SEEN = 0.05
"""Share that shows as more than 0.0 % [%]."""

if TYPE_CHECKING:
    from rich.console import Console

    from sim.case.bay_case import Case
    from sim.rules.limits import Verdict
    from sim.run import Result


def print_answer(out: Console, case: Case, report: Mapping[str, float], units: UnitChoice) -> None:
    """What a bay gives, which limits hold, and what to do: the first that its reader sees."""
    from sim.cli.show import print_sentence
    from sim.results.bay_answer import Asked, bay_answer, left_open
    from sim.rules.limits import hold, limits_for
    from sim.rules.ways_out import ways_out

    verdicts = hold(limits_for(case), report)
    asked = Asked.of(case)
    sure = left_open(report, asked.law), way_to_air(case)
    said = bay_answer(report, asked, units), " ".join(filter(None, sure))
    for line in (*said, *limit_lines(verdicts, units, report), *ways_out(case, report, verdicts, units)):
        if line:
            print_sentence(out, line)


def way_to_air(case: Case, named: str = "") -> str:
    """The command that computes the flow of a bay's air where it follows laws, and how long that takes here.

    Parameters
    ----------
    named : how the file of the case is typed; its path when left out.
    """
    from sim.case.taught import by_correlations_alone, uses_learned_films
    from sim.cli.estimate import time_with_air

    if not by_correlations_alone(case) and not uses_learned_films(case):
        return ""
    named = named or (quote(case.path) if case.path else "CASE")
    took = f"{time_with_air(case)}; --fineness coarse takes less"
    return f"To compute this bay's own air, every number with a ±: joistbay run {named} --air resolved ({took})."


def print_warnings(out: Console, case: Case, report: Mapping[str, float], units: UnitChoice) -> None:
    """What feet make of a bay, and its cautions in full."""
    from sim.cli.show import cautions_table
    from sim.rules.cautions import bay_cautions
    from sim.rules.foot import foot_lines

    for line in (*giving_back(report), *foot_lines(case, report, units)):
        out.print(line)
    cautions = bay_cautions(case, report, units)
    if cautions:
        out.print("\nTo mind")
        out.print(cautions_table(cautions, units))


def giving_back(report: Mapping[str, float]) -> list[str]:
    """What a share below nothing means, where the subfloor gives heat back on one of its ways."""
    ways = {"radiant": "radiation", "convective": "air", "contact": "contact", "joist": "the joists"}
    back = [word for key, word in ways.items() if report.get(f"{key}_share_percent", 0.0) < -SEEN]
    if not back:
        return []
    return [
        f"By {' and '.join(back)} the subfloor gives heat back to the bay, so that share is below 0 % and the others "
        "come to more than 100 %: together they are what goes on upwards."
    ]


def limit_lines(
    verdicts: tuple[Verdict, ...], units: UnitChoice, report: Mapping[str, float] = MappingProxyType({})
) -> list[str]:
    """Every broken limit with its source, or that all are kept and which is nearest; values with the report's bands."""
    from sim.cli.show import source_text
    from sim.results.against import found_against

    broken = [verdict for verdict in verdicts if not verdict.kept]
    lines = []
    for verdict in broken:
        value, highest = found_against(report, verdict.limit.key, verdict.value, verdict.limit.highest, units)
        source = source_text(verdict.limit.source, units)
        lines.append(f"BROKEN: {verdict.limit.what}, {value}, at most {highest} ({source})")
    if broken or not verdicts:
        return lines
    near = max(verdicts, key=lambda verdict: verdict.used)
    value, highest = found_against(report, near.limit.key, near.value, near.limit.highest, units)
    many = "The one limit is" if len(verdicts) == 1 else f"All {len(verdicts)} limits are"
    return [f"{many} kept; nearest: {near.limit.what}, {value}, at most {highest}"]


def warnings_as_dict(result: Result) -> dict[str, object]:
    """Limits, ways out, cautions and what feet make of a bay as plain values; nothing for other cases."""
    bay = result.case.joist_bay
    if bay is None:
        return {}
    from sim.rules.cautions import bay_cautions
    from sim.rules.foot import foot_lines
    from sim.rules.limits import hold, limits_for
    from sim.rules.ways_out import ways_out

    values = result.report.values
    verdicts = hold(limits_for(bay), values)
    return {
        "limits": [verdict.as_dict() for verdict in verdicts],
        "ways_out": ways_out(bay, values, verdicts, "si"),
        "cautions": [caution.as_dict() for caution in bay_cautions(bay, values)],
        "foot": foot_lines(bay, values),
    }

"""What a solved bay breaks and what to mind with it, in short: texts in full are in JSON and with `joistbay water`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.cli.options import UnitChoice

if TYPE_CHECKING:
    from rich.console import Console

    from sim.run import Result


def print_warnings(out: Console, result: Result, units: UnitChoice) -> None:
    """Limits that are broken, each with its source, and the subjects of all cautions."""
    from sim.results.people import format_value
    from sim.rules.cautions import bay_cautions
    from sim.rules.limits import hold, limits_for

    for verdict in hold(limits_for(result.case), result.report.values):
        limit = verdict.limit
        if not verdict.kept:
            value, highest = (format_value(limit.key, number, units) for number in (verdict.value, limit.highest))
            out.print(f"BROKEN: {limit.what}, {value}, at most {highest} ({limit.source})", soft_wrap=True)
    cautions = bay_cautions(result.case, result.report.values, units)
    for caution in cautions:
        if caution.broken:
            out.print(f"BROKEN: {caution.subject}: {caution.text} ({caution.source})", soft_wrap=True)
    out.print(f"To mind: {', '.join(caution.subject for caution in cautions)}; more with --json", soft_wrap=True)


def warnings_as_dict(result: Result) -> dict[str, object]:
    """Limits and cautions of a bay as plain values; nothing for other cases."""
    from sim.case.bay_case import Case

    if not isinstance(result.case, Case):
        return {}
    from sim.rules.cautions import bay_cautions
    from sim.rules.limits import hold, limits_for

    values = result.report.values
    return {
        "limits": [verdict.as_dict() for verdict in hold(limits_for(result.case), values)],
        "cautions": [caution.as_dict() for caution in bay_cautions(result.case, values)],
    }

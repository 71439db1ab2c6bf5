"""The cautions that belong to a bay: every rule that its numbers call for, in a fixed order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sim.rules import heat_cautions, site_cautions
from sim.rules.caution import ASK, Caution, Situation, Units

if TYPE_CHECKING:
    from sim.case.bay_case import Case

__all__ = ["ASK", "Caution", "Units", "bay_cautions"]


def bay_cautions(case: Case, report: Mapping[str, float], units: Units = "si") -> tuple[Caution, ...]:
    """What to mind with a joist bay, broken rules first.

    Parameters
    ----------
    case : Case of a joist bay.
    report : its report; a rule whose number is missing keeps silent.
    units : that the texts speak in.
    """
    at = Situation(case, report, units)
    rules = (*heat_cautions.FIRST, *site_cautions.RULES, *heat_cautions.RULES)
    found = [caution for rule in rules for caution in rule(at)]
    return tuple(sorted(found, key=lambda caution: not caution.broken))


def doubts(case: Case) -> tuple[Caution, ...]:
    """What is doubtful about a joist bay as it is written, before it is solved."""
    at = Situation(case, {}, "both")
    return tuple(caution for rule in (heat_cautions.cold_room_below, heat_cautions.covering) for caution in rule(at))

"""The cautions that belong to a bay: every rule that its numbers call for, in a fixed order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.rules import heat_cautions, site_cautions
from sim.rules.caution import ASK, Caution, Situation, Units
from sim.rules.limits import hold, limits_for

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
    """What is doubtful or dangerous about a joist bay as it is written, before it is solved; broken rules first."""
    at = Situation(case, {"water_supply_C": float(case.water.supply) - ZERO_CELSIUS}, "both")
    rules = (heat_cautions.cold_room_below, heat_cautions.covering, heat_cautions.scald, site_cautions.frost)
    found = [caution for rule in rules for caution in rule(at)]
    bored = [caution for caution in site_cautions.holes(at) if caution.broken]
    return (*_too_hot(at), *bored, *found)


def _too_hot(at: Situation) -> Iterator[Caution]:
    """Limits of the water that are broken whatever the floor gives."""
    for verdict in hold(limits_for(at.case), at.report):
        if not verdict.kept:
            limit = verdict.limit
            text = f"{at.say('C', verdict.value)}, at most {at.say('C', limit.highest)}"
            yield Caution(limit.what, text, limit.source, "supply_C", verdict.value, limit.highest, broken=True)

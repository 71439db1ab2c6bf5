"""What a layout comes to, as plain values from which page, terminal and JSON tell the same.

`sim.results.house_words` turns them into sentences with the reader's own way of writing a number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.house.curve import FLUX
from sim.results.house_words import Lacking, LayoutVerdict

if TYPE_CHECKING:
    from sim.house.plan import HousePlan, OutdoorPoint, RoomResult, SourceLayout

LEAST_SHORT = 0.5
"""A smaller shortfall [W] is rounding."""

ENOUGH = 0.995
"""A floor that gives this share of a room's loss gives it all: rounding."""


def verdict(layout: SourceLayout) -> LayoutVerdict:
    """Rooms that fall short or have no say, limits that are broken, what the source does not suit, and the weather."""
    spared = layout.spared
    return {
        "set_by": layout.set_by,
        "spared": {"set_by": spared[0], "supply_C": spared[1] - ZERO_CELSIUS} if spared else None,
        "short": [
            {"room": room.need.name, "shortfall_W": room.shortfall}
            for room in layout.rooms
            if room.shortfall > LEAST_SHORT
        ],
        "limits": [
            {"room": room.need.name, "what": held.limit.what}
            for room in layout.rooms
            for held in room.verdicts
            if not held.kept
        ],
        "no_say": [
            {"room": room.need.name, "limit": room.need.limit, "most_W": room.need.limit_output}
            for room in layout.rooms
            if not room.has_say and room.need.limit
        ],
        "not_kept": [finding.what for finding in layout.findings if not finding.kept],
        "weather": list(_lacking(layout.outdoor)),
        "outdoors_C": [point.outdoor - ZERO_CELSIUS for point in layout.outdoor],
    }


def _lacking(points: Sequence[OutdoorPoint]) -> Iterator[Lacking]:
    """Rooms that get less than they lose by the weather: least and largest share of the points where they do."""
    shares: dict[str, list[float]] = {}
    for point in points:
        for name, load, output in point.rooms:
            if load > LEAST_SHORT and output < ENOUGH * load:
                shares.setdefault(name, []).append(output / load)
    for name, found in shares.items():
        yield {
            "room": name,
            "least_percent": 100.0 * min(found),
            "most_percent": 100.0 * max(found),
            "points": len(found),
        }


def curves_miss(plan: HousePlan) -> float:
    """By how much at most a curve misses what was solved besides at a room's own water [%]; 0 where nothing was."""
    return max((_miss(room) for layout in plan.layouts for room in layout.rooms if room.report), default=0.0)


def _miss(room: RoomResult) -> float:
    curve, solved = room.need.curve, room.report
    if not {"water_mean_C", FLUX} <= solved.keys():
        return 0.0
    excess = solved["water_mean_C"] + ZERO_CELSIUS - room.need.temperature
    if not 0.0 < excess <= curve.excess[-1] or not solved[FLUX] > 0.0:
        return 0.0
    return 100.0 * abs(curve.flux(excess) / solved[FLUX] - 1.0)

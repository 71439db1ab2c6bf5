"""What to mind with a house laid out for a heat source: the cautions of rooms, water and source, gathered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sim.house.circuit_flow import PURGING
from sim.results.people import format_value
from sim.results.spelling import in_inch_pounds
from sim.rules.cautions import Caution, Units, bay_cautions

if TYPE_CHECKING:
    from sim.house.layout import SourceLayout

FROM_PROFILE = "profile of the heat source"


@dataclass(frozen=True, slots=True)
class HouseCaution:
    """A caution and the rooms, circuits or source that it is about; its numbers are those of the worst of them."""

    caution: Caution
    about: tuple[str, ...]

    def as_dict(self) -> dict[str, object]:
        """Plain values."""
        return self.caution.as_dict() | {"about": list(self.about)}

    def __str__(self) -> str:
        return f"{', '.join(self.about)}: {self.caution}"


def house_cautions(layout: SourceLayout, units: Units = "si") -> tuple[HouseCaution, ...]:
    """Every caution that a layout calls for, broken rules first; rooms with the same caution are told together.

    Rooms with other joists have other limits for holes, so these are told apart.
    """
    found: dict[tuple[str, float], list[tuple[str, Caution]]] = {}
    rules = (_source, _limits, _manifolds, _air, _rooms)
    for about, caution in (each for rule in rules for each in rule(layout, units)):
        source = in_inch_pounds(caution.source) if units == "ip" else caution.source
        told = replace(caution, source=source)
        found.setdefault((caution.subject, round(caution.limit, 6)), []).append((about, told))
    gathered = [_gathered(group) for group in found.values()]
    return tuple(sorted(gathered, key=lambda told: not told.caution.broken))


def _gathered(group: list[tuple[str, Caution]]) -> HouseCaution:
    """The worst of cautions of one subject, for all that it is about."""
    worst = max((caution for _, caution in group), key=lambda told: (told.broken, abs(told.value - told.limit)))
    return HouseCaution(worst, tuple(dict.fromkeys(about for about, _ in group)))


def _rooms(layout: SourceLayout, units: Units) -> Iterator[tuple[str, Caution]]:
    for room in layout.rooms:
        for caution in bay_cautions(room.case, room.report, units):
            yield room.need.name, caution


def _limits(layout: SourceLayout, units: Units) -> Iterator[tuple[str, Caution]]:
    """Limits that a room breaks at the water that it gets."""
    for room in layout.rooms:
        for verdict in room.verdicts:
            if not verdict.kept:
                limit = verdict.limit
                value, highest = (format_value(limit.key, number, units) for number in (verdict.value, limit.highest))
                over = "a little above" if value == highest else "at most"
                text = (
                    f"{value} in room {room.need.name}, {over} {highest}; cooler water, more plates, or part of the "
                    "heat from a radiator"
                )
                yield room.need.name, Caution(
                    limit.what, text, limit.source, limit.key, verdict.value, limit.highest, True
                )


def _source(layout: SourceLayout, units: Units) -> Iterator[tuple[str, Caution]]:
    """What the heat source asks for and does not get."""
    for finding in layout.findings:
        if not finding.kept:
            what, text = f"heat source, {finding.what}", finding.told(units)
            yield layout.source.name, Caution(what, text, FROM_PROFILE, "", finding.value, finding.limit, True)


MOST_PORTS = 12
"""Circuits that a manifold is made for at the most: common practice, no source."""


def _manifolds(layout: SourceLayout, units: Units) -> Iterator[tuple[str, Caution]]:
    """Manifolds with more circuits than any is made for."""
    for entry in layout.manifolds:
        if (count := len(entry.water.circuits)) > MOST_PORTS:
            wanted = -(-count // MOST_PORTS)
            text = (
                f"{count} circuits on one manifold; they are made for up to {MOST_PORTS}: hang {wanted} of them nearer "
                "to their rooms, which shortens leaders too, and name in each room the one that feeds it"
            )
            source = "common practice, no source"
            yield entry.name, Caution("manifold", text, source, "", float(count), float(MOST_PORTS), False)


def _air(layout: SourceLayout, units: Units) -> Iterator[tuple[str, Caution]]:
    """Circuits that do not carry their air along."""
    for circuit in layout.circuits:
        speed = circuit.flow.velocity
        if not circuit.flow.purges_itself:
            slow, wanted = (format_value("water_m_s", value, units) for value in (speed, PURGING))
            text = (
                f"water at {slow} does not carry air along ({wanted} would): purge each circuit by itself, with the "
                "others shut, before balancing"
            )
            yield circuit.name, Caution("purging", text, "common practice, no source", "velocity_m_s", speed, PURGING)

"""What whoever builds a house's floor heating asks first, answered from a layout of house.json: one list for the
terminal, the page and the booklet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sim.results.house_words import Say, in_words

Values = Mapping[str, Any]
Answer = tuple[str, str]
"""The question in a word or two, and its answer."""

SAME_WATER = 0.05
"""Manifolds whose supply differs by less [K] from the source's do not mix."""


def house_answer(layout: Mapping[str, object], say: Say) -> list[Answer]:
    """Water, pump, circuits, what to buy, who falls short, and what to beware of.

    Parameters
    ----------
    layout : one of those of house.json.
    say : writes a value with its unit.
    """
    return _answers(dict(layout), say)


def _answers(layout: Values, say: Say) -> list[Answer]:
    return [
        ("Water", _water(layout, say)),
        ("Pump", _pump(layout["manifolds"], say)),
        ("Circuits", _circuits(layout["circuits"], say)),
        ("To buy", _to_buy(layout, say)),
        ("Rooms", in_words(layout["verdict"], say)),
        ("Beware", _beware(layout["cautions"]["si"])),
    ]


def _water(layout: Values, say: Say) -> str:
    """The supply on the design day, and that of manifolds that mix."""
    supply = layout["summary"]["supply_C"]
    words = (
        f"{say('supply_C', supply)} on the design day, back at {say('return_C', layout['return_C'])}; "
        f"{layout['summary']['set_by']} sets it. Cooler in milder weather, by the table for it."
    )
    mixed = [row for row in layout["manifolds"] if abs(row["supply_C"] - supply) > SAME_WATER]
    told = (f"{row['manifold']} mixes its own, {say('supply_C', row['supply_C'])}" for row in mixed)
    return " ".join([words, *(f"{', '.join(told)}." for _ in mixed[:1])])


def _pump(manifolds: Sequence[Values], say: Say) -> str:
    told = (
        f"manifold {row['manifold']} {say('flow_l_min', row['flow_l_min'])} at {say('head_kPa', row['head_kPa'])}"
        for row in manifolds
    )
    return f"{'; '.join(told)}."


def _circuits(circuits: Sequence[Values], say: Say) -> str:
    """How many, in which rooms, and the longest."""
    rooms = Counter(row["room"] for row in circuits)
    longest = max(circuits, key=lambda row: float(row["length_m"]))
    if len(circuits) == 1:
        return f"1, {longest['circuit']}, {say('length_m', longest['length_m'])}."
    return (
        f"{len(circuits)}: {', '.join(f'{count} in {room}' for room, count in rooms.items())}; the longest, "
        f"{longest['circuit']}, {say('length_m', longest['length_m'])}."
    )


THINGS = {
    "plates": ("plate", "plates"),
    "fasteners": ("fastener for them", "fasteners for them"),
    "hangers": ("hanger for them", "hangers for them"),
    "clips": ("clip", "clips"),
    "rim_pieces": ("rim piece", "rim pieces"),
    "ports": ("manifold port", "manifold ports"),
    "actuators": ("valve actuator", "valve actuators"),
    "thermostats": ("thermostat", "thermostats"),
}
"""What is counted, one and many, by its key in the quantities."""


def _to_buy(layout: Values, say: Say) -> str:
    """Coils first, then what is counted; nothing of which none is needed."""
    total = layout["quantities"]["total"]
    coils = Counter(float(row["coil_m"]) for row in layout["coils"])
    tube = " and ".join(
        f"{count} coil{'s' * (count > 1)} of {_round(say('length_m', metres))}"
        for metres, count in sorted(coils.items())
    )
    parts = [f"tube in {tube}", *_counted(total)]
    if total["insulation_m2"] > 0.0:
        parts.append(f"{say('insulation_m2', total['insulation_m2'])} of insulation")
    return f"{', '.join(parts)}."


def _round(length: str) -> str:
    """A coil's length as it is sold: 300 ft, not 300.0 ft."""
    return length.replace(".0 ", " ")


def _counted(total: Mapping[str, float]) -> Iterator[str]:
    for key, (one, many) in THINGS.items():
        if (count := round(total[key])) > 0:
            yield f"{count:,} {one if count == 1 else many}"


def _beware(cautions: Sequence[Values]) -> str:
    """Subjects of the cautions, those that are not kept first; their words stand under Cautions."""
    broken = dict.fromkeys(row["subject"] for row in cautions if row["broken"])
    others = [subject for subject in dict.fromkeys(row["subject"] for row in cautions) if subject not in broken]
    parts = [f"not kept: {'; '.join(broken)}."] if broken else []
    parts += [f"{'Also: ' if broken else ''}{', '.join(others)}."] if others else []
    return " ".join([*parts, "What to do stands under Cautions, in booklet and page."])

"""Limits of floor, flooring, wood, tube and water, each with its source, held against a report.

A limit says which report number it binds and how high that may be; all of these numbers rise with the water's
temperature. What no standard or published guide states is marked "common practice, no source". Local codes and the
makers of flooring and tube may ask for less. What is told without being a limit is in `sim.rules.cautions`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.case.materials import load_materials
from sim.rules.comfort import CATEGORY_B, floor_range

if TYPE_CHECKING:
    from sim.case.bay_case import Case

BATHROOM = ZERO_CELSIUS + 23.5
"""Rooms set warmer than this count as bathrooms [K] (EN 1264 reference bath 24 °C)."""

UNDER_WOOD = (160.0 - 32.0) / 1.8
"""Hottest water under a wood subfloor [°C]: 160 °F, unrounded, so that water of 160 °F keeps it."""

WOODEN = ("sheathing", "joist", "wood")
"""Parts whose warmest spot a report may hold; in time that of all wood is followed."""

SPOKEN = {"sheathing": "subfloor"}
"""What a reader calls a part, where that is not its name in keys."""

_ROUNDING = 1e-6

_RECALLED = " (editions from memory)"


@dataclass(frozen=True, slots=True)
class Limit:
    """The highest value of a report number, why, and who says so. `unheated` is its value without heating."""

    key: str
    highest: float
    what: str
    source: str
    unheated: float = 0.0


@dataclass(frozen=True, slots=True)
class Verdict:
    """A limit beside the value found; `margin` is positive while the limit is kept."""

    limit: Limit
    value: float

    @property
    def margin(self) -> float:
        """How much is left, in the unit of the number."""
        return self.limit.highest - self.value

    @property
    def used(self) -> float:
        """How much of the way from an unheated bay to the limit is used: 1 where it is just met."""
        room = self.limit.highest - self.limit.unheated
        return (self.value - self.limit.unheated) / room if room > 0.0 else float("inf")

    @property
    def kept(self) -> bool:
        """Whether the value is within the limit; one met exactly, but for rounding of its digits, is kept."""
        return self.margin >= -_ROUNDING

    def as_dict(self) -> dict[str, object]:
        """Plain values."""
        limit = self.limit
        return {
            "what": limit.what,
            "key": limit.key,
            "highest": limit.highest,
            "value": self.value,
            "kept": self.kept,
            "source": limit.source,
        }


def limits_for(case: Case) -> tuple[Limit, ...]:
    """The limits that apply to a joist bay: its room, its covering, its wood and its tube."""
    room = float(case.room.temperature) - ZERO_CELSIUS
    return (*_surface(case, room), *_covering(case, room), *_wood(room), _wiring(room), *_water(case, room))


def hold(limits: tuple[Limit, ...], report: Mapping[str, float]) -> tuple[Verdict, ...]:
    """Every limit beside the report's number; numbers that the report does not have are left out."""
    return tuple(Verdict(limit, float(report[limit.key])) for limit in limits if limit.key in report)


def _surface(case: Case, room: float) -> tuple[Limit, ...]:
    key = "surface_peak_C"
    if case.room.temperature > BATHROOM:
        return (Limit(key, room + 9.0, "bathroom floor, 9 K over the room", f"EN 1264-2:2021{_RECALLED}", room),)
    formula = "ISO 7730:2005, 6.4, categories A and B: people in shoes"
    return (
        Limit(key, 29.0, "occupied floor", f"EN 1264-2:2021, ISO 11855-2:2021, ASHRAE 55-2020{_RECALLED}", room),
        Limit("surface_mean_C", floor_range()[1], f"floor too warm for {CATEGORY_B:.0f} % of people", formula, room),
    )


def _covering(case: Case, room: float) -> tuple[Limit, ...]:
    """Flooring on top of the sheathing, under rugs too."""
    if not case.floor.coverings:
        return ()
    return _of_material(case.floor.coverings[0].material, "covering_peak_C", "at its surface", room)


def rated(material: str) -> bool:
    """Whether the library knows how warm a material may get."""
    row = load_materials().get(material)
    return row is not None and row.highest_C is not None


def _of_material(name: str, key: str, what: str, unheated: float) -> tuple[Limit, ...]:
    """The limit that a material's row in the library states, if it does."""
    row = load_materials().get(name)
    if row is None or row.highest_C is None:
        return ()
    return (Limit(key, row.highest_C, f"{name} {what}", row.highest_source, unheated),)


def _wood(room: float) -> tuple[Limit, ...]:
    wear = "Wood Handbook, FPL-GTR-282 of 2021: strength may be lost for good above 150 °F (65.6 °C) (from memory)"
    return tuple(
        Limit(f"{part}_peak_C", 65.0, f"{SPOKEN.get(part, part)}, lasting loss of strength", wear, room)
        for part in WOODEN
    )


def _wiring(room: float) -> Limit:
    """Air round cables in the bay."""
    basis = "NFPA 70-2023, 334.80: building cable as for conductors at 60 °C (from memory)"
    return Limit("cavity_air_C", 60.0, "air round cables in the bay", basis, room)


def _water(case: Case, room: float) -> tuple[Limit, ...]:
    """Of the water, which without heating is as warm as the room: shares of limits are shares of that way."""
    under_wood = "guideline of a trade association, undated: tube under a wood subfloor, 160 °F (71.1 °C)"
    wood = Limit("water_supply_C", UNDER_WOOD, "water under a wood subfloor", under_wood, room)
    return (wood, *_of_material(case.tube.material, "water_supply_C", "tube at its usual rating", room))

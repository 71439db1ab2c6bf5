"""What a house comes to: frozen values from the bays as placed to the layouts for each heat source.

    House (the file, sim.case.house_case)
      PlacedBay      one bay in the plan, with what is in its way
    HousePlan
      RoomNeed       each room as written: the water that it needs by itself; one of them sets the supply
      Variant rows   the same for the variants of the file
      SourceLayout   one for each heat source
        RoomResult     spacing of plates, water, output, shortfall, remedies tried, bay report, limits
        CircuitResult  water bay by bay, head, order of pulling
        ManifoldResult pump duty, mixed return, what each valve takes up
        OutdoorPoint   load, supply by the weather, output and return at several outdoor temperatures

Temperatures are in kelvin, heat in watts, lengths in metres. Reports of bays keep the keys of `sim.results.people`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.house.curve import Curve
from sim.house.layout import (
    ALIKE,
    CircuitResult,
    ManifoldResult,
    OutdoorPoint,
    RoomNeed,
    RoomResult,
    SolvedHouse,
    SourceLayout,
)
from sim.house.loads import Load
from sim.house.placed import PlacedBay, Stretch
from sim.house.remedy import Remedy
from sim.house.tables import TABLES, table_rows
from sim.machine.brief import small_tree
from sim.machine.notebook import card, folded, frame, table

if TYPE_CHECKING:
    import pandas

__all__ = [
    "ALIKE",
    "CircuitResult",
    "Curve",
    "HousePlan",
    "Load",
    "ManifoldResult",
    "OutdoorPoint",
    "PlacedBay",
    "Remedy",
    "RoomNeed",
    "RoomResult",
    "SourceLayout",
    "Stretch",
]

HEADS = ("heat source", "supply", "set by", "heat", "shortfall", "plates", "tube")


@dataclass(frozen=True, slots=True, repr=False)
class HousePlan(SolvedHouse):
    """Everything that is known of a house; it shows itself at a prompt, in a notebook and as tables."""

    def to_pandas(self, name: str = "rooms") -> pandas.DataFrame:
        """One of the tables of the house: rooms, remedies, sources, circuits, bays, coils or outdoor.

        Every column names its unit, as in the CSV files of `joistbay house`.

        Raises
        ------
        ValueError : there is no table of that name.
        """
        if name not in TABLES:
            raise ValueError(f'a house has no table "{name}"; there are {", ".join(TABLES)}')
        return frame(table_rows(self, name))

    def __repr__(self) -> str:
        rows = [(layout.source.name, _in_short(layout)) for layout in self.layouts]
        return small_tree(f"HousePlan {self.house.name}", rows)

    def _repr_html_(self) -> str:
        rooms = (folded(layout.source.name, _rooms(layout)) for layout in self.layouts)
        title = self.house.title or self.house.name
        return card(f"House {title}", table(map(_source, self.layouts), HEADS), *rooms)

    def __str__(self) -> str:
        return "\n".join([self.house.title or self.house.name, *map(str, self.layouts)])


def _in_short(layout: SourceLayout) -> str:
    """A layout in a few words."""
    supply, short = layout.supply - ZERO_CELSIUS, layout.shortfall
    return f"{supply:.1f} °C, {layout.heat:.0f} W" + (f", {short:.0f} W not met" if short > 0.5 else "")


def _source(layout: SourceLayout) -> tuple[str, ...]:
    """A line for a heat source."""
    watts = (f"{layout.heat:.0f} W", f"{layout.shortfall:.0f} W")
    supply = f"{layout.supply - ZERO_CELSIUS:.1f} °C"
    return layout.source.name, supply, layout.set_by, *watts, str(layout.plates), f"{layout.tube:.0f} m"


def _rooms(layout: SourceLayout) -> str:
    """The rooms of a layout: what each gets of its load."""
    rows = ((room.need.name, f"{room.available:.0f} W", f"{room.need.wanted:.0f} W") for room in layout.rooms)
    return table(rows, ("room", "floor can give", "load"))

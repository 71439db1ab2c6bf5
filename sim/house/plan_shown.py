"""How a solved house shows itself: at a prompt, in a notebook, as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.machine.brief import small_tree
from sim.machine.notebook import card, folded, frame, table

if TYPE_CHECKING:
    import pandas

HEADS = ("heat source", "supply", "set by", "heat", "shortfall", "plates", "tube")


class ShownPlan:
    """What a `HousePlan` shows of itself."""

    __slots__ = ()

    def to_pandas(self, name: str = "rooms") -> pandas.DataFrame:
        """One of the tables of the house: rooms, remedies, sources, circuits, bays, coils or outdoor.

        Every column names its unit, as in the CSV files of `joistbay house`.

        Raises
        ------
        ValueError : there is no table of that name.
        """
        from sim.house.tables import TABLES, table_rows

        if name not in TABLES:
            raise ValueError(f'a house has no table "{name}"; there are {", ".join(TABLES)}')
        return frame(table_rows(self, name))  # type: ignore[arg-type]

    def __repr__(self) -> str:
        plan: Any = self
        rows = [(layout.source.name, _in_short(layout)) for layout in plan.layouts]
        return small_tree(f"HousePlan {plan.house.name}", rows)

    def _repr_html_(self) -> str:
        plan: Any = self
        rooms = (folded(layout.source.name, _rooms(layout)) for layout in plan.layouts)
        title = plan.house.title or plan.house.name
        return card(f"House {title}", table(map(_source, plan.layouts), HEADS), *rooms)


def _in_short(layout: Any) -> str:
    """A layout in a few words."""
    supply, short = layout.supply - ZERO_CELSIUS, layout.shortfall
    return f"{supply:.1f} °C, {layout.heat:.0f} W" + (f", {short:.0f} W not met" if short > 0.5 else "")


def _source(layout: Any) -> tuple[str, ...]:
    """A line for a heat source."""
    watts = (f"{layout.heat:.0f} W", f"{layout.shortfall:.0f} W")
    supply = f"{layout.supply - ZERO_CELSIUS:.1f} °C"
    return layout.source.name, supply, layout.set_by, *watts, str(layout.plates), f"{layout.tube:.0f} m"


def _rooms(layout: Any) -> str:
    """The rooms of a layout: what each gets of its load."""
    rows = ((room.need.name, f"{room.available:.0f} W", f"{room.need.wanted:.0f} W") for room in layout.rooms)
    return table(rows, ("room", "floor can give", "load"))

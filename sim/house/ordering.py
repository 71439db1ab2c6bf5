"""What a layout needs besides its quantities by room: coils to cut its circuits from, water to fill it, the vessel."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.house.coils import WASTE, Coil, cut_list
from sim.house.filling import Filling, filling, tube_volume
from sim.rules.site_cautions import RELIEF

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.house.circuits import Circuit
    from sim.house.layout import SolvedHouse, SourceLayout

COILS = tuple(feet * 0.3048 for feet in (100.0, 300.0, 500.0, 1000.0))
"""Lengths of coils that are sold [m]: 100, 300, 500 and 1000 ft, common practice, no source."""

HIGHEST = ZERO_CELSIUS + 90.0
"""Water for which a vessel is checked at the door [K]: hotter than any floor gets."""


def coils_for(house: House, circuits: Iterable[Circuit]) -> tuple[Coil, ...]:
    """Coils to buy for circuits with their waste; raises `ValueError` as `cut_list`."""
    pieces = [(circuit.name, circuit.length * (1.0 + WASTE)) for circuit in circuits]
    return cut_list(pieces, house.design.coils or COILS) if pieces else ()


def coils_of(plan: SolvedHouse, layout: SourceLayout) -> tuple[Coil, ...]:
    """Coils to buy for a layout."""
    return coils_for(plan.house, [circuit.flow.circuit for circuit in layout.circuits])


def filling_of(plan: SolvedHouse, layout: SourceLayout) -> Filling:
    """Water of all circuits and of what the file adds to them, and the vessel for it."""
    bores = {room.need.name: float(room.case.tube.inner_diameter) for room in layout.rooms}
    volume = tube_volume((circuit.flow.circuit.length, bores[circuit.room]) for circuit in layout.circuits)
    return fill(plan.house, volume + float(plan.house.design.other_volume or 0.0), layout.supply)


def fill(house: House, volume: float, hottest: float) -> Filling:
    """A volume [m³] filled as the house has it; raises `ValueError` as `sim.house.filling.filling`."""
    design = house.design
    return filling(volume, hottest, design.glycol, RELIEF, design.static_height)

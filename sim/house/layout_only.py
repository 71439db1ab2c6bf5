"""A house laid out and counted without solving anything: bays, circuits by length, plates as written, quantities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.house.place import PlacedRoom
from sim.house.quantities import Amounts, amounts_of
from sim.house.rim import rim_ends
from sim.house.room_shape import storey_parts

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.house.placed import PlacedBay


@dataclass(frozen=True, slots=True)
class RoomCount:
    """A room with its circuits, and what it takes with the plates of its file."""

    placed: PlacedRoom
    amounts: Amounts

    def as_dict(self) -> dict[str, object]:
        """Plain values, with units in the names."""
        room = self.placed.room
        return {
            "room": room.name,
            "title": room.title,
            "bays": len(self.placed.bays),
            "heated_m2": self.placed.area,
            "circuits": [
                {
                    "circuit": circuit.name,
                    "length_m": circuit.length,
                    "leaders_m": circuit.leaders,
                    "bays": [bay.name for bay in circuit.bays],
                    "way_m": circuit.way.points if circuit.way else None,
                }
                for circuit in self.placed.split.circuits
            ],
            "quantities": self.amounts.as_dict(),
        }


def count_house(house: House, placed: Sequence[PlacedRoom]) -> tuple[RoomCount, ...]:
    """Every room counted as its file has it; `placed` as `sim.house.solve_house.check_house` gives."""
    bays = [bay for room in placed for bay in room.bays]
    return tuple(RoomCount(room, _amounts(house, bays, room)) for room in placed)


def _amounts(house: House, bays: Sequence[PlacedBay], room: PlacedRoom) -> Amounts:
    """What a room takes; `bays` are those of the whole house."""
    floor = storey_parts(house.rooms, bays, room.room.storey)
    rim = rim_ends(room.room, float(room.case.bay.joist_spacing), floor)
    return amounts_of(room.case, room.bays, room.split.circuits, rim)

"""Whose wish sets the water: the supply of the house and of every manifold.

A room whose floor cannot give its load within its limits has no say, unless its file says `sets_water = true`: hotter
water would heat all rooms for nothing that its floor may give. If it has a say, it asks for the water at which its
floor meets its limit. A manifold with a mixing valve of its own takes no hotter water than its own rooms ask for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.house.rooms import RoomState
from sim.house.schemes import Scheme

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.case.house_parts import HeatedRoom


WORTH = 2.0
"""Cooler water by less than this [K] is not worth a word."""


@dataclass(frozen=True, slots=True)
class Supplies:
    """Supply of the house [K], the number of the room that sets it, and each manifold's supply by name [K]."""

    house: float
    setting_room: int
    manifolds: Mapping[str, float]

    def of(self, room: HeatedRoom) -> float:
        """Supply of a room [K]."""
        return self.manifolds[room.manifold]


def find_supplies(house: House, scheme: Scheme, states: Mapping[int, RoomState]) -> Supplies:
    """The supplies of a layout.

    Parameters
    ----------
    house : its rooms say which of them set the water, its manifolds which of them mix.
    scheme : with the hottest water allowed.
    states : of every room, by number.
    """
    asked, setting_room = _highest(house, states, states)
    supply = min(scheme.hottest, asked)
    manifolds = {}
    for place in house.manifolds:
        own = [number for number in states if house.rooms[number].manifold == place.name]
        manifolds[place.name] = min(supply, _highest(house, states, own)[0]) if place.mixes and own else supply
    return Supplies(supply, setting_room, manifolds)


def without_short(
    house: House, states: Mapping[int, RoomState], setting_room: int, hottest: float
) -> tuple[str, float] | None:
    """Who would set the water, and to what [K], if rooms that fall short all the same at the hottest [K] did not.

    None where no such room sets it, or where little would be won.
    """
    able = [number for number, state in states.items() if not state.short and not state.limited and state.excess > 0.0]
    if not states[setting_room].short or not able:
        return None
    supply, number = _highest(house, states, able)
    return (house.rooms[number].name, supply) if supply < hottest - WORTH else None


def _highest(house: House, states: Mapping[int, RoomState], numbers: Iterable[int]) -> tuple[float, int]:
    """The highest supply that some rooms ask for [K], and who asks; those without a say where nobody has one."""
    numbers = list(numbers)
    voting = [number for number in numbers if has_a_say(house.rooms[number], states[number].limited)]
    setting_room = max(voting or numbers, key=lambda number: wish(states[number]))
    return wish(states[setting_room]), setting_room


def has_a_say(room: HeatedRoom, limited: bool) -> bool:
    """Whether a room helps to set the water."""
    return not limited if room.sets_water is None else bool(room.sets_water)


def wish(state: RoomState) -> float:
    """The supply that a room asks for [K]: for its load, or to its floor's limit; infinite where no water is enough."""
    if state.limited:
        return state.need.limit_supply
    return math.inf if math.isnan(state.need.supply) else state.need.supply

"""Print a house as a small tree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.case.quantities import format_value
from sim.case.tree import draw

if TYPE_CHECKING:
    from sim.case.house_case import HeatedRoom, House


def house_tree(house: House) -> str:
    """The tree of a house: design day, manifolds, rooms."""
    title = f"House {house.name}: {house.title}" if house.title else f"House {house.name}"
    design = house.design
    head = f"design day {format_value(design.outdoor, 'temperature')}"
    water = f"drop {format_value(design.drop, 'temperature difference')} over a circuit"
    manifolds = [f"{manifold.name}: {manifold.storey}" for manifold in house.manifolds]
    rooms = [_room(room) for room in house.rooms]
    return draw(title, [(head, [water]), ("manifolds", manifolds), ("rooms", rooms)])


def _room(room: HeatedRoom) -> str:
    load = "load by its losses" if room.load is None else format_value(room.load, "heat flow")
    bays = sum(group.count for group in room.bays)
    area = "" if room.active_area is None else f"{format_value(room.active_area, 'area')}, "
    number = f"{bays} bays" if bays != 1 else "one bay"
    name = f"{room.name}, {room.title}" if room.title else room.name
    return f"{name}: {format_value(room.temperature, 'temperature')}, {load}, {area}{number}, {room.storey}"

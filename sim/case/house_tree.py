"""Print a house as a small tree."""

from __future__ import annotations

from sim.case.house_keys import HouseKeys
from sim.case.house_parts import HeatedRoom, HeatSource, Variant
from sim.case.quantities import format_value
from sim.case.tree import draw_tree, headline
from sim.machine.notebook import card, table


def house_rows(house: HouseKeys) -> list[tuple[str, str]]:
    """The parts of a house, a line each."""
    bays = sum(group.count for room in house.rooms for group in room.bays)
    named: dict[str, tuple[HeatSource | Variant, ...]] = {"sources": house.sources, "variants": house.variants}
    listed = [(word, ", ".join(part.name for part in parts)) for word, parts in named.items() if parts]
    return [
        ("design day", format_value(house.design.outdoor, "temperature")),
        ("rooms", f"{len(house.rooms)}: {', '.join(room.name for room in house.rooms)}"),
        ("bays", f"{bays}"),
        ("manifolds", ", ".join(manifold.name for manifold in house.manifolds)),
        *listed,
    ]


def house_html(house: HouseKeys) -> str:
    """A house in a notebook: its rooms in a table."""
    heads = ("room", "temperature", "load", "floor to heat", "bays", "storey")
    title = headline("House", house.name, house.title)
    return card(title, table(house_rows(house)), table(map(_cells, house.rooms), heads))


def _cells(room: HeatedRoom) -> tuple[str, ...]:
    """A room's line of a table."""
    load = "by its losses" if room.load is None else format_value(room.load, "heat flow")
    name = _called(room)
    bays = sum(group.count for group in room.bays)
    area = "" if room.active_area is None else format_value(room.active_area, "area")
    return name, format_value(room.temperature, "temperature"), load, area, str(bays), room.storey


def _called(room: HeatedRoom) -> str:
    """Name and title; the name alone where the title says no more."""
    return room.name if (room.title or "").casefold() in ("", room.name.casefold()) else f"{room.name}, {room.title}"


def house_tree(house: HouseKeys) -> str:
    """The tree of a house: design day, manifolds, rooms."""
    design = house.design
    head = f"design day {format_value(design.outdoor, 'temperature')}"
    water = f"drop {format_value(design.drop, 'temperature difference')} over a circuit"
    manifolds = [f"{manifold.name}: {manifold.storey}" for manifold in house.manifolds]
    rooms = [_room(room) for room in house.rooms]
    branches = [(head, [water]), ("manifolds", manifolds), ("rooms", rooms)]
    return draw_tree(headline("House", house.name, house.title), branches)


def _room(room: HeatedRoom) -> str:
    load = "load by its losses" if room.load is None else format_value(room.load, "heat flow")
    bays = sum(group.count for group in room.bays)
    area = "" if room.active_area is None else f"{format_value(room.active_area, 'area')}, "
    number = f"{bays} bays" if bays != 1 else "one bay"
    return f"{_called(room)}: {format_value(room.temperature, 'temperature')}, {load}, {area}{number}, {room.storey}"

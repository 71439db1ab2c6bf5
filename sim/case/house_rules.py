"""Rules that join several sections of a house file, and what follows from other sections."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches

from sim.case.errors import Problem
from sim.case.fields import fill, given
from sim.case.house_keys import HouseKeys
from sim.case.house_parts import HeatedRoom
from sim.case.quantities import format_value


def settle_house(house: HouseKeys) -> None:
    """Fill in, in place, what follows from other sections: each room's manifold."""
    fill(house, rooms=tuple(_with_manifold(house, room) for room in house.rooms))
    if not given(house, "sources"):
        fill(house, sources=())


def _with_manifold(house: HouseKeys, room: HeatedRoom) -> HeatedRoom:
    here = [manifold.name for manifold in house.manifolds if manifold.storey == room.storey]
    if given(room, "manifold") or not here:
        return room
    room = room.model_copy()
    fill(room, manifold=here[0])
    return room


def house_problems(house: HouseKeys) -> list[Problem]:
    """Every rule that a house breaks as far as it can be told without its bays' cases."""
    problems = [*_present(house), *_weather(house), *_empty(house)]
    for kind, names in _named(house):
        problems += [*_twice(kind, names), *_one_word(kind, names)]
    for number, room in enumerate(house.rooms):
        where = f"room[{number}]"
        problems += [*_load(room, where), *_bays(room, where), *_links(house, room, where), *_warm(house, room, where)]
    return problems + list(_circles(house))


def _present(house: HouseKeys) -> Iterator[Problem]:
    if not house.rooms:
        more = ", its name as in rooms_file, which fills up what such rooms say" if house.rooms_file else ""
        yield Problem("room", "", "the house has no room", f"write at least one [[room]]{more}")
    if not house.manifolds:
        yield Problem("manifold", "", "the house has no manifold", "write at least one [[manifold]]")


def _named(house: HouseKeys) -> Iterator[tuple[str, list[str]]]:
    yield "room", [room.name for room in house.rooms]
    yield "manifold", [manifold.name for manifold in house.manifolds]
    yield "source", [source.name for source in house.sources]
    yield "variant", [variant.name for variant in house.variants]


def _twice(kind: str, names: Sequence[str]) -> Iterator[Problem]:
    for number, name in enumerate(names):
        if name in names[:number]:
            yield Problem(f"{kind}[{number}].name", f'"{name}"', "given twice", "every name is its own")


def _one_word(kind: str, names: Sequence[str]) -> Iterator[Problem]:
    """Names that stand in lists and on drawings: rooms and manifolds."""
    for number, name in enumerate(names):
        if kind in ("room", "manifold") and (len(name.split()) != 1 or name != name.strip()):
            rule = "must be one word: it stands in lists of bays"
            way_out = "put the rest into title" if kind == "room" else f"e.g. {''.join(name.split())[:24]}"
            yield Problem(f"{kind}[{number}].name", f'"{name}"', rule, way_out)
        if kind == "room" and name == "total":
            yield Problem(f"room[{number}].name", '"total"', "names the sum of all rooms", "call it otherwise")


def _weather(house: HouseKeys) -> Iterator[Problem]:
    shutdown = house.design.shutdown
    if shutdown is not None and shutdown <= house.design.outdoor:
        yield Problem(
            "design.shutdown",
            format_value(shutdown, "temperature"),
            f"must be warmer than the design day {format_value(house.design.outdoor, 'temperature')}",
            "heating would never run",
        )
    for number, outdoor in enumerate(house.design.outdoors):
        if outdoor < house.design.outdoor - 1e-6 and given(house.design, "outdoors"):
            yield Problem(
                f"design.outdoors[{number}]",
                format_value(outdoor, "temperature"),
                f"must not be colder than the design day {format_value(house.design.outdoor, 'temperature')}",
                "leave it out, or make the design day colder",
            )
    warmest = max((room.temperature for room in house.rooms), default=float("inf"))
    for number, outdoor in enumerate(house.design.outdoors):
        if outdoor >= warmest and given(house.design, "outdoors"):
            shown, rule = format_value(outdoor, "temperature"), "is as warm as every room: nothing is to be heated"
            yield Problem(f"design.outdoors[{number}]", shown, rule, "leave it out")


def _empty(house: HouseKeys) -> Iterator[Problem]:
    """Lists that name nothing; left out, they mean the usual ones."""
    for name in ("spacings", "outdoors", "coils"):
        if given(house.design, name) and not getattr(house.design, name):
            yield Problem(f"design.{name}", "[]", "names none", "leave it out for the usual ones")


def _load(room: HeatedRoom, where: str) -> Iterator[Problem]:
    if room.load is None and room.losses is None:
        yield Problem(
            f"{where}.load", "", f"missing; room {room.name} has no heat load", "give load, or [room.losses]"
        )
    elif room.load is not None and room.losses is not None:
        shown = format_value(room.load, "heat flow")
        yield Problem(f"{where}.load", f"{shown} and losses", "load and losses exclude each other", "leave one out")


def _bays(room: HeatedRoom, where: str) -> Iterator[Problem]:
    if not room.bays:
        yield Problem(
            f"{where}.bays",
            "",
            f"room {room.name} has no bays",
            "write at least one [[room.bays]] under it, or leave the room out",
        )
    yield from _twice(f"{where}.bays", [group.name for group in room.bays])
    for number, group in enumerate(room.bays):
        if group.name and len(group.name.split()) != 1:
            rule = "must be one word: it begins the names of bays"
            yield Problem(f"{where}.bays[{number}].name", f'"{group.name}"', rule, "write it without blanks")
    for number, blocked in enumerate(room.blocked):
        if not blocked.bays:
            yield Problem(f"{where}.blocked[{number}].bays", "[]", "names no bay", "name the bays, or leave it out")


def _links(house: HouseKeys, room: HeatedRoom, where: str) -> Iterator[Problem]:
    """Names of other sections that a room uses."""
    manifolds = [manifold.name for manifold in house.manifolds]
    if manifolds and room.manifold not in manifolds:
        if room.manifold is None:
            rule = f'no manifold is on the storey "{room.storey}"'
            yield Problem(f"{where}.manifold", "", rule, f"add one, or name one of: {', '.join(manifolds)}")
        else:
            yield _unknown(f"{where}.manifold", room.manifold, "manifold", manifolds)
    others = [other.name for other in house.rooms if other.name != room.name]
    if room.below.room is not None and room.below.room not in others:
        yield _unknown(f"{where}.below.room", room.below.room, "other room", others)
    if room.below.room is not None and room.below.kind != "heated room":
        rule = "only a heated room takes up the downward heat"
        yield Problem(f"{where}.below.room", f'"{room.below.room}"', rule, 'leave it out, or set kind = "heated room"')
    if room.below.kind != "heated room" and room.below.temperature is None:
        way_out = "give the temperature below on the design day"
        yield Problem(f"{where}.below.temperature", "", f'missing; below is "{room.below.kind}"', way_out)


def _unknown(key: str, name: str, kind: str, known: Iterable[str]) -> Problem:
    known = list(known)
    near = get_close_matches(name, known, n=1)
    hint = f'did you mean "{near[0]}"?' if near else f"known: {', '.join(known) or 'none'}"
    return Problem(key, f'"{name}"', f"there is no {kind} of that name", hint)


def _warm(house: HouseKeys, room: HeatedRoom, where: str) -> Iterator[Problem]:
    if room.temperature <= house.design.outdoor:
        yield Problem(
            f"{where}.temperature",
            format_value(room.temperature, "temperature"),
            f"must be warmer than the design day {format_value(house.design.outdoor, 'temperature')}",
            "correct it, or make design.outdoor colder",
        )


def _circles(house: HouseKeys) -> Iterator[Problem]:
    """Rooms that lie above themselves by way of others; one that names itself is told as an unknown room."""
    below = {room.name: room.below.room for room in house.rooms}
    for number, room in enumerate(house.rooms):
        seen, here = [room.name], below[room.name]
        while here is not None and here in below and here not in seen:
            seen.append(here)
            here = below[here]
        if here == room.name and len(seen) > 1:
            shown = " over ".join([*seen, room.name])
            way_out = "name below each room the one that lies under it, or leave it out"
            yield Problem(f"room[{number}].below.room", f'"{below[room.name]}"', f"a ring of rooms: {shown}", way_out)

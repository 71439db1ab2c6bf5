"""Read house files, and the bay cases of their rooms."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case.bay_case import Case
from sim.case.errors import CaseError, Problem, visible
from sim.case.fields import FROM_TEXT
from sim.case.house_called import by_name, called
from sim.case.house_case import House
from sim.case.house_table import blaming, with_rooms_file
from sim.case.load import load_case, parse_case, read_toml
from sim.case.messages import check
from sim.case.read_file import read_text

if TYPE_CHECKING:
    from sim.case.house_parts import HeatedRoom


def load_house(path: str | Path) -> House:
    """Read and check a house file.

    Raises
    ------
    CaseError
        The file cannot be read, is not TOML, or breaks a rule; all problems of one stage together.
    """
    return parse_house(read_text(Path(path)), visible(Path(path).stem), str(path))


def parse_house(text: str, name: str = "house", path: str | None = None) -> House:
    """Check the text of a house file; `path` is where its bay cases are looked for.

    Raises
    ------
    CaseError
        As in `load_house`.
    """
    where = path or name
    data = read_toml(text, where)
    if wrong := [
        Problem(key, "", "unknown key", "a house is named by its file; a line for people is title")
        for key in ("name", "path")
        if key in data
    ]:
        raise CaseError(where, wrong)
    if data.get("kind", "house") != "house" or not {"kind", "design", "manifold"} & data.keys():
        way_out = 'write kind = "house" and [design], or use joistbay run for the case of a bay'
        raise CaseError(where, [Problem("", "", "is not a house", way_out)])
    data, origins = with_rooms_file(data, where)
    names = called(data)
    with by_name(names), blaming(origins):
        found = check(House, {**data, "name": name, "path": path}, where, FROM_TEXT)
    found._origins, found._called = origins, names
    return found


def bay_case(house: House, number: int, change: Mapping[str, object] | None = None) -> Case:
    """The bay of a room: its file, the room's own values, then `change` (that of a variant).

    The room's temperature, what is below it, the design drop and the covering of the house file stand in the case.

    Raises
    ------
    CaseError
        Naming the house file and the room's key.
    """
    room, where = house.rooms[number], f"room[{number}]"
    problems = [*_governed(room.change, f"{where}.change"), *_governed(change or {}, "variant.change")]
    if problems := [*problems, *_covered_twice(room, where)]:
        raise CaseError(house.path or house.name, problems)
    base = _base(house, room, where)
    values: dict[str, Any] = {**_surroundings(house, room), **room.change, **(change or {})}
    if room.coverings:
        values["floor.covering"] = [layer.model_dump(exclude_unset=True) for layer in room.coverings]
    try:
        return base.with_(**values).model_copy(update={"name": room.name})
    except CaseError as error:
        problems = [replace(p, key=_changed_key(p.key, where, change or {})) for p in error.problems]
        raise CaseError(house.path or house.name, problems) from None


def _changed_key(key: str, where: str, change: Mapping[str, Any]) -> str:
    """Which change a problem of a bay comes from: that of the room, or that of a variant in it."""
    by_variant = any(key == own or key.startswith(f"{own}.") for own in change)
    return f"variant.change {key} in {where}" if by_variant else f"{where}.change {key}".strip()


OF_THE_HOUSE = ("room", "room.temperature", "below", "below.kind", "below.temperature", "water")
"""Keys of a bay that the house file itself says; so are all keys inside [water]."""


WITHOUT_USE = ("compare", "time", "control", "weather")
"""Sections of a bay that a house, laid out from steady states, has no use for."""


def _governed(change: Mapping[str, Any], where: str) -> Iterator[Problem]:
    """Changes of what the house file says elsewhere, or has no use for."""
    for key in change:
        if key.split(".")[0] in WITHOUT_USE:
            rule = "a house is laid out from steady states, which do not use it"
            yield Problem(f"{where} {key}", "", rule, "leave it out; joistbay warmup follows a bay in time")
        if key in OF_THE_HOUSE or key.startswith("water."):
            rule = f"{key} follows from the house file"
            yield Problem(f"{where} {key}", "", rule, "set temperature, below, or [design] there")


def _covered_twice(room: HeatedRoom, where: str) -> Iterator[Problem]:
    """Coverings beside a change of the same."""
    for key in room.change:
        if room.coverings and key.split(".")[:2] == ["floor", "covering"]:
            yield Problem(f"{where}.change {key}", "", "the room's covering replaces it", "leave one out")


TO_BEGIN = 25.0
"""Water over the room [K] until the layout sets it: a bay in a house need not say its own."""


def _base(house: House, room: HeatedRoom, where: str) -> Case:
    """The case file of a room, or a bay of defaults."""
    known = {
        "water": {"supply": f"{room.temperature + TO_BEGIN} K"},
        "room": {"temperature": f"{room.temperature} K"},
    }
    if room.case is None:
        return parse_case("", room.name, unless_said=known)  # type: ignore[return-value]
    path = Path(house.path or ".").parent / room.case
    try:
        case = load_case(path, known)
    except CaseError as error:
        problems = [
            replace(p, key=f"{where}.case", rule=f"{room.case}: {p.key + ': ' if p.key else ''}{p.rule}")
            for p in error.problems
        ]
        raise CaseError(house.path or house.name, problems) from None
    if (bay := case.joist_bay) is None:
        raise CaseError(
            house.path or house.name,
            [Problem(f"{where}.case", f'"{room.case}"', "is not the case of a joist bay", "name a bay case")],
        )
    return bay


def _surroundings(house: House, room: HeatedRoom) -> dict[str, Any]:
    """What the house says about a bay's surroundings and water."""
    values: dict[str, Any] = {
        "room.temperature": room.temperature,
        "below.kind": room.below.kind,
        "below.temperature": temperature_below(house, room),
        "water.drop": house.design.drop,
        "water.glycol": house.design.glycol,
    }
    return values


def temperature_below(house: House, room: HeatedRoom) -> float:
    """Air temperature under a room's bays [K]: the one written, that of the room below, or that of the room itself."""
    if room.below.temperature is not None:
        return float(room.below.temperature)
    return float(house.room(room.below.room).temperature if room.below.room else room.temperature)

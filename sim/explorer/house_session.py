"""What one tab has done with its house: a frozen value over the text of its file; every change makes another."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from typing import Any

from sim.case.errors import CaseError, Problem
from sim.case.house_case import House
from sim.case.house_load import bay_case, parse_house
from sim.case.quantities import format_value
from sim.case.writing import plain_toml
from sim.explorer.steps import Steps

WORDS = {"yes": True, "no": False}
"""Answers to whether a room may set the water."""


@dataclass(frozen=True, slots=True)
class HouseSession(Steps[str]):
    """The text of a house's file with what it was before and after.

    Attributes
    ----------
    house : House
        What the text says; it has passed all checks, its bays placed.
    """

    house: House = field(kw_only=True)

    @property
    def text(self) -> str:
        """Its file as it stands."""
        return self.now

    def set(self, key: str, typed: str) -> HouseSession:
        """With another value, as typed; nothing typed leaves it to the house or to its bay's file.

        Raises
        ------
        CaseError : it does not fit; the session stays as it is.
        """
        data = tomllib.loads(self.text)
        _put(self.house, data, key, typed.strip())
        return self._at(plain_toml(data))

    def undo(self) -> HouseSession:
        """One step back, if there is one."""
        return self._read(Steps.undo(self))

    def redo(self) -> HouseSession:
        """One step on again, if there is one."""
        return self._read(Steps.redo(self))

    def again(self) -> HouseSession:
        """As it was opened, as a step that can be undone."""
        return self._at(self.first)

    def _at(self, text: str) -> HouseSession:
        return self if text == self.text else self._read(self.to(text))

    def _read(self, moved: HouseSession) -> HouseSession:
        """With the house that the text says now."""
        return self if moved is self else replace(moved, house=read_house(moved.text, self.house.name, self.house.path))


def opened_house(text: str, name: str, path: str) -> HouseSession:
    """A session that begins with a file; raises as `read_house`."""
    plain = plain_toml(tomllib.loads(text))
    return HouseSession(plain, plain, house=read_house(plain, name, path))


def read_house(text: str, name: str, path: str | None) -> House:
    """A house whose bays are placed too, so that nothing is left to be refused when it is solved.

    Raises
    ------
    CaseError : it breaks a rule.
    """
    from sim.house.solve_house import check_house

    house = parse_house(text, name, path)
    check_house(house)
    return house


def saved_text(session: HouseSession) -> str:
    """The file to save: the same house when it lies beside the one that was opened."""
    name = session.house.name
    head = f"# {name}, as it stood in the explorer; its bays' files lie beside the house that was opened.\n"
    return head + session.text


def _put(house: House, data: dict[str, Any], key: str, typed: str) -> None:
    """Put what was typed into the data of the file."""
    part, _, rest = key.partition(".")
    if part == "design":
        _write(data.setdefault("design", {}), rest, _listed(typed) if rest == "spacings" else typed)
        return
    number, _, name = rest.partition(".")
    if part == "source":
        _write(data["source"][int(number)], name, typed)
        return
    room = house.rooms[int(number)]
    own = next((entry for entry in data.get("room", []) if entry.get("name") == room.name), None)
    if own is None:
        rule, way = f"{room.name} stands in {house.rooms_file}", "change it there, and open the house again"
        raise CaseError(house.path or house.name, [Problem(key, typed, rule, way)])
    if name in ("covering", "thickness"):
        _cover(house, int(number), own, name, typed)
    else:
        _write(own, name, WORDS.get(typed, typed) if name == "sets_water" else typed)


def _write(section: dict[str, Any], name: str, value: Any) -> None:
    """A value, or nothing of it where nothing was typed."""
    if value in ("", []):
        section.pop(name, None)
    else:
        section[name] = value


def _cover(house: House, number: int, own: dict[str, Any], name: str, typed: str) -> None:
    """Another covering, or another thickness of the uppermost one; nothing typed is that of the bay's file."""
    if not typed:
        own.pop("covering", None)
        return
    layers = own.get("covering") or [_as_written(house, number)]
    layers[0] = dict(layers[0]) | {"material" if name == "covering" else "thickness": typed}
    for follows in ("conductivity", "thermal_resistance"):
        layers[0].pop(follows, None)
    own["covering"] = layers


def _as_written(house: House, number: int) -> dict[str, Any]:
    """The uppermost covering of a room's bay."""
    coverings = bay_case(house, number).floor.coverings
    if not coverings:
        return {"material": "oak", "thickness": "15 mm"}
    return {"material": coverings[0].material, "thickness": format_value(coverings[0].thickness, "length", "SI")}


def _listed(typed: str) -> list[str]:
    return [part.strip() for part in typed.split(",") if part.strip()]

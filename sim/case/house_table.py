"""Rooms of a house from a spreadsheet: a CSV or XLSX file with a line a room, and a template for one."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.spreadsheet import neutral_cell
from sim.case.spreadsheet_file import SheetLine, spreadsheet_lines
from sim.case.unit_sizes import BTU, FOOT

if TYPE_CHECKING:
    from sim.case.house_case import HeatedRoom, House

COLUMNS = ("name", "title", "storey", "temperature", "load", "active_area")
"""What a line may say of a room, as the house file would; an empty cell says nothing."""


Origins = Mapping[str, str]
"""Where keys of a house that its file does not say come from: file, sheet and row by key."""


def with_rooms_file(data: dict[str, object], path: str) -> tuple[dict[str, object], Origins]:
    """The data of a house file, its rooms filled up from the spreadsheet that it names, and what came from there.

    Parameters
    ----------
    data : as read from TOML.
    path : of the house file; the spreadsheet is looked for beside it.

    Raises
    ------
    CaseError
        The spreadsheet cannot be read, has other columns, names a room that is not there or says what the house file
        says too.
    """
    name, rooms = data.get("rooms_file"), data.get("room")
    if not isinstance(name, str) or not isinstance(rooms, list) or not all(isinstance(room, dict) for room in rooms):
        return data, {}
    place = Path(path).parent / name
    lines = spreadsheet_lines(place)
    problems = list(_wrong_columns(lines))
    if not any(problem.key == "name" for problem in problems):
        problems += _wrong_lines(lines, {str(room.get("name")): room for room in rooms})
    if problems:
        raise CaseError(str(place), problems)
    told = {line.cells["name"]: {key: value for key, value in line.cells.items() if value} for line in lines}
    filled = [{**told.get(str(room.get("name")), {}), **room} for room in rooms]
    places = {line.cells["name"]: line.place for line in lines}
    origins = {
        f"room[{number}].{key}": f"{name}, {places[room['name']]}, {key}"
        for number, room in enumerate(rooms)
        for key in told.get(str(room.get("name")), {})
        if key not in room
    }
    return {**data, "room": filled}, origins


@contextmanager
def blaming(origins: Origins) -> Iterator[None]:
    """What is found wrong within it is put down to the spreadsheet's cell where it comes from there."""
    try:
        yield
    except CaseError as error:
        found = [replace(problem, key=origins.get(problem.key, problem.key)) for problem in error.problems]
        raise CaseError(error.path, found) from None


def rooms_template(house: House, inches: bool = False) -> str:
    """The rooms of a house as such a file, in SI units or in those that go with inches."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([neutral_cell(cell) for cell in line.values()] for line in room_lines(house, inches))
    return out.getvalue()


def room_lines(house: House, inches: bool = False) -> list[dict[str, str]]:
    """A line a room, in SI units or in those that go with inches."""
    return [dict(zip(COLUMNS, _room_line(room, inches), strict=True)) for room in house.rooms]


def _room_line(room: HeatedRoom, inches: bool) -> tuple[str, ...]:
    celsius = room.temperature - ZERO_CELSIUS
    warm = f"{celsius * 1.8 + 32.0:.6g} degF" if inches else f"{celsius:.6g} degC"
    load = _amount(room.load, *(("Btu/h", BTU / 3600.0) if inches else ("W", 1.0)))
    area = _amount(room.active_area, *(("ft^2", FOOT**2) if inches else ("m^2", 1.0)))
    return room.name, room.title or "", room.storey, warm, load, area


def _amount(value: float | None, unit: str, size: float) -> str:
    return "" if value is None else f"{value / size:.6g} {unit}"


def _wrong_columns(lines: list[SheetLine]) -> Iterator[Problem]:
    heads = lines[0].cells if lines else {}
    if "name" not in heads:
        rule = "there must be a column name, headed in the first line, and at least one line more"
        yield Problem("name", "", rule, "see joistbay house --template")
        return
    for column in heads:
        if column not in COLUMNS:
            yield Problem(column, "", "unknown column", f"known: {', '.join(COLUMNS)}")


def _wrong_lines(lines: list[SheetLine], rooms: Mapping[str, Mapping[str, Any]]) -> Iterator[Problem]:
    seen: set[str] = set()
    for line in lines:
        name = line.cells.get("name", "")
        if name not in rooms:
            yield Problem(line.place, f'"{name}"', "the house has no such room", f"known: {', '.join(rooms)}")
        elif name in seen:
            yield Problem(line.place, f'"{name}"', "given twice")
        else:
            twice = [key for key, value in line.cells.items() if value and key != "name" and key in rooms[name]]
            for key in twice:
                yield Problem(line.place, f"{key} of {name}", "the house file says it too", "leave one out")
        seen.add(name)

"""Rooms of a house from a spreadsheet: a CSV or XLSX file with a line a room, and a template for one."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.load import read_text
from sim.case.spreadsheet import neutral_cell, plain_cell
from sim.case.spreadsheet_file import spreadsheet_lines

if TYPE_CHECKING:
    from sim.case.house_case import House

COLUMNS = ("name", "title", "storey", "temperature", "load", "active_area")
"""What a line may say of a room, as the house file would; an empty cell says nothing."""


def with_rooms_file(data: dict[str, object], path: str) -> dict[str, object]:
    """The data of a house file, its rooms filled up from the spreadsheet that it names.

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
        return data
    place = Path(path).parent / name
    lines = spreadsheet_lines(place) if place.suffix.lower() == ".xlsx" else _lines(read_text(place))
    problems = [*_wrong_columns(lines), *_wrong_lines(lines, {str(room.get("name")): room for room in rooms})]
    if problems:
        raise CaseError(str(place), problems)
    told = {line["name"]: {key: value for key, value in line.items() if value} for line in lines}
    return {**data, "room": [{**told.get(str(room.get("name")), {}), **room} for room in rooms]}


def rooms_template(house: House) -> str:
    """The rooms of a house as such a file, in SI units."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for room in house.rooms:
        load = "" if room.load is None else f"{room.load:.6g} W"
        warm = f"{room.temperature - ZERO_CELSIUS:.4g} degC"
        area = "" if room.active_area is None else f"{room.active_area:.6g} m^2"
        writer.writerow([neutral_cell(cell) for cell in (room.name, room.title, room.storey, warm, load, area)])
    return out.getvalue()


def _lines(text: str) -> list[dict[str, str]]:
    """Every line by its columns, without blanks round the cells."""
    rows = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    return [{str(key).strip(): plain_cell((value or "").strip()) for key, value in row.items() if key} for row in rows]


def _wrong_columns(lines: list[dict[str, str]]) -> Iterator[Problem]:
    for column in lines[0] if lines else ():
        if column not in COLUMNS:
            yield Problem(column, "", "unknown column", f"known: {', '.join(COLUMNS)}")
    if not lines or "name" not in lines[0]:
        yield Problem("name", "", "there must be a column name and at least one line", "see joistbay house --template")


def _wrong_lines(lines: list[dict[str, str]], rooms: Mapping[str, Mapping[str, Any]]) -> Iterator[Problem]:
    seen: set[str] = set()
    for number, line in enumerate(lines, start=2):
        name = line.get("name", "")
        if name not in rooms:
            yield Problem(f"line {number}", f'"{name}"', "the house has no such room", f"known: {', '.join(rooms)}")
        elif name in seen:
            yield Problem(f"line {number}", f'"{name}"', "given twice")
        else:
            twice = [key for key, value in line.items() if value and key != "name" and key in rooms[name]]
            for key in twice:
                yield Problem(f"line {number}", f"{key} of {name}", "the house file says it too", "leave one out")
        seen.add(name)

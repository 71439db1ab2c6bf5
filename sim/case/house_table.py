"""Rooms of a house from a spreadsheet: a CSV or XLSX file with a line a room, and a template for one."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from math import isclose
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.load import read_toml
from sim.case.quantities import UnitError, parse
from sim.case.read_file import read_text
from sim.case.spreadsheet import neutral_cell
from sim.case.spreadsheet_file import SheetLine, spreadsheet_lines
from sim.case.unit_sizes import BTU, FOOT

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.case.house_parts import HeatedRoom

COLUMNS = ("name", "title", "storey", "temperature", "load", "active_area")
"""What a line may say of a room, as the house file would; an empty cell says nothing."""

OTHER_WORDS = {
    "name": ("room", "no", "no.", "id", "room_no", "room_no."),
    "title": ("description", "room_name", "label"),
    "storey": ("story", "floor", "level"),
    "temperature": ("temp", "temp.", "room_temperature", "room_temp", "design_temperature"),
    "load": ("heat_load", "heat_loss", "loss", "design_load", "design_heat_loss"),
    "active_area": ("area", "floor_area", "heated_area", "active_floor_area"),
}
"""What people head these columns with, in lower case and without blanks."""

_MEASURED = {"temperature": "temperature", "load": "heat flow", "active_area": "area"}
"""What the numbers of a column measure."""

_HEADS = {False: {"temperature": "degC", "load": "W", "active_area": "m^2"},
          True: {"temperature": "degF", "load": "Btu/h", "active_area": "ft^2"}}  # fmt: skip
"""Units in a template's headings, so that a bare number may be filled in: SI, and those that go with inches."""

_UNIT_IN_HEAD = re.compile(r"_?[(\[](?P<unit>[^)\]]+)[)\]]$")
"""A unit that a heading names in brackets, as in "Heat loss (W)"."""

NO_LOAD = "has no heat load"
"""What is said of a room without one: a house that lacks nothing else may ask for a file to fill in."""

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
    if not place.exists():
        way_out = f"joistbay house {path} --template prints one to fill in"
        raise CaseError(str(place), [Problem("", "", "there is no such file", way_out)])
    written = spreadsheet_lines(place)
    lines = [replace(line, cells=_known(line.cells)) for line in written]
    problems = list(_wrong_columns(list(written[0].cells) if written else []))
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


def _known(cells: Mapping[str, str]) -> dict[str, str]:
    """Cells by the columns that their headings mean; the unit of a heading stands behind numbers that have none."""
    told: dict[str, str] = {}
    for head, cell in cells.items():
        unit, column = _UNIT_IN_HEAD.search(head), _meaning(head)
        own = column if column in COLUMNS and column not in told else head
        bare = unit is not None and own == column and re.fullmatch(r"[-+\d.,' ]+", cell)
        told[own] = f"{cell} {_spoken(unit['unit'])}" if bare and unit else cell
    return told


def _column(head: str) -> str:
    """The column that a heading means; the heading itself where it means none."""
    return next((column for column, words in OTHER_WORDS.items() if head in words), head)


def _spoken(unit: str) -> str:
    """A unit of a heading, which is in lower case, as a cell would say it."""
    return {"w": "W", "kw": "kW", "°c": "degC", "c": "degC", "degc": "degC", "k": "K", "°f": "degF", "f": "degF",
            "degf": "degF", "btu/h": "Btu/h", "btuh": "Btu/h", "btu/hr": "Btu/h", "m2": "m^2", "m²": "m^2",
            "sqm": "m^2", "ft2": "ft^2", "ft²": "ft^2", "sqft": "ft^2", "sq_ft": "ft^2"}.get(unit, unit)  # fmt: skip


@contextmanager
def blaming(origins: Origins) -> Iterator[None]:
    """What is found wrong within it is put down to the spreadsheet's cell where it comes from there."""
    try:
        yield
    except CaseError as error:
        found = [replace(problem, key=origins.get(problem.key, problem.key)) for problem in error.problems]
        raise CaseError(error.path, found) from None


def headed(lines: list[dict[str, str]], inches: bool = False) -> list[dict[str, str]]:
    """Lines of rooms under headings that name their units."""
    units = _HEADS[inches]
    names = {column: f"{column} ({units[column]})" if column in units else column for column in COLUMNS}
    return [{names[column]: cell for column, cell in line.items()} for line in lines]


def as_csv(lines: list[dict[str, str]]) -> str:
    """Lines of rooms, at least one, as such a file."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(lines[0])
    writer.writerows([neutral_cell(cell) for cell in line.values()] for line in lines)
    return out.getvalue()


def unfilled_lines(path: Path, error: CaseError) -> list[dict[str, str]] | None:
    """The rooms of a house file as they are written, when nothing is wrong but that their loads are still open.

    Parameters
    ----------
    path : of the house file.
    error : what is wrong with it: other than that, None is returned.
    """
    data = read_toml(read_text(path), str(path))
    rooms, name = data.get("room"), data.get("rooms_file")
    unwritten = isinstance(name, str) and error.path == str(path.parent / name) and not (path.parent / name).exists()
    if not unwritten and any(NO_LOAD not in problem.rule for problem in error.problems):
        return None
    if not isinstance(rooms, list) or not all(isinstance(room, dict) for room in rooms):
        return None
    return [{column: str(room.get(column, "")) for column in COLUMNS} for room in rooms]


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


def _wrong_columns(heads: list[str]) -> Iterator[Problem]:
    meanings = [_meaning(head) for head in heads]
    if "name" not in meanings:
        rule = "there must be a column name, headed in the first line, and at least one line more"
        yield Problem("name", "", rule, "see joistbay house HOUSE --template")
        return
    for place, (head, meant) in enumerate(zip(heads, meanings, strict=True)):
        if meant not in COLUMNS:
            way = f"known: {', '.join(COLUMNS)}; take it out or head it so, with its unit, as in load (W)"
            yield Problem(head, "", "unknown column", way)
        elif meant in meanings[:place]:
            yield Problem(head, "", f"means {meant}, as another column does", "leave one of them out")


def _meaning(head: str) -> str:
    """The column that a heading with or without a unit means; the heading itself where it means none."""
    unit = _UNIT_IN_HEAD.search(head)
    return _column(head[: unit.start()] if unit else head)


def _same(column: str, cell: str, told: str) -> bool:
    """Whether a cell says what the house file says, in whatever unit."""
    if cell == told or column not in _MEASURED:
        return cell == told
    try:
        return isclose(*(parse(text, _MEASURED[column]) for text in (cell, told)), rel_tol=1e-5)
    except UnitError:
        return False


def _wrong_lines(lines: list[SheetLine], rooms: Mapping[str, Mapping[str, Any]]) -> Iterator[Problem]:
    seen: set[str] = set()
    for line in lines:
        name = line.cells.get("name", "")
        if name not in rooms:
            yield Problem(line.place, f'"{name}"', "the house has no such room", f"known: {', '.join(rooms)}")
        elif name in seen:
            yield Problem(line.place, f'"{name}"', "given twice")
        else:
            for key, value in line.cells.items():
                told = rooms[name].get(key)
                if value and key != "name" and told is not None and not _same(key, value, str(told)):
                    rule = f'the house file says "{told}"'
                    yield Problem(line.place, f'{key} of {name}, "{value}"', rule, "leave one of them out")
        seen.add(name)

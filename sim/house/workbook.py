"""The tables of a solved house as one spreadsheet: a sheet a table, numbers as numbers, texts as texts only."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.house.in_units import cell_format

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

WIDEST = 48
"""A column is no wider than so many signs."""


def write_workbook(path: Path, tables: Mapping[str, Iterable[Mapping[str, object]]]) -> Path:
    """Write tables as sheets of an XLSX file.

    Parameters
    ----------
    path : of the file.
    tables : rows by the name of their sheet; columns in the order in which rows name them.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, rows in tables.items():
        _fill(book.create_sheet(name), list(rows))
    book.save(path)
    return path


def _fill(sheet: Worksheet, rows: list[Mapping[str, Any]]) -> None:
    """Headings, then the rows; the headings stay in sight."""
    columns = list(dict.fromkeys(column for row in rows for column in row))
    formats = {column: cell_format(column) for column in columns}
    for line, values in enumerate([columns, *([row.get(column, "") for column in columns] for row in rows)], start=1):
        for place, (column, value) in enumerate(zip(columns, values, strict=True), start=1):
            _put(sheet, line, place, value, formats[column])
    for place, column in enumerate(columns):
        widest = max(len(_seen(row.get(column, ""))) for row in rows)
        sheet.column_dimensions[_letters(place)].width = min(WIDEST, max(len(column), widest) + 2)
    sheet.freeze_panes = "A2"


def _put(sheet: Worksheet, line: int, place: int, value: Any, shown: str) -> None:
    """One cell: a text that begins like a formula stays a text, what is not a number stays empty."""
    if isinstance(value, float) and not math.isfinite(value):
        return
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    cell = sheet.cell(line, place)
    cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", value) if isinstance(value, str) else value
    if isinstance(value, str):
        cell.data_type = "s"
    else:
        cell.number_format = shown


def _seen(value: object) -> str:
    """About what a cell shows."""
    return f"{value:,.2f}" if isinstance(value, float) else str(value)


def _letters(place: int) -> str:
    from openpyxl.utils import get_column_letter

    return get_column_letter(place + 1)

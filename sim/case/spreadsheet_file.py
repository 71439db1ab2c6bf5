"""Cells of a spreadsheet file, as texts: a CSV file, or the first sheet of an XLSX file that holds any."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.case.errors import CaseError, Problem, shortened
from sim.case.read_file import read_text, refuse_pipe
from sim.case.spreadsheet import plain_cell

MOST_ROWS, MOST_COLUMNS = 1000, 50
"""What lies beyond is not read of a workbook, whose sheets have many empty rows, and refused in a text."""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line below the headings: where it stands, as its reader would look for it, and its cells by their headings."""

    place: str
    cells: dict[str, str]


def spreadsheet_lines(path: Path) -> list[SheetLine]:
    """The lines that say anything, by the headings of the first; cells are texts without blanks round them.

    Raises
    ------
    CaseError
        When the file cannot be read as a spreadsheet, a heading stands there twice, or a line of a text has more cells
        than the headings' line.
    """
    rows = _of_workbook(path) if path.suffix.lower() == ".xlsx" else _of_text(path, read_text(path))
    (_, first), *lines = rows or [("", [])]
    heads = [_head(head) for head in first]
    if problems := [*_twice(heads), *_beyond(heads, lines)]:
        raise CaseError(str(path), problems)
    return [SheetLine(place, _named(heads, cells)) for place, cells in lines]


Row = tuple[str, list[str]]
"""A line that says anything: where it stands, and its cells."""


def _twice(heads: list[str]) -> Iterator[Problem]:
    for head in sorted({head for head in heads if head and heads.count(head) > 1}):
        yield Problem(head, "", "heads two columns", "leave one of them out")


def _beyond(heads: list[str], lines: list[Row]) -> Iterator[Problem]:
    for place, cells in lines:
        if more := [cell for cell in cells[len(heads) :] if cell]:
            way_out = "a number with a comma in it must stand in quotes, better without"
            yield Problem(place, f'"{shortened(more[0], 20)}"', "stands beyond the last heading", way_out)


def _of_text(path: Path, text: str) -> list[Row]:
    told = text.lstrip("\ufeff \t\r\n")
    separator = _separator(told)
    told = _SEPARATOR_SAID.sub("", told)
    skipped = text[: len(text) - len(told)].count("\n")
    rows = csv.reader(io.StringIO(told), delimiter=separator)
    try:
        lines = [(rows.line_num + skipped, [_read(cell, separator) for cell in row]) for row in rows]
    except csv.Error as error:
        raise _no_spreadsheet(path, f": {error}") from error
    found = [(f"line {number}", cells) for number, cells in lines if any(cells)]
    if len(found) > MOST_ROWS:
        rule = f"has {len(found):,} lines, no table of a house has more than {MOST_ROWS:,}"
        raise CaseError(str(path), [Problem("", "", rule, "shorten it")])
    return found


_DECIMAL_COMMA = re.compile(r"([-+]?\d+),(?!\d{3}(?!\d))(\d+(?:\s+[^\d,][^,]*)?)")
"""A number with its decimals behind a comma, and a unit; three digits there may as well be thousands."""


def _read(cell: str, separator: str) -> str:
    """A cell; its decimal comma is a point where commas do not part cells.

    Examples
    --------
    >>> _read("3,1", ";"), _read("5,5 m^2", ";"), _read("1,200 W", ";"), _read("3,1", ",")
    ('3.1', '5.5 m^2', '1,200 W', '3,1')
    """
    text = plain_cell(cell.strip())
    found = None if separator == "," else _DECIMAL_COMMA.fullmatch(text)
    return f"{found[1]}.{found[2]}" if found else text


_SEPARATOR_SAID = re.compile(r"sep=(.)\s*\n")
"""A first line by which some programs say what parts their cells."""


def _separator(text: str) -> str:
    """Spreadsheets of countries with a decimal comma part cells by semicolons, some programs by tabs."""
    if said := _SEPARATOR_SAID.match(text):
        return said[1]
    head = text.partition("\n")[0]
    return max(",;\t", key=head.count)


def _head(text: str) -> str:
    """A heading as a key: people write "Active area" as well."""
    return text.strip().lower().replace(" ", "_")


def _named(heads: list[str], cells: list[str]) -> dict[str, str]:
    filled = [*cells, *[""] * (len(heads) - len(cells))]
    return {head: cell for head, cell in zip(heads, filled, strict=False) if head}


def _no_spreadsheet(path: Path, why: str = "") -> CaseError:
    rule = f"cannot be read as a spreadsheet{why}"
    return CaseError(str(path), [Problem("", "", rule, "save it anew as .xlsx or .csv")])


def _of_workbook(path: Path) -> list[Row]:
    refuse_pipe(path)
    title, formulas = _cells(path, values=False)
    _, rows = _cells(path, values=True, title=title)
    for number, (row, written) in enumerate(zip(rows, formulas, strict=False), start=1):
        for cell, formula in zip(row, written, strict=False):
            if cell is None and str(formula or "").startswith("="):
                rule, way_out = "was never worked out", "open the file in a spreadsheet program and save it there"
                place = f'sheet "{title}", row {number}'
                raise CaseError(str(path), [Problem(place, shortened(formula), rule, way_out)])
    texts = [["" if cell is None else plain_cell(str(cell).strip()) for cell in row] for row in rows]
    return [(f'sheet "{title}", row {number}', line) for number, line in enumerate(texts, start=1) if any(line)]


def _cells(path: Path, values: bool, title: str = "") -> tuple[str, list[tuple[Any, ...]]]:
    """Title and cells of that sheet, or the first that is not empty; formulas as they are written, or their values."""
    from openpyxl import load_workbook

    try:
        book = load_workbook(path, read_only=True, data_only=values)
        for sheet in [book[title]] if title else book.worksheets:
            rows = list(sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True))
            if any(cell is not None for row in rows for cell in row):
                break
        book.close()
    except FileNotFoundError as error:
        raise CaseError(str(path), [Problem("", "", "no such file")]) from error
    except Exception as error:  # the reader raises whatever its parts raise
        raise _no_spreadsheet(path) from error
    return sheet.title, rows

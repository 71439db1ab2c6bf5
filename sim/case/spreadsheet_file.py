"""Cells of a spreadsheet file, as texts: a CSV file, or the first sheet of an XLSX file."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from sim.case.errors import CaseError, Problem
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
        When the file cannot be read as a spreadsheet.
    """
    if path.suffix.lower() == ".xlsx":
        return _of_workbook(path)
    try:
        lines = _of_text(read_text(path))
    except csv.Error as error:
        problem = Problem("", "", f"cannot be read as a spreadsheet: {error}", "save it anew as .xlsx or .csv")
        raise CaseError(str(path), [problem]) from error
    if len(lines) > MOST_ROWS:
        rule, way_out = f"has {len(lines):,} lines, no table of a house has more than {MOST_ROWS:,}", "shorten it"
        raise CaseError(str(path), [Problem("", "", rule, way_out)])
    return lines


def _of_text(text: str) -> list[SheetLine]:
    told = text.lstrip("\ufeff")
    rows = csv.reader(io.StringIO(told), delimiter=_separator(told))
    heads = [_head(head) for head in next(rows, [])]
    lines = ((rows.line_num, [plain_cell(cell.strip()) for cell in row]) for row in rows)
    return [SheetLine(f"line {number}", _named(heads, cells)) for number, cells in lines if any(cells)]


def _separator(text: str) -> str:
    """Spreadsheets of countries with a decimal comma part cells by semicolons, some programs by tabs."""
    head = text.partition("\n")[0]
    return max(",;\t", key=head.count)


def _head(text: str) -> str:
    """A heading as a key: people write "Active area" as well."""
    return text.strip().lower().replace(" ", "_")


def _named(heads: list[str], cells: list[str]) -> dict[str, str]:
    filled = [*cells, *[""] * (len(heads) - len(cells))]
    return {head: cell for head, cell in zip(heads, filled, strict=False) if head}


def _of_workbook(path: Path) -> list[SheetLine]:
    from openpyxl import load_workbook

    refuse_pipe(path)
    try:
        book = load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
        title, rows = sheet.title, list(sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True))
        book.close()
    except FileNotFoundError as error:
        raise CaseError(str(path), [Problem("", "", "no such file")]) from error
    except Exception as error:  # the reader raises whatever its parts raise
        problem = Problem("", "", "cannot be read as a spreadsheet", "save it anew as .xlsx or .csv")
        raise CaseError(str(path), [problem]) from error
    texts = [["" if cell is None else plain_cell(str(cell).strip()) for cell in row] for row in rows]
    first, *lines = texts or [[]]
    heads = [_head(head) for head in first]
    return [
        SheetLine(f'sheet "{title}", row {number}', _named(heads, line))
        for number, line in enumerate(lines, start=2)
        if any(line)
    ]

"""Cells of a spreadsheet file, as texts: the first sheet of an XLSX file like the lines of a CSV file."""

from __future__ import annotations

from pathlib import Path

from sim.case.errors import CaseError, Problem

MOST_ROWS, MOST_COLUMNS = 1000, 50
"""What lies beyond is not read."""


def spreadsheet_lines(path: Path) -> list[dict[str, str]]:
    """The lines of the first sheet by the headings of its first row.

    Raises
    ------
    CaseError
        When the file cannot be read as a spreadsheet.
    """
    from openpyxl import load_workbook

    try:
        book = load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = list(sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS, values_only=True))
        book.close()
    except FileNotFoundError as error:
        raise CaseError(str(path), [Problem("", "", "no such file")]) from error
    except Exception as error:  # the reader raises whatever its parts raise
        problem = Problem("", "", "cannot be read as a spreadsheet", "save it anew as .xlsx or .csv")
        raise CaseError(str(path), [problem]) from error
    texts = [["" if cell is None else str(cell).strip() for cell in row] for row in rows]
    heads, *lines = texts or [[]]
    named = [dict(zip(heads, line, strict=False)) for line in lines if any(line)]
    return [{head: cell for head, cell in line.items() if head} for line in named]

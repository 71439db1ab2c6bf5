"""The history of a run as CSV: one line per outer iteration, or per look at a flow."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path


def write_history(path: Path, history: Sequence[Mapping[str, object]]) -> None:
    """Write one CSV line per record; columns are all keys in order of first appearance."""
    columns = list(dict.fromkeys(key for record in history for key in record))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        writer.writerows(history)


def read_history(path: Path) -> tuple[Mapping[str, float | str], ...]:
    """Read the history; texts that are numbers become floats, empty ones are left out."""
    with path.open(newline="", encoding="utf-8") as file:
        records = list(csv.DictReader(file))
    return tuple({key: _number(text) for key, text in record.items() if text} for record in records)


def _number(text: str) -> float | str:
    """Return a number when the text is one."""
    try:
        return float(text)
    except ValueError:
        return text

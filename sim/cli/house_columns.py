"""Tables of a house that stay whole on a narrow terminal: units in the heads, bare numbers below, names that wrap."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from sim.case.constants import ZERO_CELSIUS
from sim.cli.show import plain_table, print_sentence
from sim.results.page_units import page_unit
from sim.results.people import Unit

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

System = Literal["si", "ip"]

NAMES = 22
"""Columns for names; longer ones wrap."""

_OWN = {
    "share_percent": Unit("%", "%", si_format=".0f", ip_format=".0f"),
    "ratio": Unit("", "", si_format=".2f", ip_format=".2f"),
    "count": Unit("", "", si_format=".0f", ip_format=".0f"),
}


@dataclass(frozen=True, slots=True)
class PrintedColumn:
    """A column: its head, the key that names the unit of its numbers (empty for texts), and the cell of a row.

    A cell is a number, or a text that is shown as it is.
    """

    head: str
    key: str = ""
    cell: Callable[[Any], Any] = str


def columns_table(columns: Sequence[PrintedColumn], rows: Iterable[object], system: System) -> Table:
    """The table; a text column is on the left."""
    table = plain_table()
    table.padding = (0, 1, 0, 0)
    for column in columns:
        unit = unit_of_key(column.key).name(system) if column.key else ""
        head = f"{column.head}\n{unit}" if unit and not column.head.endswith(unit) else column.head
        if column.key:
            table.add_column(head, justify="right", no_wrap=True)
        else:
            table.add_column(head, overflow="fold", max_width=NAMES)
    for row in rows:
        table.add_row(*(_cell(column, row, system) for column in columns))
    return table


def _cell(column: PrintedColumn, row: Any, system: System) -> str:
    value = column.cell(row)
    return value if isinstance(value, str) else number(column.key, float(value), system)


def unit_of_key(key: str) -> Unit:
    """The unit that a key names, with the digits of the page; pressures are heads."""
    return _OWN.get(key) or page_unit(key)


def number(key: str, value: float, system: System) -> str:
    """A value without its unit."""
    if math.isnan(value):
        return "none"
    unit = unit_of_key(key)
    digits = unit.si_format if system == "si" else unit.ip_format
    text = format(unit.convert(value, system), digits)
    return text.removeprefix("-") if not any(digit in text for digit in "123456789") else text


def celsius(kelvin: float) -> float:
    """A temperature [°C]."""
    return kelvin - ZERO_CELSIUS


def spacing(wide: float | None) -> float | str:
    """A plate spacing [mm], or that there are no plates."""
    return "none" if wide is None else 1000.0 * wide


def write(key: str, value: float, system: System) -> str:
    """A value with its unit."""
    unit = unit_of_key(key)
    return f"{number(key, value, system)} {unit.name(system)}".rstrip()


def degrees(kelvin: float, system: System) -> str:
    """A temperature [K] with its unit."""
    return write("water_C", celsius(kelvin), system) if kelvin == kelvin else "none"


def say(out: Console, text: str, system: System) -> None:
    """A sentence in the reader's units, in lines of the terminal's width."""
    from viz.page_parts import PageReader

    print_sentence(out, PageReader(system).sentence(text))

"""Pieces of an HTML page: text, numbers in the reader's units, tables, boxes to write in."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from sim.results.page_units import PAGE_UNITS, page_unit
from sim.results.people import UNITS, Unit, Units

_LONG = 40
"""Letters from which text is a sentence, whose column needs room on a phone: else it stands one word a line."""
MANY = 5
"""Columns that a phone shows side by side; of more, each row stands as a card, every value under its heading."""
DASH = "–"
"""Stands where there is no number."""

_NUMBER = r"-?\d[\d,]*(?:\.\d+)?"
_IN_TEXT = re.compile(rf"(?:({_NUMBER}) to )?({_NUMBER}) (°C|W/m²|kW|W|K|kPa|m/s|mm|m)(?![\w/²³·(])(?! \()")


@dataclass(frozen=True, slots=True)
class PageReader:
    """Who reads: the unit system, and how numbers and sentences are written in it."""

    units: Units = "si"

    def unit(self, key: str) -> Unit:
        """The unit that a key names in its suffix."""
        return page_unit(key)

    def number(self, key: str, value: Any) -> str:
        """A value without its unit; a dash where there is none."""
        if not _is_known(value):
            return DASH
        unit = self.unit(key)
        text = format(unit.convert(float(value), self.units), unit.si_format if self.units == "si" else unit.ip_format)
        return text.removeprefix("-") if re.fullmatch(r"-0(\.0*)?", text) else text.replace("-", "−")

    def value(self, key: str, value: Any) -> str:
        """A value with its unit; a dash where there is none."""
        number = self.number(key, value)
        return number if number == DASH else f"{number} {self.unit(key).name(self.units)}".rstrip()

    def name(self, key: str) -> str:
        """Name of the unit of a key; empty for a plain number."""
        return self.unit(key).name(self.units)

    def sentence(self, text: str) -> str:
        """A sentence written in SI, in the reader's units; numbers that carry both already stay as they are."""
        return text if self.units == "si" else _IN_TEXT.sub(self._turned, text)

    def _turned(self, found: re.Match[str]) -> str:
        """One number of a sentence, or a range, in the other system."""
        key = "C" if found[3] == "°C" else found[3].replace("/", "_").replace("²", "2")
        unit = PAGE_UNITS.get(key) or UNITS[key]
        first, last = (unit.write(float(text.replace(",", "")), "ip") if text else "" for text in found.group(1, 2))
        return f"{first.removesuffix(unit.ip).strip()} to {last}" if first else last


@dataclass(frozen=True, slots=True)
class PageColumn:
    """A column of a table: where its values are in a row, its heading, and how a cell is written.

    With `plain`, a value is written as text, to the left; otherwise as a number whose unit the key names.
    """

    key: str
    heading: str
    plain: bool = False
    cell: Callable[[Mapping[str, Any]], str] | None = None


def table(
    columns: Sequence[PageColumn], rows: Iterable[Mapping[str, Any]], reader: PageReader, marked: str = ""
) -> str:
    """A table; the row whose first cell is `marked` stands out."""
    heads = "".join(_head(column, reader) for column in columns)
    lines = "".join(_line(columns, row, reader, marked) for row in rows)
    kind = ' class="cards"' if len(columns) > MANY else ""
    return f'<div class="wide"><table{kind}><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></div>'


def _unit(column: PageColumn, reader: PageReader) -> str:
    return "" if column.plain or column.cell else reader.name(column.key)


def _head(column: PageColumn, reader: PageReader) -> str:
    unit = _unit(column, reader)
    kind = "" if column.plain else ' class="n"'
    return f"<th{kind}>{escape(column.heading)}{f'<small>{escape(unit)}</small>' if unit else ''}</th>"


def _line(columns: Sequence[PageColumn], row: Mapping[str, Any], reader: PageReader, marked: str) -> str:
    mark = ' class="mark"' if marked and str(row.get(columns[0].key)) == marked else ""
    return f"<tr{mark}>{''.join(_cell(column, row, reader) for column in columns)}</tr>"


def _cell(column: PageColumn, row: Mapping[str, Any], reader: PageReader) -> str:
    if column.cell is not None:
        text = column.cell(row)
    elif column.plain:
        text = unparted(str(row.get(column.key) or ""))
    else:
        text = reader.number(column.key, row.get(column.key))
    head = escape(", ".join(filter(None, (column.heading, _unit(column, reader)))), quote=True)
    long = column.plain and len(_MARKUP.sub("", text)) > _LONG
    kind = ' class="long"' if long else "" if column.plain else ' class="n"'
    return f'<td{kind} data-head="{head}">{text}</td>'


_MARKUP = re.compile(r"<[^>]*>")
_NAME = re.compile(r"\b\w[\w.]*-\w*\d[\w.]*")


def unparted(text: str) -> str:
    """A text as HTML; names such as R1-5 stay whole at the end of a line."""
    return _NAME.sub(r'<span class="whole">\g<0></span>', escape(text))


def side_by_side(heads: Sequence[str], lines: Iterable[tuple[str, Sequence[str]]]) -> str:
    """A table whose columns are choices and whose lines are quantities; cells are HTML."""
    top = "".join(f'<th class="n">{escape(head)}</th>' for head in heads)
    body = "".join(
        f'<tr><th scope="row">{escape(name)}</th>{"".join(f"<td class=n>{cell}</td>" for cell in cells)}</tr>'
        for name, cells in lines
    )
    return f'<div class="wide"><table><thead><tr><th></th>{top}</tr></thead><tbody>{body}</tbody></table></div>'


def section(
    anchor: str, heading: str, *parts: str, kind: str = "", folds: bool = False, on_phones: bool = False
) -> str:
    """A section with its heading; `kind` is a class of the style sheet, one that `folds` is opened on a screen.

    With `on_phones` it is folded on narrow screens alone.
    """
    named = f' class="{kind}"' if kind else ""
    head = f"<h2>{escape(heading)}</h2>"
    inside = head + "".join(parts) if not folds | on_phones else (folded if folds else folded_on_phones)(head, *parts)
    return f'<section id="{anchor}"{named}>{inside}</section>'


def folded(head: str, *parts: str) -> str:
    """What stands under a heading (HTML) and is opened on a screen; on paper it is whole."""
    return f"<details><summary>{head}</summary>{''.join(parts)}</details>"


def folded_on_phones(head: str, *parts: str) -> str:
    """What a phone shows folded at first: open in the file, so that it is whole wherever no script runs."""
    return f'<details class="narrow" open><summary>{head}</summary>{"".join(parts)}</details>'


def paragraph(text: str, kind: str = "") -> str:
    """A paragraph of plain text."""
    named = f' class="{kind}"' if kind else ""
    return f"<p{named}>{unparted(text)}</p>"


def listed(texts: Iterable[str], kind: str = "") -> str:
    """A list of plain texts; nothing where there are none."""
    items = "".join(f"<li>{unparted(text)}</li>" for text in texts)
    named = f' class="{kind}"' if kind else ""
    return f"<ul{named}>{items}</ul>" if items else ""


def blank(wide: bool = False) -> str:
    """A line to write on."""
    return f'<span class="blank{" long" if wide else ""}"></span>'


def figure(drawing: str, caption: str) -> str:
    """A drawing with its caption."""
    return f"<figure>{drawing}<figcaption>{escape(caption)}</figcaption></figure>"


def _is_known(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)

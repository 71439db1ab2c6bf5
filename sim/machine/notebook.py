"""How values show themselves in a notebook: small tables that take the page's own colours, light or dark."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas

_TABLE = "border-collapse:collapse;font-size:90%;color:inherit;background:transparent;margin:0.3em 0"
_CELL = "padding:1px 10px 1px 0;border:0;border-top:1px solid rgba(128,128,128,0.35);color:inherit;vertical-align:top"


def card(title: str, *parts: str) -> str:
    """A title and what stands below it, as HTML; `parts` are HTML already."""
    return f'<div style="color:inherit;max-width:64em"><b>{escape(title)}</b>{"".join(parts)}</div>'


def table(rows: Iterable[Sequence[str]], heads: Sequence[str] = ()) -> str:
    """Rows of plain texts as a table; the first column is read, the others stand right of it."""
    lines = [_line(heads, "th")] if heads else []
    lines += [_line(row, "td") for row in rows]
    return f'<table style="{_TABLE}">{"".join(lines)}</table>'


def folded(title: str, *parts: str, opened: bool = False) -> str:
    """What opens and closes by a click."""
    begin = f'<details style="color:inherit"{" open" if opened else ""}>'
    return f"{begin}<summary>{escape(title)}</summary>{''.join(parts)}</details>"


def frame(rows: Iterable[Mapping[str, object]], index: str = "") -> pandas.DataFrame:
    """Rows as a pandas table; one of its columns may name the rows."""
    made: pandas.DataFrame = library_pandas().DataFrame(list(rows))
    return made.set_index(index) if index and index in made else made


def library_pandas() -> ModuleType:
    """The library pandas; where it is not there, one line says what brings it.

    Raises
    ------
    ModuleNotFoundError
    """
    try:
        import pandas
    except ImportError:
        said = "pandas is not installed, and to_pandas needs it; pip install 'pandas' brings it, as our package does"
        raise ModuleNotFoundError(said, name="pandas") from None
    return pandas


def note(text: str) -> str:
    """A line of small text."""
    return f'<div style="font-size:85%;opacity:0.8">{escape(text)}</div>'


def _line(cells: Sequence[str], tag: str) -> str:
    ways = ["left", *["right"] * (len(cells) - 1)] if len(cells) > 2 else ["left"] * len(cells)
    styled = [(f"{_CELL};text-align:{way}", _text(cell)) for cell, way in zip(cells, ways, strict=True)]
    return "<tr>" + "".join(f'<{tag} style="{style}">{text}</{tag}>' for style, text in styled) + "</tr>"


def _text(cell: str) -> str:
    return escape(cell).replace("\n", "<br>")

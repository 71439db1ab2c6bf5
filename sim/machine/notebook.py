"""How values show themselves in a notebook: small tables that take the page's own colours, light or dark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

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


def folded(title: str, *parts: str) -> str:
    """What is opened by a click."""
    return f'<details style="color:inherit"><summary>{escape(title)}</summary>{"".join(parts)}</details>'


def note(text: str) -> str:
    """A line of small text."""
    return f'<div style="font-size:85%;opacity:0.8">{escape(text)}</div>'


def _line(cells: Sequence[str], tag: str) -> str:
    ways = ["left", *["right"] * (len(cells) - 1)] if len(cells) > 2 else ["left"] * len(cells)
    styled = zip(cells, ways, strict=True)
    return "<tr>" + "".join(f'<{tag} style="{_CELL};text-align:{way}">{_text(c)}</{tag}>' for c, way in styled) + "</tr>"


def _text(cell: str) -> str:
    return escape(cell).replace("\n", "<br>")

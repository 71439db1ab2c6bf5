"""What a page is made of, whoever draws it: chapters of paragraphs, tables, lists and figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from viz.report.drawing import Drawing
from viz.report.told import Told

WIDE, NARROW = 660.0, 350.0
"""Widths at which a figure is drawn [px]: for desks and paper, for phones. The wide one is no wider than a sheet of A4
between its margins, so that letters which are read on a screen do not shrink on paper."""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; `kind` is "lead", "note", "warn" or empty."""

    text: Told
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences, each with a first word in bold (or none)."""

    items: Sequence[tuple[Told, Told]]


@dataclass(frozen=True, slots=True)
class Facts:
    """A few numbers at large: what it is, the number, a word on it."""

    items: Sequence[tuple[Told, Told, Told]]


@dataclass(frozen=True, slots=True)
class Table:
    """Heads and rows of texts; the first column is text, the others are numbers unless `words` names them.

    A row with a single text is a heading inside the table.
    """

    caption: Told
    heads: Sequence[Told]
    rows: Sequence[Sequence[Told]]
    words: Sequence[int] = ()
    marked: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing that is made for a width [px], with its caption; with `hover` its values can be read."""

    draw: Callable[[float], Drawing]
    caption: Told
    hover: Any = None


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that exists as PNG."""

    png: bytes
    caption: Told
    alt: Told


@dataclass(frozen=True, slots=True)
class Listing:
    """A text as it was typed."""

    heading: Told
    text: str


Part = Text | Bullets | Facts | Table | Figure | Picture | Listing


@dataclass(frozen=True, slots=True)
class Chapter:
    """A heading and what stands under it; one that is `folded` is opened on a screen, on paper it is whole."""

    anchor: str
    heading: str
    parts: Sequence[Part]
    folded: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """Title, lead and chapters."""

    title: str
    lead: Told
    chapters: Sequence[Chapter]
    foot: Told

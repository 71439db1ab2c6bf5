"""Standard output as rich sees it, for narrow terminals and any alphabet.

A table that does not fit is laid out as blocks of lines instead, so that no number is cut; letters that the terminal
lacks are replaced before columns are measured, so that columns stay straight.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from copy import copy
from dataclasses import replace
from typing import TypedDict, Unpack

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, HighlighterType, JustifyMethod, OverflowMethod, RenderableType
from rich.padding import Padding
from rich.segment import Segment
from rich.style import Style
from rich.table import Table
from rich.text import Text

from sim.cli.letters import fitted
from sim.results.people import Units
from sim.results.spelling import kept_together, spelled

CALM = 2
"""Lines that a row of a narrowed table may take up, on the average of its rows."""

INDENT = 2
"""Columns by which the values of a block stand in."""

GLUE = "\ue000"
"""Stands for a space at which no line may end, while lines are broken; nobody else's letter (private use)."""


class Rendering(TypedDict, total=False):
    """How rich renders a text."""

    style: str | Style
    justify: JustifyMethod | None
    overflow: OverflowMethod | None
    emoji: bool | None
    markup: bool | None
    highlight: bool | None
    highlighter: HighlighterType | None


class Printing(TypedDict, total=False):
    """How rich prints."""

    sep: str
    end: str
    style: str | Style | None
    justify: JustifyMethod | None
    overflow: OverflowMethod | None
    no_wrap: bool | None
    emoji: bool | None
    markup: bool | None
    highlight: bool | None
    width: int | None
    height: int | None
    crop: bool
    soft_wrap: bool | None
    new_line_start: bool


class WholeConsole(Console):
    """A console that cuts nothing, in the spelling of its units."""

    spelling: Units = "si"

    def worded(self, text: str) -> str:
        """A text as it is shown: spelled as its readers do, with letters that the terminal has."""
        return fitted(spelled(text, self.spelling), self.encoding)

    def render_str(self, text: str, **options: Unpack[Rendering]) -> Text:
        """As rich does it, of what is shown; no line ends between a number and what it counts."""
        return super().render_str(glued(self.worded(text)), **options)

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """As rich does it; once lines are broken, what held them together is a space again."""
        for segment in super().render(renderable, options):
            yield segment._replace(text=segment.text.replace(GLUE, " ")) if GLUE in segment.text else segment

    def print(self, *objects: object, **options: Unpack[Printing]) -> None:
        """As rich does it, but for tables that are wider than the terminal."""
        if len(objects) == 1 and isinstance(objects[0], Table) and not self.keeps(objects[0]):
            slim = narrowed(objects[0])
            if self.keeps(objects[0], slim) and self._is_calm(slim):
                super().print(slim, **options)
                return
            for line in blocks(objects[0], self.width):
                indent = len(line.plain) - len(line.plain.lstrip())
                text = Text(glued(self.worded(line.plain.lstrip())), style=line.style)
                super().print(Padding(text, (0, 0, 0, indent), expand=False), overflow="fold")
            return
        super().print(*objects, **options)

    def _is_calm(self, table: Table) -> bool:
        """Whether the rows of a table take up two lines at the most, taken together."""
        return len(self.render_lines(table)) <= CALM * table.row_count + len(table.columns)

    def keeps(self, table: Table, shown_as: Table | None = None) -> bool:
        """Whether every word of a table is still whole as rich would print it, or as it would print another one."""
        lines = ("".join(segment.text for segment in line) for line in self.render_lines(shown_as or table))
        shown = Counter("\n".join(lines).split())
        heads = [column.header for column in table.columns if table.show_header]
        cells = [cell for column in table.columns for cell in column.cells]
        return not Counter(self.worded(" ".join(map(str, [*heads, *cells]))).split()) - shown


def glued(text: str) -> str:
    """A text whose numbers stay on one line with the word or unit that follows, and with a sign before them.

    Examples
    --------
    >>> glued("± 20 % of 3.5 K (6.3 °F)").split(" ")[0].replace(GLUE, "_")
    '±_20_%'
    >>> glued("holes of 1 3/8 in").replace(GLUE, "_")
    'holes of 1_3/8_in'
    """
    return kept_together(text, GLUE)


def narrowed(table: Table) -> Table:
    """A table whose cells go on in further lines, names under their beginning, so that columns stay side by side."""
    first, *others = table.columns
    slim = copy(table)
    names: list[RenderableType] = [_hung(cell) if isinstance(cell, str) else cell for cell in first.cells]
    freed = [replace(column, no_wrap=False) for column in others]
    slim.columns = [replace(first, no_wrap=False, min_width=None, _cells=names), *freed]
    return slim


def _hung(name: str) -> Padding:
    """A name that stands in as it did, also where it goes on in a further line."""
    bare = name.lstrip()
    return Padding(bare, (0, 0, 0, len(name) - len(bare)), expand=False)


def blocks(table: Table, width: int) -> Iterator[Text]:
    """The lines of a table one below the other: what a row is called, then each of its values with its head."""
    heads = [_head(column.header) for column in table.columns] if table.show_header else [""] * len(table.columns)
    if heads[0].strip():
        yield Text(heads[0], style="bold")
    for number, cells in enumerate(zip(*(column.cells for column in table.columns), strict=True)):
        style = str(table.rows[number].style or "")
        for line in _block([str(cell) for cell in cells], heads, width):
            yield Text(line, style=style)


def _block(cells: Sequence[str], heads: Sequence[str], width: int) -> Iterator[str]:
    first, *others = cells
    if not heads[1].strip() and any(head.strip() for head in heads[2:]):  # the unit of all that follows
        first, heads, others = f"{first.rstrip()}  {others[0]}", [heads[0], *heads[2:]], others[1:]
    named = [f"{head.strip()}: {cell}" if head.strip() else cell for head, cell in zip(heads[1:], others, strict=True)]
    values = [text for text, cell in zip(named, others, strict=True) if cell.strip()]
    indent = " " * (len(first) - len(first.lstrip()) + INDENT)
    joined = "  ".join([first.rstrip(), *values])
    if cell_len(joined) <= width:
        yield joined
        return
    if first.strip():
        yield first.rstrip()
    yield from _filled(values, indent, width)


def _head(header: object) -> str:
    """The head of a column in one line: what it is, and its unit."""
    words = [line.strip() for line in str(header).splitlines() if line.strip()]
    return ", ".join(words) if len(words) > 1 else str(header)


def _filled(values: Sequence[str], indent: str, width: int) -> Iterator[str]:
    """Values side by side in lines, as many as fit."""
    line = ""
    for value in values:
        longer = f"{line}  {value}" if line else indent + value
        if line and cell_len(longer) > width:
            yield line
            longer = indent + value
        line = longer
    if line:
        yield line

"""A page on paper: A4, or letter in inch-pound units, set by matplotlib, so that it needs no browser.

Chapters flow from sheet to sheet; a heading stays with what follows it, a table repeats its heads, a figure is whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.results.people import Units
from viz.layout import Weight, text_width, whole_words, wrap
from viz.report.drawing import ON_PAPER, Drawing
from viz.report.parts import WIDE, Bullets, Chapter, Facts, Figure, Listing, Page, Part, Picture, Table, Text

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Sheet

SIZES: dict[Units, tuple[float, float]] = {"si": (8.27, 11.69), "ip": (8.5, 11.0)}
"""Width and height of a sheet [in]: A4 (ISO 216), letter."""
MARGIN, FOOT = 0.6, 0.7
BODY, SMALL, HEAD, TITLE, CODE, LARGE = 8.6, 8.0, 12.5, 18.0, 8.0, 13.0
"""Sizes of text [pt]; 8 is the least that everybody reads on paper."""
LEADING = 1.38
APART = 0.085
"""Between the columns of a table [in]."""
_KEEP = 1.3
"""Room that a heading asks for under it [in]."""
_COLOURS = {"": "ink", "lead": "soft", "note": "soft", "answer": "ink", "warn": "warn", "good": "good"}
_MANY = 10_000


def write_paper(page: Page, path: Path, units: Units = "si") -> Path:
    """Write a page as PDF, whole or not at all.

    Returns
    -------
    Path
        The file.
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    setter = _Setter(page, units)
    setter.compose()
    beside = path.with_name(f".{path.name}.part")
    try:
        told = {"Title": page.title, "Creator": "joistbay"}
        with rc_context({"pdf.fonttype": 42}), PdfPages(beside, metadata=told) as book:
            for number, sheet in enumerate(setter.sheets, start=1):
                setter.number(sheet, number)
                book.savefig(sheet)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return path


@dataclass
class _Setter:
    """Sets a page on sheets; `level` is how far down the present sheet is filled [in from its lower edge]."""

    page: Page
    units: Units
    sheets: list[Sheet] = field(default_factory=list)
    level: float = 0.0

    def __post_init__(self) -> None:
        self.width, self.height = SIZES[self.units]
        self.room = self.width - 2 * MARGIN

    def compose(self) -> None:
        """Everything in its order."""
        self._turn()
        self._lines(wrap(self.page.title, self.room, TITLE, "bold", _MANY), TITLE, weight="bold")
        self._words(self.page.lead.pick(self.units), BODY, "soft")
        for chapter in self.page.chapters:
            self._chapter(chapter)
        self.level -= 0.15
        self._words(self.page.foot.pick(self.units), SMALL, "soft")

    def number(self, sheet: Sheet, number: int) -> None:
        """Title and number at the foot of a sheet."""
        (title, *_) = wrap(self.page.title, self.room - 1.0, SMALL, most=1) or [""]
        self._put(sheet, MARGIN, 0.38, title, SMALL, "soft")
        self._put(sheet, self.width - MARGIN, 0.38, f"{number} / {len(self.sheets)}", SMALL, "soft", ha="right")

    def _turn(self) -> None:
        """A new sheet."""
        from matplotlib.figure import Figure as NewSheet

        self.sheets.append(NewSheet(figsize=(self.width, self.height), facecolor="white"))
        self.level = self.height - MARGIN

    def _need(self, room: float) -> None:
        """A new sheet where this one has less room [in]."""
        if self.level - room < FOOT:
            self._turn()

    def _put(self, sheet: Sheet, left: float, bottom: float, text: str, size: float, *ink: str, **look: Any) -> None:
        """Text at a place [in], in ink or in another colour; `look` is its side, weight and family."""
        from viz.report.lettering import SetLine

        (colour,) = ink or ("ink",)
        kind = (look.get("ha", "left"), look.get("weight", "normal"), look.get("family", "sans-serif"))
        sheet.add_artist(SetLine((left, bottom), text, size, ON_PAPER[colour], kind))

    def _rule(self, colour: str = "faint", width: float = 0.6, left: float = MARGIN, room: float | None = None) -> None:
        from matplotlib.lines import Line2D

        ends = [left / self.width, (left + (self.room if room is None else room)) / self.width]
        level = [self.level / self.height] * 2
        self.sheets[-1].add_artist(Line2D(ends, level, color=ON_PAPER[colour], linewidth=width))

    def _lines(self, lines: Sequence[str], size: float, colour: str = "ink", left: float = MARGIN, **look: Any) -> None:
        for line in lines:
            self._need(size * LEADING / 72)
            self.level -= size * LEADING / 72
            self._put(self.sheets[-1], left, self.level + 0.25 * size / 72, line, size, colour, **look)

    def _words(self, text: str, size: float, colour: str = "ink", left: float = MARGIN) -> None:
        self._lines(wrap(text, self.width - MARGIN - left, size, most=_MANY), size, colour, left)

    def _chapter(self, chapter: Chapter) -> None:
        self._need(self._beginning(chapter.parts))
        self.level -= 0.16
        self._rule("ink", 1.2)
        self.level -= 0.04
        self._lines([chapter.heading], HEAD, weight="bold")
        for part in chapter.parts:
            self.level -= 0.05
            self._part(part)

    def _beginning(self, parts: Sequence[Part]) -> float:
        """Room that a heading takes with what of its first parts may not be parted from it [in]."""
        match parts:
            case [Figure() as figure, *_]:
                return self._figure_height(figure) + 0.7
            case [Text() as text, Figure() as figure, *_]:
                lines = wrap(text.text.pick(self.units), self.room, BODY, most=_MANY)
                return self._figure_height(figure) + 0.8 + len(lines) * BODY * LEADING / 72
            case [Listing(), *_]:
                return _KEEP + 0.5
        return _KEEP

    def _part(self, part: Part) -> None:
        """One part, whatever it is."""
        match part:
            case Text():
                size = 10.5 if part.kind == "answer" else BODY
                self._need(_KEEP if part.kind == "answer" else 0.0)  # a heading stays with what follows
                self._words(part.text.pick(self.units), size, _COLOURS.get(part.kind, "ink"))
            case Bullets():
                for head, text in part.items:
                    self._words(f"•  {head.pick(self.units)} {text.pick(self.units)}", BODY - 0.6)
            case Facts():
                self._facts(part)
            case Table():
                self._table(part)
            case Figure():
                self._figure(part)
            case Picture():
                self._picture(part)
            case Listing():
                self._listing(part)

    def _facts(self, part: Facts) -> None:
        """Numbers at large, side by side."""
        self._need(0.75)
        wide = self.room / max(len(part.items), 1)
        top = self.level - 0.05
        longest = max((text_width(value.pick(self.units), LARGE) for _, value, _ in part.items), default=0.0)
        size = LARGE * min(1.0, (wide - 0.1) / longest) if longest else LARGE
        for number, (name, value, word) in enumerate(part.items):
            left = MARGIN + number * wide
            sheet = self.sheets[-1]
            self._put(sheet, left, top - 0.13, name.pick(self.units), SMALL, weight="bold")
            self._put(sheet, left, top - 0.36, value.pick(self.units), size)
            for row, line in enumerate(wrap(word.pick(self.units), wide - 0.1, SMALL, most=3)):
                self._put(sheet, left, top - 0.52 - 0.13 * row, line, SMALL, "soft")
        self.level = top - 0.85

    def _figure_height(self, part: Figure) -> float:
        drawing = part.draw(WIDE)
        lines = wrap(part.caption.pick(self.units), self.room, SMALL, most=_MANY)
        return self._drawn_size(drawing)[1] + len(lines) * SMALL * LEADING / 72 + 0.15

    def _drawn_size(self, drawing: Drawing) -> tuple[float, float]:
        scale = min(self.room / drawing.width, 0.5 * self.height / drawing.height)
        return drawing.width * scale, drawing.height * scale

    def _figure(self, part: Figure) -> None:
        """A figure as wide as the sheet allows, its caption under it."""
        self._need(self._figure_height(part))
        drawing = part.draw(WIDE)
        wide, tall = self._drawn_size(drawing)
        self.level -= tall
        place = (MARGIN / self.width, self.level / self.height, wide / self.width, tall / self.height)
        drawing.draw(self.sheets[-1].add_axes(place), self.units, 72 * wide / drawing.width)
        self.level -= 0.04
        self._words(part.caption.pick(self.units), SMALL, "soft")
        self.level -= 0.06

    def _picture(self, part: Picture) -> None:
        """A picture that exists."""
        from io import BytesIO

        from matplotlib.image import imread

        dots = imread(BytesIO(part.png))
        tall = min(self.room * dots.shape[0] / dots.shape[1], 0.45 * self.height)
        wide = tall * dots.shape[1] / dots.shape[0]
        self._need(tall + 0.3)
        self.level -= tall
        place = (MARGIN / self.width, self.level / self.height, wide / self.width, tall / self.height)
        axes = self.sheets[-1].add_axes(place)
        axes.imshow(dots, aspect="auto")
        axes.set_axis_off()
        self._words(part.caption.pick(self.units), SMALL, "soft")

    def _listing(self, part: Listing) -> None:
        """A text as typed, in two columns, long lines broken."""
        self._need(_KEEP)
        self._lines([part.heading.pick(self.units)], BODY, weight="bold")
        column, step = self.room / 2, CODE * LEADING / 72
        fits = int((column - 0.25) * 72 / (0.602 * CODE))
        lines = [line[k : k + fits] for line in part.text.splitlines() for k in range(0, max(len(line), 1), fits)]
        while lines:
            self._need(step)
            rows = min(int((self.level - FOOT) / step), -(-len(lines) // 2))
            for place, line in enumerate(lines[: 2 * rows]):
                left, below = MARGIN + column * (place // rows), (place % rows + 1) * step
                self._put(self.sheets[-1], left, self.level - below + 0.25 * CODE / 72, line, CODE, family="monospace")
            self.level -= rows * step
            lines = lines[2 * rows :]

    def _table(self, part: Table) -> None:
        """Rows with heads that are repeated on every sheet; columns that have no room go below, beside the first."""
        texts = [[cell.pick(self.units).replace("\u00a0", " ") for cell in row] for row in (part.heads, *part.rows)]
        bold = {0, *(number + 1 for number in part.marked)}
        lines = [_Line(row, "bold" if k in bold or len(row) == 1 else "normal") for k, row in enumerate(texts)]
        self._need(0.8)
        if part.caption:
            self._words(part.caption.pick(self.units), SMALL, "soft")
        for columns in self._fitting(lines):
            plain = {place for place, column in enumerate(columns) if column in {0, *part.words}}
            self._rows([line.only(columns) for line in lines], plain)

    def _rows(self, lines: Sequence[_Line], plain: set[int]) -> None:
        """The heads, which come first, and the rows."""
        widths = self._widths(lines)
        self._row(lines[0], widths, plain)
        for line in lines[1:]:
            stays = _row_height(line, widths) * (2 if line.is_heading else 1)  # a heading with the row under it
            if self.level - stays < FOOT:
                self._turn()
                self._row(lines[0], widths, plain)
            self._row(line, widths, plain)
        self.level -= 0.06

    def _fitting(self, lines: Sequence[_Line]) -> list[list[int]]:
        """Columns in groups of about equal width whose whole words fit side by side, each with the first column."""
        first, *least = (_least(column) for column in _columns(lines))
        room = self.room - first
        if sum(least) <= room:
            return [list(range(len(least) + 1))]
        share = sum(least) / max(1, ceil(sum(least) / room)) if room > 0.0 else 0.0
        groups, wide = [[0]], 0.0
        for column, low in enumerate(least, start=1):
            if len(groups[-1]) > 1 and wide + (low if wide + low > room else 0.5 * low) > share:
                groups, wide = [*groups, [0]], 0.0
            groups[-1].append(column)
            wide += low
        return groups

    def _widths(self, lines: Sequence[_Line]) -> list[float]:
        """Widths of columns [in]: what their longest cell takes; long ones cut so that all fit, but for whole words."""
        columns = _columns(lines)
        least = [_least(column) for column in columns]
        least = [wide * min(1.0, self.room / sum(least)) for wide in least]
        whole = [max(_widest(column), low) for column, low in zip(columns, least, strict=True)]
        wanted = [max(_widest(column[1:]), low) for column, low in zip(columns, least, strict=True)]
        # heads go on more lines before what stands below them does
        share = (self.room - sum(wanted)) / max(sum(whole) - sum(wanted), 1e-9)
        wanted = [low + min(1.0, max(0.0, share)) * (high - low) for low, high in zip(wanted, whole, strict=True)]
        while (over := sum(wanted) - self.room) > 1e-6:
            longest = max(range(len(columns)), key=lambda k: (wanted[k] - least[k] > 1e-9, wanted[k]))
            wanted[longest] = max(least[longest], wanted[longest] - min(over, max(0.05, 0.15 * wanted[longest])))
        return wanted

    def _row(self, line: _Line, widths: Sequence[float], plain: set[int]) -> None:
        """One row; numbers stand at the right of their column."""
        top, left = self.level, MARGIN
        for number, (parts, wide) in enumerate(zip(_wrapped(line, widths), widths, strict=False)):
            for k, text in enumerate(parts):
                bottom = top - (k + 1) * SMALL * LEADING / 72 + 0.02
                at, side = (left, "left") if number in plain else (left + wide - APART, "right")
                self._put(self.sheets[-1], at, bottom, text, SMALL, ha=side, weight=line.weight)
            left += wide
        self.level = top - _row_height(line, widths)
        self._rule("faint", 0.4, room=sum(widths))


@dataclass(frozen=True, slots=True)
class _Line:
    """A row of a table on paper."""

    cells: Sequence[str]
    weight: Weight

    @property
    def is_heading(self) -> bool:
        """Whether it is a heading over all columns."""
        return len(self.cells) == 1

    def only(self, columns: Sequence[int]) -> _Line:
        """It with some of the columns."""
        return self if self.is_heading else _Line([self.cells[k] for k in columns if k < len(self.cells)], self.weight)


def _columns(lines: Sequence[_Line]) -> list[list[tuple[str, Weight]]]:
    """Cells by column with their weight; a heading over all columns counts in none."""
    count = max(len(line.cells) for line in lines)
    return [[(line.cells[k], line.weight) for line in lines if len(line.cells) > max(k, 1)] for k in range(count)]


def _least(column: Sequence[tuple[str, Weight]]) -> float:
    """Width of the longest word of a column [in]."""
    return _widest([(word, weight) for text, weight in column for word in whole_words(text)])


def _widest(column: Sequence[tuple[str, Weight]]) -> float:
    """Width of the widest text of a column, with what parts it from the next [in]."""
    return max((text_width(text, SMALL, weight) for text, weight in column), default=0.0) + APART + 0.005


def _wrapped(line: _Line, widths: Sequence[float]) -> list[list[str]]:
    """The cells of a row in lines."""
    if line.is_heading:
        return [list(line.cells)]
    pairs = zip(line.cells, widths, strict=True)
    return [wrap(text, wide - APART, SMALL, line.weight, _MANY) or [""] for text, wide in pairs]


def _row_height(line: _Line, widths: Sequence[float]) -> float:
    """How high a row is [in]."""
    return max(map(len, _wrapped(line, widths))) * SMALL * LEADING / 72 + 0.03

"""The page of a house on paper, made without a browser: what a browser would print, as PDF.

It is set from the page itself, so that both say the same: the chosen source's chapter alone, the others beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from sim.results.people import Units
from viz.page_tree import PageElement, page_tree
from viz.report.drawing import Drawing
from viz.report.paper import write_paper
from viz.report.parts import Bullets, Chapter, Facts, Figure, Page, Part, Table, Text
from viz.report.told import Told, same
from viz.svg_drawing import drawing_of

BOOKLET_FILE = "house.pdf"

SCREEN_ONLY = frozenset({"phone", "other", "screen"})
"""Classes of what is for screens."""


def write_booklet(page: str | Path, units: Units = "si") -> Path:
    """Read house.html and write house.pdf beside it.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    place = Path(page)
    return write_paper(booklet(place.read_text(encoding="utf-8")), place.with_name(BOOKLET_FILE), units)


def booklet(markup: str) -> Page:
    """The page of a house as what a page on paper is made of."""
    (main,) = page_tree(markup).find("main")
    (title,) = main.find("h1")
    lead = next(part for part in main.find("p") if "lead" in part.kinds)
    facts = [part for part in main.elements if "facts" in part.kinds]
    chapters = [_chapter(part) for part in main.elements if part.name == "section" and not part.kinds & SCREEN_ONLY]
    short = [Chapter("short", "In short", _facts(block)) for block in facts]
    foot = next(main.find("footer"))
    return Page(title.text(), same(lead.text()), [*short, *chapters], same(foot.text()))


def _chapter(section: PageElement) -> Chapter:
    heading = next(section.find("h2"))
    return Chapter(section.attributes.get("id", ""), heading.text(), list(_parts(section)))


def _parts(block: PageElement) -> Iterator[Part]:
    """What stands in a section, blocks within blocks one after the other."""
    for part in block.elements:
        if part.kinds & SCREEN_ONLY or part.name == "h2":
            continue
        if part.name == "h3":
            yield Text(same(part.text()), "answer")
        elif part.name == "p":
            yield Text(same(part.text()), "note" if "note" in part.kinds else "")
        elif part.name == "ul":
            box = same("☐" if "todo" in part.kinds else "")
            yield Bullets([(box, same(item.text())) for item in part.elements])
        elif part.name == "table":
            yield _table(part)
        elif part.name == "figure":
            yield _figure(part)
        elif part.name == "div" and part.elements and "caution" in part.elements[0].kinds:
            yield Bullets([_caution(told) for told in part.elements])
        elif part.name in ("div", "details", "summary"):
            yield from _parts(part)


def _caution(told: PageElement) -> tuple[Told, Told]:
    """A caution with whether it is kept, and its subject before it."""
    badge = "not kept: " if "broken" in told.kinds else ""
    subject = next(told.find("b"))
    words = PageElement("p", {}, [part for part in told.inside if isinstance(part, str)]).text()
    return same(f"{badge}{subject.text()}:"), same(f"{words} [{next(told.find('small')).text()}]")


def _facts(block: PageElement) -> list[Part]:
    """Boxes with a name and a number at large, then what is said of each."""
    large, told = [], []
    for fact in block.elements:
        name, number = (next(fact.find(tag)) for tag in ("b", "span"))
        rest = PageElement("p", {}, [part for part in fact.inside if part is not name and part is not number])
        large.append((same(name.text()), same(number.text()), same("")))
        told.append((same(f"{name.text()}:"), same(rest.text())))
    return [Facts(large), Bullets(told)]


def _table(table: PageElement) -> Table:
    head = next(table.find("thead"))
    cells = list(head.find("th"))
    rows = [[same(cell.text()) for cell in row.elements] for body in table.find("tbody") for row in body.find("tr")]
    marked = [n for body in table.find("tbody") for n, row in enumerate(body.find("tr")) if "mark" in row.kinds]
    words = [number for number, cell in enumerate(cells) if "n" not in cell.kinds]
    return Table(same(""), [same(cell.text()) for cell in cells], rows, words, marked)


def _figure(block: PageElement) -> Figure:
    """The drawing for paper."""
    printed = next((part for part in block.elements if "paper" in part.kinds), block)
    caption = next(block.find("figcaption"))
    return Figure(partial(_as_drawn, drawing_of(next(printed.find("svg")))), same(caption.text()))


def _as_drawn(drawing: Drawing, width: float) -> Drawing:
    """A drawing that is scaled as a whole, whatever the width."""
    return drawing

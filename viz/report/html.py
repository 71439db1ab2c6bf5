"""A page as HTML that needs nothing else: no network, no fonts, no libraries."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from html import escape

from sim.results.people import Units
from sim.results.spelling import kept_together
from viz.page_parts import folded
from viz.page_style import UNFOLD
from viz.report.look import PAGE_STYLE, SCRIPT
from viz.report.parts import NARROW, WIDE, Bullets, Chapter, Facts, Figure, Listing, Page, Part, Picture, Table, Text
from viz.report.png import data_address

_GUARD = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"
"""What the page may load: nothing but what it holds."""


def page_html(page: Page, units: Units = "si") -> str:
    """The whole page; `units` are those it opens with."""
    chosen = {"si": "", "ip": ""} | {units: " checked"}
    switch = "".join(
        f'<input class="unit" type="radio" name="units" id="{system}"{chosen[system]} aria-label="{words}">'
        for system, words in (("si", "Units: SI"), ("ip", "Units: inch-pound"))
    )
    first, *others = (_chapter(chapter) for chapter in page.chapters)
    body = first + _contents(page.chapters[1:]) + "".join(others)
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_GUARD}">'
        f"<title>{escape(page.title)}</title><style>{PAGE_STYLE}</style></head><body>"
        f'<a class="skip" href="#answer">To the answer</a>{switch}<main>{_bar()}'
        f'<h1>{escape(page.title)}</h1><p class="lead">{page.lead.html()}</p>{body}'
        f"<footer>{page.foot.html()}</footer></main><script>{UNFOLD}{SCRIPT}</script></body></html>\n"
    )


def _bar() -> str:
    return (
        '<div class="bar" aria-hidden="true"><span>Units</span><label for="si">SI: °C, W, mm</label>'
        '<label for="ip">IP: °F, Btu/h, in</label></div>'
    )


def _contents(chapters: Sequence[Chapter]) -> str:
    links = "".join(f'<a href="#{c.anchor}">{escape(c.heading)}</a>' for c in chapters)
    return f'<nav aria-label="Contents">{links}</nav>'


def _chapter(chapter: Chapter) -> str:
    parts = "".join(_part(part) for part in chapter.parts)
    head = f"<h2>{escape(chapter.heading)}</h2>"
    inside = folded(head, parts) if chapter.folded else head + parts
    return f'<section id="{chapter.anchor}">{inside}</section>'


def _part(part: Part) -> str:
    """One part, whatever it is."""
    match part:
        case Text():
            named = f' class="{part.kind}"' if part.kind else ""
            return f"<p{named}>{kept_together(part.text.html())}</p>"
        case Bullets():
            items = "".join(f"<li><b>{head.html()}</b> {kept_together(text.html())}</li>" for head, text in part.items)
            return f"<ul>{items}</ul>"
        case Facts():
            return f'<div class="facts">{"".join(_fact(*item) for item in part.items)}</div>'
        case Table():
            return _table(part)
        case Figure():
            return _figure(part)
        case Picture():
            alt = escape(part.alt.both, quote=True)
            image = f'<img class="sheetlike" src="{data_address(part.png)}" alt="{alt}">'
            return f"<figure>{image}<figcaption>{part.caption.html()}</figcaption></figure>"
        case Listing():
            label = escape(part.heading.both, quote=True)
            return f'<h3>{part.heading.html()}</h3><pre tabindex="0" aria-label="{label}">{escape(part.text)}</pre>'


LONG_NUMBER = 16
"""Letters of a number with its ± and unit that a card has room for in large type."""


def _fact(name, number, word) -> str:  # type: ignore[no-untyped-def]
    large, small = kept_together(number.html()), kept_together(word.html())
    size = "big long" if max(len(number.si), len(number.ip)) > LONG_NUMBER else "big"
    return f'<div class="fact"><b>{name.html()}</b><span class="{size}">{large}</span>{small}</div>'


def _figure(part: Figure) -> str:
    """For desks and for phones; with values under the pointer where the figure has them."""
    drawn = "".join(
        f'<div class="{kind}">{part.draw(width).svg()}</div>' for kind, width in (("desk", WIDE), ("phone", NARROW))
    )
    if part.hover is not None:
        grid = json.dumps(part.hover, separators=(",", ":"))
        hint = "Touch or point at the map, or choose it and use the arrow keys, to read its temperatures."
        drawn = (
            f'<div class="map" tabindex="0" role="group" aria-label="{hint}">{drawn}<div class="cross"></div>'
            f'<p class="reading" aria-live="polite"><span class="hint">{hint}</span></p>'
            f'<script type="application/json">{grid}</script></div>'
        )
    return f"<figure>{drawn}<figcaption>{part.caption.html()}</figcaption></figure>"


def _table(part: Table) -> str:
    plain = {0, *part.words}
    heads = "".join(
        f'<th scope="col"{"" if k in plain else " class=n"}>{kept_together(head.html())}</th>'
        for k, head in enumerate(part.heads)
    )
    rows = "".join(_row(row, plain, k in part.marked, len(part.heads)) for k, row in enumerate(part.rows))
    caption = f"<caption>{part.caption.html()}</caption>" if part.caption else ""
    closing = ' class="closing"' if len(part.heads) - 1 in part.words else ""  # words stand under their row on phones
    head = f"<thead><tr>{heads}</tr></thead>"
    return f'<div class="wide"><table{closing}>{caption}{head}<tbody>{rows}</tbody></table></div>'


def _whole(number: str) -> str:
    """A number's markup that a column does not part from its unit, nor its band: a wide table is pushed sideways."""
    joined = re.sub(r"(?<=[\d±]) (?=[^\s\d±(])|(?<=±) ", "\u00a0", number)
    return joined.replace("\u00a0per ", "\u00a0per\u00a0")


def _row(row, plain: set[int], marked: bool, columns: int) -> str:  # type: ignore[no-untyped-def]
    if len(row) == 1:
        return f'<tr class="group"><td colspan="{columns}">{row[0].html()}</td></tr>'
    cells = f'<th scope="row">{row[0].html()}</th>'
    cells += "".join(
        f"<td>{cell.html()}</td>" if k in plain else f"<td class=n>{_whole(cell.html())}</td>"
        for k, cell in enumerate(row)
        if k
    )
    return f"<tr{' class=mark' if marked else ''}>{cells}</tr>"

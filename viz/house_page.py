"""A solved house as one page for the site and the file: HTML that needs nothing else, on a screen or on paper."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from pathlib import Path
from typing import Any

from sim.results.house_words import solves_in_words
from sim.results.people import Units
from sim.results.spelling import spelled
from sim.store.house_file import made_of_house
from viz.drawings import DRAWINGS_FILE, PLAN_FILE
from viz.house_answers import answers_section, in_short
from viz.house_chapter import source_chapter
from viz.house_general import anchor_of, plan_section, rooms_section, sources_section, weather_section
from viz.house_site import cautions_section, commissioning_sheet
from viz.page_parts import PageReader
from viz.page_style import DARK, STYLE, UNFOLD

PAGE_FILE = "house.html"


def write_house_page(
    folder: str | Path, units: Units = "si", chosen: str = "", *, beside: bool | None = None
) -> Path:
    """Read house.json of a folder and write house.html beside it.

    Parameters
    ----------
    folder : where house.json is.
    units : "si" or "ip", those of the page.
    chosen : name of the heat source that the booklet is for; the first when left out.
    beside : whether the drawings will lie beside it; when left out, whether they do.

    Returns
    -------
    Path
        The page.

    Raises
    ------
    StoreError
        When house.json is missing or damaged.
    """
    place = Path(folder)
    names = (DRAWINGS_FILE, PLAN_FILE)
    drawings = [name for name in names if ((place / name).exists() if beside is None else beside)]
    text = made_of_house(place, lambda record: house_page({**record, "drawings": drawings}, units, chosen))
    page = place / PAGE_FILE
    page.write_text(text, encoding="utf-8", errors="backslashreplace")
    return page


def house_page(record: Mapping[str, Any], units: Units = "si", chosen: str = "") -> str:
    """The page of a house as HTML; on paper only the chosen source has a chapter, the others stand beside it.

    Parameters
    ----------
    record : what house.json holds.
    units : "si" or "ip".
    chosen : name of the heat source that comes first; the first of the file when left out.
    """
    record, reader = _chosen_first(record, chosen), PageReader(units)
    chosen_layout, *others = record["layouts"]
    parts = [
        _head(record, reader),
        in_short(record, reader),
        answers_section(record, reader),
        _contents(record),
        plan_section(record, reader),
        source_chapter(record, chosen_layout, reader),
        cautions_section(record, reader),
        weather_section(record, reader),
        commissioning_sheet(record, reader),
        rooms_section(record, reader),
        sources_section(record, reader),
        *(source_chapter(record, layout, reader, chosen=False) for layout in others),
        _foot(record),
    ]
    body = spelled("".join(parts), units)
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(record['house']['title'])}</title><style>{STYLE}{DARK}</style></head>"
        f"<body><main>{body}</main><script>{UNFOLD}</script></body></html>\n"
    )


def _chosen_first(record: Mapping[str, Any], chosen: str) -> Mapping[str, Any]:
    """The record with the chosen source's layout before the others."""
    layouts = sorted(record["layouts"], key=lambda layout: layout["source"] != chosen) if chosen else record["layouts"]
    return {**record, "layouts": list(layouts)}


def _head(record: Mapping[str, Any], reader: PageReader) -> str:
    """Title, variant and design day."""
    house = record["house"]
    variant = house["variant_title"] or house["variant"]
    words = (
        f"{f'Variant: {variant}. ' if variant else ''}"
        f"Design day {reader.value('outdoor_C', house['outdoor_C'])} outdoors. {len(record['needs'])} rooms heated "
        f"from {len(record['bays'])} joist bays."
    )
    return f'<h1>{escape(house["title"])}</h1><p class="lead">{escape(words)}</p>'


def _contents(record: Mapping[str, Any]) -> str:
    """Links to the sections."""
    chosen, *others = [(anchor_of(layout), f"Laid out for: {layout['source']}") for layout in record["layouts"]]
    links = [
        ("build", "What to build"),
        ("plan", "Plan"),
        chosen,
        ("cautions", "Cautions"),
        ("weather", "Water by the weather"),
        ("commissioning", "Commissioning sheet"),
        ("rooms", "What each room needs as written"),
        ("sources", "Heat sources side by side"),
        *others,
    ]
    return f"<nav>{''.join(f'<a href=#{anchor}>{escape(words)}</a>' for anchor, words in links)}</nav>"


def _foot(record: Mapping[str, Any]) -> str:
    """What the page rests on, and what it is not."""
    text = (
        "A design aid, not an approval: check the local code and ask a licensed professional. Water and outputs on the "
        "design day are solved with a three-dimensional model of each bay; other outdoor temperatures and plate "
        f"spacings by curves through solves of each bay. "
        f"{solves_in_words(record['solves'], record['taken_up'], record['asked'], record['curves_miss_percent'])}"
    )
    return f"<footer>{escape(text)}</footer>"

"""The head of a house page: each heat source in a box, then for the chosen one what whoever builds it asks first."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from sim.results.house_answer import house_answer
from viz.house_general import plates_column
from viz.page_parts import DASH, PageColumn, PageReader, section, table

Values = Mapping[str, Any]


def in_short(record: Values, reader: PageReader) -> str:
    """One box for each heat source: its water, what sets it, how much falls short."""
    return f'<div class="facts">{"".join(_fact(layout, reader) for layout in record["layouts"])}</div>'


def _fact(layout: Values, reader: PageReader) -> str:
    summary = layout["summary"]
    return (
        f'<div class="fact"><b>{escape(layout["source"])}</b><span class="big">'
        f"{escape(reader.value('supply_C', summary['supply_C']))}</span>supply on the design day, set by "
        f"{escape(summary['set_by'])}; {escape(reader.value('heat_W', summary['heat_W']))} from the source; "
        f"{_plates(summary['plates'])}.<br>{_wanting(layout, reader)}</div>"
    )


def _plates(count: int) -> str:
    return f"{count:,} plates" if count else "no plates"


def _wanting(layout: Values, reader: PageReader) -> str:
    """How many rooms fall short, and whether limits or what the source asks are not kept; named in its chapter."""
    found = layout["verdict"]
    short = reader.value("shortfall_W", layout["summary"]["shortfall_W"])
    lacking, rooms = len(found["short"]), len(layout["rooms"])
    parts = [f"{lacking} of {rooms} rooms short, by {short} in all"] if lacking else []
    parts += ["limits are broken"] if found["limits"] else []
    parts += [f"not kept: {', '.join(found['not_kept'])}"] if found["not_kept"] else []
    if not parts:
        return "Every room has its load within all limits."
    return f'<span class="short">{escape("; ".join(parts))}.</span>'


def answers_section(record: Values, reader: PageReader) -> str:
    """For the chosen source what whoever builds it asks first, and each room in a line."""
    layout = record["layouts"][0]
    rows = [{"question": question, "answer": answer} for question, answer in house_answer(layout, reader.value)]
    told = (PageColumn("question", "", plain=True), PageColumn("answer", "", plain=True))
    return section(
        "build", f"What to build, for {layout['source']}", table(told, rows, reader), _rooms_in_a_line(layout, reader)
    )


def _rooms_in_a_line(layout: Values, reader: PageReader) -> str:
    """What is laid in each room, and whether it is enough."""
    circuits: dict[str, list[str]] = {}
    for row in layout["circuits"]:
        circuits.setdefault(row["room"], []).append(row["circuit"].rpartition(".")[2])
    rows = [
        {**row, "loses_W": max(0.0, row["load_W"] - row["from_above_W"]), "count": len(circuits.get(row["room"], ()))}
        for row in layout["rooms"]
    ]
    columns = (
        PageColumn("room", "room", plain=True),
        PageColumn("title", "", plain=True),
        plates_column(reader),
        PageColumn("count", "circuits", cell=lambda row: str(row["count"])),
        PageColumn("loses_W", "wants"),
        PageColumn("available_W", "floor can give"),
        PageColumn("shortfall_W", "shortfall", cell=lambda row: lack_cell(row, reader)),
        PageColumn("surface_peak_C", "warmest spot"),
    )
    return table(columns, rows, reader)


def lack_cell(row: Values, reader: PageReader) -> str:
    """A shortfall, set off."""
    if not row["shortfall_W"] > 0.5:
        return DASH
    return f'<span class="short">{escape(reader.value("w_W", row["shortfall_W"]))}</span>'

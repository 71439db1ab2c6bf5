"""The chapter of one heat source in a house page: rooms, limits, circuits, bay schedule, quantities."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from html import escape
from typing import Any

from sim.results.house_words import in_words
from viz.house_answers import lack_cell
from viz.house_general import anchor_of, plates_column
from viz.page_parts import (
    PageColumn,
    PageReader,
    folded,
    folded_on_phones,
    listed,
    paragraph,
    section,
    table,
    unparted,
)

Values = Mapping[str, Any]


def source_chapter(record: Values, layout: Values, reader: PageReader, chosen: bool = True) -> str:
    """Everything that is laid out for one heat source; of others than the chosen one a screen shows the heading."""
    return section(
        anchor_of(layout),
        f"Laid out for: {layout['source']}",
        "" if chosen else _verdict(layout, reader),
        _rooms(layout, reader),
        _broken(layout, reader),
        _remedies(layout, reader),
        _circuits(layout, reader),
        _manifolds(layout, reader),
        _schedule(layout, reader),
        _quantities(record, layout, reader),
        _coils(layout, reader),
        kind="sheet" if chosen else "sheet other",
        folds=not chosen,
    )


def _verdict(layout: Values, reader: PageReader) -> str:
    """What a layout comes to, set off where something is wanting."""
    found = layout["verdict"]
    wrong = found["short"] or found["limits"] or found["not_kept"]
    return paragraph(reader.sentence(in_words(found, reader.value)), "short" if wrong else "")


def _rooms(layout: Values, reader: PageReader) -> str:
    columns = (
        PageColumn("room", "room", plain=True),
        PageColumn("title", "", plain=True),
        plates_column(reader),
        PageColumn("needed_supply_C", "supply needed"),
        PageColumn("load_W", "heat load"),
        PageColumn("from_above_W", "from above"),
        PageColumn("available_W", "floor can give"),
        PageColumn("shortfall_W", "shortfall", cell=lambda row: lack_cell(row, reader)),
        PageColumn("down_W", "heat down"),
        PageColumn("down_to", "to", plain=True),
        PageColumn("surface_mean_C", "floor, mean"),
        PageColumn("surface_peak_C", "warmest spot"),
        PageColumn("ripple_K", "ripple"),
        PageColumn("sheathing_peak_C", "subfloor, warmest spot"),
    )
    return "<h3>Rooms</h3>" + table(columns, layout["rooms"], reader, layout["summary"]["set_by"])


def _broken(layout: Values, reader: PageReader) -> str:
    """Limits that a room breaks, held at its temperature or with its valve left open."""
    held = [_limit(limit, reader) for limit in layout["limits"] if not limit["kept"]]
    open_only = [_limit(limit, reader) for limit in layout["limits_open"] if not limit["kept"]]
    words = "With every room held at its temperature no limit of floor, flooring, wood or tube is broken."
    shown = "<h3>Limits that are broken</h3>" + listed(held) if held else paragraph(words)
    more = [text for text in open_only if text not in held]
    return shown + (paragraph("Broken where a valve is left open:") + listed(more) if more else "")


def _limit(limit: Values, reader: PageReader) -> str:
    value, highest = (reader.value(limit["key"], limit[which]) for which in ("value", "highest"))
    value = f"a little above {value}" if value == highest else value
    return f"{limit['room']}: {limit['what']}, {value}, at most {highest} ({limit['source']})"


def _remedies(layout: Values, reader: PageReader) -> str:
    """What was tried with the model where a room falls short."""
    if not layout["remedies"]:
        return ""
    columns = (
        PageColumn("room", "room", plain=True),
        PageColumn("remedy", "tried with the model, or a sum", plain=True),
        PageColumn("output_W", "room then gets"),
        PageColumn("gain_W", "more by"),
        PageColumn("enough", "enough", plain=True),
        PageColumn("note", "", plain=True),
    )
    key = "remedy_ip" if reader.units == "ip" else "remedy"
    rows = [dict(row) | {"remedy": row.get(key) or reader.sentence(row["remedy"])} for row in layout["remedies"]]
    return "<h3>Rooms that fall short, and what would help</h3>" + table(columns, rows, reader)


def _circuits(layout: Values, reader: PageReader) -> str:
    columns = (
        PageColumn("circuit", "circuit", plain=True),
        PageColumn("bays", "bays", plain=True, cell=_bays),
        PageColumn("length_m", "length"),
        PageColumn("leaders_m", "leaders"),
        PageColumn("heat_W", "heat"),
        PageColumn("flow_l_min", "flow"),
        PageColumn("velocity_m_s", "velocity"),
        PageColumn("reynolds", "Reynolds number"),
        PageColumn("regime", "flow is", plain=True),
        PageColumn("return_C", "return"),
        PageColumn("last_less_percent", "last bay gives less"),
        PageColumn("head_kPa", "head"),
        PageColumn("valve_takes_kPa", "valve takes"),
        PageColumn("valve_kv_m3_h", "valve Kv" if reader.units == "si" else "valve Cv"),
        *_openings(layout),
    )
    words = (
        "Each bay gets cooler water than the one before it; “last bay gives less” says by how much less "
        "its tube gives than the same length of the first."
    )
    slow = [row["circuit"] for row in layout["circuits"] if row["purges_itself"] != "yes"]
    if slow:
        words += f" Too slow to carry air along, to be purged one by one: {', '.join(slow)}."
    if any(row["regime"] == "unsure" for row in layout["circuits"]):
        words += " Unsure flow, between laminar and turbulent, is reckoned as turbulent; it may lose less than listed."
    return folded_on_phones("<h3>Circuits</h3>", table(columns, layout["circuits"], reader), paragraph(words, "note"))


def _openings(layout: Values) -> tuple[PageColumn, ...]:
    """How far the valves are open, where the house says how large they are."""
    known = any(row.get("valve_opening_percent") is not None for row in layout["circuits"])
    return (PageColumn("valve_opening_percent", "valve open"),) if known else ()


def _bays(row: Values) -> str:
    """First and last bay of a circuit; both are of one room."""
    names = row["bays"].split()
    return unparted(names[0] if len(names) == 1 else f"{names[0]} to {names[-1].rpartition('-')[2]}")


def _manifolds(layout: Values, reader: PageReader) -> str:
    columns = (
        PageColumn("manifold", "manifold", plain=True),
        PageColumn("storey", "storey", plain=True),
        PageColumn("supply_C", "supply"),
        PageColumn("circuits", "circuits", plain=True, cell=lambda row: escape(", ".join(row["circuits"]))),
        PageColumn("ports", "ports"),
        PageColumn("flow_l_min", "flow"),
        PageColumn("head_kPa", "pump head"),
        PageColumn("upstream_kPa", "of this upstream"),
        PageColumn("heat_W", "heat"),
        PageColumn("return_C", "mixed return"),
        PageColumn("set_by", "head set by", plain=True),
        PageColumn("spread_percent", "lengths differ"),
    )
    words = (
        "Valves take up what circuits with less head have to spare; a dash means fully open. Turns of a valve are left "
        "to its maker. The pump must give this flow at this head."
    )
    manifolds = table(columns, layout["manifolds"], reader)
    return folded_on_phones("<h3>Manifolds and balancing</h3>", manifolds, paragraph(words, "note"))


def _schedule(layout: Values, reader: PageReader) -> str:
    """Bays in the order of the water, circuit by circuit, with the order of pulling."""
    columns = (
        PageColumn("bay", "bay", plain=True),
        PageColumn("circuit", "circuit", plain=True),
        PageColumn("pull_order", "pull"),
        PageColumn("runs", "runs"),
        PageColumn("length_m", "length"),
        PageColumn("heated_m", "heated"),
        PageColumn("tube_m", "tube"),
        PageColumn("mark_in_m", "mark in"),
        PageColumn("mark_out_m", "mark out"),
        PageColumn("plates", "plates"),
        PageColumn("water_in_C", "water in"),
        PageColumn("water_out_C", "out"),
        PageColumn("heat_W", "heat"),
        PageColumn("blocked_by", "in the way", plain=True),
    )
    words = (
        "Bays stand in the order of the water. Pull the tube in the order of the column “pull”: from the middle of the "
        "circuit outwards, one half and then, with the other end of the tube, the other, so that no length is drawn "
        "through every hole at once (common practice, no source). “Mark in” and “mark out” are measured along the tube "
        "from the manifold's supply: marked on it beforehand, they show when a bay has its length. No joint is buried."
    )
    head = f"<h3>Bay schedule, {len(layout['bays'])} bays</h3>"
    return folded(head, paragraph(words), table(columns, layout["bays"], reader))


def _quantities(record: Values, layout: Values, reader: PageReader) -> str:
    """What the layout takes, by room; so many rooms a table as a sheet of paper has room for."""
    names, rows = list(layout["quantities"]), list(_quantity_rows(record, layout, reader))
    groups = [names[start : start + ROOMS_A_TABLE] for start in range(0, len(names), ROOMS_A_TABLE)]
    tables = (table(_quantity_columns(group, group is groups[-1]), rows, reader) for group in groups)
    return folded_on_phones("<h3>Quantities</h3>", *tables)


ROOMS_A_TABLE = 8
"""Rooms side by side in a table of quantities, their total among them: more would be printed smaller than the rest."""


def _quantity_columns(rooms: Sequence[str], last: bool) -> list[PageColumn]:
    """What is counted in some rooms; in the last of the tables how, too."""
    columns = [
        PageColumn("name", "", plain=True),
        PageColumn("unit", "", plain=True),
        *(PageColumn(room, room, cell=partial(_written, room)) for room in rooms),
    ]
    return [*columns, PageColumn("basis", "counted how", plain=True)] if last else columns


def _coils(layout: Values, reader: PageReader) -> str:
    """Which coils to buy, and which circuits are cut from each."""
    columns = (
        PageColumn("coil_m", "coil"),
        PageColumn("circuits", "circuits cut from it", plain=True, cell=partial(_cuts, reader)),
        PageColumn("left_m", "left"),
    )
    words = "Lengths with their waste, as tube to buy; no circuit is pieced together. Usual coils, or the file's."
    return folded_on_phones("<h3>Coils to cut</h3>", table(columns, layout["coils"], reader), paragraph(words, "note"))


def _cuts(reader: PageReader, row: Values) -> str:
    """Circuits of a coil with their lengths."""
    pairs = zip(row["circuits"].split(), row["cut_m"].split(), strict=True)
    return unparted(", ".join(f"{name} {reader.value('cut_m', float(metres))}" for name, metres in pairs))


def _written(name: str, row: Values) -> str:
    return unparted(str(row[name]))


def _quantity_rows(record: Values, layout: Values, reader: PageReader) -> Iterator[Values]:
    """One line an item, cells written."""
    for item in record["items"]:
        key = item["key"]
        unit = "" if key == "rim_pieces" else reader.name(key)
        cells = {
            room: reader.number(key, amounts[key]) if unit else f"{amounts[key]:,.0f}"
            for room, amounts in layout["quantities"].items()
        }
        yield {"name": item["name"], "unit": unit, "basis": reader.sentence(item["basis"])} | cells

"""The chapter of one heat source in a house page: rooms, limits, circuits, bay schedule, quantities."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from html import escape
from typing import Any

from viz.house_general import anchor_of, spacing_cell
from viz.page_parts import DASH, Column, Reader, listed, paragraph, section, table

Values = Mapping[str, Any]


def source_chapter(record: Values, layout: Values, reader: Reader, kind: str = "sheet") -> str:
    """Everything that is laid out for one heat source; `kind` is its class on the page."""
    return section(
        anchor_of(layout),
        f"Laid out for: {layout['source']}",
        _rooms(layout, reader),
        _broken(layout, reader),
        _remedies(layout, reader),
        _circuits(layout, reader),
        _manifolds(layout, reader),
        _schedule(layout, reader),
        _quantities(record, layout, reader),
        _coils(layout, reader),
        kind=kind,
    )


def _rooms(layout: Values, reader: Reader) -> str:
    columns = (
        Column("room", "room", plain=True),
        Column("title", "", plain=True),
        Column("plates_spacing_mm", "plates every", cell=lambda row: spacing_cell(row["plates_spacing_mm"], reader)),
        Column("needed_supply_C", "supply needed"),
        Column("load_W", "load"),
        Column("from_above_W", "from above"),
        Column("available_W", "floor can give"),
        Column("shortfall_W", "lacks", cell=lambda row: _lack(row, reader)),
        Column("down_W", "downwards"),
        Column("down_to", "to", plain=True),
        Column("surface_mean_C", "floor, mean"),
        Column("surface_peak_C", "warmest spot"),
        Column("ripple_K", "ripple"),
        Column("sheathing_peak_C", "sheathing"),
    )
    return "<h3>Rooms</h3>" + table(columns, layout["rooms"], reader, layout["summary"]["set_by"])


def _lack(row: Values, reader: Reader) -> str:
    """A shortfall, set off."""
    if not row["shortfall_W"] > 0.5:
        return DASH
    return f'<span class="short">{escape(reader.value("w_W", row["shortfall_W"]))}</span>'


def _broken(layout: Values, reader: Reader) -> str:
    """Limits that a room breaks, held at its temperature or with its valve left open."""
    held = [_limit(limit, reader) for limit in layout["limits"] if not limit["kept"]]
    open_only = [_limit(limit, reader) for limit in layout["limits_open"] if not limit["kept"]]
    words = "With every room held at its temperature no limit of floor, flooring, wood or tube is broken."
    shown = "<h3>Limits that are broken</h3>" + listed(held) if held else paragraph(words)
    more = [text for text in open_only if text not in held]
    return shown + (paragraph("Broken where a valve is left open:") + listed(more) if more else "")


def _limit(limit: Values, reader: Reader) -> str:
    value, highest = (reader.value(limit["key"], limit[which]) for which in ("value", "highest"))
    value = f"a little above {value}" if value == highest else value
    return f"{limit['room']}: {limit['what']}, {value}, at most {highest} ({limit['source']})"


def _remedies(layout: Values, reader: Reader) -> str:
    """What was tried with the model where a room falls short."""
    if not layout["remedies"]:
        return ""
    columns = (
        Column("room", "room", plain=True),
        Column("remedy", "tried with the model, or a sum", plain=True),
        Column("output_W", "gives"),
        Column("gain_W", "more by"),
        Column("enough", "enough", plain=True),
        Column("note", "", plain=True),
    )
    rows = [dict(row) | {"remedy": reader.sentence(row["remedy"])} for row in layout["remedies"]]
    return "<h3>Rooms that fall short, and what would help</h3>" + table(columns, rows, reader)


def _circuits(layout: Values, reader: Reader) -> str:
    columns = (
        Column("circuit", "circuit", plain=True),
        Column("bays", "bays", plain=True, cell=_bays),
        Column("length_m", "length"),
        Column("leaders_m", "leaders"),
        Column("heat_W", "heat"),
        Column("flow_l_min", "flow"),
        Column("velocity_m_s", "velocity"),
        Column("reynolds", "Reynolds number"),
        Column("regime", "flow is", plain=True),
        Column("return_C", "return"),
        Column("last_less_percent", "last bay gives less"),
        Column("head_kPa", "head"),
        Column("valve_takes_kPa", "valve takes"),
        Column("valve_kv_m3_h", "valve Kv" if reader.units == "si" else "valve Cv"),
        *_openings(layout),
    )
    words = (
        "Each bay gets cooler water than the one before it; “last bay gives less” says by how much a metre of its tube "
        "falls behind that of the first."
    )
    slow = [row["circuit"] for row in layout["circuits"] if row["purges_itself"] != "yes"]
    if slow:
        words += f" Too slow to carry air along, to be purged one by one: {', '.join(slow)}."
    if any(row["regime"] == "unsure" for row in layout["circuits"]):
        words += " Unsure flow, between laminar and turbulent, is reckoned as turbulent; it may lose less than listed."
    return "<h3>Circuits</h3>" + table(columns, layout["circuits"], reader) + paragraph(words, "note")


def _openings(layout: Values) -> tuple[Column, ...]:
    """How far the valves are open, where the house says how large they are."""
    known = any(row.get("valve_opening_percent") is not None for row in layout["circuits"])
    return (Column("valve_opening_percent", "valve open"),) if known else ()


def _bays(row: Values) -> str:
    """First and last bay of a circuit; both are of one room."""
    names = row["bays"].split()
    return escape(names[0] if len(names) == 1 else f"{names[0]} to {names[-1].rpartition('-')[2]}")


def _manifolds(layout: Values, reader: Reader) -> str:
    columns = (
        Column("manifold", "manifold", plain=True),
        Column("storey", "storey", plain=True),
        Column("supply_C", "supply"),
        Column("circuits", "circuits", plain=True, cell=lambda row: escape(", ".join(row["circuits"]))),
        Column("ports", "ports"),
        Column("flow_l_min", "flow"),
        Column("head_kPa", "pump head"),
        Column("upstream_kPa", "of this upstream"),
        Column("heat_W", "heat"),
        Column("return_C", "mixed return"),
        Column("set_by", "head set by", plain=True),
        Column("spread_percent", "lengths differ"),
    )
    words = (
        "Valves take up what circuits with less head have to spare; a dash means fully open. Turns of a valve are left "
        "to its maker. The pump must give this flow at this head."
    )
    return "<h3>Manifolds and balancing</h3>" + table(columns, layout["manifolds"], reader) + paragraph(words, "note")


def _schedule(layout: Values, reader: Reader) -> str:
    """Bays in the order of the water, circuit by circuit, with the order of pulling."""
    columns = (
        Column("bay", "bay", plain=True),
        Column("circuit", "circuit", plain=True),
        Column("pull_order", "pull"),
        Column("runs", "runs"),
        Column("length_m", "length"),
        Column("heated_m", "heated"),
        Column("tube_m", "tube"),
        Column("mark_in_m", "mark in"),
        Column("mark_out_m", "mark out"),
        Column("plates", "plates"),
        Column("water_in_C", "water in"),
        Column("water_out_C", "out"),
        Column("heat_W", "heat"),
        Column("blocked_by", "in the way", plain=True),
    )
    words = (
        "Bays stand in the order of the water. Pull the tube in the order of the column “pull”: from the middle of the "
        "circuit outwards, one half and then, with the other end of the tube, the other, so that no length is drawn "
        "through every hole at once (common practice, no source). “Mark in” and “mark out” are measured along the tube "
        "from the manifold's supply: marked on it beforehand, they show when a bay has its length. No joint is buried."
    )
    return "<h3>Bay schedule</h3>" + paragraph(words) + table(columns, layout["bays"], reader)


def _quantities(record: Values, layout: Values, reader: Reader) -> str:
    """What the layout takes, by room."""
    columns = (
        Column("name", "", plain=True),
        Column("unit", "", plain=True),
        *(Column(room, room, cell=partial(_written, room)) for room in layout["quantities"]),
        Column("basis", "counted how", plain=True),
    )
    return "<h3>Quantities</h3>" + table(columns, _quantity_rows(record, layout, reader), reader)


def _coils(layout: Values, reader: Reader) -> str:
    """Which coils to buy, and which circuits are cut from each."""
    columns = (
        Column("coil_m", "coil"),
        Column("circuits", "circuits cut from it", plain=True, cell=partial(_cuts, reader)),
        Column("left_m", "left"),
    )
    words = "Lengths with their waste, as tube to buy; no circuit is pieced together. Usual coils, or the file's."
    return "<h3>Coils to cut</h3>" + table(columns, layout["coils"], reader) + paragraph(words, "note")


def _cuts(reader: Reader, row: Values) -> str:
    """Circuits of a coil with their lengths."""
    pairs = zip(row["circuits"].split(), row["cut_m"].split(), strict=True)
    return escape(", ".join(f"{name} {reader.value('cut_m', float(metres))}" for name, metres in pairs))


def _written(name: str, row: Values) -> str:
    return escape(str(row[name]))


def _quantity_rows(record: Values, layout: Values, reader: Reader) -> Iterator[Values]:
    """One line an item, cells written."""
    for item in record["items"]:
        key = item["key"]
        unit = "" if key == "rim_pieces" else reader.name(key)
        cells = {
            room: reader.number(key, amounts[key]) if unit else f"{amounts[key]:,.0f}"
            for room, amounts in layout["quantities"].items()
        }
        yield {"name": item["name"], "unit": unit, "basis": reader.sentence(item["basis"])} | cells

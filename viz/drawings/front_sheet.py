"""The first sheet of a set: what it holds, rooms, water, what to order, and the cautions that matter most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sim.results.house_words import in_words
from viz.drawings.board import INK, TEXT, Board, Spot, wrapped
from viz.drawings.frame import column_space, drawing_space
from viz.drawings.paper import measure
from viz.drawings.tabular import TableColumn, draw_table
from viz.page_parts import DASH, PageReader

Values = Mapping[str, Any]

LEFT = 6.0


def draw_front_sheet(board: Board, record: Values, layout: Values, sheets: Sequence[str], reader: PageReader) -> None:
    """Fill the first sheet of a set."""
    (x, bottom), (_, high) = drawing_space(board)
    at = (x + LEFT, bottom + high - 9.0)
    at = _draw_answer(board, at, layout, reader)
    at = _draw_rooms(board, at, layout, reader)
    _draw_order(board, at, record, layout, reader)
    _draw_contents(board, sheets)
    _draw_cautions(board, (at[0] + 165.0, at[1]), layout, reader)


def _draw_answer(board: Board, at: Spot, layout: Values, reader: PageReader) -> Spot:
    """What the layout comes to, in words."""
    x, y = at
    board.words((x, y), f"Laid out for: {layout['source']}", 4.0, bold=True)
    y -= 6.5
    for line in wrapped(reader.sentence(in_words(layout["verdict"], reader.value)), 265.0):
        board.words((x, y), line)
        y -= 4.2
    return x, y - 3.0


def _draw_rooms(board: Board, at: Spot, layout: Values, reader: PageReader) -> Spot:
    """Rooms with their load, plates, water and floor."""
    columns = (
        TableColumn("room", 27.0), TableColumn("", 47.0), TableColumn("bay type", 20.0),
        TableColumn("heat load", 30.0, True), TableColumn("floor can give", 34.0, True),
        TableColumn("plates every", 29.0, True), TableColumn("water needed", 31.0, True),
        TableColumn("warmest spot", 30.0, True),
    )  # fmt: skip
    kinds = {room: kind["name"] for kind in layout["bay_types"] for room in kind["rooms"]}
    rows = [
        (
            row["room"], row["title"], kinds[row["room"]], reader.value("load_W", row["load_W"]),
            reader.value("load_W", row["available_W"]), _every(row["plates_spacing_mm"], reader),
            reader.value("supply_C", row["needed_supply_C"]), reader.value("supply_C", row["surface_peak_C"]),
        )
        for row in layout["rooms"]
    ]  # fmt: skip
    board.words(at, "Rooms", 3.0, bold=True)
    return at[0], draw_table(board, (at[0], at[1] - 1.0), columns, rows) - 7.0


def _every(spacing: Any, reader: PageReader) -> str:
    """A spacing of plates, or none."""
    return "none" if isinstance(spacing, str) else measure(spacing / 1e3, reader.units)


def _draw_order(board: Board, at: Spot, record: Values, layout: Values, reader: PageReader) -> None:
    """What to order."""
    total = layout["quantities"]["total"]
    rows = [
        (item["name"], _amount(item["key"], total[item["key"]], reader), "", reader.sentence(item["basis"]))
        for item in record["items"]
    ]
    water, vessel = (reader.value(key, layout["summary"][key]) for key in ("fill_l", "vessel_l"))
    rows.append(("water to fill in", water, "", "of circuits and what the file adds"))
    rows.append(("expansion vessel, at least", vessel, "", "EN 12828, annex D (from memory)"))
    if (cost := layout["summary"]["material_cost"]) is not None and cost == cost:
        rows.append(("cost of the material", f"{cost:,.0f}", "", "of what the house file prices, in its currency"))
    columns = (
        TableColumn("item", 50.0), TableColumn("amount", 28.0, True), TableColumn("", 3.0),
        TableColumn("how counted", 78.0),
    )  # fmt: skip
    board.words(at, "To order", 3.0, bold=True)
    draw_table(board, (at[0], at[1] - 1.0), columns, rows)


def _amount(key: str, value: float, reader: PageReader) -> str:
    """An amount with its unit; counts without."""
    if key.rpartition("_")[2] in ("m", "m2"):
        return reader.value(key, value)
    return f"{value:,.0f}" if value == value else DASH


def _draw_contents(board: Board, sheets: Sequence[str]) -> None:
    """The sheets of the set by number."""
    (x, bottom), (_, high) = column_space(board)
    board.words((x + 3.0, bottom + high - 7.0), "Sheets", 3.0, bold=True)
    columns = (TableColumn("", 10.0), TableColumn("", 100.0))
    draw_table(board, (x + 3.0, bottom + high - 4.0), columns, [(str(k), name) for k, name in enumerate(sheets, 1)])


def _draw_cautions(board: Board, at: Spot, layout: Values, reader: PageReader) -> None:
    """Limits that are not kept first, then the cautions of the site, as many as fit."""
    (_, bottom), _ = drawing_space(board)
    x, y = at
    board.words((x, y), "Cautions", 3.0, bold=True)
    y -= 5.0
    told = sorted(layout["cautions"][reader.units], key=lambda caution: not caution["broken"])
    for place, caution in enumerate(told):
        mark = "NOT KEPT: " if caution["broken"] else ""
        lines = wrapped(f"{mark}{caution['subject']}: {reader.sentence(caution['text'])}", 104.0)
        if y - 3.6 * len(lines) < bottom + 8.0:
            board.words((x, y), f"{len(told) - place} more in the booklet, house.pdf", TEXT, bold=True)
            return
        for line in lines:
            board.words((x, y), line, bold=bool(mark), colour=INK)
            y -= 3.6
        y -= 1.2

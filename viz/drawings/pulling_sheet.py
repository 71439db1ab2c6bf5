"""Sheets for pulling the tube: for every circuit the order of bays, lengths to mark on the tube, its coil and cut."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from viz.drawings.board import SOFT, TEXT, Board, Pen, Spot, wrapped
from viz.drawings.frame import column_space, drawing_space
from viz.drawings.paper import centred, fitting_scale
from viz.drawings.storey_sheet import circuit_pens, draw_rooms, plan_extent
from viz.drawings.tabular import TableColumn, draw_table, table_height
from viz.page_parts import PageReader
from viz.plan_places import room_loops

Values = Mapping[str, Any]

COLUMNS = (
    TableColumn("done", 11.0), TableColumn("step", 12.0, True), TableColumn("", 3.0), TableColumn("bay", 27.0),
    TableColumn("runs", 12.0, True),
    TableColumn("tube", 20.0, True), TableColumn("mark in", 24.0, True), TableColumn("mark out", 24.0, True),
    TableColumn("plates", 16.0, True), TableColumn("", 3.0), TableColumn("in the way", 51.0),
)  # fmt: skip
WIDE = sum(column.width for column in COLUMNS)
HEAD = 16.0
SMALL_PLAN = 70.0
"""Height of the plan beside a table [mm]."""

GAP = 6.0


def pulling_groups(board: Board, layout: Values, reader: PageReader) -> list[list[Values]]:
    """Circuits, so many to a sheet as fit below each other."""
    _, (_, high) = drawing_space(board)
    groups: list[list[Values]] = []
    left = 0.0
    for circuit in layout["circuits"]:
        needed = _needed(circuit, layout, reader)
        if needed > left or not groups:
            groups.append([])
            left = high - 10.0
        groups[-1].append(circuit)
        left -= needed
    return groups


def draw_pulling_sheet(
    board: Board, record: Values, layout: Values, circuits: Sequence[Values], reader: PageReader
) -> None:
    """Fill a framed sheet with some circuits, each with a small plan, and the coils beside them."""
    (x, bottom), (_, high) = drawing_space(board)
    y = bottom + high - 8.0
    for circuit in circuits:
        _draw_circuit(board, (x + 6.0, y), record, layout, circuit, reader)
        y -= _needed(circuit, layout, reader)
    _draw_coils(board, layout, [circuit["circuit"] for circuit in circuits], reader)


def _needed(circuit: Values, layout: Values, reader: PageReader) -> float:
    return max(HEAD + table_height(COLUMNS, _rows(circuit, layout, reader)), SMALL_PLAN + 4.0) + 6.0


def _rows(circuit: Values, layout: Values, reader: PageReader) -> list[tuple[str, ...]]:
    """The bays of a circuit in the order of pulling, each with a box to tick."""
    bays = [row for row in layout["bays"] if row["circuit"] == circuit["circuit"]]
    bays.sort(key=lambda row: row["pull_order"])
    return [
        (
            "\u2610", str(row["pull_order"]), "", row["bay"], str(row["runs"]), reader.value("tube_m", row["tube_m"]),
            reader.value("mark_m", row["mark_in_m"]), reader.value("mark_m", row["mark_out_m"]), str(row["plates"]), "",
            row["blocked_by"],
        )
        for row in bays
    ]  # fmt: skip


def _draw_circuit(
    board: Board, at: Spot, record: Values, layout: Values, circuit: Values, reader: PageReader
) -> None:
    """Head, table, and the circuit alone in a plan of its storey."""
    x, y = at
    pen = circuit_pens(layout["circuits"])[circuit["circuit"]]
    board.line(((x, y - 2.0), (x + WIDE, y - 2.0)), Pen(pen.colour, 0.8))
    board.words((x, y), f"Circuit {circuit['circuit']}, manifold {circuit['manifold']}", 3.5, bold=True)
    length, leaders = reader.value("length_m", circuit["length_m"]), reader.value("length_m", circuit["leaders_m"])
    words = f"{length} of tube, {leaders} of it leaders; {circuit['holes']} holes from bay to bay"
    board.words((x, y - 6.5), words)
    told = "marks: how far from the manifold's supply port a bay begins and ends, along the tube"
    board.words((x, y - 10.5), told, colour=SOFT)
    draw_table(board, (x, y - 12.0), COLUMNS, _rows(circuit, layout, reader))
    _draw_small_plan(board, (x + WIDE + GAP, y - SMALL_PLAN), record, circuit, layout)


def _draw_small_plan(board: Board, corner: Spot, record: Values, circuit: Values, layout: Values) -> None:
    """The circuit's storey with this circuit only, between the table and the column of the sheet."""
    (left, _), (wide, _) = drawing_space(board)
    room = (left + wide - corner[0] - GAP, SMALL_PLAN)
    first = circuit["bays"].split()[0]
    name = next(bay["storey"] for bay in record["bays"] if bay["name"] == first)
    storey = next(storey for storey in record["storeys"] if storey["name"] == name)
    low, high = plan_extent(storey)
    scale = fitting_scale((high[0] - low[0], high[1] - low[1]), room, "si")
    view = centred(low, high, corner, room, scale)
    draw_rooms(board, view, storey, Pen(SOFT, 0.2))
    pen = circuit_pens(layout["circuits"])[circuit["circuit"]]
    for part, width in (("out", 0.4), ("bays", 0.3), ("back", 0.4)):
        spots = [view.at(point[0], point[1]) for point in circuit["way_m"][part]]
        board.line(spots, Pen(pen.colour, width, (1.0, 0.8) if part == "back" else ()))
    for room in storey["rooms"]:
        x, y = view.at(*min(room_loops(room)[0], key=lambda corner: (corner[1], corner[0])))
        board.words((x + 0.8, y + 1.5), room["name"], colour=SOFT, halo=True)


def _draw_coils(board: Board, layout: Values, names: Sequence[str], reader: PageReader) -> None:
    """Which coil every circuit of the sheet is cut from, and where."""
    (x, bottom), (wide, high) = column_space(board)
    y = bottom + high - 7.0
    board.words((x + 3.0, y), "Coils", 3.0, bold=True)
    columns = (
        TableColumn("coil", 24.0, True), TableColumn("", 3.0), TableColumn("circuits and lengths to cut", 82.0),
    )  # fmt: skip
    rows = [
        (reader.value("length_m", coil["coil_m"]), "", _cuts(coil, reader))
        for coil in layout["coils"]
        if set(coil["circuits"].split()).intersection(names)
    ]
    y = draw_table(board, (x + 3.0, y - 1.0), columns, rows)
    told = (
        "Cut lengths hold the waste at manifolds and ends. Mark the tube before it is pulled; every circuit is one "
        "unbroken length, no joint in the floor. Uncoil from the manifold's end; no kinks, bends no tighter than the "
        "tube's maker allows."
    )
    for place, text in enumerate(wrapped(told, wide - 6.0)):
        board.words((x + 3.0, y - 6.0 - 4.0 * place), text, TEXT, colour=SOFT)


def _cuts(coil: Values, reader: PageReader) -> str:
    """Circuits with their lengths, cut off one after the other; a name and its length stay in one line."""
    lengths = (reader.value("length_m", float(metres)) for metres in coil["cut_m"].split())
    pairs = zip(coil["circuits"].split(), lengths, strict=True)
    return ", ".join(f"{name} {length}".replace(" ", "\u00a0") for name, length in pairs)

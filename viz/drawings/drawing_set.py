"""The set of drawings of a house for one heat source: first sheet, plans, kinds of bays, pulling sheets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from sim.results.people import Units
from sim.results.spelling import spelled
from sim.store.house_file import made_of_house
from viz.drawings import DRAWINGS_FILE, PLAN_FILE
from viz.drawings.bay_sheet import draw_bay_sheet, in_rooms
from viz.drawings.board import Board, Lettering, Mark
from viz.drawings.frame import Heading, framed
from viz.drawings.front_sheet import draw_front_sheet
from viz.drawings.paper import PAPERS, SCALES
from viz.drawings.plan_key import draw_key_sheet, key_heading, needs_sheet
from viz.drawings.pulling_sheet import draw_pulling_sheet, pulling_groups
from viz.drawings.storey_sheet import draw_storey_sheet, plan_scale, storey_key
from viz.drawings.to_dxf import write_dxf
from viz.drawings.to_pdf import write_pdf
from viz.page_parts import PageReader

Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class PlannedSheet:
    """A sheet of the set: its heading, what draws it, and its scale where it is a plan (0: no plan)."""

    heading: Heading
    draw: Callable[[Board], Any]
    scale: int = 0


def write_drawings(folder: str | Path, units: Units = "si", chosen: str = "") -> tuple[Path, Path]:
    """Read house.json of a folder and write drawings.pdf and plan.dxf beside it.

    Parameters
    ----------
    folder : where house.json is.
    units : "si" (A3, millimetres) or "ip" (11 x 17 in, feet and inches).
    chosen : name of the heat source that is drawn; the first when left out.

    Raises
    ------
    OSError
        When they cannot be written; StoreError where house.json is missing or damaged.
    """
    place = Path(folder)
    title, (boards, plans) = made_of_house(
        place, lambda record: (str(record["house"]["title"]), drawing_set(record, units, chosen))
    )
    written = write_pdf(boards, place / DRAWINGS_FILE, title)
    return written, write_dxf(plans, place / PLAN_FILE)


def drawing_set(
    record: Values, units: Units = "si", chosen: str = ""
) -> tuple[list[Board], list[tuple[Board, int]]]:
    """All sheets in their order, and those of them that are plans with their scales."""
    layout = next((row for row in record["layouts"] if row["source"] == chosen), record["layouts"][0])
    sheets = _sheets(record, layout, PageReader(units))
    boards: list[Board] = []
    plans: list[tuple[Board, int]] = []
    for number, sheet in enumerate(sheets, start=1):
        board = framed(units, sheet.heading, number, len(sheets))
        sheet.draw(board)
        board.marks[:] = [_spelled(mark, units) for mark in board.marks]
        boards.append(board)
        plans += [(board, sheet.scale)] if sheet.scale else []
    return boards, plans


def _spelled(mark: Mark, units: Units) -> Mark:
    """Lettering in the spelling that goes with the units; other marks as they are."""
    return replace(mark, text=spelled(mark.text, units)) if isinstance(mark, Lettering) else mark


def _sheets(record: Values, layout: Values, reader: PageReader) -> list[PlannedSheet]:
    """What the set holds: a first sheet, which names all, and the others."""
    house = record["house"]
    variant = house["variant_title"] or house["variant"]
    heading = Heading(house["title"], "Overview", f"for {layout['source']}{f'; variant: {variant}' if variant else ''}")
    others = list(_others(record, layout, heading, reader))
    names = [heading.sheet, *(sheet.heading.sheet for sheet in others)]
    draw = partial(draw_front_sheet, record=record, layout=layout, sheets=names, reader=reader)
    return [PlannedSheet(heading, draw), *others]


def _others(record: Values, layout: Values, heading: Heading, reader: PageReader) -> Iterator[PlannedSheet]:
    """Plans, with their keys where these need a sheet, kinds of bays, pulling sheets."""
    empty = Board(*PAPERS[reader.units][1:])
    for storey in record["storeys"]:
        scale = plan_scale(empty, storey, reader.units)
        named = replace(heading, sheet=f"Plan, {storey['name']}", scale=SCALES[reader.units][scale])
        draw = partial(draw_storey_sheet, record=record, storey=storey, layout=layout, reader=reader)
        yield PlannedSheet(named, draw, scale)
        if needs_sheet(empty, key := storey_key(record, storey, layout, reader)):
            yield PlannedSheet(replace(heading, sheet=key_heading(storey["name"])), partial(draw_key_sheet, key=key))
    for kind in layout["bay_types"]:
        named = replace(heading, sheet=f"Bay type {kind['name']}, {in_rooms(kind)}", scale="as shown")
        yield PlannedSheet(named, partial(draw_bay_sheet, kind=kind, reader=reader))
    for circuits in pulling_groups(empty, layout, reader):
        named = replace(heading, sheet=f"Pulling, {', '.join(row['circuit'] for row in circuits)}")
        draw = partial(draw_pulling_sheet, record=record, layout=layout, circuits=circuits, reader=reader)
        yield PlannedSheet(named, draw)

"""A solved house as a folder of tables.

HOUSE/
  house.json       everything, as `sim.house.record` writes it
  house.toml       the house file as it was
  rooms.csv        one line a room and source: plates, water, output, shortfall, surface
  remedies.csv     what was tried where a room falls short
  sources.csv      one line a source: supply, plates, tube, efficiency, energy
  circuits.csv     one line a circuit and source: length, flow, Reynolds number, head, valve
  bays.csv         the bay schedule: one line a bay and source, in the order of the water, with the order of pulling
  outdoor.csv      one line an outdoor temperature and source
  curves.json      the characteristic curve of every room's bay as written
  quantities.csv   tube, plates, holes and the rest
  house.html       the page that viz makes from house.json
  house.pdf        the page on paper, for the chosen source
  drawings.pdf     sheets for the crew: overview, plans, bay types, pulling; also from house.json
  plan.dxf         the plans in true millimetres
  house.xlsx       the tables as sheets of one spreadsheet
  versions.json    library versions
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from sim.case.spreadsheet import neutral_cell
from sim.house.in_units import in_units
from sim.house.plan import HousePlan, RoomNeed
from sim.house.quantities import quantity_rows
from sim.house.record import house_record
from sim.house.tables import TABLES, celsius, millimetres, table_rows
from sim.house.workbook import write_workbook
from sim.results.people import Units
from sim.store.house_file import HOUSE_FILE
from sim.store.run_folder import VERSIONS_FILE, versions
from sim.store.texts import json_text
from sim.store.whole_folder import write_folder

WORKBOOK_FILE = "house.xlsx"
HOUSE_ENTRIES = (
    HOUSE_FILE,
    "house.toml",
    *(f"{table}.csv" for table in TABLES),
    "curves.json",
    "quantities.csv",
    WORKBOOK_FILE,
    "house.html",
    "house.pdf",
    "drawings.pdf",
    "plan.dxf",
    VERSIONS_FILE,
)
"""Everything that the folder of a house holds."""


def save_house(plan: HousePlan, folder: str | Path, units: Units = "si") -> Path:
    """Write a solved house as a folder; it appears complete or not at all.

    Tables for spreadsheets are in the units asked for, which their headings name; what programs read stays SI.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not a house.
    """
    def fill(partial: Path) -> None:
        (partial / HOUSE_FILE).write_text(json_text(house_record(plan)), encoding="utf-8")
        (partial / "curves.json").write_text(json_text(curve_record(plan)), encoding="utf-8")
        (partial / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")
        if plan.house.path is not None:
            (partial / "house.toml").write_bytes(Path(plan.house.path).read_bytes())
        tables = {name: in_units(table_rows(plan, name, units), units) for name in TABLES}
        tables["quantities"] = quantity_rows(plan, units)
        for name, rows in tables.items():
            write_table(partial / f"{name}.csv", rows)
        write_workbook(partial / WORKBOOK_FILE, tables)

    return write_folder(folder, fill, owned=HOUSE_ENTRIES)


def curve_record(plan: HousePlan) -> dict[str, object]:
    """The characteristic curve of every room's bay as written, for other simulations."""
    return {need.name: _curve(need) for need in plan.needs}


def write_table(path: Path, rows: Iterable[Mapping[str, object]]) -> None:
    """Lines as CSV; numbers in seven digits, what is not a number stays empty."""
    rows = list(rows)
    columns = list(dict.fromkeys(column for row in rows for column in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows({column: _cell(value) for column, value in row.items()} for row in rows)


def _cell(value: Any) -> Any:
    if not isinstance(value, float):
        return neutral_cell(value)
    return f"{value:.7g}" if math.isfinite(value) else ""


def _curve(need: RoomNeed) -> dict[str, Any]:
    return need.curve.law.numbers() | {
        "room_C": celsius(need.temperature),
        "plates_spacing_mm": millimetres(need.spacing),
    }

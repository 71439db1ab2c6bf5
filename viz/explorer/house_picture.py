"""A house as its page shows it: plans with the rooms' places, and tables by heat source in both unit systems."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from viz.page_parts import PageReader
from viz.plan_drawing import draw_storey, room_places
from viz.report.told import Told

Values = Mapping[str, Any]

SHORT = 0.5
"""A smaller shortfall [W] is rounding."""


def house_picture(record: Values) -> dict[str, Any]:
    """What a page shows of a house's record, ready for JSON; of one that is only placed its plan."""
    if "layouts" not in record:
        return {"storeys": [_storey(record, storey, record["circuits"]) for storey in record["storeys"]]}
    return {
        "title": record["house"]["title"],
        "layouts": [_layout(record, layout) for layout in record["layouts"]],
    }


def _layout(record: Values, layout: Values) -> dict[str, Any]:
    summary, total = layout["summary"], layout["quantities"]["total"]
    return {
        "source": layout["source"],
        "storeys": [_storey(record, storey, layout["circuits"]) for storey in record["storeys"]],
        "facts": [_fact(*fact) for fact in _facts(layout, summary)],
        "rooms": [_room(row) for row in layout["rooms"]],
        "circuits": [_circuit(row) for row in layout["circuits"]],
        "counts": [_count(item, total[item["key"]]) for item in record["items"] if item["key"] in total],
        "cautions": {
            units: [{"subject": one["subject"], "text": one["text"], "source": one["source"], "broken": one["broken"]}
                    for one in layout["cautions"][units]] for units in ("si", "ip")
        },
    }  # fmt: skip


def _storey(record: Values, storey: Values, circuits: Sequence[Values]) -> dict[str, Any]:
    return {
        "name": storey["name"],
        "svg": {
            "si": draw_storey(record, storey, circuits, "2 m"),
            "ip": draw_storey(record, storey, circuits, "6 ft"),
        },
        "rooms": room_places(record, storey),
    }


def _facts(layout: Values, summary: Values) -> Iterator[tuple[str, str | Told, str]]:
    """What is looked at first: label, value, a note."""
    short = [row["room"] for row in layout["rooms"] if row["shortfall_W"] > SHORT]
    missing = _told("shortfall_W", summary["shortfall_W"]) if short else "none"
    yield "Shortfall", missing, ", ".join(short)
    yield "Water to the floor", _told("supply_C", summary["supply_C"]), f"set by {summary['set_by']}"
    yield "Heat from the source", _told("heat_W", summary["heat_W"]), ""
    yield "Circuits", str(len(layout["circuits"])), ""
    yield "Plates", f"{summary['plates']:,}", ""
    yield "Tube", _long(summary["tube_m"]), ""


def _told(key: str, value: Any) -> Told:
    """A value of the record with the digits of the page of a house."""
    return Told(PageReader("si").value(key, value), PageReader("ip").value(key, value))


def _long(metres: float) -> Told:
    """A length of tube [m], to the metre or foot."""
    return Told(f"{metres:,.0f} m", f"{metres / 0.3048:,.0f} ft")


def _fact(label: str, value: str | Told, note: str) -> dict[str, str]:
    return {"label": label, "note": note, **_both(value)}


def _both(value: str | Told) -> dict[str, str]:
    return {"si": value, "ip": value} if isinstance(value, str) else {"si": value.si, "ip": value.ip}


def _room(row: Values) -> dict[str, Any]:
    spacing = row["plates_spacing_mm"]
    shown = {
        "load": _told("load_W", max(0.0, row["load_W"] - row["from_above_W"])),
        "gives": _told("available_W", row["available_W"]),
        "lacks": _told("shortfall_W", row["shortfall_W"]) if row["shortfall_W"] > SHORT else "–",
        "plates": "none" if isinstance(spacing, str) else _told("spacing_mm", spacing),
        "needs": _told("needed_supply_C", row["needed_supply_C"]),
        "mean": _told("surface_mean_C", row["surface_mean_C"]),
        "peak": _told("surface_peak_C", row["surface_peak_C"]),
    }
    return {
        "name": row["room"],
        "title": row["title"],
        "short": bool(row["shortfall_W"] > SHORT),
        "broken": row["limits_broken"],
        "cells": {name: _both(value) for name, value in shown.items()},
    }


def _circuit(row: Values) -> dict[str, Any]:
    shown = {
        "length": _long(row["length_m"]),
        "flow": _told("flow_l_min", row["flow_l_min"]),
        "back": _told("return_C", row["return_C"]),
        "heat": _told("heat_W", row["heat_W"]),
        "head": _told("head_kPa", row["head_kPa"]),
    }
    return {"name": row["circuit"], "room": row["room"], "cells": {name: _both(value) for name, value in shown.items()}}


def _count(item: Values, amount: float) -> dict[str, str]:
    key = item["key"]
    if key.endswith("_m"):
        return {"label": item["name"], **_both(_long(amount))}
    value = _told(key, amount) if key.endswith("_m2") else f"{amount:,.0f}"
    return {"label": item["name"], **_both(value)}

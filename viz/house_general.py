"""Sections of a house page that hold for every heat source: in short, plan, rooms, sources, weather."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from sim.results.house_words import weather_words
from viz.drawings import DRAWINGS_FILE, PLAN_FILE
from viz.house_charts import NARROW_CHART, PRINTED_CHART, draw_needs, draw_reset
from viz.page_parts import DASH, PageColumn, PageReader, figure, paragraph, section, side_by_side, table
from viz.plan_drawing import draw_storey
from viz.plan_frame import NARROW, PRINTED

Values = Mapping[str, Any]

_NOT_KEPT = '<span class="badge">not kept</span>'


def anchor_of(layout: Values) -> str:
    """Name of a layout's chapter in the page."""
    return "for-" + "".join(letter if letter.isalnum() else "-" for letter in layout["source"].lower())


def spacing_cell(spacing: Any, reader: PageReader) -> str:
    """A plate spacing [mm] with its unit, or that there are no plates."""
    return escape(reader.value("spacing_mm", spacing)) if isinstance(spacing, int | float) else "no plates"


def plates_column(reader: PageReader) -> PageColumn:
    """The spacing of the plates that a room gets."""
    return PageColumn(
        "plates_spacing_mm", "plates every", cell=lambda row: spacing_cell(row["plates_spacing_mm"], reader)
    )


def plan_section(record: Values, reader: PageReader) -> str:
    """The plan of every storey."""
    circuits = record["layouts"][0]["circuits"]
    length = "2 m" if reader.units == "si" else "6 ft"
    drawings = [
        '<div class="plan">'
        + figure(
            _in_sizes(
                draw_storey(record, storey, circuits, length),
                draw_storey(record, storey, circuits, length, NARROW),
                draw_storey(record, storey, circuits, length, PRINTED),
            ),
            f"Storey: {storey['name']}. Thin lines are joists, numbers are bays; hatched stretches carry no plates. "
            "Arrows go with the water; thin lines are leaders from the manifold, broken ones lead back. To scale, "
            "along the corners that lengths are counted from; leaders along one wall are moved a little aside.",
        )
        + "</div>"
        for storey in record["storeys"]
    ]
    return section("plan", "Plan", *drawings, _differing(record), _sheets(record.get("drawings", ())))


def _in_sizes(desk: str, phone: str, paper: str) -> str:
    """A drawing for a desk, one for a phone, and one for paper, which prints it in its own size."""
    return f'<div class="desk screen">{desk}</div><div class="phone">{phone}</div><div class="paper">{paper}</div>'


def _sheets(names: Sequence[str]) -> str:
    """Where the drawings for the crew are, of those that lie beside the page."""
    words = {DRAWINGS_FILE: "plans to scale, bay types and pulling sheets", PLAN_FILE: "plans for a drawing program"}
    links = [f'<a href="{escape(name)}">{escape(name)}</a> ({words[name]})' for name in words if name in names]
    return f"<p>Drawings beside this page: {', '.join(links)}.</p>" if links else ""


def _differing(record: Values) -> str:
    """A remark where another heat source has other circuits than those drawn."""
    drawn = _joined(record["layouts"][0])
    others = [layout["source"] for layout in record["layouts"] if _joined(layout) != drawn]
    if not others:
        return ""
    return paragraph(f"Drawn for {record['layouts'][0]['source']}; other circuits for {', '.join(others)}, see there.")


def _joined(layout: Values) -> list[tuple[str, str]]:
    return [(circuit["circuit"], circuit["bays"]) for circuit in layout["circuits"]]


def rooms_section(record: Values, reader: PageReader) -> str:
    """What each room needs as written, and which one sets the water."""
    columns = (
        PageColumn("room", "room", plain=True),
        PageColumn("title", "", plain=True),
        PageColumn("room_C", "set to"),
        PageColumn("load_W", "heat load"),
        PageColumn("from_above_W", "from above"),
        PageColumn("area_m2", "heated floor"),
        PageColumn("flux_W_m2", "wanted upwards"),
        PageColumn("spacing_mm", "plates every", cell=lambda row: spacing_cell(row["spacing_mm"], reader)),
        PageColumn("mean_water_C", "mean water"),
        PageColumn("supply_C", "supply"),
        PageColumn("note", "", plain=True, cell=lambda row: escape(_remark(row, reader))),
    )
    words = (
        f"The design day has {reader.value('outdoor_C', record['house']['outdoor_C'])} outdoors. Downward heat that "
        f"reaches a heated room below is counted there, once. {_who_sets(record)}"
    )
    caption = (
        "Supply that each room needs by itself with the plates of its own file (bars), and the supply of each heat "
        "source after its layout (lines). Where a bar passes a line, plates were changed for that source, or the room "
        "falls short."
    )
    drawings = (
        draw_needs(record, reader), draw_needs(record, reader, NARROW_CHART), draw_needs(record, reader, PRINTED_CHART)
    )  # fmt: skip
    return section(
        "rooms",
        "What each room needs as written",
        paragraph(words),
        figure(_in_sizes(*drawings), caption),
        table(columns, record["needs"], reader, record["set_by"]),
        _load_parts(record, reader),
    )


def _who_sets(record: Values) -> str:
    """Which room sets the water, and which would need warmer water than their floors may get."""
    needs, own = record["needs"], record["set_by"]
    highest = next(_or_endless(row["supply_C"]) for row in needs if row["room"] == own)
    hopeless = [row["room"] for row in needs if row["limit"] and not _or_endless(row["supply_C"]) <= highest]
    if not hopeless:
        return f"{own} needs the warmest water by itself."
    some = "a limit of its floor" if len(hopeless) == 1 else "limits of their floors"
    return (
        f"{own} needs the warmest water of the rooms whose floors can give their load; {', '.join(hopeless)} "
        f"would only have it beyond {some}."
    )


def _or_endless(supply: float | None) -> float:
    """A needed supply [°C]; beyond every other where no water does."""
    return float("inf") if supply is None else supply


def _remark(row: Values, reader: PageReader) -> str:
    """Why no water gives a room its load, or what its floor may give."""
    if not row["limit"]:
        return reader.sentence(row["note"])
    most, limit = reader.value("most_W", row["limit_output_W"]), reader.sentence(row["limit"])
    return f"no more than {most} within limits ({limit})"


def _load_parts(record: Values, reader: PageReader) -> str:
    """Where loads were computed: their parts."""
    computed = [need for need in record["needs"] if need["load_parts"]]
    if not computed:
        return ""
    texts = (
        f"{need['room']}: "
        + ", ".join(f"{part['what']} {reader.value('w_W', part['load_W'])}" for part in need["load_parts"])
        for need in computed
    )
    beginning = "Computed loads (a steady sum in the manner of EN 12831, not the whole procedure): "
    return paragraph(beginning + "; ".join(texts) + ".", "note")


def sources_section(record: Values, reader: PageReader) -> str:
    """The layouts side by side."""
    layouts: Sequence[Values] = record["layouts"]

    def each(key: str, words: str) -> tuple[str, list[str]]:
        """A line of one number of every layout's summary."""
        return words, [escape(reader.value(key, layout["summary"].get(key))) for layout in layouts]

    lines = [
        each("supply_C", "supply on the design day"),
        each("hottest_allowed_C", "hottest supply allowed"),
        ("allowed because", [escape(reader.sentence(layout["why_hottest"])) for layout in layouts]),
        ("set by room", [escape(layout["summary"]["set_by"]) for layout in layouts]),
        each("drop_K", "water drop"),
        ("return", [escape(reader.value("r_C", layout["return_C"])) for layout in layouts]),
        ("plates", [f"{layout['summary']['plates']:,}" for layout in layouts]),
        each("tube_m", "tube, leaders included"),
        each("heat_W", "heat from the source"),
        each("down_lost_W", "of this down, lost"),
        each("edge_W", "of this out at rims and edges"),
        each("heat_open_W", "heat with all valves open"),
        each("shortfall_W", "shortfall"),
        ("efficiency or COP", [_ratio(layout["summary"]) for layout in layouts]),
        each("energy_W", "fuel or electricity"),
        ("climate of the heating season", [escape(layout["summary"]["season_climate"] or DASH) for layout in layouts]),
        each("season_heat_kWh", "heat in it"),
        each("season_energy_kWh", "fuel or electricity in it"),
        each("season_efficiency_or_cop", "efficiency or COP in it"),
        each("season_backup_kWh", "of this direct electric"),
        each("season_not_given_by_floors_kWh", "shortfall in it"),
        each("season_cycling_h", "hours below the least output"),
        each("season_cost", "cost of it, at the file's prices"),
        each("material_cost", "cost of the material that the file prices"),
        each("fill_l", "water to fill in"),
        each("glycol_l", "glycol in it"),
        each("vessel_l", "expansion vessel, at least"),
        each("vessel_gas_bar", "its gas pressure"),
        ("does not suit", [escape(layout["summary"]["not_kept"] or DASH) for layout in layouts]),
    ]
    heads = [layout["source"] for layout in layouts]
    findings = "".join(f"<div>{_findings(layout, reader)}</div>" for layout in layouts)
    told = f'<div class="columns">{findings}</div>'
    words = (
        "The season is summed by bins of outdoor temperature (in the manner of EN 15316-4-2; hours of EN 14825, or the "
        "house's own), without sun and gains: it compares sources, it does not foretell a bill. The vessel follows "
        "EN 12828, annex D (from memory), for the water of the circuits and of what the file adds; source, buffer and "
        "mains come on top where it adds nothing."
    )
    return section(
        "sources", "Heat sources side by side", side_by_side(heads, lines), paragraph(words, "note"), told,
        on_phones=True,
    )  # fmt: skip


def _ratio(row: Values) -> str:
    """Efficiency or COP; a dash where the source's table does not reach."""
    value = row["efficiency_or_cop"]
    return DASH if value is None else f"{value:.2f}"


def _findings(layout: Values, reader: PageReader) -> str:
    """What a source asks of its floor, kept or not."""
    items = "".join(
        f"<li>{'' if finding['kept'] else _NOT_KEPT}{escape(finding['what'])}: "
        f"{escape(finding['text_ip' if reader.units == 'ip' else 'text'])}</li>"
        for finding in layout["findings"]
    )
    return f"<h3>{escape(layout['source'])}</h3><ul>{items}</ul>{paragraph(reader.sentence(layout['about']), 'note')}"


def weather_section(record: Values, reader: PageReader) -> str:
    """Water by the weather: the curve, and output against load."""
    columns = (
        PageColumn("outdoor_C", "outdoors"),
        PageColumn("supply_C", "supply"),
        PageColumn("return_C", "return"),
        PageColumn("load_W", "heat load"),
        PageColumn("output_W", "floors can give"),
        PageColumn("heat_W", "from the source"),
        PageColumn("efficiency_or_cop", "efficiency or COP", cell=_ratio),
        PageColumn("not_kept", "does not suit", plain=True),
    )
    tables = (
        f"<div{' class=other' if place else ''}><h3>{escape(layout['source'])}</h3>"
        f"{paragraph(weather_words(layout['verdict']))}{table(columns, layout['outdoor'], reader)}</div>"
        for place, layout in enumerate(record["layouts"])
    )
    shutdown = record["house"]["shutdown_C"]
    off = "" if shutdown is None else f" Heating is off from {reader.value('t_C', shutdown)} outdoors."
    words = (
        "The supply follows the weather; set this curve at the control, with an upper limit at the design supply."
        f"{off}"
    )
    caption = "Supply and return against the outdoor temperature, from the design day to mild weather."
    chart = draw_reset(record["layouts"], reader)
    others = (draw_reset(record["layouts"], reader, width) for width in (NARROW_CHART, PRINTED_CHART))
    drawing = figure(_in_sizes(chart, *others), caption) if chart else ""
    return section("weather", "Water by the weather", paragraph(words), drawing, *tables, on_phones=True)

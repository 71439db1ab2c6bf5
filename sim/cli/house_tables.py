"""The tables of a house on the terminal."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.cli.house_circuits import print_circuits
from sim.cli.house_columns import NAMES, PrintedColumn, System, celsius, columns_table, degrees, say, spacing, write
from sim.cli.keeping import kept_line
from sim.cli.options import UnitChoice
from sim.cli.show import CAUTION, console, each_system, plain_table, print_sentence
from sim.house.circuit_flow import HEAD
from sim.house.plan import HousePlan, RoomNeed, RoomResult, SourceLayout
from sim.house.record import house_record
from sim.house.verdict import LEAST_SHORT, curves_miss, verdict
from sim.results.house_answer import house_answer
from sim.results.house_words import full_name, in_words, solves_in_words, weather_words

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from sim.case.house_case import House
    from sim.rules.limits import Verdict

_FILES = {
    "house.pdf": "the booklet: print it, it stays with the house",
    "drawings.pdf": "the sheets for the crew, to scale",
    "plan.dxf": "the plans for a drawing program",
    "house.html": "the page for a browser or a phone",
    "house.xlsx": "every table as a sheet",
}
"""What to open first, of what the folder holds."""

_RESTS_ON = (
    "Needed water, and what rooms give that fall short, are solved with the bay model, each at its own water. Other "
    "outdoor temperatures, open valves and the choice of plate spacings rest on curves through four solves of each "
    "bay. Flows in the bays are those of the design load."
)


def print_plan(plan: HousePlan, source: str, units: UnitChoice, folder: Path | None) -> None:
    """Of one source what its builder asks, its rooms and circuits; then rooms as written, and all sources."""
    out = console(units)
    out.print(plan.house.title or plan.house.name, style="bold")
    for variant in plan.house.variants:
        if variant.name == plan.variant:
            out.print(variant.title or variant.name)
    chosen = plan.layout(source)
    records: Any = house_record(plan)["layouts"]
    record = records[plan.layouts.index(chosen)]
    for system in each_system(units):
        _print_answers(out, record, system)
        _print_layout(out, chosen, system, answered=True)
        print_circuits(out, chosen, system)
        _print_rooms(out, plan, system)
        out.print("\nHeat sources side by side")
        out.print(sources_table(plan.layouts, system))
        _print_material(out, plan)
        for layout in plan.layouts:
            if layout is not chosen:
                _print_layout(out, layout, system)
    out.print()
    print_sentence(out, solves_in_words(plan.solves, plan.taken_up, plan.asked, curves_miss(plan)))
    print_sentence(out, _RESTS_ON)
    out.print()
    print_sentence(out, CAUTION)
    out.print(f"\n{kept_line(folder, [])}", soft_wrap=True)
    for name, what in _FILES.items():
        if folder is not None and (folder / name).exists():
            print_sentence(out, f"- {name}: {what}")


def _print_answers(out: Console, layout: Mapping[str, Any], system: System) -> None:
    """What the builder of a layout asks first, a line each."""
    out.print(f"\nWhat to build, for {layout['source']}", style="bold")
    for question, answer in house_answer(layout, lambda key, value: write(key, value, system)):
        say(out, f"{question}: {answer}", system)


def print_needs(house: House, needs: Mapping[str, Sequence[RoomNeed]], units: UnitChoice) -> None:
    """The supply that every room needs by itself, variants as columns."""
    out = console(units)
    out.print(house.title or house.name, style="bold")
    titles = {variant.name: variant.title or variant.name for variant in house.variants}
    for system in each_system(units):
        out.print("\nSupply that each room needs by itself on the design day")
        table = plain_table()
        table.add_column("room", overflow="fold", max_width=NAMES)
        for name in needs:
            table.add_column(name or "as written", justify="right")
        for place, room in enumerate(house.rooms):
            table.add_row(
                full_name(room.name, room.title), *(degrees(own[place].supply, system) for own in needs.values())
            )
        out.print(table)
    for name, title in titles.items():
        print_sentence(out, f"{name}: {title}")
    out.print(f"\n{CAUTION}")


def _print_rooms(out: Console, plan: HousePlan, system: System) -> None:
    out.print("\nRooms as written: the water that each needs by itself on the design day")
    out.print(needs_table(plan.needs, system))
    set_by = plan.set_by
    say(out, f"{_called(set_by)} sets the supply.", system)
    for need in plan.needs:
        if need.note:
            say(out, f"{need.name}: {need.note.removeprefix(f'{need.name}: ')}", system)
        if need.limit:
            most, at = write("most_W", need.limit_output, system), degrees(need.limit_supply, system)
            say(out, f"{need.name}: no more than {most}, at {at}, within limits ({need.limit})", system)


def _called(need: RoomNeed) -> str:
    """A room's name with its title."""
    return full_name(need.name, need.title)


def needs_table(needs: Sequence[RoomNeed], system: System) -> Table:
    """One line a room as written."""
    columns = (
        PrintedColumn("room", cell=_called),
        PrintedColumn("heat load", "load_W", lambda need: need.load.total),
        PrintedColumn("from above", "load_W", lambda need: need.from_above),
        PrintedColumn("heated", "area_m2", lambda need: need.area),
        PrintedColumn("flux", "flux_W_m2", lambda need: need.flux),
        PrintedColumn("plates", "spacing_mm", lambda need: spacing(need.spacing)),
        PrintedColumn("mean", "water_C", lambda need: celsius(need.mean_water)),
        PrintedColumn("supply", "water_C", lambda need: celsius(need.supply)),
    )
    return columns_table(columns, needs, system)


def sources_table(layouts: Sequence[SourceLayout], system: System) -> Table:
    """Sources as columns."""
    table = plain_table()
    table.add_column("", no_wrap=True)
    for layout in layouts:
        table.add_column(layout.source.name, justify="right")
    for label, cell in _SOURCE_LINES.items():
        table.add_row(label, *(cell(layout, system) for layout in layouts))
    return table


def _print_material(out: Console, plan: HousePlan) -> None:
    """What each layout's material costs, where the file has prices of any."""
    from sim.house.prices import material_cost
    from sim.house.quantities import take_off

    prices = plan.house.prices
    costs = [(layout.source.name, material_cost(take_off(plan, layout).total, prices)) for layout in plan.layouts]
    if known := ", ".join(f"{name} {cost:,.0f}" for name, cost in costs if not math.isnan(cost)):
        print_sentence(out, f"What the file prices of the material costs: {known}")


def _plates(layout: SourceLayout, system: System) -> str:
    return "\n".join(f"{room.need.name} {_spacing(room.need.spacing, system)}" for room in layout.rooms)


def _pumps(layout: SourceLayout, system: System) -> str:
    return "\n".join(
        f"{entry.name} {write('flow_l_min', 6e4 * entry.water.volume_flow, system)}\n"
        f"{HEAD.write(entry.water.head / 1e3, system)}"
        for entry in layout.manifolds
    )


def _not_kept(layout: SourceLayout, system: System) -> str:
    broken = [finding.what for finding in layout.findings if not finding.kept]
    broken += [
        f"{room.need.name}: {verdict.limit.what}"
        for room in layout.rooms
        for verdict in room.verdicts
        if not verdict.kept
    ]
    return "\n".join(broken) or "all kept"


def _ratio(layout: SourceLayout, system: System) -> str:
    if math.isnan(layout.ratio):
        return "not known"
    return f"COP {layout.ratio:.2f}" if layout.source.kind == "heat pump" else f"{100.0 * layout.ratio:.0f} %"


def _kwh(layout: SourceLayout, what: str) -> str:
    """An energy of the season."""
    return "not known" if layout.season is None else f"{getattr(layout.season, what):,.0f} kWh"


def _cost(layout: SourceLayout) -> str:
    known = layout.season is not None and layout.season.cost is not None
    return f"{layout.season.cost:,.0f}" if known and layout.season else "no price"


_SOURCE_LINES: Mapping[str, Callable[[SourceLayout, System], str]] = {
    "supply": lambda layout, system: degrees(layout.supply, system),
    "set by": lambda layout, system: layout.set_by,
    "hottest allowed": lambda layout, system: degrees(layout.hottest, system),
    "water drop": lambda layout, system: write("drop_K", layout.drop, system),
    "plates every": _plates,
    "plates": lambda layout, system: f"{layout.plates:,}",
    "tube with leaders": lambda layout, system: write("tube_m", layout.tube, system),
    "heat from the source": lambda layout, system: write("heat_W", layout.heat, system),
    "  of it down, lost": lambda layout, system: write("heat_W", layout.down_lost, system),
    "  of it at the edges": lambda layout, system: write("heat_W", layout.edge, system),
    "  with all valves open": lambda layout, system: write("heat_W", layout.heat_open, system),
    "efficiency": _ratio,
    "fuel or electricity": lambda layout, system: write("energy_W", layout.energy, system),
    "season's heat": lambda layout, system: _kwh(layout, "heat"),
    "  fuel or electricity": lambda layout, system: _kwh(layout, "energy"),
    "  of it direct electric": lambda layout, system: _kwh(layout, "backup"),
    "  shortfall": lambda layout, system: _kwh(layout, "unmet"),
    "  efficiency or COP": lambda layout, system: f"{layout.season.ratio:.2f}" if layout.season else "not known",
    "  cost": lambda layout, system: _cost(layout),
    "pump": _pumps,
    "shortfall": lambda layout, system: write("load_W", layout.shortfall, system),
    "limits not kept": _not_kept,
}
"""Lines of the comparison of sources."""


def _print_layout(out: Console, layout: SourceLayout, system: System, answered: bool = False) -> None:
    """Rooms, remedies and weather of a layout; what it comes to is not told again where that was answered."""
    out.print(f"\n{layout.source.name}: {degrees(layout.supply, system)} supply, set by {layout.set_by}", style="bold")
    out.print(layout_table(layout, system))
    told = verdict(layout)
    if not answered:
        say(out, in_words(told, lambda key, value: write(key, value, system)), system)
    for finding in layout.findings:
        if not finding.kept:
            say(out, f"✗ {finding.what}: {finding.told(system)}", system)
    for room in layout.rooms:
        _print_broken(out, room, system)
        _print_remedies(out, room, system)
    out.print("\nBy the weather")
    out.print(outdoor_table(layout, system))
    out.print()
    out.print(shares_table(layout, system))
    say(out, weather_words(told), system)


def layout_table(layout: SourceLayout, system: System) -> Table:
    """One line a room of a layout, 80 columns wide at the most: what it needs, what it can give, what is short."""
    columns = (
        PrintedColumn("room", cell=lambda room: room.need.name),
        PrintedColumn("plates", "spacing_mm", lambda room: spacing(room.need.spacing)),
        PrintedColumn("water", "water_C", lambda room: celsius(room.mean_water)),
        PrintedColumn("needs", "load_W", lambda room: room.need.wanted),
        PrintedColumn("gives", "load_W", lambda room: room.available),
        PrintedColumn("", "share_percent", _share),
        PrintedColumn("short", "load_W", lambda room: room.shortfall if room.shortfall > LEAST_SHORT else ""),
        PrintedColumn("down", "load_W", lambda room: room.down),
        PrintedColumn("to", cell=lambda room: room.down_to),
        PrintedColumn("warmest", "surface_peak_C", lambda room: room.report.get("surface_peak_C", math.nan)),
        PrintedColumn("limits", cell=_limits_cell),
    )
    return columns_table(columns, layout.rooms, system)


def _share(room: RoomResult) -> float | str:
    """Output over load [%]."""
    return 100.0 * room.available / room.need.wanted if room.need.wanted > 0.0 else ""


def _limits_cell(room: RoomResult) -> str:
    broken = sum(not held.kept for held in room.verdicts)
    return f"{broken} broken" if broken else "kept"


def _print_broken(out: Console, room: RoomResult, system: System) -> None:
    """Limits that are not kept, and those that only a valve keeps."""
    broken = {held.limit for held in room.verdicts if not held.kept}
    for held in room.verdicts:
        if not held.kept:
            say(out, f"✗ {room.need.name}: {_reaches(held, system)}", system)
    for held in room.open_verdicts:
        if not held.kept and held.limit not in broken:
            say(out, f"! {room.need.name}: with its valve left open, {_reaches(held, system)}", system)


def _reaches(held: Verdict, system: System) -> str:
    key, limit = held.limit.key, held.limit
    value, highest = write(key, held.value, system), write(key, limit.highest, system)
    if value == highest:
        return f"{limit.what} is a little above {highest}"
    return f"{limit.what} reaches {value}, more than {highest}"


def _print_remedies(out: Console, room: RoomResult, system: System) -> None:
    """What was tried in a room that falls short."""
    if not room.remedies:
        return
    needed = room.need.supply
    way = "no water is enough" if math.isnan(needed) else f"it would need {degrees(needed, system)}"
    if room.need.limit and not math.isnan(needed):
        way += f" and break a limit ({room.need.limit})"
    say(out, f"{room.need.name}: {way}; what helps at this water:", system)
    for remedy in room.remedies:
        if math.isnan(remedy.output):
            say(out, f"- {remedy.told(system)}: cannot be; {remedy.note}", system)
            continue
        verdict = "enough" if remedy.enough else "not enough"
        note = f"; {remedy.note}" if remedy.note else ""
        gain = write("load_W", remedy.gain, system)
        say(out, f"- {remedy.told(system)}: {gain} more, {verdict}{note}", system)


def outdoor_table(layout: SourceLayout, system: System) -> Table:
    """One line an outdoor temperature: supply by the weather, load and output."""
    columns = (
        PrintedColumn("outdoors", "water_C", lambda point: celsius(point.outdoor)),
        PrintedColumn("supply", "water_C", lambda point: celsius(point.supply)),
        PrintedColumn("return", "water_C", lambda point: celsius(point.returning)),
        PrintedColumn("heat load", "load_W", lambda point: point.load),
        PrintedColumn("can give", "load_W", lambda point: point.output),
        PrintedColumn("taken", "load_W", lambda point: point.heat),
        PrintedColumn("eff./COP", "ratio", lambda point: point.ratio),
    )
    return columns_table(columns, layout.outdoor, system)


def shares_table(layout: SourceLayout, system: System) -> Table:
    """One line a room: what its floor gives of its load at each outdoor temperature."""
    columns = [PrintedColumn("% of heat load at", cell=lambda row: row[0])]
    for place, point in enumerate(layout.outdoor):
        head = degrees(point.outdoor, system)
        columns.append(PrintedColumn(head, "share_percent", partial(_nth, place)))
    rows = [
        (name, [point.rooms[place] for point in layout.outdoor])
        for place, (name, _, _) in enumerate(layout.outdoor[0].rooms)
    ] if layout.outdoor else []
    return columns_table(columns, rows, system)


def _nth(number: int, row: tuple[str, Sequence[tuple[str, float, float]]]) -> float | str:
    """Output over load of a room at one of the points [%]."""
    _, load, output = row[1][number]
    return 100.0 * output / load if load > 0.0 else ""


def _spacing(wide: float | None, system: System) -> str:
    return "no plates" if wide is None else write("spacing_mm", 1000.0 * wide, system)

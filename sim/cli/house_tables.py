"""The tables of a house on the terminal."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from sim.case.constants import ZERO_CELSIUS
from sim.cli.options import UnitChoice
from sim.cli.show import CAUTION, console, each_system, plain_table
from sim.house.circuit_flow import HEAD, PURGING
from sim.house.plan import CircuitResult, HousePlan, ManifoldResult, RoomNeed, RoomResult, SourceLayout
from sim.house.verdict import LEAST_SHORT, verdict
from sim.results.house_words import in_words, solves_in_words, weather_words
from sim.results.people import format_value

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from sim.case.house_case import House
    from sim.study.limits import Verdict

System = Literal["si", "ip"]


def print_plan(plan: HousePlan, source: str, units: UnitChoice, folder: Path) -> None:
    """Rooms as written, the sources side by side, every source's rooms, and the circuits of one source."""
    out = console()
    out.print(plan.house.title or plan.house.name, style="bold")
    for variant in plan.house.variants:
        if variant.name == plan.variant:
            out.print(variant.title or variant.name)
    for system in each_system(units):
        _print_rooms(out, plan, system)
        out.print("\nHeat sources side by side")
        out.print(sources_table(plan.layouts, system))
        for layout in plan.layouts:
            _print_layout(out, layout, system)
        _print_circuits(out, plan.layout(source), system)
    out.print(f"\n{solves_in_words(plan.solves, plan.taken_up, plan.asked)}")
    out.print(
        "Needed water, and what rooms give that fall short, are solved with the bay model, each at its own water.\n"
        "Other outdoor temperatures, open valves and the choice of plate spacings rest on curves through four solves\n"
        "of each bay. Flows in the bays are those of the design load."
    )
    out.print(f"\n{CAUTION}", soft_wrap=True)
    out.print(f"\nKept in {folder}, for a browser: {folder / 'house.html'}", soft_wrap=True)


def print_needs(house: House, needs: Mapping[str, Sequence[RoomNeed]], units: UnitChoice) -> None:
    """The supply that every room needs by itself, variants as columns."""
    out = console()
    out.print(house.title or house.name, style="bold")
    titles = {variant.name: variant.title or variant.name for variant in house.variants}
    for system in each_system(units):
        out.print("\nSupply that each room needs by itself on the design day")
        table = plain_table()
        table.add_column("room", no_wrap=True)
        for name in needs:
            table.add_column(name or "as written", justify="right")
        for number, room in enumerate(house.rooms):
            table.add_row(
                f"{room.name} {room.title}", *(_degrees(own[number].supply, system) for own in needs.values())
            )
        out.print(table)
    for name, title in titles.items():
        out.print(f"{name}: {title}", soft_wrap=True)
    out.print(f"\n{CAUTION}", soft_wrap=True)


def _print_rooms(out: Console, plan: HousePlan, system: System) -> None:
    out.print("\nRooms as written: the water that each needs by itself on the design day")
    out.print(needs_table(plan.needs, system))
    bully = plan.bully
    out.print(f"{bully.name} {bully.title} sets the supply.")
    for need in plan.needs:
        if need.note:
            out.print(f"{need.name}: {need.note}", soft_wrap=True)
        if need.limit:
            most, at = _write("most_W", need.limit_output, system), _degrees(need.limit_supply, system)
            out.print(f"{need.name}: no more than {most}, at {at}, within limits ({need.limit})", soft_wrap=True)


def needs_table(needs: Sequence[RoomNeed], system: System) -> Table:
    """One line a room as written."""
    heads = ("room", "load", "from above", "heated", "flux", "plates every", "mean water", "supply")
    rows = (
        (
            f"{need.name} {need.title}",
            _write("load_W", need.load.total, system),
            _write("load_W", need.from_above, system),
            _write("area_m2", need.area, system),
            _write("flux_W_m2", need.flux, system),
            _spacing(need.spacing, system),
            _degrees(need.mean_water, system),
            _degrees(need.supply, system),
        )
        for need in needs
    )
    return _table(heads, rows)


def sources_table(layouts: Sequence[SourceLayout], system: System) -> Table:
    """Sources as columns."""
    table = plain_table()
    table.add_column("", no_wrap=True)
    for layout in layouts:
        table.add_column(layout.source.name, justify="right")
    for label, cell in _SOURCE_LINES.items():
        table.add_row(label, *(cell(layout, system) for layout in layouts))
    return table


def _plates(layout: SourceLayout, system: System) -> str:
    return "\n".join(f"{room.need.name} {_spacing(room.need.spacing, system)}" for room in layout.rooms)


def _pumps(layout: SourceLayout, system: System) -> str:
    return "\n".join(
        f"{entry.name} {_write('flow_l_min', 6e4 * entry.water.volume_flow, system)} "
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
    "supply": lambda layout, system: _degrees(layout.supply, system),
    "set by": lambda layout, system: layout.bully,
    "hottest allowed": lambda layout, system: _degrees(layout.hottest, system),
    "temperature drop": lambda layout, system: _write("drop_K", layout.drop, system),
    "plates every": _plates,
    "plates": lambda layout, system: f"{layout.plates}",
    "tube with leaders": lambda layout, system: _write("tube_m", layout.tube, system),
    "heat from the source": lambda layout, system: _write("heat_W", layout.heat, system),
    "  with all valves open": lambda layout, system: _write("heat_W", layout.heat_open, system),
    "  of it down and lost": lambda layout, system: _write("heat_W", layout.down_lost, system),
    "efficiency": _ratio,
    "fuel or electricity": lambda layout, system: _write("energy_W", layout.energy, system),
    "season's heat": lambda layout, system: _kwh(layout, "heat"),
    "  fuel or electricity": lambda layout, system: _kwh(layout, "energy"),
    "  of it direct electric": lambda layout, system: _kwh(layout, "backup"),
    "  floors do not give": lambda layout, system: _kwh(layout, "unmet"),
    "  efficiency or COP": lambda layout, system: f"{layout.season.ratio:.2f}" if layout.season else "not known",
    "  cost": lambda layout, system: _cost(layout),
    "pump": _pumps,
    "load not met": lambda layout, system: _write("load_W", layout.shortfall, system),
    "limits not kept": _not_kept,
}
"""Lines of the comparison of sources."""


def _print_layout(out: Console, layout: SourceLayout, system: System) -> None:
    out.print(f"\n{layout.source.name}: {_degrees(layout.supply, system)} supply, set by {layout.bully}", style="bold")
    out.print(layout_table(layout, system))
    told = verdict(layout)
    out.print(in_words(told, lambda key, value: _write(key, value, system)), soft_wrap=True)
    for finding in layout.findings:
        if not finding.kept:
            out.print(f"✗ {finding.what}: {finding.text}", soft_wrap=True)
    for room in layout.rooms:
        _print_broken(out, room, system)
        _print_remedies(out, room, system)
    out.print("\nBy the weather")
    out.print(outdoor_table(layout, system))
    out.print(weather_words(told), soft_wrap=True)


def layout_table(layout: SourceLayout, system: System) -> Table:
    """One line a room of a layout."""
    heads = ("room", "plates every", "mean water", "load", "output", "", "short", "down", "floor, peak", "limits")
    return _table(heads, (_layout_row(room, system) for room in layout.rooms))


def _layout_row(room: RoomResult, system: System) -> tuple[str, ...]:
    wanted = room.need.wanted
    share = f"{100.0 * room.available / wanted:.0f} %" if wanted > 0.0 else ""
    broken = sum(not verdict.kept for verdict in room.verdicts)
    return (
        room.need.name,
        _spacing(room.need.spacing, system),
        _degrees(room.mean_water, system),
        _write("load_W", wanted, system),
        _write("load_W", room.available, system),
        share,
        _write("load_W", room.shortfall, system) if room.shortfall > LEAST_SHORT else "",
        _write("load_W", room.down, system) + (f" to {room.down_to}" if room.down_to else ""),
        _write("surface_peak_C", room.report.get("surface_peak_C", math.nan), system),
        f"{broken} not kept" if broken else "kept",
    )


def _print_broken(out: Console, room: RoomResult, system: System) -> None:
    """Limits that are not kept, and those that only a valve keeps."""
    broken = {held.limit for held in room.verdicts if not held.kept}
    for held in room.verdicts:
        if not held.kept:
            out.print(f"✗ {room.need.name}: {_reaches(held, system)}", soft_wrap=True)
    for held in room.open_verdicts:
        if not held.kept and held.limit not in broken:
            out.print(f"! {room.need.name}: with its valve left open, {_reaches(held, system)}", soft_wrap=True)


def _reaches(held: Verdict, system: System) -> str:
    key, limit = held.limit.key, held.limit
    value, highest = _write(key, held.value, system), _write(key, limit.highest, system)
    if value == highest:
        return f"{limit.what} is a little above {highest}"
    return f"{limit.what} reaches {value}, more than {highest}"


def _print_remedies(out: Console, room: RoomResult, system: System) -> None:
    """What was tried in a room that falls short."""
    if not room.remedies:
        return
    short, needed = _write("load_W", room.shortfall, system), room.need.supply
    way = "no water does" if math.isnan(needed) else f"it would need {_degrees(needed, system)}"
    if room.need.limit:
        way += f" and break a limit ({room.need.limit})"
    out.print(f"{room.need.name} falls short by {short}, {way}; what helps at this water:", soft_wrap=True)
    for remedy in room.remedies:
        if math.isnan(remedy.output):
            out.print(f"- {remedy.what}: cannot be; {remedy.note}", soft_wrap=True)
            continue
        verdict = "enough" if remedy.enough else "not enough"
        note = f"; {remedy.note}" if remedy.note else ""
        gain = _write("load_W", remedy.gain, system)
        out.print(f"- {remedy.what}: {gain} more, {verdict}{note}", soft_wrap=True)


def outdoor_table(layout: SourceLayout, system: System) -> Table:
    """One line an outdoor temperature: supply by the weather, load and output, and each room's output over load."""
    rooms = [room.need.name for room in layout.rooms]
    heads = ("outdoors", "supply", "return", "load", "output", "heat taken", *rooms)
    rows = (
        (
            _degrees(point.outdoor, system),
            _degrees(point.supply, system),
            _degrees(point.returning, system),
            _write("load_W", point.load, system),
            _write("load_W", point.output, system),
            _write("load_W", point.heat, system),
            *(f"{100.0 * output / load:.0f} %" if load > 0.0 else "" for _, load, output in point.rooms),
        )
        for point in layout.outdoor
    )
    return _table(heads, rows)


def _print_circuits(out: Console, layout: SourceLayout, system: System) -> None:
    out.print(f"\nCircuits, {layout.source.name}, valves open", style="bold")
    out.print(circuits_table(layout, system))
    for entry in layout.manifolds:
        out.print(_manifold_line(entry, system), soft_wrap=True)
    for circuit in layout.circuits:
        for note in circuit.flow.notes(system):
            if "air is not carried" not in note:
                out.print(f"- {circuit.name}: {note}", soft_wrap=True)
    if slow := [circuit.name for circuit in layout.circuits if not circuit.flow.purges_itself]:
        limit = _write("water_m_s", PURGING, system)
        out.print(
            f"- {', '.join(slow)}: slower than {limit}, so air is not carried along; purge one by one "
            "(common practice, no source)",
            soft_wrap=True,
        )
    out.print("\nOrder of pulling: from the middle of the circuit outwards, one half and then the other")
    for circuit in layout.circuits:
        out.print(f"- {circuit.name}: {' '.join(circuit.pulling)}", soft_wrap=True)


def _manifold_line(entry: ManifoldResult, system: System) -> str:
    """Pump duty, mixed return and balance of a manifold."""
    water = entry.water
    duty = f"{_write('flow_l_min', 6e4 * water.volume_flow, system)} at {HEAD.write(water.head / 1e3, system)}"
    upstream = HEAD.write(water.upstream / 1e3, system)
    alike = "are alike" if water.balanced else f"differ by {100.0 * water.spread:.0f} %, valves balance them"
    return (
        f"manifold {entry.name}, {len(water.circuits)} circuits: pump {duty}, set by {water.setting.circuit.name}, "
        f"{upstream} of it before the manifold; {_degrees(water.returning, system)} comes back; lengths {alike}"
    )


def circuits_table(layout: SourceLayout, system: System) -> Table:
    """One line a circuit."""
    takes = {throttle.name: throttle.excess for entry in layout.manifolds for throttle in entry.water.throttles()}
    heads = ("circuit", "bays", "length", "heat", "flow", "velocity", "Re", "return", "head", "valve takes")
    return _table(heads, (_circuit_row(circuit, takes[circuit.name], system) for circuit in layout.circuits))


def _circuit_row(circuit: CircuitResult, excess: float, system: System) -> tuple[str, ...]:
    flow = circuit.flow
    return (
        circuit.name,
        f"{len(circuit.bays)}",
        _write("length_m", flow.circuit.length, system),
        _write("heat_W", flow.heat, system),
        _write("flow_l_min", 6e4 * flow.volume_flow, system),
        _write("velocity_m_s", flow.velocity, system),
        f"{flow.reynolds:,.0f}",
        _degrees(flow.returning, system),
        HEAD.write(flow.head / 1e3, system),
        HEAD.write(excess / 1e3, system),
    )


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Any:
    """A plain table, texts on the left and numbers on the right."""
    table = plain_table()
    for number, head in enumerate(heads):
        table.add_column(head, justify="left" if number == 0 or head == "limits" else "right", no_wrap=number == 0)
    for row in rows:
        table.add_row(*row)
    return table


def _write(key: str, value: float, system: System) -> str:
    if key.endswith("_W") and math.isfinite(value):
        from sim.results.people import unit_of

        unit = unit_of(key)
        return f"{unit.convert(value, system):,.0f} {unit.name(system)}"
    return format_value(key, value, system)


def _degrees(kelvin: float, system: System) -> str:
    return "none" if math.isnan(kelvin) else format_value("water_C", kelvin - ZERO_CELSIUS, system)


def _spacing(spacing: float | None, system: System) -> str:
    return "no plates" if spacing is None else format_value("spacing_mm", 1000.0 * spacing, system)

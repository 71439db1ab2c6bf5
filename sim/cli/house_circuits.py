"""The circuits of a house on the terminal: their water, what the pump must do, the order of pulling."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sim.cli.house_columns import PrintedColumn, System, celsius, columns_table, degrees, say, write
from sim.house.circuit_flow import HEAD, PURGING, STEADY_END
from sim.house.circuits import pulling_halves

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from sim.house.plan import ManifoldResult, SourceLayout


_ALONG = (
    "Along the tube: the water of a circuit's last bay is cooler than that of its first by so much, and the same "
    "length of tube gives so much less. Pulled from the middle outwards, one half and then the other:"
)


def print_circuits(out: Console, layout: SourceLayout, system: System) -> None:
    """Circuits with their water, what their manifolds and pumps do, and the order of pulling."""
    out.print(f"\nCircuits, {layout.source.name}, valves open", style="bold")
    out.print(circuits_table(layout, system))
    for entry in layout.manifolds:
        say(out, _manifold_line(entry, system), system)
    if laminar := [circuit.name for circuit in layout.circuits if circuit.flow.reynolds <= STEADY_END]:
        say(out, f"- {', '.join(laminar)}: laminar flow", system)
    for circuit in layout.circuits:
        if circuit.flow.unsure and circuit.name not in laminar:
            say(out, f"- {circuit.name}: {circuit.flow.unsure}", system)
    if slow := [circuit.name for circuit in layout.circuits if not circuit.flow.purges_itself]:
        limit = write("water_m_s", PURGING, system)
        words = "so air is not carried along; purge one by one (common practice, no source)"
        say(out, f"- {', '.join(slow)}: slower than {limit}, {words}", system)
    out.print()
    say(out, _ALONG, system)
    out.print(ways_table(layout, system))


def ways_table(layout: SourceLayout, system: System) -> Table:
    """One line a circuit: how much cooler its last bay's water is, how much less it gives, the order of pulling."""
    columns = (
        PrintedColumn("circuit", cell=lambda circuit: circuit.name),
        PrintedColumn("cooler by", "water_K", lambda circuit: circuit.flow.cooler_end),
        PrintedColumn("gives less", "share_percent", lambda circuit: 100.0 * (1.0 - circuit.flow.end_share)),
        PrintedColumn("pull first", cell=lambda circuit: _in_order(pulling_halves(circuit.flow.circuit)[0])),
        PrintedColumn("then", cell=lambda circuit: _in_order(pulling_halves(circuit.flow.circuit)[1])),
    )
    return columns_table(columns, layout.circuits, system)


def _in_order(bays: Sequence[str]) -> str:
    """The first and the last of bays that follow each other."""
    return " to ".join(dict.fromkeys((bays[0], bays[-1]))) if bays else ""


def _manifold_line(entry: ManifoldResult, system: System) -> str:
    """Pump duty, mixed return and balance of a manifold."""
    water = entry.water
    duty = f"{write('flow_l_min', 6e4 * water.volume_flow, system)} at {HEAD.write(water.head / 1e3, system)}"
    upstream = HEAD.write(water.upstream / 1e3, system)
    alike = "are alike" if water.balanced else f"differ by {100.0 * water.spread:.0f} %, valves balance them"
    several = len(water.circuits) > 1
    circuits = f"{len(water.circuits)} circuits" if several else "1 circuit"
    return (
        f"manifold {entry.name}, {circuits}: pump {duty}, set by {water.setting.circuit.name}, "
        f"{upstream} of it before the manifold; {degrees(water.returning, system)} comes back"
        + (f"; lengths {alike}" if several else "")
    )


def circuits_table(layout: SourceLayout, system: System) -> Table:
    """One line a circuit."""
    takes = {throttle.name: throttle.excess for entry in layout.manifolds for throttle in entry.water.throttles()}
    columns = (
        PrintedColumn("circuit", cell=lambda circuit: circuit.name),
        PrintedColumn("bays", "count", lambda circuit: len(circuit.bays)),
        PrintedColumn("length", "length_m", lambda circuit: circuit.flow.circuit.length),
        PrintedColumn("heat", "heat_W", lambda circuit: circuit.flow.heat),
        PrintedColumn("flow", "flow_l_min", lambda circuit: 6e4 * circuit.flow.volume_flow),
        PrintedColumn("speed", "velocity_m_s", lambda circuit: circuit.flow.velocity),
        PrintedColumn("Re", "reynolds", lambda circuit: circuit.flow.reynolds),
        PrintedColumn("return", "water_C", lambda circuit: celsius(circuit.flow.returning)),
        PrintedColumn("head", "head_kPa", lambda circuit: circuit.flow.head / 1e3),
        PrintedColumn("valve", "head_kPa", lambda circuit: takes[circuit.name] / 1e3),
    )
    return columns_table(columns, layout.circuits, system)

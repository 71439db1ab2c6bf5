"""A solved house as plain values: what house.json holds, and all that the page is drawn from.

    house     the file's own: title, design day
    storeys   rooms, each with its extent and the corners of its floor, and manifolds in the plan
    bays      rectangles in the plan with their tube and what is in the way
    needs     the water that every room needs as written
    layouts   for each heat source: the lines of every table, manifolds, limits, quantities, cautions
    items     what is counted, and what is assumed in counting

Keys carry their unit as suffix, as in `sim.results.people`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from sim.case.constants import ZERO_CELSIUS
from sim.house.bay_types import bay_types
from sim.house.cautions import house_cautions
from sim.house.place import PlacedRoom, with_outlines
from sim.house.placed import PlacedBay
from sim.house.quantities import ITEMS, take_off
from sim.house.room_shape import room_loops, room_parts
from sim.house.tables import TABLES, table_rows
from sim.house.verdict import curves_miss, verdict
from sim.physics.tube import STEADY_END, TURBULENT_START
from sim.results.house_words import in_words, plainly, weather_words
from sim.rules.cautions import ASK
from sim.rules.site_cautions import RELIEF, TEST_MINUTES, proof_pressure

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.house.circuit_flow import CircuitFlow
    from sim.house.plan import HousePlan, ManifoldResult, RoomNeed, RoomResult, SourceLayout
    from sim.house.way import Way
    from sim.rules.limits import Verdict

Values = dict[str, object]


def house_record(plan: HousePlan) -> Values:
    """Everything that is known of a house as plain values; numbers that are not known are NaN."""
    tables = {name: table_rows(plan, name) for name in TABLES}
    return {
        "house": _house(plan),
        "storeys": list(_storeys(plan.house, plan.bays)),
        "bays": [_bay(plan.house, bay) for bay in plan.bays],
        "needs": [_need(need) for need in plan.needs],
        "set_by": plan.set_by.name,
        "layouts": [_layout(plan, layout, tables) for layout in plan.layouts],
        "items": [{"key": item.key, "name": item.name, "basis": item.basis} for item in ITEMS],
        "pressure_test": {
            "pressure_bar": proof_pressure(),
            "design_bar": RELIEF,
            "minutes": TEST_MINUTES,
        },
        "ask": ASK,
        "solves": plan.solves,
        "asked": plan.asked,
        "taken_up": plan.taken_up,
        "curves_miss_percent": curves_miss(plan),
    }


def outline_record(house: House, placed: Sequence[PlacedRoom]) -> Values:
    """The plan with bays and circuits, known before anything is solved; `placed` as `check_house` gives it."""
    house, bays = with_outlines(house, placed), [bay for room in placed for bay in room.bays]
    circuits = [(room.room, circuit) for room in placed for circuit in room.split.circuits]
    return {
        "house": {"title": house.title or house.name, "north_degrees": house.design.north},
        "storeys": list(_storeys(house, bays)),
        "bays": [_bay(house, bay) for bay in bays],
        "circuits": [
            {"circuit": circuit.name, "room": room.name, "manifold": room.manifold,
             "bays": " ".join(bay.name for bay in circuit.bays), "way_m": _way(circuit.way)}
            for room, circuit in circuits
        ],
    }  # fmt: skip


def _house(plan: HousePlan) -> Values:
    house, design = plan.house, plan.house.design
    titles = {variant.name: variant.title for variant in house.variants}
    return {
        "name": house.name,
        "title": house.title or house.name,
        "variant": plan.variant,
        "variant_title": titles.get(plan.variant, ""),
        "outdoor_C": design.outdoor - ZERO_CELSIUS,
        "north_degrees": design.north,
        "shutdown_C": None if design.shutdown is None else design.shutdown - ZERO_CELSIUS,
        "drop_K": design.drop,
        "glycol_percent": 100.0 * design.glycol,
        "water_limit_C": design.water_limit - ZERO_CELSIUS,
    }


def _storeys(house: House, bays: Sequence[PlacedBay]) -> Iterator[Values]:
    """Rooms and manifolds by storey, in the order of the file."""
    for storey in dict.fromkeys(room.storey for room in house.rooms):
        yield {
            "name": storey,
            "rooms": [
                {
                    "name": room.name,
                    "title": room.title,
                    "x_m": _extent(room.x, room.width),
                    "y_m": _extent(room.y, room.depth),
                    "outline_m": room_loops(room_parts(room, [bay for bay in bays if bay.room == room.name])),
                }
                for room in house.rooms
                if room.storey == storey
            ],
            "manifolds": [
                {"name": manifold.name, "x_m": manifold.x, "y_m": manifold.y}
                for manifold in house.manifolds
                if manifold.storey == storey
            ],
        }


def _extent(start: float | None, size: float | None) -> list[float]:
    """From and to [m]; a settled house has both."""
    low = float(start or 0.0)
    return [low, low + float(size or 0.0)]


def _bay(house: House, bay: PlacedBay) -> Values:
    return {
        "name": bay.name,
        "room": bay.room,
        "storey": house.room(bay.room).storey,
        "x_m": list(bay.x),
        "y_m": list(bay.y),
        "along": bay.along,
        "entry": bay.entry,
        "runs": bay.runs,
        "joists": bay.joists,
        "blocked": [
            {"from_m": stretch.start, "to_m": stretch.end, "why": stretch.why, "passes": stretch.passes}
            for stretch in bay.blocked
        ],
    }


def _need(need: RoomNeed) -> Values:
    return {
        "room": need.name,
        "title": need.title,
        "room_C": need.temperature - ZERO_CELSIUS,
        "load_W": need.load.total,
        "load_parts": [{"what": what, "load_W": watts} for what, watts in need.load.parts],
        "from_above_W": need.from_above,
        "area_m2": need.area,
        "flux_W_m2": need.flux,
        "spacing_mm": None if need.spacing is None else 1e3 * need.spacing,
        "mean_water_C": need.mean_water - ZERO_CELSIUS,
        "supply_C": need.supply - ZERO_CELSIUS,
        "note": need.note,
        "limit": need.limit,
        "limit_supply_C": need.limit_supply - ZERO_CELSIUS,
        "limit_output_W": need.limit_output,
    }


def _layout(plan: HousePlan, layout: SourceLayout, tables: dict[str, list[Values]]) -> Values:
    name = layout.source.name
    own = {table: [row for row in rows if row["source"] == name] for table, rows in tables.items()}
    quantities = take_off(plan, layout)
    return {
        "source": name,
        "kind": layout.source.kind,
        "about": layout.source.source,
        "why_hottest": layout.why_hottest,
        "return_C": layout.returning - ZERO_CELSIUS,
        "summary": own.pop("sources")[0],
        **own,
        "circuits": [
            row | _flow_words(circuit.flow) | {"way_m": _way(circuit.flow.circuit.way)}
            for row, circuit in zip(own["circuits"], layout.circuits, strict=True)
        ],
        "bay_types": bay_types(layout),
        "verdict": _told(layout),
        "manifolds": [_manifold(manifold) for manifold in layout.manifolds],
        "findings": [
            {"what": finding.what, "kept": finding.kept, "text": finding.text, "text_ip": finding.text_ip}
            for finding in layout.findings
        ],
        "spacings": [row for room in layout.rooms for row in _spacings(room)],
        "limits": [row for room in layout.rooms for row in _limits(room, room.verdicts)],
        "limits_open": [row for room in layout.rooms for row in _limits(room, room.open_verdicts)],
        "quantities": {room: amounts.as_dict() for room, amounts in (*quantities.rooms, ("total", quantities.total))},
        "cautions": {units: [told.as_dict() for told in house_cautions(layout, units)] for units in ("si", "ip")},
    }


def _told(layout: SourceLayout) -> Values:
    """What the layout comes to, as values and in words."""
    found = verdict(layout)
    return {
        **found,
        "in_words": in_words(found, plainly),
        "weather_in_words": weather_words(found),
    }


def _limits(room: RoomResult, verdicts: Iterable[Verdict]) -> Iterator[Values]:
    """Limits of a room, held or with its valve left open."""
    for held in verdicts:
        yield {"room": room.need.name} | held.as_dict()


def _flow_words(flow: CircuitFlow) -> Values:
    """What the last bay misses, and which kind of flow the Reynolds number means."""
    unsure = "unsure" if flow.reynolds < TURBULENT_START else "turbulent"
    regime = "laminar" if flow.reynolds <= STEADY_END else unsure
    return {"last_less_percent": 100.0 * (1.0 - flow.end_share), "regime": regime}


def _way(way: Way | None) -> Values | None:
    """The corners of a circuit's tube, (x, y, height above the bays): there, in the bays, and back."""
    if way is None:
        return None
    inside = [point for part in way.bays for point in part]
    return {"out": way.out, "bays": inside, "back": way.back}


def _manifold(manifold: ManifoldResult) -> Values:
    water = manifold.water
    return {
        "manifold": manifold.name,
        "storey": manifold.storey,
        "supply_C": manifold.supply - ZERO_CELSIUS,
        "circuits": [circuit.circuit.name for circuit in water.circuits],
        "ports": len(water.circuits),
        "flow_l_min": 6e4 * water.volume_flow,
        "head_kPa": water.head / 1e3,
        "upstream_kPa": water.upstream / 1e3,
        "hydraulic_W": water.hydraulic_power,
        "heat_W": water.heat,
        "return_C": water.returning - ZERO_CELSIUS,
        "set_by": water.setting.circuit.name,
        "spread_percent": 100.0 * water.spread,
        "balanced": water.balanced,
    }


def _spacings(room: RoomResult) -> Iterator[Values]:
    """Plate spacings that were weighed for a room, and the supply that each needs."""
    for spacing, supply, works in room.spacings:
        yield {
            "room": room.need.name,
            "spacing_mm": None if spacing is None else 1e3 * spacing,
            "supply_C": supply - ZERO_CELSIUS,
            "works": works,
        }

"""The tables of a solved house: the lines of each, every column with its unit."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import partial

from sim.case.constants import ZERO_CELSIUS
from sim.house.filling import Filling
from sim.house.layout import CircuitResult, RoomResult, SolvedHouse, SourceLayout
from sim.house.manifold import equal_percentage_opening, valve_setting
from sim.house.ordering import coils_of, filling_of
from sim.house.place import plates_in
from sim.house.prices import material_cost
from sim.house.quantities import take_off
from sim.house.season import SeasonResult
from sim.results.people import Units

TABLES = ("rooms", "remedies", "sources", "circuits", "bays", "coils", "outdoor")
"""Their names."""

Row = dict[str, object]

_SURFACE = ("surface_mean_C", "surface_peak_C", "surface_trough_C", "ripple_K", "covering_peak_C", "sheathing_peak_C")


def table_rows(plan: SolvedHouse, name: str, units: Units = "si") -> list[Row]:
    """The lines of one table of `TABLES` in SI, each column with its unit; notes speak in `units`."""
    makers: dict[str, Callable[[SolvedHouse, SourceLayout], Iterator[Row]]] = {
        "rooms": _rooms,
        "remedies": _remedies,
        "sources": _sources,
        "circuits": partial(_circuits, units=units),
        "bays": _bays,
        "coils": _coils,
        "outdoor": _outdoor,
    }
    return [{"source": layout.source.name} | row for layout in plan.layouts for row in makers[name](plan, layout)]


def celsius(kelvin: float) -> float:
    """A temperature [°C]."""
    return kelvin - ZERO_CELSIUS


def millimetres(length: float | None) -> float | str:
    """A length [mm]; of plates that are not there the word "none"."""
    return "none" if length is None else 1000.0 * length


def _rooms(plan: SolvedHouse, layout: SourceLayout) -> Iterator[Row]:
    for room in layout.rooms:
        yield _room(room)


def _room(room: RoomResult) -> Row:
    need = room.need
    return {
        "room": need.name,
        "title": need.title,
        "room_C": celsius(need.temperature),
        "load_W": need.load.total,
        "from_above_W": need.from_above,
        "area_m2": need.area,
        "flux_W_m2": need.flux,
        "plates_spacing_mm": millimetres(need.spacing),
        "needed_mean_water_C": celsius(need.mean_water),
        "needed_supply_C": celsius(need.supply),
        "mean_water_C": celsius(room.mean_water),
        "available_W": room.available,
        "output_W": room.output,
        "shortfall_W": room.shortfall,
        "down_W": room.down,
        "down_to": room.down_to,
        "edge_W": room.edge,
        **{key: room.report.get(key, math.nan) for key in _SURFACE},
        "limits_broken": "; ".join(verdict.limit.what for verdict in room.verdicts if not verdict.kept),
    }


def _remedies(plan: SolvedHouse, layout: SourceLayout) -> Iterator[Row]:
    for room in layout.rooms:
        for remedy in room.remedies:
            yield {
                "room": room.need.name,
                "remedy": remedy.what,
                "remedy_ip": remedy.what_ip,
                "output_W": remedy.output,
                "gain_W": remedy.gain,
                "enough": "yes" if remedy.enough else "no",
                "note": remedy.note,
            }


def _sources(plan: SolvedHouse, layout: SourceLayout) -> Iterator[Row]:
    yield {
        "supply_C": celsius(layout.supply),
        "hottest_allowed_C": celsius(layout.hottest),
        "drop_K": layout.drop,
        "set_by": layout.set_by,
        "plates": layout.plates,
        "tube_m": layout.tube,
        "heat_W": layout.heat,
        "heat_open_W": layout.heat_open,
        "down_lost_W": layout.down_lost,
        "edge_W": layout.edge,
        "shortfall_W": layout.shortfall,
        "efficiency_or_cop": layout.ratio,
        "energy_W": layout.energy,
        **_season(layout.season),
        **_filled(filling_of(plan, layout)),
        "material_cost": material_cost(take_off(plan, layout).total, plan.house.prices),
        "not_kept": "; ".join(finding.what for finding in layout.findings if not finding.kept),
    }


def _filled(found: Filling) -> Row:
    """Water, glycol and vessel."""
    return {
        "fill_l": 1e3 * found.volume,
        "glycol_l": 1e3 * found.glycol,
        "expansion_l": 1e3 * found.expansion,
        "vessel_l": 1e3 * found.vessel,
        "vessel_gas_bar": found.gas_pressure,
    }


def _coils(plan: SolvedHouse, layout: SourceLayout) -> Iterator[Row]:
    """Coils to buy, and where each is cut."""
    for coil in coils_of(plan, layout):
        yield {
            "coil_m": coil.length,
            "circuits": " ".join(name for name, _ in coil.pieces),
            "cut_m": " ".join(f"{metres:.2f}" for _, metres in coil.pieces),
            "left_m": coil.left,
        }


def _season(season: SeasonResult | None) -> Row:
    """A heating season; NaN where it is not known."""
    return {
        "season_climate": season.climate if season else "",
        "season_heat_kWh": season.heat if season else math.nan,
        "season_energy_kWh": season.energy if season else math.nan,
        "season_efficiency_or_cop": season.ratio if season else math.nan,
        "season_backup_kWh": season.backup if season else math.nan,
        "season_not_given_by_floors_kWh": season.unmet if season else math.nan,
        "season_cycling_h": season.cycling if season else math.nan,
        "season_cost": season.cost if season and season.cost is not None else math.nan,
    }


def _circuits(plan: SolvedHouse, layout: SourceLayout, units: Units) -> Iterator[Row]:
    throttles = {
        throttle.name: throttle for manifold in layout.manifolds for throttle in manifold.water.throttles()
    }
    for circuit in layout.circuits:
        flow, throttle = circuit.flow, throttles[circuit.name]
        yield {
            "circuit": circuit.name,
            "room": circuit.room,
            "manifold": circuit.manifold,
            "bays": " ".join(bay.name for bay in circuit.bays),
            "length_m": flow.circuit.length,
            "leaders_m": flow.circuit.leaders,
            "heat_W": flow.heat,
            "flow_l_min": 6e4 * flow.volume_flow,
            "velocity_m_s": flow.velocity,
            "reynolds": flow.reynolds,
            "supply_C": celsius(flow.design.supply),
            "return_C": celsius(flow.returning),
            "head_kPa": flow.head / 1e3,
            "valve_takes_kPa": throttle.excess / 1e3,
            "valve_kv_m3_h": throttle.kv,
            "valve_opening_percent": _opening(throttle.kv, plan.house.design.valve_kvs),
            "holes": circuit.crossings,
            "purges_itself": "yes" if flow.purges_itself else "no",
            "notes": "; ".join(flow.notes(units)),
        }


def _opening(kv: float, kvs: float | None) -> float:
    """How far an equal-percentage valve is open [%]; NaN where the house names no valve."""
    if kvs is None:
        return math.nan
    return 100.0 * equal_percentage_opening(valve_setting(kv, kvs), kvs)


def _bays(plan: SolvedHouse, layout: SourceLayout) -> Iterator[Row]:
    for circuit in layout.circuits:
        yield from _schedule(layout, circuit)


def _schedule(layout: SourceLayout, circuit: CircuitResult) -> Iterator[Row]:
    """The bays of a circuit in the order of the water."""
    case = layout.room(circuit.room).case
    rows = zip(circuit.bays, circuit.flow.circuit.bays, circuit.flow.bays, strict=True)
    laid = circuit.flow.circuit.out
    for number, (bay, tube, water) in enumerate(rows, start=1):
        begin, laid = laid, laid + tube.laid
        yield {
            "bay": bay.name,
            "room": bay.room,
            "circuit": circuit.name,
            "water_order": number,
            "pull_order": circuit.pulling.index(bay.name) + 1,
            "runs": bay.runs,
            "length_m": bay.length,
            "heated_m": bay.heated,
            "tube_m": tube.laid,
            "mark_in_m": begin,
            "mark_out_m": laid,
            "plates": plates_in(bay, case),
            "water_in_C": celsius(water.entering),
            "water_mean_C": celsius(water.mean),
            "water_out_C": celsius(water.leaving),
            "heat_W": water.heat,
            "heat_lost_to_obstacles_W": tube.heat_per_metre * bay.runs * (bay.length - bay.heated),
            "blocked_by": "; ".join(stretch.why for stretch in bay.blocked),
        }


def _outdoor(plan: SolvedHouse, layout: SourceLayout) -> Iterator[Row]:
    for point in layout.outdoor:
        yield {
            "outdoor_C": celsius(point.outdoor),
            "supply_C": celsius(point.supply),
            "return_C": celsius(point.returning),
            "load_W": point.load,
            "output_W": point.output,
            "heat_W": point.heat,
            "efficiency_or_cop": point.ratio,
            **{f"{name}_load_W": load for name, load, _ in point.rooms},
            **{f"{name}_output_W": output for name, _, output in point.rooms},
            "not_kept": "; ".join(finding.what for finding in point.findings if not finding.kept),
        }

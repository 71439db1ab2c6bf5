"""An invented house of two rooms as a HousePlan of the real classes: nothing is solved, its numbers are made up."""

from dataclasses import replace
from types import SimpleNamespace

from sim.case.load import load_case
from sim.house.circuit_flow import Operation, run_circuit
from sim.house.circuits import pulling_order
from sim.house.curve import Curve
from sim.house.loads import Load
from sim.house.manifold import join_circuits
from sim.house.place import circuit_of
from sim.house.placed import PlacedBay, Stretch
from sim.house.plan import (
    CircuitResult,
    HousePlan,
    ManifoldResult,
    OutdoorPoint,
    Remedy,
    RoomNeed,
    RoomResult,
    SourceLayout,
)
from sim.house.sources import load_sources
from sim.house.suitable import suits
from sim.rules.limits import hold, limits_for
from sim.study.characteristic import Characteristic

C = 273.15
REPORT = {
    "surface_mean_C": 25.0,
    "surface_peak_C": 26.1,
    "surface_trough_C": 23.9,
    "ripple_K": 2.2,
    "covering_peak_C": 26.1,
    "sheathing_peak_C": 43.0,
    "joist_peak_C": 37.0,
    "cavity_air_C": 33.0,
    "water_supply_C": 47.0,
    "water_mean_C": 46.0,
}
HOT = REPORT | {"surface_peak_C": 31.0, "covering_peak_C": 31.0}
ROOMS = (("R1", "Family room", 1134.0, 40.0), ("R2", "Kitchen <east>", 735.0, 0.0))


def placed_bays(number, name):
    """Four bays of 4 m along y; a duct in the third, and a cabinet at the far end of the fourth."""
    left = 4.0 * number
    ways = {2: (Stretch(1.0, 1.4, "duct"),), 3: (Stretch(3.0, 4.0, "cabinet"),)}
    return tuple(
        PlacedBay(f"{name}-{k + 1}", name, (left + 0.4 * k, left + 0.4 * k + 0.4), (0.0, 4.0), "y", "low", 2, 0,
                  ways.get(k, ()))
        for k in range(4)
    )


def _room(case, number):
    name, title, load, above = ROOMS[number]
    area = sum(bay.area for bay in placed_bays(number, name))
    excess = (6.0, 30.0, 65.0)
    law = Characteristic(case.name, 1.75, 1.03, excess, tuple(1.75 * each**1.03 for each in excess), 0.001)
    curve = Curve(law, (REPORT, REPORT, REPORT))
    parts = Load(load, (("walls", 400.0), ("outdoor air", load - 400.0)))
    need = RoomNeed(name, title, C + 20.0, parts, above, area, 0.225, C + 48.0 + number, C + 50.8 + number, curve)
    remedies = (
        Remedy(
            "plates every 210 mm instead of 225 mm", "plates every 8.27 in instead of 8.86 in", "plates.spacing",
            690.0, 14.0, False,
        ),
        Remedy("a third run", "a third run", "", float("nan"), float("nan"), False, "does not fit"),
    )
    given = load if number == 0 else 676.0
    limits = limits_for(case)
    return RoomResult(
        need=need,
        case=case,
        mean_water=C + 50.0,
        available=1.05 * load if number == 0 else 676.0,
        output=given,
        down=90.0,
        edge=5.0,
        down_to="",
        report=REPORT,
        verdicts=hold(limits, REPORT),
        open_verdicts=hold(limits, HOT if number == 0 else REPORT),
        remedies=() if number == 0 else remedies,
        spacings=((None, C + 66.0, False), (0.3, C + 53.0, True)),
    )


def _circuit(number, supply):
    name = ROOMS[number][0]
    bays = placed_bays(number, name)
    circuit = replace(circuit_of(bays, (3.0, -0.5, 0.0), 12.0), name=f"{name}.1")
    flow = run_circuit(circuit, Operation(supply, C + 20.0, excess=30.0, drop=5.6))
    return CircuitResult(name, "G", flow, bays, pulling_order(circuit))


def _layout(case, source, supply):
    circuits = tuple(_circuit(number, supply) for number in range(2))
    manifold = ManifoldResult("G", "ground", (3.0, -0.5), join_circuits([c.flow for c in circuits], upstream=9000.0))
    outdoor = tuple(
        OutdoorPoint(C + out, supply - fall, supply - fall - 4.0, load, 1.02 * load,
                     (("R1", 0.6 * load, 0.62 * load), ("R2", 0.4 * load, 0.4 * load)), 1.1 * load, ratio, ())
        for out, fall, load, ratio in ((-18.0, 0.0, 1829.0, 0.93), (1.0, 12.0, 915.0, float("nan")))
    )
    return SourceLayout(
        source=source,
        hottest=supply + 5.0,
        why_hottest="return below 54.4 °C, so that it condenses",
        supply=supply,
        drop=5.6,
        set_by="R2",
        rooms=tuple(_room(case, number) for number in range(2)),
        circuits=circuits,
        manifolds=(manifold,),
        outdoor=outdoor,
        findings=suits(source, supply, supply - 5.6, 2050.0),
        plates=200,
        tube=sum(circuit.flow.circuit.length for circuit in circuits),
        heat=2050.0,
        heat_open=2200.0,
        ratio=0.925,
    )


def invented_plan():
    """Two rooms, laid out for a condensing boiler and for a high-temperature boiler."""
    case, sources = load_case("cases/demo/family-oak.toml"), load_sources()
    rooms = tuple(
        SimpleNamespace(name=name, title=title, storey="ground", temperature=C + 20.0, x=4.0 * k, y=0.0, width=2.0,
                        depth=4.0, bays=(SimpleNamespace(x=4.0 * k, y=0.0, along="y", length=4.0, count=4),),
                        model_fields_set={"x", "y", "width", "depth"})
        for k, (name, title, _, _) in enumerate(ROOMS)
    )
    house = SimpleNamespace(
        name="invented",
        title="House & garden",
        path=None,
        prices=None,
        variants=(),
        design=SimpleNamespace(outdoor=C - 18.0, shutdown=C + 18.0, drop=5.6, glycol=0.0, water_limit=C + 71.1,
                               valve_kvs=2.0, coils=None, north=None, static_height=5.0, other_volume=None),
        manifolds=(SimpleNamespace(name="G", storey="ground", x=3.0, y=-0.5),),
        rooms=rooms,
        room=lambda name: next(room for room in rooms if room.name == name),
    )
    layouts = (
        _layout(case, sources["condensing boiler"], C + 53.0),
        _layout(case, sources["high-temperature boiler"], C + 55.0),
    )
    bays = tuple(bay for number in range(2) for bay in placed_bays(number, ROOMS[number][0]))
    needs = tuple(room.need for room in layouts[0].rooms)
    return HousePlan(house, "", bays, needs, layouts, 40, 60)

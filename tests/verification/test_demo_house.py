"""The demo house solved by the bay model: totals added up again from its file, beside hand estimates of the trade."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from sim.case.house_load import load_house
from sim.house.bay_solver import BaySolver
from sim.house.solve_house import HouseWish, solve_house, solve_needs

FILE = Path("cases/house/demo-house.toml")
LOADS = [room["load"] for room in tomllib.loads(FILE.read_text("utf-8"))["room"]]
TOTAL = 1134.0 + 735.0 + 572.0 + 1117.0 + 429.0
"""Loads of the file's five rooms [W], 3987 in the invented house's own table."""

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def solver(tmp_path_factory):
    return BaySolver(tmp_path_factory.mktemp("bays"))


@pytest.fixture(scope="module")
def plan(solver):
    return solve_house(load_house(FILE), solver, HouseWish(fineness="coarse"))


def test_loads_are_those_of_the_file():
    np.testing.assert_allclose(sum(float(load.removesuffix(" W")) for load in LOADS), TOTAL, rtol=1e-12, atol=0.0)


def test_every_watt_of_load_is_met_once_or_named(plan):
    # given upwards, or come down from the room above, or short
    for layout in plan.layouts:
        met = sum(room.output + room.need.from_above + room.shortfall for room in layout.rooms)
        np.testing.assert_allclose(met, TOTAL, rtol=1e-3, atol=0.0)
        above = sum(room.need.from_above for room in layout.rooms)
        kept = sum(room.down for room in layout.rooms if room.need.name in ("R4", "R5"))
        np.testing.assert_allclose(above, kept, rtol=1e-9, atol=0.0)
        lost = sum(room.down for room in layout.rooms if room.need.name in ("R1", "R2", "R3"))
        # upward heat and downward losses are all that the source gives: rooms over rooms lose nothing twice
        np.testing.assert_allclose(layout.heat, TOTAL - layout.shortfall + lost, rtol=1e-3, atol=0.0)


def test_fuel_and_electricity_by_hand(plan):
    hot, condensing, pump = plan.layouts
    # condensing, 53 °C: 93 % at 48.9 °C, 89 % at 82.2 °C: 0.93 − 0.04 × 4.1/33.3 = 0.92507
    np.testing.assert_allclose(condensing.energy, condensing.heat / 0.92507, rtol=1e-4, atol=0.0)
    # heat pump at -17.8 °C, colder than its points: second-law fractions of A-15 by hand, 2.3 × 50/308.15 = 0.37320 to
    # 35 °C and 1.6 × 70/328.15 = 0.34131 to 55 °C; at 45 °C 0.35725, times 318.15/62.78 K
    np.testing.assert_allclose(pump.energy, pump.heat / (0.35725 * 318.15 / 62.778), rtol=1e-4, atol=0.0)
    # the hot boiler makes 82 % at 60 °C and 80 % at 82 °C (invented)
    share = 0.82 - 0.02 * (hot.supply - 333.15) / 22.0
    np.testing.assert_allclose(hot.energy, hot.heat / share, rtol=1e-6, atol=0.0)


def test_tube_and_plates_of_the_family_room_by_hand(plan):
    layout = plan.layout("condensing boiler")
    # 13 bays of 14 ft, 16 in wide, two runs 184.15 mm apart and 60 mm short at both ends, through the duct; two
    # circuits, so eleven steps to the next bay
    bays = 26 * (4.2672 - 0.12) + 13 * 0.18415 + 11 * 0.22225
    circuits = [circuit for circuit in layout.circuits if circuit.room == "R1"]
    laid = sum(circuit.flow.circuit.length - circuit.flow.circuit.leaders for circuit in circuits)
    np.testing.assert_allclose(laid, bays, rtol=1e-9, atol=0.0)
    # manifold at (6.1, 4.2), 1 m of riser, bays entered at y = 4.2672: first and last runs of every circuit
    first = [int(circuit.bays[0].name.split("-")[1]) for circuit in circuits]
    last = [int(circuit.bays[-1].name.split("-")[1]) for circuit in circuits]
    ends = [0.1 + 0.4064 * (n - 1) + 0.111125 for n in first] + [0.1 + 0.4064 * (n - 1) + 0.295275 for n in last]
    leaders = sum(6.1 - x + 0.0672 + 0.06 + 1.0 for x in ends)
    np.testing.assert_allclose(sum(c.flow.circuit.leaders for c in circuits), leaders, rtol=1e-9, atol=0.0)


# Mean water for the whole load, hand estimates of the invented house: attached thin plates, ±20 % of the excess
@pytest.mark.parametrize(("name", "mean"), [("R1", 48.0), ("R2", 51.0), ("R3", 49.0), ("R4", 61.0), ("R5", 62.0)])
def test_needed_water_beside_hand_estimates(plan, name, mean):
    need = next(need for need in plan.needs if need.name == name)
    got = need.curve.excess_for(need.load.total / need.area)
    np.testing.assert_allclose(got, mean - (need.temperature - 273.15), rtol=0.2, atol=0.0)


def test_carpet_and_bathroom_set_the_water(plan):
    # hand estimate: the carpeted bedroom and the bathroom need by far the hottest water, 61 and 62 °C
    order = [need.name for need in sorted(plan.needs, key=lambda need: need.supply)]
    assert set(order[-2:]) == {"R4", "R5"}
    assert plan.layout("heat pump").shortfall > plan.layout("condensing boiler").shortfall > 0.0


# The same with bright plates hung 50 mm below the sheathing: ±35 %
HUNG = {"R1": 63.0, "R2": 69.0, "R3": 65.0, "R4": 74.0}


def test_hung_plates_need_hotter_water(plan, solver):
    hung = solve_needs(load_house(FILE), solver, HouseWish("hung-bright", "coarse"))
    for own, other in zip(plan.needs, hung, strict=True):
        if own.name in HUNG:
            got = other.curve.excess_for(own.load.total / own.area)
            np.testing.assert_allclose(got, HUNG[own.name] - (own.temperature - 273.15), rtol=0.35, atol=0.0)
            assert got > own.curve.excess_for(own.load.total / own.area)


@pytest.mark.parametrize("variant", ["hung-dark", "no-insulation", "heavy-plates", "one-run"])
def test_the_other_variants_can_be_solved(variant, solver):
    needs = solve_needs(load_house(FILE), solver, HouseWish(variant, "coarse"))
    assert all(need.supply > need.temperature or need.note for need in needs)

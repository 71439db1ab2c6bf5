"""A small house solved: heat counted once, totals added up again, alike bays once, shortfalls and their remedies."""

import pickle

import numpy as np
import pytest
from house_cases import small

import joistbay
import sim
from sim.case.errors import CaseError
from sim.house.bay_solver import BaySolver
from sim.house.loads import design_load
from sim.house.place import with_flows
from sim.house.solve_house import HouseWish, check_house, solve_house, solve_needs

CELSIUS = 273.15
COARSE = HouseWish(fineness="coarse")


@pytest.fixture(scope="module")
def solver(tmp_path_factory):
    return BaySolver(tmp_path_factory.mktemp("bays"))


@pytest.fixture(scope="module")
def plan(solver):
    return solve_house(small(), solver, COARSE)


@pytest.fixture(scope="module")
def warm(plan):
    return plan.layout("condensing boiler")


@pytest.fixture(scope="module")
def cool(plan):
    return plan.layout("heat pump")


def test_every_room_gets_its_load_as_written(plan):
    for need in plan.needs:
        flux = need.curve.flux(need.mean_water - need.temperature)
        # what was found by solving lies on the curve, within 1 % where its flow turns from laminar to turbulent
        np.testing.assert_allclose(flux * need.area, need.load.total - need.from_above, rtol=1e-2, atol=0.0)


def test_downward_heat_is_counted_once(warm):
    below, upper = warm.room("A"), warm.room("U")
    assert upper.down_to == "A"
    assert upper.down > 10.0
    np.testing.assert_allclose(below.need.from_above, upper.down, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(below.output + upper.down, 280.0, rtol=1e-3, atol=0.0)
    assert warm.room("B").need.from_above == 0.0


def test_the_source_gives_the_loads_and_what_is_lost(warm):
    # with every load met, what the water gives is what the rooms lose and what goes down for good
    assert warm.shortfall == 0.0
    lost = warm.room("A").down + warm.room("B").down
    np.testing.assert_allclose(warm.down_lost, lost, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(warm.heat, 280.0 + 270.0 + 430.0 + lost, rtol=1e-3, atol=0.0)


def test_output_over_load_as_the_neediest_room_sets_the_supply(plan, warm):
    neediest = max(warm.rooms, key=lambda room: room.need.supply)
    assert warm.set_by == neediest.need.name
    np.testing.assert_allclose(warm.supply, neediest.need.supply, rtol=1e-12, atol=0.0)
    for room in warm.rooms:
        assert room.available >= room.output * (1.0 - 1e-2)


def test_circuits_carry_the_heat_of_open_valves(warm):
    for room in warm.rooms:
        circuits = [circuit for circuit in warm.circuits if circuit.room == room.need.name]
        report = room.need.curve.report(room.mean_water - room.need.temperature)
        all_ways = report["heat_flux_up_W_m2"] + report["heat_flow_down_W"] / report["floor_area_m2"]
        given = sum(circuit.flow.heat for circuit in circuits)
        np.testing.assert_allclose(given, all_ways * room.need.area, rtol=1e-3, atol=0.0)
        for circuit in circuits:
            flow = circuit.flow
            capacity = flow.mass_flow * float(flow.fluid.specific_heat)
            np.testing.assert_allclose(capacity * 5.0, flow.heat, rtol=1e-6, atol=0.0)
    np.testing.assert_allclose(warm.tube, sum(c.flow.circuit.length for c in warm.circuits), rtol=1e-12, atol=0.0)


def test_the_widest_spacing_that_works_is_taken(warm, cool):
    for layout in (warm, cool):
        for room in layout.rooms:
            spacings = [spacing for spacing, _, _ in room.spacings]
            assert spacings == [None, 0.235]
            working = [spacing for spacing, _, works in room.spacings if works]
            assert room.need.spacing == (working[0] if working else 0.235)
            supplies = [supply for _, supply, _ in room.spacings]
            # wider needs hotter water, or is out of reach (NaN)
            assert not supplies[0] <= supplies[1]


def test_reset_and_load_by_hand(warm):
    cold, mild = warm.outdoor
    np.testing.assert_allclose(cold.supply, warm.supply, rtol=1e-9, atol=0.0)
    # at 1 °C half of the 38 K: T = 20 + (T_design − 20) × 0.5^(1/1.1) = 20 + 0.532525 (T_design − 20)
    design = warm.supply - 293.15
    np.testing.assert_allclose(mild.supply - 293.15, 0.532525 * design, rtol=1e-5, atol=0.0)
    upper = next(load for name, load, _ in mild.rooms if name == "U")
    np.testing.assert_allclose(upper, 215.0, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(cold.heat, warm.heat, rtol=1e-2, atol=0.0)
    # flows stay: the water falls by the same share of what it is above the rooms (all at 20 °C)
    np.testing.assert_allclose(mild.supply - mild.returning, 5.0 * 0.532525, rtol=1e-5, atol=0.0)


def test_a_room_falls_short_with_cool_water(cool):
    assert cool.supply == 42.0 + CELSIUS
    upper = cool.room("U")
    assert upper.need.supply > cool.supply
    np.testing.assert_allclose(upper.shortfall, 430.0 - upper.available, rtol=1e-12, atol=0.0)
    assert upper.shortfall > 30.0
    np.testing.assert_allclose(upper.output, upper.available, rtol=1e-12, atol=0.0)


def test_remedies_are_what_the_model_says(cool):
    upper = cool.room("U")
    keys = {remedy.key for remedy in upper.remedies}
    assert {"plates.spacing", "floor.covering[0].thermal_resistance"} <= keys
    thinner = next(r for r in upper.remedies if r.key == "floor.covering[0].thermal_resistance")
    # the same change solved apart: half of 19 mm / 0.16 W/mK, at the supply that has that mean over the pitch
    values = {"floor.covering[0].thermal_resistance": 0.019 / 0.16 / 2, "water.supply": upper.mean_water}
    flux = sim.solve(upper.case.with_(**values)).report["heat_flux_up_W_m2"]
    np.testing.assert_allclose(thinner.output, flux * upper.need.area, rtol=3e-3, atol=0.0)
    np.testing.assert_allclose(thinner.gain, thinner.output - upper.output, rtol=1e-9, atol=1e-9)
    assert all(remedy.enough == (remedy.output >= 0.995 * 430.0) for remedy in upper.remedies)


def test_alike_bays_are_solved_once(plan, solver, tmp_path):
    # A and B have the same bay with the same flow, U another: two curves of four solves, asked for three times
    assert plan.asked > plan.solves
    house = small()
    placed, _ = check_house(house, COARSE)
    flowing = with_flows(house, placed, [design_load(house, room) for room in house.rooms])
    fresh = BaySolver(tmp_path)
    fresh.curves([room.case for room in flowing])
    assert (fresh.made, fresh.asked) == (8, 12)


def test_what_was_solved_is_taken_up(plan, solver):
    again = BaySolver(solver.store)
    outcomes = []
    again.batch = lambda what, count: outcomes.append
    again.curves([plan.layouts[0].room("U").case])
    assert [outcome.reused for outcome in outcomes] == [True]


def test_needs_alone_are_those_of_the_plan(plan, solver):
    for alone, need in zip(solve_needs(small(), solver, COARSE), plan.needs, strict=True):
        np.testing.assert_allclose(alone.supply, need.supply, rtol=1e-12, atol=0.0)


def test_a_drop_that_no_water_allows_is_named_before_a_solve(tmp_path):
    fresh = BaySolver(tmp_path)
    with pytest.raises(CaseError, match=r"water of 24 °C .* cannot fall by 5 K .* above room A, B, U"):
        solve_house(small(('supply = "42 degC"', 'supply = "24 degC"')), fresh, COARSE)
    assert fresh.asked == 0


HOPELESS = ('load = "430 W"', 'load = "900 W"')
"""Oak at its surface, 26.7 °C at most, does not let the upper room's floor give so much."""


@pytest.fixture(scope="module")
def hopeless_house(solver):
    return solve_house(small(HOPELESS), solver, COARSE)


@pytest.fixture(scope="module")
def hopeless(hopeless_house):
    return hopeless_house.layout("condensing boiler")


def test_a_hopeless_room_does_not_drive_a_cool_source_to_its_hottest_either(hopeless_house):
    """Its floor's limit asks for hotter water than the heat pump makes; still others set the water."""
    layout = hopeless_house.layout("heat pump")
    upper = layout.room("U")
    assert upper.need.limit_supply > layout.hottest
    assert layout.set_by in ("A", "B") and not upper.has_say
    assert upper.mean_water < layout.supply and upper.shortfall > 0.0


def test_a_hopeless_room_does_not_set_the_water(hopeless, warm):
    upper = hopeless.room("U")
    assert hopeless.set_by in ("A", "B") and not upper.has_say
    assert hopeless.supply < upper.need.limit_supply < 58.0 + CELSIUS
    # it keeps its limit, says what it can give, and the rest is for a panel at that water
    assert all(verdict.kept for verdict in upper.verdicts)
    assert upper.available <= upper.need.limit_output < 900.0
    (panel,) = upper.remedies
    np.testing.assert_allclose(panel.gain, 900.0 - upper.available, rtol=1e-9, atol=0.0)
    assert f"{panel.gain:.0f} W with" in panel.what and f"{hopeless.supply - CELSIUS:.1f} °C, " in panel.what
    # what it sends down at that water is what the room below gets
    np.testing.assert_allclose(hopeless.room("A").need.from_above, upper.down, rtol=1e-9, atol=0.0)


def test_a_hopeless_room_that_has_a_say_asks_for_its_floors_limit(hopeless, solver):
    house = small(HOPELESS, ('name = "U"', 'name = "U"\nsets_water = true'))
    layout = solve_house(house, solver, COARSE).layout("condensing boiler")
    upper = layout.room("U")
    assert layout.set_by == "U"
    np.testing.assert_allclose(layout.supply, upper.need.limit_supply, rtol=1e-9, atol=0.0)
    assert all(verdict.kept for verdict in upper.verdicts)
    # at its limit the warmest spot is just about 26.7 °C (oak)
    np.testing.assert_allclose(upper.report["covering_peak_C"], 26.7, rtol=0.0, atol=0.1)
    assert upper.available > hopeless.room("U").available


def test_a_manifold_that_mixes_gets_no_more_than_its_rooms_need(solver):
    house = small(('name = "N"', 'name = "N"\nmixes = true'), ('load = "430 W"', 'load = "200 W"'))
    layout = solve_house(house, solver, COARSE).layout("condensing boiler")
    upper = next(manifold for manifold in layout.manifolds if manifold.name == "N")
    np.testing.assert_allclose(upper.supply, layout.room("U").need.supply, rtol=1e-9, atol=0.0)
    assert upper.supply < layout.supply


WRONG = [
    (HouseWish("thick"), (), "variant", "no variant of that name"),
    (HouseWish(), ('spacings = ["235 mm"', 'spacings = ["150 mm"'), "design.spacings[0]", "200 mm"),
    (HouseWish(), ('name = "heat pump"', 'name = "heat pmp"'), "source[1].name", "no such heat source"),
]


@pytest.mark.parametrize(("wish", "change", "key", "words"), WRONG)
def test_what_is_not_there_is_named(wish, change, key, words):
    with pytest.raises(CaseError) as error:
        check_house(small(*([change] if change else [])), wish)
    assert [problem.key for problem in error.value.problems] == [key]
    assert words in str(error.value)


def test_from_python_a_house_needs_nothing_else(plan, solver):
    """The same plan by the public name, its bays taken up from where they are kept."""
    found = joistbay.solve_house(small(), fineness="coarse", keep=solver.store)
    assert str(found) == str(plan) and found.solves == 0


def test_a_plan_shows_itself_short_and_as_tables(plan):
    assert len(repr(plan)) <= 600 and "heat pump" in repr(plan)
    html = plan._repr_html_()
    assert html.count("<table") == 1 + len(plan.layouts) and "heat pump" in html
    rooms = plan.to_pandas()
    assert len(rooms) == len(plan.layouts) * len(plan.house.rooms)
    assert rooms["load_W"].max() == max(need.load.total for need in plan.needs)
    with pytest.raises(ValueError, match='no table "loads"; there are rooms'):
        plan.to_pandas("loads")
    again = pickle.loads(pickle.dumps(plan))
    assert str(again) == str(plan)

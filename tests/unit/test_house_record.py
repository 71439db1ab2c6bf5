"""A house as plain values, and its cautions: on an invented house of two rooms."""

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from invented_house import invented_plan

from sim.house.cautions import house_cautions
from sim.house.record import house_record
from sim.store.texts import json_text


@pytest.fixture(scope="module")
def plan():
    return invented_plan()


@pytest.fixture(scope="module")
def record(plan):
    return json.loads(json_text(house_record(plan)))


def test_plan_of_the_storey(record):
    (storey,) = record["storeys"]
    assert [room["name"] for room in storey["rooms"]] == ["R1", "R2"]
    np.testing.assert_allclose(storey["rooms"][1]["x_m"], [4.0, 6.0], rtol=1e-12, atol=0.0)
    assert [manifold["name"] for manifold in storey["manifolds"]] == ["G"]
    third = next(bay for bay in record["bays"] if bay["name"] == "R1-3")
    assert third["blocked"] == [{"from_m": 1.0, "to_m": 1.4, "why": "duct", "passes": True}]
    assert third["storey"] == "ground"


def test_temperatures_are_celsius_and_what_is_not_known_is_null(record):
    layout = record["layouts"][0]
    np.testing.assert_allclose(record["house"]["outdoor_C"], -18.0, rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(layout["summary"]["supply_C"], 53.0, rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(layout["return_C"], 47.4, rtol=0.0, atol=1e-9)
    weighed = [(row["spacing_mm"], row["works"]) for row in layout["spacings"][:2]]
    assert weighed == [(None, False), (300.0, True)]
    np.testing.assert_allclose([row["supply_C"] for row in layout["spacings"][:2]], [66.0, 53.0], rtol=0.0, atol=1e-9)
    assert layout["outdoor"][1]["efficiency_or_cop"] is None
    assert layout["remedies"][1]["output_W"] is None


@pytest.mark.parametrize(("kelvin", "celsius"), [(288.15, 15.0), (None, None)])
def test_warm_weather_shutdown_is_celsius_or_null(plan, kelvin, celsius):
    design = SimpleNamespace(**vars(plan.house.design) | {"shutdown": kelvin})
    house = SimpleNamespace(**vars(plan.house) | {"design": design})
    told = house_record(replace(plan, house=house))["house"]["shutdown_C"]
    assert told == (None if celsius is None else pytest.approx(celsius))


def test_flow_times_head_is_the_hydraulic_power(record):
    """1 l/min against 1 kPa is 1/60 W."""
    for row in record["layouts"][0]["manifolds"]:
        np.testing.assert_allclose(row["flow_l_min"] * row["head_kPa"] / 60.0, row["hydraulic_W"], rtol=1e-9, atol=0.0)
        assert row["hydraulic_W"] > 0.0


def test_quantities_of_rooms_add_up_to_the_total(record):
    # runs 60 mm short at both ends, through the duct: 2 · (3 · 3.88 + 2.88), seven ways across of 0.2 m, and leaders of
    # 0.5 + 2.9 + 0.06 m there and 0.5 + 1.5 + 0.06 m back
    amounts = record["layouts"][0]["quantities"]
    np.testing.assert_allclose(amounts["R1"]["tube_m"], 29.04 + 1.4 + 3.46 + 2.06, rtol=1e-9, atol=0.0)
    for item in record["items"]:
        both = amounts["R1"][item["key"]] + amounts["R2"][item["key"]]
        np.testing.assert_allclose(amounts["total"][item["key"]], both, rtol=1e-9, atol=0.0)


def test_circuits_say_their_kind_of_flow(plan, record):
    for circuit, row in zip(plan.layouts[0].circuits, record["layouts"][0]["circuits"], strict=True):
        number = circuit.flow.reynolds
        words = {"laminar": number <= 2300, "turbulent": number >= 4000, "unsure": 2300 < number < 4000}
        assert words[row["regime"]]
        # exponential: a metre in the last bay over one in the first is as its water over the room
        first, last = circuit.flow.bays[0].mean - 293.15, circuit.flow.bays[-1].mean - 293.15
        np.testing.assert_allclose(row["last_less_percent"], 100.0 * (1.0 - last / first), rtol=1e-9, atol=0.0)


def test_pressure_test(record):
    # residential code: 100 psi = 6.9 bar for 15 minutes at least
    test = record["pressure_test"]
    np.testing.assert_allclose(test["pressure_bar"] * 14.503774, 100.0, rtol=2e-3, atol=0.0)
    assert test["minutes"] == 15


def test_limits_held_and_with_open_valves(record):
    layout = record["layouts"][0]
    assert all(limit["kept"] for limit in layout["limits"])
    broken = {(limit["room"], limit["key"]) for limit in layout["limits_open"] if not limit["kept"]}
    assert broken == {("R1", "surface_peak_C"), ("R1", "covering_peak_C")}


def test_cautions_are_told_once_for_all_rooms(plan):
    told = house_cautions(plan.layouts[0])
    subjects = [row.caution.subject for row in told]
    assert len(set(subjects)) == len(subjects)
    nails = next(row for row in told if row.caution.subject == "nails and screws")
    assert nails.about == ("R1", "R2")


def test_boiler_return_is_a_caution_where_it_is_too_cool(plan):
    # 55 °C less 5.6 K return at 49.4 °C: below the 54.4 °C (130 °F) at which flue gas condenses
    cool = {row.caution.subject: row for row in house_cautions(plan.layouts[1])}
    assert "heat source, return protected" in cool
    assert cool["heat source, return protected"].caution.broken
    assert "heat source, return protected" not in {row.caution.subject for row in house_cautions(plan.layouts[0])}


def test_slow_circuits_are_to_be_purged_by_themselves(plan):
    told = {row.caution.subject: row for row in house_cautions(plan.layouts[0])}
    assert told["purging"].about == ("R1.1", "R2.1")
    assert "0.60 m/s" in told["purging"].caution.text
    inch = {row.caution.subject: row for row in house_cautions(plan.layouts[0], "ip")}
    assert "1.97 ft/s" in inch["purging"].caution.text


def test_a_manifold_of_more_circuits_than_any_has_is_a_caution(plan):
    """Twelve pass; thirteen want two, twenty-five three."""
    from dataclasses import replace

    from sim.house.manifold import join_circuits

    layout = plan.layouts[0]
    (manifold,) = layout.manifolds

    def told(count):
        flow = layout.circuits[0].flow
        named = [replace(flow, circuit=replace(flow.circuit, name=f"R1.{number}")) for number in range(count)]
        water = join_circuits(named, upstream=9000.0)
        cautions = house_cautions(replace(layout, manifolds=(replace(manifold, water=water),)))
        return next((row for row in cautions if row.caution.subject == "manifold"), None)

    assert told(12) is None
    assert "13 circuits on one manifold" in told(13).caution.text and "hang 2 of them" in told(13).caution.text
    assert "hang 3 of them" in told(25).caution.text and told(25).about == ("G",)


def test_broken_limits_of_a_room_are_cautions(plan):
    from dataclasses import replace

    layout = plan.layouts[0]
    rooms = tuple(replace(room, verdicts=room.open_verdicts) for room in layout.rooms)
    told = house_cautions(replace(layout, rooms=rooms))
    broken = {row.caution.subject: row.about for row in told if row.caution.broken}
    assert broken["occupied floor"] == ("R1",)
    assert told[0].caution.broken


def test_marks_on_the_tube_by_hand(record):
    rows = [row for row in record["layouts"][0]["bays"] if row["circuit"] == "R1.1"]
    # 3.46 m of leader, two runs of 3.88 and 0.2 m; then over the joist and the same again
    marks = [value for row in rows[:2] for value in (row["mark_in_m"], row["mark_out_m"])]
    np.testing.assert_allclose(marks, [3.46, 11.42, 11.42, 19.58], rtol=1e-9, atol=0.0)
    # and home: 2.06 m
    np.testing.assert_allclose(rows[-1]["mark_out_m"] + 2.06, 35.96, rtol=1e-9, atol=0.0)

"""A manifold: pump duty, mixed return and balancing, re-added by hand."""

import math

import numpy as np
import pytest

from sim.house.circuit_flow import Operation, Pipe, run_circuit, valve_loss
from sim.house.circuits import Circuit, CircuitBay, CircuitError
from sim.house.manifold import equal_percentage_opening, join_circuits, valve_setting


def circuit(name, bays, heat=12.0, supply=323.15, drop=5.5, **more):
    parts = tuple(CircuitBay(f"{name}{number}", 10.0, heat, leader=3.0) for number in range(bays))
    return run_circuit(Circuit(name, parts), Operation(supply, 293.15, 27.0, drop=drop, **more))


def test_pump_meets_the_largest_head_and_the_sum_of_flows():
    circuits = [circuit("a", 5), circuit("b", 8), circuit("c", 6)]
    manifold = join_circuits(circuits, upstream=9000.0)
    assert manifold.setting.circuit.name == "b"
    np.testing.assert_allclose(manifold.head, circuits[1].head + 9000.0, rtol=1e-12, atol=0.0)
    flows = circuits[0].mass_flow + circuits[1].mass_flow + circuits[2].mass_flow
    np.testing.assert_allclose(manifold.mass_flow, flows, rtol=1e-12, atol=0.0)
    # 19 bays of 10 m × 12 W/m at 27 K, run at the logarithmic mean 5.5/ln(30/24.5) = 27.157 K
    np.testing.assert_allclose(manifold.heat, 190.0 * 12.0 * 27.1574 / 27.0, rtol=1e-5, atol=0.0)
    np.testing.assert_allclose(
        manifold.hydraulic_power, manifold.head * sum(c.volume_flow for c in circuits), rtol=1e-12, atol=0.0
    )


def test_every_circuit_loses_the_same_with_its_valve():
    circuits = [circuit("a", 4), circuit("b", 8), circuit("c", 6, heat=9.0)]
    manifold = join_circuits(circuits)
    for flow, throttle in zip(circuits, manifold.throttles(), strict=True):
        taken = 0.0 if math.isinf(throttle.kv) else valve_loss(flow.mass_flow, flow.fluid, throttle.kv)
        np.testing.assert_allclose(flow.head + taken, manifold.head, rtol=1e-9, atol=0.0)
    assert [math.isinf(throttle.kv) for throttle in manifold.throttles()] == [False, True, False]
    told = [flow.head + throttle.excess for flow, throttle in zip(circuits, manifold.throttles(), strict=True)]
    np.testing.assert_allclose(told, manifold.head, rtol=1e-12, atol=0.0)
    for flow, throttle in zip(circuits, manifold.throttles(), strict=True):
        assert (throttle.name, throttle.volume_flow) == (flow.circuit.name, flow.volume_flow)


def test_a_set_valve_gives_that_head():
    short, long = circuit("a", 4), circuit("b", 8)
    kv = join_circuits([short, long]).throttles()[0].kv
    set_right = run_circuit(short.circuit, short.design, Pipe(valve=kv))
    np.testing.assert_allclose(set_right.head, long.head, rtol=1e-9, atol=0.0)


def test_return_is_mixed_by_capacity():
    warm, cool = circuit("a", 6, drop=4.0), circuit("b", 6, drop=8.0)
    got = join_circuits([warm, cool]).returning
    # all the heat over all the water: supply − ΣQ/Σṁc
    capacity = sum(c.mass_flow * c.fluid.specific_heat for c in (warm, cool))
    np.testing.assert_allclose(got, 323.15 - (warm.heat + cool.heat) / capacity, rtol=0.0, atol=1e-9)
    assert cool.returning < got < warm.returning


def test_balance_within_ten_percent_of_length():
    # 8 bays 86 m, 7 bays 76 m: 12 % shorter
    assert not join_circuits([circuit("a", 8), circuit("b", 7)]).balanced
    assert join_circuits([circuit("a", 8), circuit("b", 8)]).balanced


def test_tree_names_the_circuit_that_sets_the_pump():
    assert "set by b" in str(join_circuits([circuit("a", 5), circuit("b", 8)]))


WRONG = {
    "no circuits": lambda: join_circuits([]),
    "two circuits of one name": lambda: join_circuits([circuit("a", 5), circuit("a", 6)]),
    "supply temperature or glycol": lambda: join_circuits([circuit("a", 5), circuit("b", 5, supply=313.15)]),
    "differ in": lambda: join_circuits([circuit("a", 5), circuit("b", 5, glycol=0.3)]),
    "upstream head": lambda: join_circuits([circuit("a", 5)], upstream=-1.0),
}


@pytest.mark.parametrize("words", WRONG)
def test_wrong_manifolds_are_named(words):
    with pytest.raises(CircuitError, match=words):
        WRONG[words]()


# Kv/Kvs = R^(h − 1): R = 50, h = 0.5 gives 50^(−1/2) = 0.141421; h = 0.9 gives 50^(−0.1) = 0.676243
OPENINGS = [(1.0, 1.0), (0.676243, 0.9), (0.141421, 0.5), (0.02, 0.0), (0.001, 0.0)]


@pytest.mark.parametrize(("share", "opening"), OPENINGS)
def test_equal_percentage_valve_by_hand(share, opening):
    np.testing.assert_allclose(equal_percentage_opening(2.0 * share, 2.0, 50.0), opening, rtol=0.0, atol=2e-6)


def test_equal_turns_are_equal_shares():
    steps = [equal_percentage_opening(1.5**-turn, 1.0) for turn in range(5)]
    np.testing.assert_allclose(np.diff(steps), steps[1] - steps[0], rtol=1e-9, atol=0.0)


@pytest.mark.parametrize("kv", [0.0, 1.1])
def test_a_valve_passes_no_more_than_open(kv):
    with pytest.raises(ValueError, match="at most Kvs"):
        equal_percentage_opening(kv, 1.0)


def test_a_valve_set_takes_its_own_loss_and_the_excess():
    # Kvs 1 loses 1 bar at 1 m³/h, kv 0.5 four: together 5 bar, Kv = 1/√5
    np.testing.assert_allclose(valve_setting(0.5, 1.0), 5.0**-0.5, rtol=1e-12, atol=0.0)
    assert valve_setting(float("inf"), 1.0) == 1.0

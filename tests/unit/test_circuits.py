"""Circuits: bays joined within a limit, even lengths, the order of pulling, and bays that cannot be joined."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.house.circuits import Circuit, CircuitBay, CircuitError, pulling_order, split_bays

few = settings(max_examples=60, deadline=None)


def row(tubes, leader=0.0, **more):
    return [CircuitBay(f"b{number}", tube, 10.0, leader=leader, **more) for number, tube in enumerate(tubes)]


bay_rows = st.lists(st.floats(2.0, 30.0), min_size=1, max_size=9)


@few
@given(bay_rows, st.floats(0.0, 10.0))
def test_every_bay_is_in_one_circuit_in_order_within_the_limit(tubes, leader):
    bays = row(tubes, leader)
    split = split_bays(bays)
    assert [bay for circuit in split.circuits for bay in circuit.bays] == bays
    assert max(circuit.length for circuit in split.circuits) <= 90.0 + 1e-6


def every_cut(bays, limit=90.0):
    """All ways to cut a row of bays into circuits within the limit, by trying them all."""
    inner = range(1, len(bays))
    for count in range(len(bays)):
        for cuts in combinations(inner, count):
            ends = (0, *cuts, len(bays))
            lengths = [
                sum(bay.laid for bay in bays[a:b]) + bays[a].leader + bays[b - 1].leader for a, b in pairwise(ends)
            ]
            if max(lengths) <= limit + 1e-9:
                yield lengths


@few
@given(bay_rows, st.lists(st.floats(0.0, 10.0), min_size=9, max_size=9))
def test_no_other_cut_is_more_even(tubes, leaders):
    bays = [CircuitBay(str(i), tube, 10.0, leader=leaders[i]) for i, tube in enumerate(tubes)]
    ways = list(every_cut(bays))
    fewest = min(len(lengths) for lengths in ways)
    split = split_bays(bays, spare=0)
    assert len(split.circuits) == fewest
    most_even = max(min(lengths) / max(lengths) for lengths in ways if len(lengths) == fewest)
    np.testing.assert_allclose(1.0 - split.spread, most_even, rtol=1e-9, atol=0.0)


def test_a_longer_longest_circuit_may_be_more_even():
    """Cuts by hand into two: 36 m and 61 m, 47 and 56, 57 and 56; the last is the evenest."""
    given = enumerate(((36, 0), (10, 1), (5, 6), (34, 11)))
    bays = [CircuitBay(str(i), tube, 10.0, leader=lead) for i, (tube, lead) in given]
    lengths = [circuit.length for circuit in split_bays(bays, longest=62.0, spare=0).circuits]
    assert lengths == [57.0, 56.0]


@few
@given(bay_rows)
def test_balanced_wherever_one_circuit_more_can_balance(tubes):
    bays = row(tubes, 3.0)
    ways = list(every_cut(bays))
    fewest = min(len(lengths) for lengths in ways)
    possible = any(min(way) >= (0.9 + 1e-9) * max(way) for way in ways if len(way) <= fewest + 1)
    split = split_bays(bays)
    assert split.balanced or not possible
    assert split.balanced or len(split.circuits) == fewest


@few
@given(st.integers(4, 40), st.floats(4.0, 12.0))
def test_like_bays_in_even_number_are_halved_exactly(half, tube):
    split = split_bays(row([tube] * (2 * half)), longest=tube * half)
    assert len(split.circuits) == 2
    np.testing.assert_allclose(split.spread, 0.0, rtol=0.0, atol=1e-9)


def test_a_circuit_may_reach_past_a_bay_with_long_leaders():
    """11 m a bay; to end at the middle one takes 35.9 m, to go on to the third 35 m."""
    bays = [CircuitBay(name, 11.0, 10.0, leader=leader) for name, leader in (("a", 1.9), ("b", 12.0), ("c", 0.1))]
    (circuit,) = split_bays(bays, 35.0).circuits
    assert circuit.length == pytest.approx(35.0)


def test_leaders_count_for_the_limit():
    # 8 × 10 m fits 90 m with 5 m there and 5 m back, and no more
    assert len(split_bays(row([10.0] * 8, leader=5.0), spare=0).circuits) == 1
    assert len(split_bays(row([10.0] * 8, leader=5.01), spare=0).circuits) == 2


def test_blocked_length_is_neither_laid_nor_heated():
    bay = CircuitBay("b", 10.0, 12.0, blocked=4.0)
    np.testing.assert_allclose([bay.laid, bay.heat, bay.lost], [6.0, 72.0, 48.0], rtol=1e-12, atol=0.0)


def test_idle_tube_is_laid_but_gives_no_heat():
    # 12 m laid of which 2 m are bends: 10 m × 5 W/m
    bay = CircuitBay("a", tube=12.0, heat_per_metre=5.0, idle=2.0)
    assert bay.laid == 12.0
    assert bay.heat == 50.0
    with pytest.raises(CircuitError, match="idle"):
        CircuitBay("a", tube=12.0, heat_per_metre=5.0, blocked=4.0, idle=9.0)


def test_a_long_row_of_bays_is_split_evenly():
    # 100 bays of 7 to 10 m: 90 m hold nine to eleven of them
    split = split_bays(row([7.0 + number % 4 for number in range(100)], leader=2.0))
    assert split.balanced
    assert len(split.circuits) == 10 or len(split.circuits) == 11


@pytest.mark.parametrize("count", range(1, 12))
def test_pulling_works_outward_one_half_then_the_other(count):
    names = [f"{number}" for number in range(count)]
    order = [int(name) for name in pulling_order(Circuit("C", tuple(CircuitBay(name, 9.0, 9.0) for name in names)))]
    assert sorted(order) == list(range(count))
    first, second = order[: (count + 1) // 2], order[(count + 1) // 2 :]
    assert first == sorted(first, reverse=True)
    assert second == sorted(second)
    assert not second or first[0] + 1 == second[0]


WRONG = {
    "no bays": lambda: split_bays([]),
    "overlap": lambda: split_bays([CircuitBay("a", 9, 9, across=(0, 0.41)), CircuitBay("b", 9, 9, across=(0.4, 0.8))]),
    "longer than a": lambda: split_bays([CircuitBay("a", 85, 9, leader=3.0)]),
    "heat_per_metre is -5": lambda: CircuitBay("a", 9, -5.0),
    "given twice": lambda: split_bays([CircuitBay("a", 9, 9), CircuitBay("a", 9, 9)]),
    "nothing is left": lambda: CircuitBay("a", 9, 9, blocked=9),
    "has no width": lambda: CircuitBay("a", 9, 9, across=(1.0, 1.0)),
    "tube is nan": lambda: CircuitBay("a", float("nan"), 9),
}


@pytest.mark.parametrize("words", WRONG)
def test_wrong_bays_are_named(words):
    with pytest.raises(CircuitError, match=words):
        WRONG[words]()


def test_bays_that_touch_do_not_overlap():
    bays = [CircuitBay("b", 9, 9, across=(0.4, 0.8)), CircuitBay("a", 9, 9, across=(0.0, 0.4))]
    assert len(split_bays(bays).circuits) == 1

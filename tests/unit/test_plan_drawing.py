"""The tube in the plan, corner by corner, on bays whose way is known by hand."""

from xml.etree import ElementTree

import numpy as np

from viz.plan_drawing import NUMBERS, draw_storey, named, tube_reach, tube_way


def bay(name, x, blocked=(), runs=2, entry="low", along="y"):
    ends = {"x_m": list(x), "y_m": [0.0, 4.0]} if along == "y" else {"x_m": [0.0, 4.0], "y_m": list(x)}
    rows = [dict(zip(("from_m", "to_m", "why", "passes"), row, strict=True)) for row in blocked]
    return ends | {"name": name, "along": along, "entry": entry, "runs": runs, "blocked": rows}


LOW, HIGH = 0.12, 4.0 - NUMBERS - 0.04


def test_two_runs_go_there_and_back_in_every_bay():
    way = list(tube_way([bay("a", (0.0, 0.4)), bay("b", (0.4, 0.8))]))
    # runs at a quarter and three quarters of each bay, the next bay entered along its near end
    np.testing.assert_allclose(
        way,
        [(0.1, LOW), (0.1, HIGH), (0.3, HIGH), (0.3, LOW)]
        + [(0.5, LOW), (0.5, LOW), (0.5, HIGH), (0.7, HIGH), (0.7, LOW)],
        rtol=0.0,
        atol=1e-12,
    )


def test_one_run_goes_up_one_bay_and_down_the_next():
    way = list(tube_way([bay("a", (0.0, 0.4), runs=1), bay("b", (0.4, 0.8), runs=1)]))
    np.testing.assert_allclose([place[1] for place in way], [LOW, HIGH, HIGH, HIGH, LOW], rtol=0.0, atol=1e-12)


def test_a_circuit_that_moves_the_other_way_begins_with_the_far_run():
    way = list(tube_way([bay("b", (0.4, 0.8)), bay("a", (0.0, 0.4))]))
    assert way[0][0] > way[2][0] > way[-1][0]


def test_bays_along_x_turn_the_plan():
    way = list(tube_way([bay("a", (0.0, 0.4), along="x")]))
    np.testing.assert_allclose(way[0], (LOW, 0.1), rtol=0.0, atol=1e-12)


def test_tube_turns_before_what_blocks_an_end():
    cabinet = bay("a", (0.0, 0.4), [(3.0, 4.0, "cabinet", False)])
    np.testing.assert_allclose(tube_reach(cabinet), (LOW, 2.94), rtol=0.0, atol=1e-12)
    both = bay("a", (0.0, 0.4), [(0.5, 3.0, "east wall", False), (3.0, 4.0, "north wall", False)])
    np.testing.assert_allclose(tube_reach(both), (LOW, 0.44), rtol=0.0, atol=1e-12)
    entry = bay("a", (0.0, 0.4), [(0.0, 0.9, "wardrobe", False)])
    np.testing.assert_allclose(tube_reach(entry), (0.96, HIGH), rtol=0.0, atol=1e-12)


def test_tube_passes_what_lets_it_pass_and_what_lies_inside():
    for blocked in ((3.0, 4.0, "island", True), (1.0, 1.4, "duct", False)):
        np.testing.assert_allclose(tube_reach(bay("a", (0.0, 0.4), [blocked])), (LOW, HIGH), rtol=0.0, atol=1e-12)


def test_a_manifold_outside_the_rooms_is_on_the_drawing():
    room = {"name": "A", "title": "A", "x_m": [0.0, 2.0], "y_m": [0.0, 4.0]}
    storey = {"name": "ground", "rooms": [room], "manifolds": [{"name": "M", "x_m": -2.0, "y_m": -3.0}]}
    root = ElementTree.fromstring(draw_storey({"storeys": [storey], "bays": []}, storey, [], "2 m"))
    label = next(text for text in root.iter("{http://www.w3.org/2000/svg}text") if text.text == "manifold M")
    for place, size in (("x", "width"), ("y", "height")):
        most = float(root.attrib["viewBox"].split()[2 if size == "width" else 3])
        assert 0.0 < float(label.attrib[place]) < most


def test_a_title_that_repeats_the_name_is_left_out():
    assert named("R1", "Study") == "R1  Study"
    assert named("A", "A") == named("A", "") == "A"

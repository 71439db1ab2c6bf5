"""The way of a circuit's tube: lengths against hand sums for six layouts, and what is drawn against what is counted.

Bays are 0.4 m wide and 4 m long, runs at 0.1 and 0.3 m, tube turns 60 mm before an end; the manifold stands 1 m before
the bays' low ends, at x = 0, its riser 0.5 m long.
"""

import re
from math import dist

import numpy as np
import pytest

from sim.house.place import circuit_of
from sim.house.placed import PlacedBay, Stretch
from sim.house.way import lay_way, length_of
from viz.plan_drawing import draw_storey
from viz.plan_frame import MARGIN, MOST_SCALE

MANIFOLD = (0.0, -1.0, 0.5)


def bay(number, *blocked, runs=2, entry="low"):
    x = (0.4 * number, 0.4 * number + 0.4)
    return PlacedBay(f"A-{number + 1}", "A", x, (0.0, 4.0), "y", entry, runs, 0, blocked)


def strip(number, joists=5):
    """Tube across: strips of 0.3 m, 2.4 m long along x."""
    return PlacedBay(f"S-{number + 1}", "S", (0.0, 2.4), (0.3 * number, 0.3 * number + 0.3), "x", "low", 1, joists)


def length(bays):
    return lay_way(bays, MANIFOLD).length


RUN = 4.0 - 2 * 0.06


def test_two_plain_bays():
    # four runs, three ways across of 0.2 m, leaders 0.5 + 1 + 0.06 and 0.1 or 0.7 across
    np.testing.assert_allclose(length([bay(0), bay(1)]), 4 * RUN + 3 * 0.2 + 2 * 1.56 + 0.1 + 0.7, rtol=1e-12, atol=0.0)


def test_a_bay_alone():
    # two runs and one way across of 0.2 m, at x = 0.1 and 0.3
    np.testing.assert_allclose(length([bay(0)]), 2 * RUN + 0.2 + 2 * 1.56 + 0.1 + 0.3, rtol=1e-12, atol=0.0)


def test_odd_number_of_single_runs_ends_at_the_far_end():
    # runs in the middle of three bays, two steps of 0.4 m; home from the far end: 0.06 to its wall, 1.0 across, 4 + 1
    # back to the manifold and 0.5 of riser
    bays = [bay(number, runs=1) for number in range(3)]
    wanted = 3 * RUN + 2 * 0.4 + (0.5 + 1.0 + 0.06 + 0.2) + (0.06 + 1.0 + 5.0 + 0.5)
    np.testing.assert_allclose(length(bays), wanted, rtol=1e-12, atol=0.0)
    # the second bay is entered at its far end
    assert lay_way(bays, MANIFOLD).bays[1][-1][1] == 0.06


def test_a_duct_in_the_middle_is_passed():
    plain, ducted = [bay(0), bay(1)], [bay(0, Stretch(1.2, 1.8, "duct")), bay(1)]
    np.testing.assert_allclose(length(ducted), length(plain), rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(ducted[0].heated, 3.4, rtol=1e-12, atol=0.0)


def test_what_blocks_the_space_ends_the_bay_and_a_wardrobe_shortens_it():
    # the first bay ends at 1.2 m: runs of 1.08; the second begins behind a wardrobe of 0.9 m that tube passes: it turns
    # at 0.96, so its runs are 2.98 m; over the joist at 0.06, then 0.9 on in the bay; home 0.96 + 1 + 0.7 + 0.5
    bays = [bay(0, Stretch(1.2, 1.8, "flue", passes=False)), bay(1, Stretch(0.0, 0.9, "wardrobe"))]
    wanted = (0.5 + 1.0 + 0.1 + 0.06) + (2 * 1.08 + 0.2) + (0.2 + 0.9 + 2 * 2.98 + 0.2) + (0.96 + 1.0 + 0.7 + 0.5)
    np.testing.assert_allclose(length(bays), wanted, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose([entry.heated for entry in bays], [1.2, 3.1], rtol=1e-12, atol=0.0)


def test_tube_reaches_past_a_duct_but_not_past_a_flue_from_whichever_end_it_comes():
    # a flue at 1.2 to 1.8 m and a duct at 3.0 to 3.4 m
    blocked = Stretch(3.0, 3.4, "duct"), Stretch(1.2, 1.8, "flue", passes=False)
    assert bay(0, *blocked).spans == ((0.0, 1.2),)
    assert bay(0, *blocked, entry="high").spans == ((1.8, 3.0), (3.4, 4.0))
    np.testing.assert_allclose(bay(0, *blocked).cut_off, 1.2 + 0.6, rtol=1e-12, atol=0.0)


def test_even_number_of_strips_across():
    # strips of 2.4 m less 0.12; manifold 1 m below and at the strips' low ends: leaders 0.5 + 0.06 + 1.15 and 1.45
    wanted = 2 * 2.28 + 0.3 + (0.56 + 1.15) + (0.56 + 1.45)
    np.testing.assert_allclose(length([strip(0), strip(1)]), wanted, rtol=1e-12, atol=0.0)


def test_nine_strips_across_come_home_from_the_far_side():
    # eight steps of 0.3 m; the ninth, at y = 2.55, ends at x = 2.34: 0.06 to the wall, 3.55 down, 2.4 back, 0.5 riser
    wanted = 9 * 2.28 + 8 * 0.3 + (0.5 + 0.06 + 1.15) + (0.06 + 3.55 + 2.4 + 0.5)
    way = lay_way([strip(number) for number in range(9)], MANIFOLD)
    np.testing.assert_allclose(way.length, wanted, rtol=1e-12, atol=0.0)
    # 2.4 − 2 × 0.06 m and 2.4 m more than if it ended where it began
    np.testing.assert_allclose(way.leaders[1] - (0.56 + 3.55), 2.4, rtol=1e-9, atol=0.0)


def test_a_blocked_entry_is_passed_beside():
    # nothing passes the first 0.9 m of the second bay: along the first bay's free floor, then over
    bays = [bay(0), bay(1, Stretch(0.0, 0.9, "chimney", passes=False))]
    way = lay_way(bays, MANIFOLD)
    assert (0.3, 0.96, 0.0) in [tuple(np.round(point, 9)) for point in way.bays[1]]
    assert not bays[1].open_at("low") and bays[1].open_at("high")


LAYOUTS = {
    "plain": [bay(number) for number in range(4)],
    "duct": [bay(0, Stretch(1.0, 1.5, "duct")), bay(1)],
    "flue": [bay(0, Stretch(1.0, 1.5, "flue", passes=False)), bay(1, Stretch(3.0, 4.0, "cabinet"))],
    "odd": [bay(number, runs=1) for number in range(3)],
    "three runs": [bay(number, runs=3, entry="high") for number in range(3)],
    "across": [strip(number) for number in range(5)],
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_what_is_counted_is_what_is_drawn(name):
    bays = LAYOUTS[name]
    circuit = circuit_of(bays, MANIFOLD)
    # the circuit that heat, head and purchase rest on is as long as the polyline, part by part
    np.testing.assert_allclose(circuit.length, circuit.way.length, rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(circuit.length, length_of(circuit.way.points), rtol=0.0, atol=1e-9)
    way = {"out": circuit.way.out, "bays": [point for part in circuit.way.bays for point in part],
           "back": circuit.way.back}
    row = {"circuit": "C", "room": "A", "bays": " ".join(entry.name for entry in bays), "way_m": way, "manifold": "M"}
    room = {"name": "A", "title": "A", "x_m": [0.0, 2.4], "y_m": [0.0, 4.0]}
    storey = {"name": "g", "rooms": [room], "manifolds": [{"name": "M", "x_m": 0.0, "y_m": -1.0}]}
    shown = [{"name": entry.name, "room": "A", "storey": "g", "x_m": entry.x, "y_m": entry.y, "along": entry.along,
              "entry": entry.entry, "runs": entry.runs, "blocked": []} for entry in bays]
    drawing = draw_storey({"storeys": [storey], "bays": shown}, storey, [row], "2 m")
    drawn = sum(_path_length(path) for path in re.findall(r'<path d="([^"]*)" fill="none" stroke="#0072b2"', drawing))
    # on paper everything but the two risers, to the millimetre
    np.testing.assert_allclose(drawn / MOST_SCALE, circuit.length - 2 * 0.5, rtol=0.0, atol=1e-3)
    assert MARGIN > 0.0


def _path_length(path):
    places = [tuple(map(float, place.split())) for place in re.split("[ML]", path) if place.strip()]
    return sum(dist(a, b) for a, b in zip(places, places[1:], strict=False))

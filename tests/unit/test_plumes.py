"""Shapes on the plan round plates and tubes: bells of a known width, and which edges draw them."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.bay.cells import fill_cells
from sim.bay.geometry import Box, Geometry, Tube
from sim.bay.grid import Fineness, build_grid
from sim.case.materials import Material
from sim.physics import learned_bands, learned_films, plumes
from sim.physics.learned_films import ABOVE, BELOW, BOTTOM, OPEN, OVER, STANDING, TUBE, UPRIGHT, Measures
from sim.solver.air_plan import AirPlan, _plan, find_air_plan, measures_of, situation_of
from sim.solver.learned_air import roles_of

WIDTH = 0.002


def plan(gap=(0.5, 0.0), facing=(1.0, 0.0)):
    """A plate of 0.08 to 0.12 m across and 0.4 to 0.6 m along, on a tube at 0.1 m that ends at 1 m."""
    none = np.zeros(0)
    return plumes.PlumePlan(
        plates=np.array([[0.08, 0.12, 0.4, 0.6]]), line=np.array([0]), facing=np.array([facing]),
        opening=np.zeros((1, 2)), gap=np.array([gap]), tubes=np.array([[0.1, 0.0, 1.0]]), walls=np.array([0.0, 0.3]),
        ends=none,
    )  # fmt: skip


def at(function, a, b):
    return [float(part[0]) for part in function(plan(), np.array([a]), np.array([b]), WIDTH)]


def test_an_interval_is_smoothed_by_a_normal_spread():
    """68.27, 95.45 and 99.73 % of a normal distribution lie within 1, 2 and 3 of its widths; half up to an edge."""
    for widths, share in ((1, 0.6827), (2, 0.9545), (3, 0.9973)):
        found = plumes.between(np.array(0.5), np.array(0.5 - widths * 0.03), np.array(0.5 + widths * 0.03), 0.03)
        assert_allclose(found, share, rtol=0, atol=5e-5)
    assert_allclose(plumes.between(np.array([0.4, 0.6]), np.array(0.4), np.array(0.6), 0.01), 0.5, rtol=1e-9)


def test_a_bell_is_half_as_high_at_1_1774_of_its_width():
    assert_allclose(plumes.beside(np.array([0.2, 0.2 + 1.177410 * 0.03]), np.array(0.2), 0.03), [1.0, 0.5], rtol=1e-6)


@pytest.mark.parametrize(
    ("b", "bare", "carrying"), [(0.2, 1.0, 0.0), (0.5, 0.0, 1.0), (0.6, 0.5, 0.5), (1.2, 0.0, 0.0)]
)
def test_a_tube_is_bare_or_carries_a_plate(b, bare, carrying):
    """Before its plate, over it, at its end, and beyond the tube's own."""
    assert_allclose(at(plumes.tube_bells, 0.1, b), [bare, carrying], rtol=1e-9, atol=1e-9)
    assert_allclose(at(plumes.tube_bells, 0.15, b), [0.0, 0.0], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("a", "b", "inner", "outer", "ends"),
    [
        (0.08, 0.5, 1.0, 0.0, 0.0), (0.12, 0.5, 0.0, 1.0, 0.0), (0.10, 0.4, 0.0, 0.0, 1.0), (0.10, 0.6, 0.0, 0.0, 0.0),
        (0.08, 0.4, 0.5, 0.0, 0.5), (0.08, 0.2, 0.0, 0.0, 0.0), (0.10, 0.5, 0.0, 0.0, 0.0),
    ],
)  # fmt: skip
def test_edges_draw_bells_by_what_they_face(a, b, inner, outer, ends):
    """An edge that faces a plate, one that faces a wall, a free end, one that touches the next plate; a corner, off the
    plate, and on its middle."""
    assert_allclose(at(plumes.edge_bells, a, b), [inner, outer, ends], rtol=1e-9, atol=1e-9)


def test_an_end_opens_as_its_gap_grows():
    """1 − 1/e at a gap of 3 mm."""
    found = plumes.edge_bells(plan(gap=(0.003, 0.0)), np.array([0.1]), np.array([0.4]), WIDTH)[2]
    assert_allclose(found, 0.632121, rtol=1e-5)


def test_measures_of_a_bay_with_one_plate_and_an_image_of_its_tube():
    """A plate of 0.04 x 0.2 m that ends 0.4 and 0.03 m from what is next, in air 0.3 m wide and 0.1 m high: of the two
    tubes one is the image in the plane of symmetry at 0.3 m, so each has 0.3 m, 13.3 % of it under the plate."""
    with_image = replace(plan(gap=(0.4, 0.03)), tubes=np.array([[0.1, 0.0, 1.0], [0.5, 0.0, 1.0]]))
    low, high = np.array([0.0, 0.0, -0.1]), np.array([0.3, 1.0, 0.0])
    air = AirPlan(with_image, 1, low, high, 0.02, 0.04, 0.2, 0.016, False)
    tube = Tube("tube", 1, (0.1, -0.028), (0.0, 1.0), 0.016)
    found = measures_of(air, SimpleNamespace(bodies=(tube,)))
    assert_allclose(found.across, 0.3, rtol=1e-9)
    assert_allclose(found.open_across, 1.0 - 0.04 / 0.3, rtol=1e-9)
    assert_allclose([found.height, found.drop, found.length, found.diameter], [0.1, 0.02, 0.2, 0.016], rtol=1e-9)
    assert_allclose(found.open_along, 0.4, rtol=1e-9)
    assert found.place == -0.5, "half a diameter below the plate's top"


def test_a_plate_looks_at_walls_or_at_its_images():
    """0.08 to 0.12 m across and 0.4 to 0.6 m along in air of 0.3 x 1.2 m: 0.08 and 0.18 m to the side walls, 0.4
    and 0.6 m to those at the ends; mirrored at 1.2 m its image is 1.2 m away and the tube has no end."""
    plate = Box("plate", "plate", (0.08, 0.4, -0.021), (0.12, 0.6, -0.02))
    tube = Tube("tube", 1, (0.1, -0.028), (0.1, 1.2), 0.016)
    corners = np.array([0.0, 0.0, -0.1]), np.array([0.3, 1.2, 0.0])
    found = _plan([tube], [plate], 1, [None, None], [None, None], corners)
    assert_allclose(found.opening, [[0.08, 0.18]], rtol=1e-9)
    assert_allclose(found.gap, [[0.4, 0.6]], rtol=1e-9)
    assert (found.facing == 0.0).all()
    assert found.walls.tolist() == [0.0, 0.3] and found.ends.tolist() == [0.0, 1.2]
    mirrored = _plan([tube], [plate], 1, [None, 1.2], [None, None], corners)
    assert_allclose(mirrored.plates[1], [0.08, 0.12, 1.8, 2.0], rtol=1e-9)
    assert_allclose(mirrored.gap, [[0.4, 1.2], [1.2, 1.0]], rtol=1e-9)
    assert mirrored.ends.tolist() == [0.0] and mirrored.tubes[0, 2] >= 2.0 and mirrored.tubes[0, 1] == 0.1


@pytest.mark.parametrize(
    ("drop", "plates", "upright", "situation"),
    [(1.9, 1, False, 2), (2.1, 1, False, 0), (2.1, 1, True, 3), (9.9, 0, False, 2), (10.1, 0, False, 1)],
)
def test_up_to_2_mm_below_the_sheathing_parts_lie_at_it(drop, plates, upright, situation):
    """Plates by their upper side, bare tubes of 16 mm by theirs, 8 mm above their middle."""
    bare = replace(plan(), plates=plan().plates[:plates])
    air = AirPlan(bare, 1, np.zeros(3), np.ones(3), drop * 1e-3, 0.04, 0.2, 0.016, upright)
    assert situation_of(air) == situation


def test_measures_are_told_from_usual_ones():
    """Drop and thickness together 35 mm, 0.1 m of air, 0.18 m a tube, 0.2 m of plate and 16 mm of tube are the usual
    ones, of logarithm 0; a quarter without plate is −1/2, ends that touch are −1; products are products."""
    usual = Measures(0.031, 0.10, 0.18, 0.25, 0.0, 0.2, 0.016, 0.5).all()
    assert_allclose([usual[n] for n in ("drop", "height", "across", "length", "diameter")], 0.0, atol=1e-12)
    assert_allclose([usual["open across"], usual["open along"], usual["place"]], [-0.5, -1.0, 0.5], rtol=1e-12)
    other = Measures(0.066, 0.20, 0.18, 0.75, 0.05, 0.0, 0.016, 0.0).all()
    twice = np.log(2.0)
    assert_allclose([other["drop"], other["height"], other["open across"]], [twice, twice, 0.5], rtol=1e-12)
    assert_allclose(other["open along"], 2.0 * np.tanh(1.0) - 1.0, rtol=1e-12)
    for product in ("drop · open across", "drop · height", "open across · open along"):
        one, two = product.split(" · ")
        assert_allclose(other[product], other[one] * other[two], rtol=1e-12)
    for square in ("drop", "height", "open across"):
        assert_allclose(other[f"{square}²"], other[square] ** 2, rtol=1e-12)
    assert other["length"] == 0.0, "no plates"


CORNERS, SIZE = ((0.1, 0.2, 0.05), (0.35, 0.5, 0.2)), ((0.02, 0.03, 0.04), (0.4, 0.6, 0.3))


def hollow_block(axis, corners):
    """Wood with air between two corners, and a tube of 40 mm through it along an axis."""
    wood, (begin, end) = Material("wood", (0.12, 0.12, 0.12), 500.0, 1600.0, 0.9), SIZE
    boxes = Box("wood", "block", begin, end, wood), Box("air", "air", *corners)
    tube = Tube("tube", axis, (0.3, 0.12) if axis == 0 else (0.2, 0.12), (begin[axis], end[axis]), 0.04)
    geometry = Geometry("test", begin, end, boxes, tubes=(tube,), layered=(0, 1, 2))
    return tube, fill_cells(geometry, build_grid(geometry, Fineness((0.06, 0.11, 0.05), 2, 0.02, 4)))


@pytest.mark.parametrize("axis", [0, 1])
def test_a_plan_of_one_bare_tube_through_a_hollow_block(axis):
    """The hollow is its air; walls lie beside the tube and ends before and behind it; its middle is 80 mm down."""
    (low, high), across = CORNERS, 1 - axis
    tube, cells = hollow_block(axis, CORNERS)
    found = find_air_plan(cells)
    assert_allclose([found.low, found.high], [low, high], rtol=0, atol=1e-9)
    assert (found.axis, found.diameter, found.upright, found.plate_width) == (axis, 0.04, False, 0.0)
    assert_allclose(found.drop, 0.08, rtol=1e-9)
    assert_allclose(found.plan.walls, [low[across], high[across]], rtol=1e-9)
    assert_allclose(found.plan.ends, [low[axis], high[axis]], rtol=1e-9)
    assert_allclose(found.plan.tubes, [[tube.centre[0], *tube.along]], rtol=1e-9)


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("end", [0, 1])
def test_air_that_reaches_the_border_goes_on_in_its_image(axis, end):
    """Beside the tube the image brings another tube and takes a wall away; at its end it takes an end away."""

    def opened(there):
        corners = [list(corner) for corner in CORNERS]
        corners[end][there] = SIZE[end][there]
        tube, cells = hollow_block(axis, corners)
        return tube.centre[0], find_air_plan(cells).plan

    across = 1 - axis
    middle, plan = opened(across)
    assert_allclose(plan.tubes[:, 0], [middle, 2.0 * SIZE[end][across] - middle], rtol=1e-9)
    assert_allclose(plan.walls, [CORNERS[1 - end][across]], rtol=1e-9)
    assert_allclose(plan.ends, [corner[axis] for corner in CORNERS], rtol=1e-9)
    _, plan = opened(axis)
    assert len(plan.tubes) == 1 and len(plan.walls) == 2
    assert_allclose(plan.ends, [CORNERS[1 - end][axis]], rtol=1e-9)
    assert abs(plan.tubes[0, 1 + end]) > 1.0, "as if it had no end there"


SIDES = {"left": 0, "right": 1, "front": 2, "back": 3, "down": 4, "up": 5}
"""What a face looks along, by its number."""


@pytest.mark.parametrize(
    ("kind", "looks", "place", "role"),
    [
        ("sheathing", "down", (0.1, 0.5), OVER), ("sheathing", "down", (0.1, 0.7), OPEN),
        ("sheathing", "down", (0.2, 0.5), OPEN), ("batt", "up", (0.1, 0.5), BOTTOM),
        ("joist", "left", (0.3, 0.5), UPRIGHT), ("joist", "right", (0.0, 0.5), UPRIGHT),
        ("rim", "front", (0.1, 0.9), UPRIGHT), ("plate", "up", (0.1, 0.5), ABOVE), ("plate", "down", (0.1, 0.5), BELOW),
        ("plate", "left", (0.08, 0.5), -1), ("tube", "left", (0.1, 0.5), TUBE), ("joist", "left", (0.6, 0.5), -1),
    ],
)  # fmt: skip
def test_roles_of_faces_round_a_flat_plate(kind, looks, place, role):
    """Over the plate and beside it, bottom, walls, both of its sides, its thin edge, the tube, another cavity."""
    air = AirPlan(plan(), 1, np.array([0.0, 0.0, -0.1]), np.array([0.3, 1.0, 0.0]), 0.02, 0.04, 0.2, 0.016, False)
    face = SimpleNamespace(body=np.array([0]), side=np.array([SIDES[looks]]), centre=np.array([[*place, -0.05]]))
    found, inside = roles_of(SimpleNamespace(kinds=lambda: [kind]), face, air)
    assert found[0] == role and inside[0] == (place[0] <= 0.3)
    if kind == "plate":
        standing, _ = roles_of(SimpleNamespace(kinds=lambda: [kind]), face, replace(air, upright=True))
        assert standing[0] == (STANDING if looks in ("left", "right") else -1)


def test_a_plate_is_on_the_nearest_tube():
    tubes = [Tube("tube", 1, (at, -0.03), (0.0, 1.0), 0.016) for at in (0.30, 0.35)]
    plates = [Box("plate", "plate", (at - 0.02, 0.4, -0.02), (at + 0.02, 0.6, -0.02)) for at in (0.30, 0.35)]
    found = _plan(tubes, plates, 1, [None, None], [None, None], (np.zeros(3), np.ones(3)))
    assert found.line.tolist() == [0, 1]


def test_walls_are_told_by_their_height():
    """From −1/2 at the top to 1/2 at the bottom of 0.1 m of air; what hangs there falls off within 12 and 30 mm."""
    measures = Measures(0.03, 0.10, 0.18, 0.25, 0.0, 0.2, 0.016, 0.5)
    point = np.column_stack([np.full(3, 0.3), np.full(3, 0.5), [0.0, 0.05, 0.10]])
    columns = learned_films.excess_columns(UPRIGHT, plan(), measures, point).T
    assert_allclose(columns[0], 1.0, rtol=1e-12)
    assert_allclose(columns[1], [-0.5, 0.0, 0.5], rtol=0, atol=1e-12)
    assert_allclose(columns[2], np.exp([0.0, -0.05 / 0.012, -0.10 / 0.012]), rtol=1e-9)
    assert_allclose(columns[3], np.exp([-0.10 / 0.03, -0.05 / 0.03, 0.0]), rtol=1e-9)
    assert_allclose(columns[4], np.tanh([-2.0, 4.0 / 3.0, 14.0 / 3.0]), rtol=1e-9)


def test_a_band_grows_by_its_power_with_how_far_a_bay_lies(monkeypatch):
    """At a distance of 1: 3 √e, 4 e and 5 %; farther than 2 no more than there, 3 e, 4 e² and 5 %."""
    kept = {"farthest": 2.0, "quantiles": [0.0, 2.0], "measures": {"drop": (0.0, 1.0)}}
    kept |= dict(zip(learned_bands.NUMBERS, [(3.0, 0.5), (4.0, 1.0), (5.0, 0.0)], strict=True))
    monkeypatch.setattr(learned_bands, "learned_data", lambda: {"bands": {"flat": kept}})
    for distance, percent in ((1.0, (3.0 * np.e**0.5, 4.0 * np.e, 5.0)), (3.0, (3.0 * np.e, 4.0 * np.e**2, 5.0))):
        drop = 0.035 * np.exp(np.sqrt(distance)) - 0.004
        found = learned_bands.band_at("flat", Measures(drop, 0.10, 0.18, 0.25, 0.0, 0.2, 0.016, 0.5))
        assert_allclose(found.percent, percent, rtol=1e-9)
    assert found.nearer == 100.0

"""What the parts of a bay mean, by hand: where heat goes, where tubes lie, what lies between them and the wood."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from small_bays import small_bay

from sim.bay.bay_geometry import floor_law, law_below
from sim.bay.bay_heating import WRAPPED, tube_centre_height
from sim.bay.geometry import BayPath
from sim.build_up import build_geometry
from sim.case.conditions import Below, Room
from sim.physics.contact import line_contact_conductance
from sim.physics.surroundings import SplitFloor


def exposed(variant, **changes):
    """Paths of a bay's outer surfaces by the way they look."""
    found = {}
    for exposure in build_geometry(small_bay(variant, **changes)).exposures:
        found.setdefault(exposure.side, set()).add(exposure.path)
    return found


def test_each_outer_surface_belongs_to_the_path_that_it_looks_along():
    # The floor looks up, the ceiling down, both rim joists out along the joists.
    assert exposed("whole bay, two rims") == {
        5: {BayPath.UP}, 4: {BayPath.DOWN}, 2: {BayPath.EDGE}, 3: {BayPath.EDGE}
    }  # fmt: skip
    # A cut between planes of symmetry has no edge; joists that stand free below a batt lose heat downwards.
    assert exposed("fastened") == {5: {BayPath.UP}, 4: {BayPath.DOWN}}
    assert exposed("no ceiling") == {5: {BayPath.UP}, 4: {BayPath.DOWN}, 0: {BayPath.DOWN}, 1: {BayPath.DOWN}}
    assert exposed("adiabatic") == {5: {BayPath.UP}}


def test_rim_joists_close_both_ends_and_are_as_deep_as_the_joists():
    # 38.1 mm before 0 and behind 0.6 m over the whole pitch of 0.3 m; insulation of 25 mm inside, between the joists.
    found = build_geometry(small_bay("whole bay, two rims"))
    rims = [(box.low, box.high) for box in found.of_kind("rim")]
    assert_allclose(rims, [((0, -0.0381, -0.184), (0.3, 0, 0)), ((0, 0.6, -0.184), (0.3, 0.6381, 0))], atol=1e-12)
    inside = [(box.low, box.high) for box in found.of_kind("rim insulation")]
    near, far = ((0.019, 0, -0.184), (0.281, 0.025, 0)), ((0.019, 0.575, -0.184), (0.281, 0.6, 0))
    assert_allclose(inside, [near, far], atol=1e-12)


@pytest.mark.parametrize(
    ("variant", "ends", "middles"),
    [
        # 25 mm of insulation before the rims leave 0.025 to 0.575 m: one plate pitch of 300 mm fits, about its middle
        ("whole bay, two rims", (0.025, 0.575), [0.3]),
        # blocking takes a joist's width of 38 mm at the far end
        ("whole bay, blocked", (0.025, 0.562), [0.2935]),
        # an open end takes nothing
        ("whole bay", (0.025, 0.6), [0.3125]),
    ],
)
def test_tube_and_plates_leave_the_ends_to_insulation_and_blocking(variant, ends, middles):
    found = build_geometry(small_bay(variant))
    assert_allclose([tube.along for tube in found.tubes], [ends], atol=1e-12)
    plates = found.of_kind("plate")
    assert_allclose([(box.low[1] + box.high[1]) / 2 for box in plates], middles, atol=1e-12)


def test_hung_plates_part_the_air_at_their_middle_and_have_a_layer_over_them():
    # plates of 0.5 mm, 40 mm below the subfloor, in joists of 184 mm; one of 200 mm in a pitch of 300 mm
    found = build_geometry(small_bay("hung", air={"model": "correlations"}))
    heights = {zone.name.rstrip(" 0123456789"): (zone.low[2], zone.high[2]) for zone in found.zones}
    assert_allclose(heights.pop("gap over plate 1."), (-0.040, 0.0), atol=1e-12)
    assert_allclose(heights.pop("upper air"), (-0.04025, 0.0), atol=1e-12)
    assert_allclose(heights.pop("lower air"), (-0.184, -0.04025), atol=1e-12)
    assert not heights
    stretches = [(zone.low[1], zone.high[1]) for zone in found.zones if zone.name.startswith("upper air")]
    assert_allclose(stretches, [(0.0, 0.05), (0.05, 0.25), (0.25, 0.3)], atol=1e-12)


FLAT = {"position": "hung", "drop": "40 mm", "thickness": "2 mm"}
UPRIGHT = {"position": "hung", "drop": "10 mm", "orientation": "upright", "width": "60 mm"}


@pytest.mark.parametrize(
    ("plates", "placement", "depth"),
    [
        # Depth of the tube's axis under the sheathing [mm]; outer radius 7.9375 mm.
        (FLAT, "below", 40 + 2 + 7.9375),
        (FLAT, "in", 40 + 1),
        (FLAT, "above", 40 - 7.9375),
        (UPRIGHT, "below", 10 + 60 + 7.9375),
        (UPRIGHT, "in", 10 + 30),
        ({"thickness": "2 mm"}, "below", 2 + 7.9375),
    ],
)
def test_where_a_plate_carries_its_tube(plates, placement, depth):
    case = small_bay("fastened", plates=plates, tube={"placement": placement})
    assert_allclose(case.tube.outer_diameter / 2, 7.9375e-3, rtol=1e-9, atol=0)
    assert_allclose(tube_centre_height(case), -depth * 1e-3, rtol=1e-9, atol=0)
    (tube,) = build_geometry(case).tubes
    assert_allclose(tube.centre[1], -depth * 1e-3, rtol=1e-9, atol=0)


def test_a_plate_has_its_measures_about_the_middle_of_its_stretch():
    # One of 200 mm in a stretch of 300 mm, its line in the middle of 300 mm: flat 120 mm wide and 2 mm thick, 40 mm
    # below the sheathing; upright 60 mm high and 0.5 mm thick, 10 mm below it.
    for plates, low, high in (
        (FLAT, (0.09, 0.05, -0.042), (0.21, 0.25, -0.04)),
        (UPRIGHT, (0.14975, 0.05, -0.07), (0.15025, 0.25, -0.01)),
    ):
        (plate,) = build_geometry(small_bay("fastened", plates=plates)).of_kind("plate")
        assert_allclose([plate.low, plate.high], [low, high], rtol=0, atol=1e-12)


@pytest.mark.parametrize(("plates", "upper"), [(FLAT, 5), (UPRIGHT, 1)])
def test_a_plate_is_as_bright_on_either_face_as_is_said_of_it(plates, upper):
    """The upper face looks along z, of a plate that stands on a tube along the joists (y) along x."""
    bright, dull = {"emissivity_up": 0.05, "emissivity_down": 0.8}, [0.8, 0.05]
    (plate,) = build_geometry(small_bay("fastened", plates=plates | bright)).of_kind("plate")
    assert_allclose([plate.emissivities[upper - 1], plate.emissivities[upper]], dull, rtol=1e-12)


def test_plates_on_tube_across_the_joists_lie_in_the_middle_between_them():
    plates = {"position": "hung", "drop": "40 mm", "width": "60 mm", "length": "100 mm"}
    found = build_geometry(small_bay("across", plates=plates))
    (plate,) = found.of_kind("plate")
    assert_allclose(plate.span(0), [0.1, 0.2], rtol=0, atol=1e-12)
    assert_allclose(sum(plate.span(1)) / 2, found.tubes[0].centre[0], rtol=1e-12)


def test_a_cut_of_a_tube_across_the_joists_is_as_long_as_its_runs_lie_apart():
    plates = {"position": "hung", "drop": "40 mm", "width": "60 mm", "length": "100 mm"}
    found = build_geometry(small_bay("across", plates=plates, tube={"across_spacing": "170 mm"}))
    assert_allclose([found.low[1], found.high[1]], [0.0, 0.17], rtol=0, atol=1e-12)
    assert_allclose([tube.centre[0] for tube in found.tubes], [0.085], rtol=0, atol=1e-12)


def test_a_rug_lies_on_the_floor_where_it_is_stated():
    # 12 mm of oak on 19 mm of plywood; a rug of 8 mm on 0 to 0.2 m across and 0.1 to 0.4 m along
    (rug,) = build_geometry(small_bay("rug")).of_kind("rug")
    assert_allclose([rug.low, rug.high], [(0.0, 0.1, 0.031), (0.2, 0.4, 0.039)], rtol=0, atol=1e-12)


def test_a_tubes_wall_holds_heat_as_plastics_do():
    # Polyethylene: 930 to 960 kg/m³ and 1.9 to 2.5 kJ/(kg K) in handbooks (from memory), 1.8 to 2.4 MJ/(m³ K).
    (tube,) = build_geometry(small_bay("fastened")).tubes
    assert 1.7e6 < tube.wall_capacity < 2.5e6


def test_a_tube_in_a_plate_lies_in_the_middle_of_it():
    for plates in (FLAT, UPRIGHT):
        found = build_geometry(small_bay("fastened", plates=plates, tube={"placement": "in"}))
        (plate,) = found.of_kind("plate")
        assert_allclose(found.tubes[0].centre[1], sum(plate.span(2)) / 2, rtol=1e-12, atol=0)
        assert_allclose(found.tubes[0].centre[0], sum(plate.span(0)) / 2, rtol=1e-12, atol=0)


def test_runs_lie_in_the_middle_of_equal_shares_of_the_clear_width():
    # Three runs in 262 mm between joists of 38 mm: 19 + 262 (1/6, 1/2, 5/6) mm.
    lines = [tube.centre[0] for tube in build_geometry(small_bay("three runs")).tubes]
    assert_allclose(lines, [0.019 + 0.262 * share for share in (1 / 6, 1 / 2, 5 / 6)], rtol=0, atol=1e-9)


@pytest.mark.parametrize("hole", [16.0, 25.0, 34.925])
def test_the_clearance_of_a_bored_hole_is_half_of_what_it_is_wider(hole):
    # A ring of still air of (D_hole − D)/2 round the tube, conducted through as a plane layer of its outline π D.
    case = small_bay("across", tube={"hole_diameter": f"{hole} mm"})
    (tube, *_) = build_geometry(case).tubes
    (joint,) = (joint for joint in tube.joints if joint.kind == "joist")
    gap = (hole - 15.875) / 2
    assert_allclose(joint.per_metre, gap * 1e-3 / 0.0266 / (np.pi * 0.015875), rtol=1e-9, atol=0)


@pytest.mark.parametrize("contact", [1e-4, 3.7e-3, 0.1])
@pytest.mark.parametrize("chord", [0.002, 0.008])
def test_line_contact_is_the_integral_over_its_wedge(contact, chord):
    # Heat crosses the wedge straight: ∫ dx / (R'' + x²/(2 r k)) over the chord, by quadrature.
    radius, filling = 0.0079, 0.026
    expected, _ = quad(lambda x: 1.0 / (contact + x * x / (2 * radius * filling)), -chord / 2, chord / 2)
    assert_allclose(line_contact_conductance(radius, contact, chord, filling), expected, rtol=1e-9, atol=0)


def test_line_contact_of_a_poor_contact_is_the_contact_alone():
    # R'' far above that of the air beside it: G' = c / R''.
    assert_allclose(line_contact_conductance(0.0079, 50.0, 0.008, 0.026), 0.008 / 50.0, rtol=1e-3, atol=0)


@pytest.mark.parametrize("difference", [-3.0, 0.0, 4.0])
def test_the_radiant_room_moves_with_its_air(difference):
    # Walls some kelvin colder or warmer than the air stay so when the air changes.
    law = SplitFloor(293.15, 293.15 + difference, 5.0, 0.9)
    moved = law.towards(298.15)
    assert_allclose((moved.air, moved.radiant), (298.15, 298.15 + difference), rtol=1e-12, atol=0)
    assert_allclose(moved.flux(308.15) - SplitFloor(298.15, 298.15 + difference, 5.0, 0.9).flux(308.15), 0, atol=1e-9)
    assert law.beyond == 293.15 and moved.beyond == 298.15


def test_a_floor_loses_more_to_cold_walls():
    # By hand at 25 °C in air of 20 °C, ε 0.9: σ (298.15⁴ − T⁴) more or less than to walls of 20 °C.
    flux = {}
    for walls in (288.15, 293.15, 298.15):
        room = Room(temperature=293.15, law="split", convective=5.0, emissivity=0.9, radiant_temperature=walls)
        flux[walls] = float(floor_law(room).flux(298.15))
    sigma = 0.9 * 5.670374419e-8
    assert_allclose(flux[298.15], 5.0 * 5.0, rtol=1e-12, atol=0)
    assert_allclose(flux[288.15] - flux[298.15], sigma * (298.15**4 - 288.15**4), rtol=1e-9, atol=0)
    assert flux[288.15] > flux[293.15] > flux[298.15]


def test_a_floor_law_that_is_not_known_is_an_error():
    room = Room(temperature=293.15).model_copy(update={"law": "by hearsay"})
    with pytest.raises(ValueError, match='no floor law "by hearsay"'):
        floor_law(room)
    below = Below(temperature=293.15).model_copy(update={"kind": "the sea"})
    with pytest.raises(ValueError, match='below.kind: no law for "the sea"'):
        law_below(below)
    assert law_below(Below(kind="adiabatic")) is None


def test_air_between_plates_is_divided_into_stretches_that_may_be_taken_as_mixed():
    # 2 m in five stretches of 400 mm: four of 500 mm would be longer than 450 mm, which may be taken as mixed.
    case = small_bay("no plates", span="bay", bay={"length": "2 m"}, rim={"outdoor_temperature": "0 degC"})
    lengths = [zone.high[1] - zone.low[1] for zone in build_geometry(case).zones]
    assert_allclose(lengths, 5 * [0.4], rtol=1e-9, atol=0)


def test_tubes_across_the_joists_reach_from_one_side_of_the_bay_to_the_other():
    case = small_bay("across")
    geometry = build_geometry(case)
    width = case.bay.joist_spacing
    assert geometry.tubes
    for tube in geometry.tubes:
        assert tube.axis == 0
        assert_allclose(tube.along, (0.0, width), rtol=1e-12, atol=0)


def test_wood_boards_and_batts_radiate_as_what_is_not_bright_does():
    """0.9, ASHRAE Handbook of Fundamentals: building materials; bright plates state their own."""
    boxes = build_geometry(small_bay("fastened")).boxes
    plain = [box for box in boxes if box.kind in ("joist", "sheathing", "insulation", "ceiling")]
    assert {"joist", "sheathing"} <= {box.kind for box in plain}
    for box in plain:
        assert set(box.emissivities) == {0.9}, box.name


def test_the_batt_fills_the_space_between_joists_from_end_to_end():
    case = small_bay("fastened")
    geometry = build_geometry(case)
    (batt,) = [box for box in geometry.boxes if box.kind == "insulation"]
    (air,) = [box for box in geometry.boxes if box.kind == "air"]
    assert_allclose(batt.span(0), (0.0, case.bay.joist_spacing), rtol=1e-12, atol=0)
    assert_allclose(batt.span(1), air.span(1), rtol=1e-12, atol=0)
    assert_allclose(np.ptp(batt.span(2)), case.cavity.insulation.thickness, rtol=1e-9, atol=0)


@pytest.mark.parametrize(
    ("changes", "wrapped"),
    [
        ({"cavity": {"air_gap": "0 mm"}}, True),
        ({"cavity": {"air_gap": "50 mm"}}, False),
        ({"cavity": {"insulation": "none"}}, False),
        ({"plates": {"width": "120 mm"}, "cavity": {"air_gap": "0 mm"}}, False),
    ],
)
def test_a_bare_tube_with_insulation_pressed_round_it_gets_more_cells(changes, wrapped):
    """All its heat enters the wood along the line where both touch; beside air or under plates it has other ways."""
    (tube,) = build_geometry(small_bay("fastened" if "plates" in changes else "no plates", **changes)).tubes
    assert tube.detail == (WRAPPED if wrapped else 1)

"""Bays in the plan: lengths, leaders, areas and plates by hand; what cannot be placed is named."""

from types import SimpleNamespace

import numpy as np
import pytest
from house_cases import small

from sim.case.errors import CaseError
from sim.case.house_load import parse_house
from sim.house.place import _overlaps, circuit_of, place_house, plates_in, with_outlines
from sim.house.placed import PlacedBay

WIDTH = 0.4064
"""16 in [m]."""

BLOCKED = '[[room.blocked]]\nbays = ["2"]\nfrom = "1 m"\nto = "1.4 m"\nwhy = "duct"\n'


def placed(*changes):
    return place_house(small(*changes))


def wrong(*changes):
    with pytest.raises(CaseError) as error:
        placed(*changes)
    return str(error.value)


def blocked(text=BLOCKED):
    return ("[[room.bays]]", text + "[[room.bays]]")


def test_bays_lie_side_by_side():
    first, second, *_ = placed()[0].bays
    np.testing.assert_allclose([first.x, second.x], [(0.0, WIDTH), (WIDTH, 2 * WIDTH)], rtol=0.0, atol=1e-12)
    assert first.y == (0.0, 3.0)
    assert (first.name, first.along, first.runs) == ("A-1", "y", 2)


def test_leader_follows_the_walls():
    # manifold at (1, −1) with a riser of 0.5; the first run of A-1 at 0.01905 + 0.092075 = 0.111125, turned 60 mm from
    # the bay's end: 0.5 + 1 − 0.111125 + 1 + 0.06; the last of A-6 at 5 × 0.4064 + 0.295275 = 2.327275
    (circuit,) = placed()[0].split.circuits
    np.testing.assert_allclose(circuit.way.leaders, [2.448875, 0.5 + 1.327275 + 1.06], rtol=1e-12, atol=0.0)


def test_entry_at_the_far_end_where_the_manifold_is():
    room = placed(('y = "-1 m"\nriser', 'y = "4 m"\nriser'))[0]
    assert room.bays[0].entry == "high"
    np.testing.assert_allclose(room.split.circuits[0].way.leaders[0], 2.448875, rtol=1e-12, atol=0.0)


def test_tube_of_a_bay_by_hand():
    # clear width 368.3 mm, runs at a quarter and three quarters of it: 184.15 mm apart; each 60 mm short at both ends
    bay = circuit_of(placed()[0].bays[:1], (0.0, 0.0, 0.0), 10.0).bays[0]
    np.testing.assert_allclose(bay.tube, 2 * 2.88 + 0.18415, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(bay.heat, 2 * 3.0 * 10.0, rtol=1e-9, atol=0.0)


def test_tube_runs_through_an_obstacle_and_gives_no_heat_there():
    room = placed(blocked())[0]
    free, through = circuit_of(room.bays[:2], (0.0, 0.0, 0.0), 10.0).bays
    # the step over from the bay before, 406.4 − 184.15 mm, is all that it has more; 2 × 2.6 m heated
    np.testing.assert_allclose(through.laid - free.laid, 0.22225, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(through.heat, 52.0, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(room.area, (6 * 3.0 - 0.4) * WIDTH, rtol=1e-12, atol=0.0)


def test_what_blocks_the_joist_space_ends_the_bay():
    room = placed(blocked(BLOCKED + "passes = false\n"), ('"7.32 m^2"', '"6.5 m^2"'))[0]
    bay = circuit_of(room.bays[1:2], (0.0, 0.0, 0.0), 10.0).bays[0]
    # 1 m from its entry: two runs of 1 m less two times 60 mm, and the way between them; 1.6 m beyond stay cold
    np.testing.assert_allclose(bay.tube, 2 * 0.88 + 0.18415, rtol=1e-9, atol=0.0)
    np.testing.assert_allclose(bay.heat, 20.0, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(room.area, (6 * 3.0 - 2.0) * WIDTH, rtol=1e-12, atol=0.0)
    assert plates_in(room.bays[1], room.case) == 2 * 4
    # an area that counts what tube does not reach is refused, and says so
    wide = '[[room.blocked]]\nbays = ["2", "3"]\nfrom = "1 m"\nto = "1.4 m"\nwhy = "duct"\npasses = false\n'
    assert "tube does not reach beyond what blocks A-2, A-3" in wrong(blocked(wide))


def test_one_run_cannot_come_back_from_a_parted_bay():
    one = ('"air.model" = "still"', '"air.model" = "still"\n"tube.runs" = 1')
    assert "with an odd number of runs its tube cannot come back" in wrong(one, blocked(BLOCKED + "passes = false\n"))
    placed(one, blocked())


def test_plates_by_hand():
    room = placed(blocked())[0]
    # 235 mm apart, 200 mm long: (3.0 + 0.035)/0.235 = 12.9; in 1.0 m 4.4, in 1.6 m 6.96; two runs
    assert [plates_in(bay, room.case) for bay in room.bays[:2]] == [24, 20]


def test_strips_across_the_joists():
    across = (
        'plates = { length = "200 mm", spacing = "235 mm" }',
        '"tube.direction" = "across"\n"tube.across_spacing" = "0.3 m"',
    )
    room = placed(across)[0]
    # 3 m hold ten strips of 0.3 m; each passes six bays, so five joists, 6 × 0.4064 m long
    assert len(room.bays) == 10
    first = room.bays[0]
    assert (first.joists, first.runs, first.along) == (5, 1, "x")
    np.testing.assert_allclose([first.length, first.width], [6 * WIDTH, 0.3], rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(room.area, 18.0 * WIDTH, rtol=1e-12, atol=0.0)


def test_a_room_without_outline_lies_around_its_bays():
    house = small(('name = "B"', 'name = "B"\nx = "2.9 m"'))
    first, second, _ = with_outlines(house, place_house(house)).rooms
    outline = [first.x, first.y, first.width, first.depth]
    np.testing.assert_allclose(outline, [0.0, 0.0, 6 * WIDTH, 3.0], rtol=1e-12, atol=0.0)
    # from the x that the file gives to the end of the bays, 3 m + 6 × 0.4064 m
    np.testing.assert_allclose([second.x, second.width], [2.9, 0.1 + 6 * WIDTH], rtol=1e-12, atol=0.0)


def test_overlapping_bays_are_named():
    assert "bays A-6 and B-1 overlap on the storey ground" in wrong(('x = "3 m"', 'x = "2.4 m"'))
    # 6 × 0.4064 = 2.4384: from there on there is room
    placed(('x = "3 m"', 'x = "2.4384 m"'))


def test_area_mismatch_from_both_sides():
    # 6 × 3 m × 0.4064 m = 7.3152 m²; 5 % of the area given are allowed
    for good in ("7.0 m^2", "7.7 m^2"):
        placed(('"7.32 m^2"', f'"{good}"'))
    for bad in ("6.96 m^2", "7.71 m^2"):
        shown = wrong(('"7.32 m^2"', f'"{bad}"'))
        assert "room[0].active_area" in shown and "must agree within 5%" in shown


def test_a_circuit_that_cannot_be_split():
    # the farthest bay is B's last, runs at x = 5.143125 and 5.327275: 5.94415 m of tube, leaders of
    # 2 × (0.5 + 1 + 0.06) + 4.143125 + 4.327275 m: 17.53455 m
    shown = wrong(('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "17.5 m"'))
    assert "room[1].bays" in shown and "longer than a circuit may be, 17.5 m (57.41 ft)" in shown
    placed(('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "17.54 m"'))


def test_circuits_stay_within_the_limit_of_the_file():
    split = placed(('drop = "5 K"', 'drop = "5 K"\ncircuit_limit = "30 m"'))[0].split
    assert len(split.circuits) == 2
    assert all(circuit.length <= 30.0 for circuit in split.circuits)


BAD_STRETCHES = [
    (BLOCKED.replace('"2"', '"7"'), "there is no such bay"),
    (BLOCKED.replace("1.4 m", "3.4 m"), "bay A-2 is only 3 m"),
    (BLOCKED + BLOCKED.replace('"1 m"', '"1.2 m"'), "overlap in bay A-2"),
    (BLOCKED.replace("1.4 m", "0.4 m"), "must be greater than from"),
    (BLOCKED.replace("1.4 m", "3 m").replace("1 m", "0 m"), "nothing of bay A-2 is heated"),
]


@pytest.mark.parametrize(("text", "words"), BAD_STRETCHES)
def test_bad_stretches_are_named(text, words):
    assert words in wrong(blocked(text))


def test_obstacles_that_meet_do_not_overlap():
    after = BLOCKED.replace("1.4 m", "1.8 m").replace('from = "1 m"', 'from = "1.4 m"')
    bays = placed(blocked(BLOCKED + after))[0].bays
    assert [len(bay.blocked) for bay in bays[:3]] == [0, 2, 0]


def test_a_room_that_lies_over_many_is_told_once():
    """Of 60 rooms on one place all but the first are told, each once: not each of 1770 pairs."""
    bays = [
        (PlacedBay(f"R{n}-1", f"R{n}", (0.0, 0.4), (0.0, 3.0), "y", "low", 2, 0, ()),) for n in range(60)
    ]
    rooms = [SimpleNamespace(name=f"R{n}", storey="upper" if n == 59 else "ground") for n in range(60)]
    told = list(_overlaps(SimpleNamespace(rooms=rooms), bays))
    assert [problem.key for problem in told] == [f"room[{n}].bays" for n in range(1, 59)]


ELL = """
[design]
outdoor = "-10 degC"
[[manifold]]
name = "M"
x = "4.1 m"
y = "4.1 m"
[[room]]
name = "L"
load = "1200 W"
[[room.bays]]
name = "A"
count = 9
x = "0 m"
y = "0 m"
along = "x"
length = "8 m"
[[room.bays]]
name = "B"
count = 9
x = "0 m"
y = "3.7 m"
along = "y"
length = "3 m"
[[room]]
name = "T"
load = "300 W"
[[room.bays]]
count = 6
x = "4.5 m"
y = "4 m"
along = "y"
length = "2.5 m"
"""


def test_a_room_of_two_arms_lies_around_another():
    """Bays tell rooms apart; rectangles that are drawn round both do not, and the refusal says how."""
    long, short = place_house(parse_house(ELL, "ell"))
    assert {bay.along for bay in long.bays} == {"x", "y"} and len(long.bays) == 18 and len(short.bays) == 6
    boxed = ELL.replace('"L"\n', '"L"\nx = "0 m"\ny = "0 m"\nwidth = "8 m"\ndepth = "6.8 m"\n')
    boxed = boxed.replace('"T"\n', '"T"\nx = "4.4 m"\ny = "4 m"\nwidth = "3 m"\ndepth = "2.6 m"\n')
    with pytest.raises(CaseError, match="outlines of rooms L and T overlap .* leave x, y, width and depth"):
        place_house(parse_house(boxed, "ell"))

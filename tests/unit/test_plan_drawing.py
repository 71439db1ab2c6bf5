"""The plan: what stands beside the tube (the tube itself: test_house_way)."""

import re
from xml.etree import ElementTree

from viz.plan_drawing import draw_storey, joist_lines, named
from viz.plan_frame import NARROW, PRINTED, PRINTED_HEIGHT, WIDTH
from viz.plan_places import aside_within, label_place, off_tags, tag_names, tag_places

SVG = "{http://www.w3.org/2000/svg}"


def test_a_manifold_outside_the_rooms_is_on_the_drawing():
    room = {"name": "A", "title": "A", "x_m": [0.0, 2.0], "y_m": [0.0, 4.0]}
    storey = {"name": "ground", "rooms": [room], "manifolds": [{"name": "M", "x_m": -2.0, "y_m": -3.0}]}
    root = ElementTree.fromstring(draw_storey({"storeys": [storey], "bays": []}, storey, [], "2 m"))
    label = next(text for text in root.iter("{http://www.w3.org/2000/svg}text") if text.text == "manifold M")
    for place, size in (("x", "width"), ("y", "height")):
        most = float(root.attrib["viewBox"].split()[2 if size == "width" else 3])
        assert 0.0 < float(label.attrib[place]) < most


def test_a_circuit_is_named_in_its_own_room():
    """Two circuits begin at one place, one goes down and one up: the second's name moves the way it goes."""
    ways = [[(2.0, 2.0), (2.0, 2.0), (2.0, 0.0)], [(2.0, 2.0), (2.0, 4.0)]]
    assert tag_places(ways, (3.0, 1.0)) == [(2.0, 2.0), (2.0, 3.0)]


def test_the_plan_says_where_north_is_when_the_house_does():
    room = {"name": "A", "title": "A", "x_m": [0.0, 2.0], "y_m": [0.0, 4.0]}
    storey = {"name": "ground", "rooms": [room], "manifolds": []}
    record = {"storeys": [storey], "bays": []}
    assert "y upwards" in draw_storey(record, storey, [], "2 m")
    assert "north 25° clockwise" in draw_storey(record | {"house": {"north_degrees": 25.0}}, storey, [], "2 m")


def test_a_title_that_repeats_the_name_is_left_out():
    assert named("R1", "Study") == "R1  Study"
    assert named("A", "A") == named("A", "") == "A"


def test_joists_run_as_they_do():
    along = {"along": "y", "x_m": [0.4, 0.8], "y_m": [0.0, 4.0], "joists": 0}
    assert joist_lines(along) == [((0.4, 0.0), (0.4, 4.0)), ((0.8, 0.0), (0.8, 4.0))]
    # a strip along x across three bays of 0.4 m: joists at its ends and at two places between, along y
    strip = {"along": "x", "x_m": [0.0, 1.2], "y_m": [0.3, 0.6], "joists": 2}
    starts = [start for start, _ in joist_lines(strip)]
    assert [round(x, 9) for x, _ in starts] == [0.0, 0.4, 0.8, 1.2]
    assert all(start[0] == end[0] and (start[1], end[1]) == (0.3, 0.6) for start, end in joist_lines(strip))


def test_on_a_phone_every_fifth_bay_has_its_number():
    room = {"name": "A", "title": "A", "x_m": [0.0, 12.0], "y_m": [0.0, 4.0]}
    storey = {"name": "ground", "rooms": [room], "manifolds": []}
    bays = [
        {"name": f"A-{k + 1}", "room": "A", "storey": "ground", "x_m": [0.4 * k, 0.4 * k + 0.4], "y_m": [0.0, 4.0],
         "along": "y", "entry": "low", "runs": 2, "joists": 0, "blocked": []}
        for k in range(30)
    ]  # fmt: skip
    record = {"storeys": [storey], "bays": bays}

    def numbers(width):
        texts = ElementTree.fromstring(draw_storey(record, storey, [], "2 m", width)).iter(f"{SVG}text")
        return {text.text: float(text.attrib["font-size"]) for text in texts if (text.text or "").isdecimal()}

    assert numbers(WIDTH) == {f"{k + 1}": 15.0 for k in range(30)}
    assert numbers(NARROW) == dict.fromkeys(("1", "5", "10", "15", "20", "25", "30"), 10.0)


def test_a_manifold_between_walls_is_named_where_it_crosses_none():
    """A label of 60 by 15 in a corridor of 50 between two upright walls: above the walls' ends there is room."""
    walls = [((175.0, 50.0), (175.0, 300.0)), ((225.0, 50.0), (225.0, 300.0))]
    wanted = [(200.0, 150.0), (250.0, 150.0), (200.0, 30.0)]
    assert label_place((60.0, 15.0), wanted, walls, (400.0, 400.0)) == (200.0, 30.0)
    # one line counts less than to leave the drawing
    assert label_place((60.0, 15.0), [(10.0, 30.0), (230.0, 150.0)], walls, (400.0, 400.0)) == (230.0, 150.0)


def test_a_title_that_begins_with_the_name_says_it_once():
    assert named("Mud", "Mud room") == "Mud room" and named("M", "Mud room") == "M  Mud room"


def test_a_leader_along_an_outer_wall_is_drawn_inside_it():
    """Walls from (0, 0) to (100, 50): moved by 3, a way along y = 50 goes down, one along x = 100 to the left."""
    walls = ((0.0, 50.0), (100.0, 0.0))
    assert aside_within([(20.0, 50.0), (60.0, 50.0)], 3.0, walls) == (3.0, -3.0)
    assert aside_within([(100.0, 10.0), (100.0, 30.0)], 3.0, walls) == (-3.0, 3.0)
    assert aside_within([(100.0, 50.0), (60.0, 50.0)], 3.0, walls) == (-3.0, -3.0)
    assert aside_within([(0.0, 20.0), (60.0, 20.0)], -3.0, walls)[0] == 3.0
    # in the middle of the plan the side that neighbours take too
    assert aside_within([(20.0, 20.0), (60.0, 20.0)], 3.0, walls) == (3.0, 3.0)


def test_names_of_circuits_on_a_plan_are_short_and_differ():
    long = ["Bedroom-of-the-twins.1", "Bedroom-of-the-twins.2", "Bath.1"]
    called = tag_names(long)
    assert called["Bath.1"] == "Bath.1" and max(map(len, called.values())) <= 12
    assert len(set(called.values())) == 3 and called[long[1]].endswith(".2")
    # these would be alike without their middle
    alike = ["Room-A-of-the-house.1", "Room-B-of-the-house.1"]
    assert tag_names(alike) == {name: name for name in alike}


def test_a_long_name_of_a_narrow_room_loses_its_middle_on_a_phone():
    """A room of 1.7 m in a plan 9 m wide has some 70 of a phone's 380 px: nine letters and no more."""
    room = {"name": "Conservatory", "title": "", "x_m": [7.3, 9.0], "y_m": [0.0, 4.0]}
    hall = {"name": "Hall", "title": "Hall", "x_m": [0.0, 7.2], "y_m": [0.0, 4.0]}
    storey = {"name": "ground", "rooms": [hall, room], "manifolds": []}
    drawn = draw_storey({"storeys": [storey], "bays": []}, storey, [], "2 m", NARROW)
    assert "Conservatory" not in drawn and re.search("Con…ry", drawn) and ">Hall<" in drawn


def numbers_of(width, wide, count, name=""):
    """Numbers of a room of bays 0.4 m wide in a house of a width [m], as drawn: text, middle, size [px]."""
    room = {"name": "R", "title": "R", "x_m": [0.0, 0.4 * count], "y_m": [0.0, 4.0]}
    far = {"name": "F", "title": "F", "x_m": [wide - 1.0, wide], "y_m": [0.0, 4.0]}
    bays = [
        {"name": f"R-{name}{number + 1}", "room": "R", "storey": "ground", "along": "y", "entry": "low", "blocked": [],
         "x_m": [0.4 * number, 0.4 * number + 0.4], "y_m": [0.0, 4.0]} for number in range(count)
    ]  # fmt: skip
    storey = {"name": "ground", "rooms": [room, far], "manifolds": []}
    root = ElementTree.fromstring(draw_storey({"storeys": [storey], "bays": bays}, storey, [], "2 m", width))
    drawn = [(text.text, float(text.attrib["x"]), float(text.attrib["font-size"])) for text in root.iter(f"{SVG}text")]
    return [found for found in drawn if re.fullmatch(rf"{name}\d+", found[0])]


def test_numbers_of_a_named_group_do_not_run_into_each_other():
    """Three digits and letters in a bay of 0.4 m: on every width of drawing their boxes stay apart."""
    for width in (WIDTH, PRINTED, NARROW):
        for wide in (9.0, 14.0, 24.0):
            found = numbers_of(width, wide, 12, "a")
            assert len(found) >= 3, "the first and every fifth at the least"
            for (one, x, size), (other, next_x, _) in zip(found, found[1:], strict=False):
                reach = 0.31 * size * (len(one) + len(other))
                assert next_x - x > reach, (width, wide, one, other)


def test_a_plan_on_paper_keeps_its_letters_however_large_the_house():
    sizes = {size for wide in (6.0, 12.0, 40.0) for *_, size in numbers_of(PRINTED, wide, 8)}
    assert min(sizes) >= 8.0 / 72.0 * 96.0
    tall = {"name": "A", "title": "A", "x_m": [0.0, 4.0], "y_m": [0.0, 30.0]}
    storey = {"name": "ground", "rooms": [tall], "manifolds": []}
    root = ElementTree.fromstring(draw_storey({"storeys": [storey], "bays": []}, storey, [], "2 m", PRINTED))
    assert float(root.attrib["viewBox"].split()[3]) <= PRINTED_HEIGHT


def test_leaders_of_many_circuits_stay_in_a_band():
    """Fifty circuits of one manifold: their leaders lie within a hand's breadth of the wall that they follow."""
    room = {"name": "A", "title": "A", "x_m": [0.0, 20.0], "y_m": [0.0, 8.0]}
    storey = {"name": "ground", "rooms": [room], "manifolds": [{"name": "M", "x_m": 0.0, "y_m": 0.0}]}
    bays = [{"name": f"A-{n}", "room": "A", "storey": "ground", "along": "y", "entry": "low", "blocked": [],
             "x_m": [0.4 * n, 0.4 * n + 0.4], "y_m": [0.0, 8.0]} for n in range(50)]  # fmt: skip
    circuits = [
        {"circuit": f"A.{n}", "room": "A", "manifold": "M", "bays": f"A-{n}",
         "way_m": {"out": [(0, 0, 0), (0, 4, 0), (0.4 * n, 4, 0)], "bays": [(0.4 * n, 4, 0), (0.4 * n, 8, 0)],
                   "back": [(0.4 * n, 4, 0), (0, 0, 0)]}}
        for n in range(50)
    ]  # fmt: skip
    drawn = draw_storey({"storeys": [storey], "bays": bays}, storey, circuits, "2 m")
    moved = [float(x) for x in re.findall(r'transform="translate\((-?[\d.]+) ', drawn)]
    assert len(moved) == 100 and max(moved) - min(moved) <= 45.0
    wide = {**storey, "rooms": [room, {**room, "name": "F", "x_m": [40.0, 44.0]}]}
    printed = draw_storey({"storeys": [wide], "bays": bays}, wide, circuits, "2 m", PRINTED)
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', printed)]
    assert len(sizes) > 50 and min(sizes) >= 8.0 / 72.0 * 96.0, "names of circuits and the manifold on small plans too"


def test_a_room_s_name_hides_no_circuit_s_name():
    """By hand: a strip of 100 x 25 at 50 over a tag from 60 to 80 goes up to 32, the nearest step of 6."""
    strip, tag = ((10.0, 50.0), (100.0, 25.0)), ((40.0, 60.0), (80.0, 80.0))
    assert off_tags(strip, [tag], (0.0, 200.0)) == 32.0
    assert off_tags(strip, [tag], (35.0, 200.0)) == 80.0, "not into the wall above"
    assert off_tags(strip, [((140.0, 60.0), (180.0, 80.0))], (0.0, 200.0)) == 50.0, "beside it"
    assert off_tags(strip, [tag], (45.0, 90.0)) == 50.0, "no place is free"

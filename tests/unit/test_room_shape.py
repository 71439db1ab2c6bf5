"""The floor of a room that is no rectangle: its corners by hand, and the same corners in record, plan and drawings."""

import re

import pytest
from house_cases import SMALL, small

from sim.case.errors import CaseError
from sim.case.house_load import parse_house
from sim.house.layout_only import count_house
from sim.house.place import place_house
from sim.house.record import outline_record
from sim.house.room_shape import room_loops
from viz.drawings.board import THICK, Board, Lettering, Stroke
from viz.drawings.measures import draw_measures
from viz.drawings.paper import PaperView
from viz.drawings.storey_sheet import draw_plan
from viz.page_parts import PageReader
from viz.plan_drawing import draw_storey, room_places
from viz.plan_places import room_loops as loops_of

ARM = '[[room.bays]]\nname = "arm"\ncount = 2\nx = "0 m"\ny = "3 m"\nalong = "y"\nlength = "2 m"\n'
CORNERS = [(0.0, 0.0), (2.4384, 0.0), (2.4384, 3.0), (0.8128, 3.0), (0.8128, 5.0), (0.0, 5.0)]
"""Six bays of 16 in by 3 m, and two of them 2 m longer."""


L_SHAPED = (('active_area = "7.32 m^2"\n', ""), ('\n[[room]]\nname = "B"', f'{ARM}\n[[room]]\nname = "B"'))


def house(*changes):
    """The small house with room A an L."""
    return small(*L_SHAPED, *changes)


@pytest.fixture(scope="module")
def record():
    asked = house()
    return outline_record(asked, place_house(asked))


def test_corners_by_hand():
    south, wing = ((0.0, 8.0), (0.0, 4.0)), ((5.0, 8.0), (4.0, 9.0))
    assert room_loops([south, wing]) == (
        ((0.0, 0.0), (8.0, 0.0), (8.0, 9.0), (5.0, 9.0), (5.0, 4.0), (0.0, 4.0)),
    )


def test_a_wall_of_a_beam_s_width_is_floor_and_a_hall_parts_it():
    def apart(by):
        return room_loops([((0.0, 4.0), (0.0, 3.0)), ((0.0, 2.0), (3.0 + by, 5.0))])

    assert [len(loop) for loop in apart(0.2)] == [6]
    assert [len(loop) for loop in apart(0.9)] == [4, 4]
    assert apart(0.004) == apart(0.0), "drawings are rounded: a seam of 4 mm is none"


def test_stairs_in_the_middle_are_a_hole_and_arms_that_touch_at_a_corner_are_two():
    ring = room_loops([((0, 3), (0, 1)), ((0, 3), (2, 3)), ((0, 1), (0, 3)), ((2, 3), (0, 3))])
    assert set(ring[0]) == {(0, 0), (3, 0), (3, 3), (0, 3)}
    assert ring[1] == ((1, 1), (1, 2), (2, 2), (2, 1)), "clockwise"
    assert [len(loop) for loop in room_loops([((0, 1), (0, 1)), ((1, 2), (1, 2))])] == [4, 4]


def test_the_record_has_the_corners_of_an_l_and_of_a_room_as_drawn(record):
    first, second = record["storeys"][0]["rooms"]
    (loop,) = first["outline_m"]
    assert [tuple(round(metres, 6) for metres in corner) for corner in loop] == CORNERS
    assert first["x_m"] == [0.0, pytest.approx(2.4384)] and first["y_m"] == [0.0, 5.0]
    assert len(second["outline_m"][0]) == 4


def test_a_room_drawn_with_a_size_stays_the_rectangle_that_the_file_draws():
    asked = house(('load = "280 W"', 'load = "280 W"\nx = "-0.1 m"\ny = "0 m"\nwidth = "2.6 m"\ndepth = "5.1 m"'))
    (loop,) = outline_record(asked, place_house(asked))["storeys"][0]["rooms"][0]["outline_m"]
    assert loop == ((-0.1, 0.0), (2.5, 0.0), (2.5, 5.1), (-0.1, 5.1))


def test_the_page_s_plan_draws_six_walls_and_names_the_room_on_its_floor(record):
    drawn = draw_storey(record, record["storeys"][0], record["circuits"], "2 m")
    walls = re.findall(r'<path d="([^"]+)" fill="none" stroke="#1d2327" stroke-width="2.4"', drawn)
    assert sorted(way.count("L") for way in walls) == [4, 6]
    places = {place["name"]: place for place in room_places(record, record["storeys"][0])}
    assert "shape" not in places["B"]
    # 2.4384 m by 5 m, drawn from the top: the arm is a third as wide and two fifths as long as the whole
    assert places["A"]["shape"] == (
        "polygon(0.00% 100.00%, 100.00% 100.00%, 100.00% 40.00%, 33.33% 40.00%, 33.33% 0.00%, 0.00% 0.00%)"
    )
    left, _, wide, _ = places["A"]["at"]
    assert places["A"]["under"][0] == pytest.approx(left + wide / 2.0, abs=0.01), "on the arm that spans its width"


def test_the_sheet_draws_and_measures_the_inner_corner(record):
    storey = record["storeys"][0]
    bays = [bay for bay in record["bays"] if bay["storey"] == "ground"]
    board, view = Board(420.0, 297.0), PaperView((0.0, 0.0), (60.0, 60.0), 50)
    draw_measures(board, view, storey, bays, PageReader("si"))
    told = [mark.text for mark in board.marks if isinstance(mark, Lettering)]
    assert {"813", "1626", "3000", "2000", "2 x 406", "6 x 406"} <= set(told)
    draw_plan(board, view, storey, bays, (), {})
    walls = [mark.points for mark in board.marks if isinstance(mark, Stroke) and mark.layer == "rooms"]
    assert sorted(map(len, walls)) == [5, 7]
    assert all(mark.pen == THICK for mark in board.marks if isinstance(mark, Stroke) and mark.layer == "rooms")


def test_an_older_record_without_corners_is_drawn_by_its_extent():
    room = {"name": "A", "x_m": [0.0, 2.0], "y_m": [1.0, 4.0]}
    assert loops_of(room) == [[(0.0, 1.0), (2.0, 1.0), (2.0, 4.0), (0.0, 4.0)]]


def test_rim_pieces_of_an_l_count_the_bays_that_end_at_its_inner_corner():
    """Six ends below, two at the arm's end, four beside it."""
    asked = house()
    assert count_house(asked, place_house(asked))[0].amounts.rim_pieces == 12


def test_a_room_over_the_open_corner_of_an_l_is_not_above_it():
    text = SMALL
    for old, new in L_SHAPED:
        text = text.replace(old, new, 1)
    upper = text.index('name = "U"')
    corner = text[:upper] + text[upper:].replace('x = "0 m"\ny = "0 m"', 'x = "1.2 m"\ny = "3.2 m"')
    with pytest.raises(CaseError, match="room A does not lie beneath room U"):
        place_house(parse_house(corner, "small", "small.toml"))
    beside = corner.replace('x = "1.2 m"', 'x = "0.5 m"')
    assert place_house(parse_house(beside, "small", "small.toml"))

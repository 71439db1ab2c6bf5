"""Rim pieces, counted by hand on plans that are no rectangles."""

from types import SimpleNamespace

from sim.house.rim import rim_ends


def room(name, x, y, width, depth, *, along="y", storey="ground", length=None):
    """A room full of bays 0.5 m wide."""
    count = round((width if along == "y" else depth) / 0.5)
    group = SimpleNamespace(x=x, y=y, along=along, length=length or (depth if along == "y" else width), count=count)
    return SimpleNamespace(name=name, storey=storey, x=x, y=y, width=width, depth=depth, bays=(group,))


SOUTH = room("S", 0.0, 0.0, 8.0, 4.0)
WING = room("W", 5.0, 4.0, 3.0, 5.0)


def test_an_inner_corner_of_an_l_is_outside_too():
    """16 bays of the south end outside below; above, the 10 beside the wing do, the 6 before it do not."""
    assert rim_ends((SOUTH, WING), "S", 0.5) == 16 + 10
    assert rim_ends((SOUTH, WING), "W", 0.5) == 6


def test_a_hall_between_two_rooms_is_no_outside():
    far = room("F", 0.0, 5.5, 8.0, 3.0)
    assert rim_ends((SOUTH, far), "S", 0.5) == 16
    assert rim_ends((SOUTH, far), "F", 0.5) == 16


def test_joists_the_other_way_end_at_the_other_sides():
    across = room("W", 5.0, 4.0, 3.0, 5.0, along="x")
    assert rim_ends((SOUTH, across), "W", 0.5) == 2 * 10


def test_another_storey_is_no_neighbour_and_a_bay_that_ends_early_has_no_rim():
    upper = room("U", 5.0, 4.0, 3.0, 5.0, storey="upper")
    assert rim_ends((SOUTH, upper), "S", 0.5) == 32
    short = room("S", 0.0, 0.0, 8.0, 4.0, length=3.0)
    assert rim_ends((short,), "S", 0.5) == 16

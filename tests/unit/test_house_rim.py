"""Rim pieces, counted by hand on plans that are no rectangles."""

from types import SimpleNamespace

from sim.house.rim import rim_ends


def room(name, x, y, width, depth, *, along="y", length=None):
    """A room full of bays 0.5 m wide."""
    count = round((width if along == "y" else depth) / 0.5)
    group = SimpleNamespace(x=x, y=y, along=along, length=length or (depth if along == "y" else width), count=count)
    return SimpleNamespace(name=name, floor=((x, x + width), (y, y + depth)), bays=(group,))


def ends(room, *others):
    """Its ends at a rim among the rooms of its storey."""
    return rim_ends(room, 0.5, (room.floor, *(other.floor for other in others)))


SOUTH = room("S", 0.0, 0.0, 8.0, 4.0)
WING = room("W", 5.0, 4.0, 3.0, 5.0)


def test_an_inner_corner_of_an_l_is_outside_too():
    """16 bays of the south end outside below; above, the 10 beside the wing do, the 6 before it do not."""
    assert ends(SOUTH, WING) == 16 + 10
    assert ends(WING, SOUTH) == 6


def test_a_room_that_is_an_l_by_itself_has_as_many():
    """Its arms are the two rooms above: what ends at the inner corner does so outdoors."""
    both = SimpleNamespace(bays=(*SOUTH.bays, *WING.bays))
    assert rim_ends(both, 0.5, (SOUTH.floor, WING.floor)) == 16 + 10 + 6


def test_a_hall_between_two_rooms_is_no_outside():
    far = room("F", 0.0, 5.5, 8.0, 3.0)
    assert ends(SOUTH, far) == 16
    assert ends(far, SOUTH) == 16


def test_joists_the_other_way_end_at_the_other_sides():
    across = room("W", 5.0, 4.0, 3.0, 5.0, along="x")
    assert ends(across, SOUTH) == 2 * 10


def test_a_bay_alone_ends_outside_and_one_that_ends_early_has_no_rim():
    assert ends(SOUTH) == 32
    short = room("S", 0.0, 0.0, 8.0, 4.0, length=3.0)
    assert ends(short) == 16

"""Types of bays in a house: the letters by which drawings call them."""

import pytest

from sim.house.bay_types import _letter


@pytest.mark.parametrize(("place", "letter"), [(0, "A"), (1, "B"), (25, "Z"), (26, "AA"), (27, "BB"), (52, "AAA")])
def test_letters_go_on_after_z(place, letter):
    assert _letter(place) == letter

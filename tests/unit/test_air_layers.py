"""Which zones of cavity air count as the closed plane layers of ISO 6946."""

import pytest

from sim.bay.air_layers import closed_layers
from sim.bay.cells import fill_cells
from sim.bay.geometry import AirZone, Box, Geometry, Tube
from sim.bay.grid import Fineness, build_grid
from sim.case.materials import Material

WOOD = Material("wood", (0.12, 0.12, 0.12), 500.0, 1600.0, 0.9)
MESH = Fineness((0.1, 0.1, 0.1), layer_cells=2, focus=0.05, tube_cells=4)


def found(size, hole, *more, zones=(), tubes=()):
    """The truth values of all zones of a wooden block with a hole of air in it."""
    boxes = (Box("wood", "block", (0, 0, 0), size, WOOD), Box("air", "air", *hole), *more)
    geometry = Geometry("test", (0, 0, 0), size, boxes, zones=zones, tubes=tubes, layered=(0, 1, 2))
    return closed_layers(fill_cells(geometry, build_grid(geometry, MESH))).tolist()


def hole(width, thickness, size):
    """A hole of that width both ways in the middle of the block."""
    low = tuple((s - w) / 2 for s, w in zip(size, (width, width, thickness), strict=True))
    return low, tuple(s - a for s, a in zip(size, low, strict=True))


SIZE = (0.8, 0.8, 0.1)


# ISO 6946: length and width both more than ten times the thickness
@pytest.mark.parametrize(("width", "closed"), [(0.41, True), (0.39, False)])
def test_a_layer_is_ten_times_as_wide_as_thick(width, closed):
    assert found(SIZE, hole(width, 0.04, SIZE)) == [closed]


@pytest.mark.parametrize(("low", "closed"), [((0.59, 0.1, 0.03), True), ((0.61, 0.1, 0.03), False)])
def test_a_plane_of_symmetry_counts_the_other_half(low, closed):
    # from x = 0.59 m to the mirror at 0.8 m, 0.02 m thick: 0.42 m wide in all; twice 0.19 m is less than 0.4 m
    assert found(SIZE, (low, (0.8, 0.7, 0.07))) == [closed]


def test_a_layer_between_two_mirrors_is_endless():
    assert found((0.05, 0.05, 0.4), ((0, 0, 0.05), (0.05, 0.05, 0.35))) == [True]


def test_the_standard_ends_at_300_mm():
    assert found((0.05, 0.05, 0.4), ((0, 0, 0.05), (0.05, 0.05, 0.36))) == [False]


def test_a_sheet_hung_in_a_layer_makes_it_none():
    sheet = Box("sheet", "block", (0.3, 0.3, 0.045), (0.4, 0.4, 0.05), WOOD)
    assert found(SIZE, hole(0.6, 0.04, SIZE), sheet) == [False]


def test_a_tube_in_a_layer_makes_it_none():
    tube = Tube("tube", 1, (0.4, 0.05), (0.0, 0.8), 0.01)
    assert found(SIZE, hole(0.6, 0.04, SIZE), tubes=(tube,)) == [False]


def test_zones_that_open_to_one_another_are_not_closed():
    zones = (AirZone("left", (0, 0, 0), (0.4, 0.8, 0.1)), AirZone("right", (0.4, 0, 0), (0.8, 0.8, 0.1)))
    assert found(SIZE, hole(0.6, 0.01, SIZE), zones=zones) == [False, False]


def test_a_layer_without_a_cover_is_none():
    assert found((0.8, 0.8, 0.1), ((0, 0, 0.06), (0.8, 0.8, 0.1))) == [False]


def test_zones_are_judged_one_by_one():
    deep = Box("air", "air", (0.1, 0.1, 0.055), (0.7, 0.7, 0.095))
    shallow = ((0.1, 0.1, 0.01), (0.7, 0.7, 0.035))
    thick = Box("air", "air", (0.1, 0.1, 0.055), (0.2, 0.2, 0.095))
    assert found(SIZE, shallow, deep) == [True, True]
    assert found(SIZE, shallow, thick) == [True, False]

"""What fills each cell: paint order, round tubes, void, air zones, conductivities."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sim.bay.cells import TUBE_CONDUCTIVITY, VOID, fill_cells
from sim.bay.geometry import AirZone, Box, Geometry, Tube
from sim.bay.grid import Fineness, Grid, build_grid
from sim.bay.outline import outline_shift, stepped_perimeter, touching_perimeter
from sim.case.materials import Material

WOOD = Material("wood", (0.3, 0.2, 0.1), 500.0, 1600.0, 0.9)
METAL = Material("metal", (200.0, 200.0, 200.0), 2700.0, 900.0, 0.1)


def uniform_grid(size, count):
    return Grid(*(np.linspace(0.0, length, count + 1) for length in size))


def case(*boxes, tubes=(), zones=(), size=(1.0, 1.0, 1.0)):
    return Geometry("test", (0.0, 0.0, 0.0), size, boxes, tubes=tubes, zones=zones, layered=(0, 1, 2))


def block(low, high, material=WOOD, kind="block", name="block"):
    return Box(name, kind, low, high, material)


WHOLE = block((0, 0, 0), (1, 1, 1))


def test_later_boxes_paint_over_earlier_ones():
    over = block((0.5, 0, 0), (1, 1, 1), METAL)
    grid = uniform_grid((1, 1, 1), 4)
    assert_array_equal(fill_cells(case(WHOLE, over), grid).body[:, 0, 0], [0, 0, 1, 1])
    assert_array_equal(fill_cells(case(over, WHOLE), grid).body[:, 0, 0], [1, 1, 1, 1])


def test_uncovered_cells_are_void_and_conduct_nothing():
    cells = fill_cells(case(block((0, 0, 0), (0.5, 1, 1))), uniform_grid((1, 1, 1), 4))
    assert_array_equal(cells.body[:, 0, 0], [0, 0, VOID, VOID])
    assert_array_equal(cells.solid[:, 0, 0], [True, True, False, False])
    assert_allclose(cells.conductivity(2, 0.026)[:, 0, 0], [0.1, 0.1, 0.0, 0.0], rtol=0, atol=0)


def test_conductivity_along_each_axis():
    air = Box("air", "air", (0, 0, 0.5), (1, 1, 1))
    cells = fill_cells(case(WHOLE, air), uniform_grid((1, 1, 1), 2))
    for axis, value in enumerate((0.3, 0.2, 0.1)):
        assert_allclose(cells.conductivity(axis, 0.026)[0, 0], [value, 0.026], rtol=0, atol=0)
    assert_allclose(cells.normal_conductivity(np.array([0, 0]), np.array([0, 2])), [0.3, 0.1], rtol=0, atol=0)


def test_a_tube_does_not_conduct_along_itself():
    tube = Tube("tube", 1, (0.5, 0.5), (0.0, 1.0), 0.4)
    cells = fill_cells(case(WHOLE, tubes=(tube,)), uniform_grid((1, 1, 1), 10))
    inside = cells.of_body(tube)
    assert inside[5, 5, 5]
    assert set(cells.conductivity(1, 0.0)[inside]) == {0.0}
    assert set(cells.conductivity(0, 0.0)[inside]) == {TUBE_CONDUCTIVITY}


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_round_section_tends_to_the_circle(axis):
    # π r² of the section; the stepped outline is that of the circumscribed square, 8 r, whatever the cells.
    others = [a for a in range(3) if a != axis]
    tube = Tube("tube", axis, (0.5, 0.5), (0.2, 0.8), 0.3)
    along = [0.2 if a == axis else 0.0 for a in range(3)], [0.8 if a == axis else 1.0 for a in range(3)]
    base = block(tuple(along[0]), tuple(along[1]))
    errors = []
    for cells_across in (4, 40):
        grid = build_grid(case(WHOLE, base, tubes=(tube,)), Fineness((0.2, 0.2, 0.2), 1, 0.1, cells_across))
        cells = fill_cells(case(WHOLE, base, tubes=(tube,)), grid)
        volume = np.broadcast_to(grid.volumes(), grid.shape)[cells.of_body(tube)].sum()
        errors.append(abs(volume / (np.pi * 0.15**2 * 0.6) - 1.0))
        assert_allclose(stepped_perimeter(cells, tube), 4 * 0.3, rtol=0.02, atol=0)
    assert errors[1] < 0.01
    assert errors[1] < errors[0]
    assert len(others) == 2


def test_a_tube_thinner_than_a_cell_keeps_one():
    tube = Tube("tube", 1, (0.5, 0.5), (0.0, 1.0), 0.01)
    cells = fill_cells(case(WHOLE, tubes=(tube,)), uniform_grid((1, 1, 1), 4))
    assert_array_equal(cells.of_body(tube).sum(axis=(0, 2)), [1, 1, 1, 1])


def test_touching_outline_by_hand():
    # A square tube section of 2 × 2 cells of 0.1 m under a plate: it touches along 0.2 m in the half that has one.
    plate = block((0, 0, 0.6), (1, 0.5, 0.7), METAL, kind="plate")
    tube = Tube("tube", 1, (0.5, 0.5), (0.0, 1.0), 0.2)
    cells = fill_cells(case(WHOLE, plate, tubes=(tube,)), uniform_grid((1, 1, 1), 10))
    assert_allclose(touching_perimeter(cells, tube, cells.of_kind("plate")), 0.2, rtol=1e-12, atol=0)
    assert_allclose(stepped_perimeter(cells, tube), 0.8, rtol=1e-12, atol=0)
    assert touching_perimeter(cells, tube, cells.of_kind("joist")) == 0.0


class TestOutlineShift:
    # Cells of 0.1 m, a tube of 0.3 m diameter in the middle of one: its section is a cross of 3 × 3 cells with corners,
    # since 0.1 √2 = 0.1414 < 0.15.
    GRID = uniform_grid((1.1, 1.1, 1.1), 11)

    @pytest.mark.parametrize("axis", [0, 1, 2])
    def test_by_hand(self, axis):
        # The outline lies 0.15 m from the middle, as the cell faces do; beside it, √(0.15² − 0.1²) = 0.1118 m.
        tube = Tube("tube", axis, (0.55, 0.55), (0.0, 1.1), 0.3)
        cells = fill_cells(case(block((0, 0, 0), (1.1, 1.1, 1.1)), tubes=(tube,), size=(1.1, 1.1, 1.1)), self.GRID)
        for normal in (a for a in range(3) if a != axis):
            found = outline_shift(cells, tube, normal)
            (third,) = (a for a in range(3) if a not in (axis, normal))
            flat = np.moveaxis(found, (normal, third, axis), (0, 1, 2))
            assert flat.shape == (10, 11, 11)
            beside = 0.15 - np.sqrt(0.15**2 - 0.1**2)
            for face in (3, 6):
                assert_allclose(flat[face, 4:7, 5], [beside, 0.0, beside], rtol=0, atol=1e-12)
            flat[[3, 6], 4:7] = 0.0
            assert not flat.any()

    def test_flats_keep_their_faces(self):
        # Ten cells across 0.25 m: columns whose outermost cell is tube only because of the flats keep its face.
        tube = Tube("tube", 1, (0.55, 0.55), (0.0, 1.1), 0.25, flats=True)
        grid = uniform_grid((1.1, 1.1, 1.1), 44)
        cells = fill_cells(case(block((0, 0, 0), (1.1, 1.1, 1.1)), tubes=(tube,), size=(1.1, 1.1, 1.1)), grid)
        shift = outline_shift(cells, tube, 2)
        own = cells.of_body(tube)
        edge = own[:, 0, :-1] ^ own[:, 0, 1:]
        middle = np.abs(grid.centres(0) - 0.55) < 0.25 / 4
        assert edge[middle].any(axis=1).all()
        inside = np.abs(grid.centres(2) - 0.55)
        reach = np.sqrt(np.maximum(0.125**2 - (grid.centres(0) - 0.55) ** 2, 0.0))
        last = np.array([inside[own[i, 0]].max(initial=0.0) for i in range(44)])
        assert_allclose(shift[last > reach], 0.0, rtol=0, atol=0)
        assert shift[(last < reach) & ~middle].any()


class TestZones:
    AIR = Box("air", "air", (0, 0, 0), (1, 1, 1))
    WALL = block((0.25, 0, 0), (0.5, 1, 1))
    GRID = uniform_grid((1, 1, 1), 4)

    def test_each_connected_region_is_one(self):
        cells = fill_cells(case(self.AIR, self.WALL), self.GRID)
        assert cells.zone_names == ("air 1", "air 2")
        assert_array_equal(cells.zone[:, 0, 0], [0, -1, 1, 1])

    def test_stated_zones_come_first_and_later_ones_overpaint(self):
        zones = (
            AirZone("low", (0, 0, 0), (1, 1, 0.5)),
            AirZone("empty", (0.25, 0, 0), (0.5, 1, 1)),
            AirZone("corner", (0, 0, 0), (0.25, 1, 0.25)),
        )
        cells = fill_cells(case(self.AIR, self.WALL, zones=zones), self.GRID)
        assert cells.zone_names == ("low", "corner", "air 1", "air 2")
        assert_array_equal(cells.zone[0, 0], [1, 0, 2, 2])
        assert_array_equal(cells.zone[3, 0], [0, 0, 3, 3])
        assert set(cells.zone[1].ravel()) == {-1}


def test_kinds_and_bodies():
    plate = block((0, 0, 0.5), (1, 1, 0.75), METAL, kind="plate", name="plate 1")
    twin = block((0, 0, 0.75), (1, 1, 1), METAL, kind="plate", name="plate 2")
    cells = fill_cells(case(WHOLE, plate, twin), uniform_grid((1, 1, 1), 4))
    assert cells.kinds() == ["block", "plate", "plate"]
    assert_array_equal(cells.of_kind("plate")[0, 0], [False, False, True, True])
    assert_array_equal(cells.of_body(twin)[0, 0], [False, False, False, True])
    with pytest.raises(ValueError, match="read-only"):
        cells.body[0, 0, 0] = 3


def test_prints_as_a_tree_with_volumes():
    # 1 m³ of wood, half of it overpainted.
    text = str(fill_cells(case(WHOLE, block((0, 0, 0), (0.5, 1, 1), METAL)), uniform_grid((1, 1, 1), 4)))
    assert "Cells: 64, of them 64 solid" in text
    assert text.count("500 litres") == 2


def test_the_trees_call_the_deck_on_the_joists_a_subfloor_and_name_nothing_twice():
    deck = block((0, 0, 0.5), (1, 1, 1), METAL, kind="sheathing", name="plywood")
    plate = block((0, 0, 0), (1, 1, 0.5), METAL, kind="plate", name="plate 1")
    built = case(deck, plate)
    told = f"{built}\n{fill_cells(built, uniform_grid((1, 1, 1), 4))}"
    assert "subfloor: plywood" in told and "├── subfloor plywood" in told and "sheathing" not in told
    assert "├── plate 1: 500 litres" in told

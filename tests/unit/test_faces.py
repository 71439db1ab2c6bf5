"""Faces at cavity air and at the outside: areas, normals, what lies behind and in front."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sim.bay.cells import fill_cells
from sim.bay.faces import air_distance, cavity_faces, exposed_faces
from sim.bay.geometry import Box, Exposure, Geometry, Tube
from sim.bay.grid import Fineness, build_grid
from sim.case.materials import Material
from sim.physics.surroundings import FixedFlux

WOOD = Material("wood", (0.12, 0.12, 0.12), 500.0, 1600.0, 0.9)
MESH = Fineness((0.06, 0.11, 0.05), layer_cells=2, focus=0.02, tube_cells=4)
SIZE = (0.4, 0.6, 0.3)


def cells_of(*boxes, tubes=(), exposures=()):
    geometry = Geometry("test", (0, 0, 0), SIZE, boxes, tubes=tubes, exposures=exposures, layered=(0, 1, 2))
    return fill_cells(geometry, build_grid(geometry, MESH))


def block(low, high):
    return Box("wood", "block", low, high, WOOD)


WHOLE = block((0, 0, 0), SIZE)
HOLLOW = Box("air", "air", (0.1, 0.2, 0.05), (0.35, 0.5, 0.2))


class TestCavityFaces:
    CELLS = cells_of(WHOLE, HOLLOW)
    FACES = cavity_faces(CELLS)

    def test_areas_of_the_six_walls(self):
        # A hollow of 0.25 × 0.30 × 0.15 m.
        for side, area in enumerate((0.045, 0.045, 0.0375, 0.0375, 0.075, 0.075)):
            assert_allclose(self.FACES.area[self.FACES.side == side].sum(), area, rtol=1e-12, atol=0)

    def test_normals_lead_from_the_solid_into_the_air(self):
        assert self.CELLS.solid[self.FACES.index()].all()
        assert self.CELLS.air[tuple(self.FACES.neighbour.T)].all()
        # The floor of the hollow looks up (side 5), its ceiling down (side 4), its left wall to the right (side 1).
        for side, axis, at in ((5, 2, 0.05), (4, 2, 0.2), (1, 0, 0.1), (0, 0, 0.35), (3, 1, 0.2), (2, 1, 0.5)):
            assert_allclose(self.FACES.centre[self.FACES.side == side, axis], at, rtol=0, atol=1e-12)

    def test_depth_is_half_the_cell_behind(self):
        for axis in range(3):
            own = self.FACES.side // 2 == axis
            widths = self.CELLS.grid.widths(axis)[self.FACES.cell[own, axis]]
            assert_allclose(self.FACES.depth[own], 0.5 * widths, rtol=1e-12, atol=0)

    def test_extent_of_the_air_in_front(self):
        distance = air_distance(self.CELLS, self.FACES)
        for axis, extent in enumerate((0.25, 0.30, 0.15)):
            assert_allclose(distance[self.FACES.side // 2 == axis], extent, rtol=1e-12, atol=0)

    def test_take(self):
        up = self.FACES.take(self.FACES.side == 5)
        assert len(up) == int(np.sum(self.FACES.side == 5))
        assert set(up.side) == {5}


def test_air_in_front_ends_at_a_sheet_but_not_at_a_tube():
    sheet = Box("plate", "plate", (0.1, 0.2, 0.12), (0.35, 0.5, 0.121), WOOD, sheet=2)
    tube = Tube("tube", 1, (0.22, 0.16), (0.2, 0.5), 0.016)
    for parts, tubes, extent in (((WHOLE, HOLLOW, sheet), (), 0.07), ((WHOLE, HOLLOW), (tube,), 0.15)):
        cells = cells_of(*parts, tubes=tubes)
        faces = cavity_faces(cells)
        floor = (faces.side == 5) & (faces.centre[:, 2] < 0.06)
        assert_allclose(air_distance(cells, faces)[floor], extent, rtol=1e-12, atol=0)


def test_two_hollows_in_a_row_are_measured_apart():
    second = Box("air", "air", (0.1, 0.2, 0.22), (0.35, 0.5, 0.29))
    cells = cells_of(WHOLE, HOLLOW, second)
    faces = cavity_faces(cells)
    distance = air_distance(cells, faces)
    floors = faces.side == 5
    low = faces.centre[:, 2] < 0.1
    assert_allclose(distance[floors & low], 0.15, rtol=1e-12, atol=0)
    assert_allclose(distance[floors & ~low], 0.07, rtol=1e-12, atol=0)


class TestExposedFaces:
    def test_the_whole_top(self):
        top = Exposure("up", 5, 0.3, ((0.0, 0.4), (0.0, 0.6)), FixedFlux(0.0))
        faces = exposed_faces(cells_of(WHOLE, exposures=(top,)), top)
        assert_allclose(faces.area.sum(), 0.24, rtol=1e-12, atol=0)
        assert_allclose(faces.centre[:, 2], 0.3, rtol=0, atol=1e-12)

    @pytest.mark.parametrize(("side", "at"), [(0, 0.0), (1, 0.4), (2, 0.0), (3, 0.6), (4, 0.0), (5, 0.3)])
    def test_part_of_each_side(self, side, at):
        axis = side // 2
        ranges = tuple((0.1, 0.2) for a in range(3) if a != axis)
        part = Exposure("part", side, at, ranges, FixedFlux(0.0))
        faces = exposed_faces(cells_of(WHOLE, exposures=(part,)), part)
        assert_allclose(faces.area.sum(), 0.01, rtol=1e-12, atol=0)
        assert set(faces.side) == {side}

    def test_an_inner_plane_beside_void(self):
        # A step: the upper half is missing for x > 0.2; its tread is exposed, the rest of the plane is not.
        step = Exposure("tread", 5, 0.15, ((0.0, 0.4), (0.0, 0.6)), FixedFlux(0.0))
        low, high = block((0, 0, 0), (0.4, 0.6, 0.15)), block((0, 0, 0.15), (0.2, 0.6, 0.3))
        faces = exposed_faces(cells_of(low, high, exposures=(step,)), step)
        assert_allclose(faces.area.sum(), 0.12, rtol=1e-12, atol=0)
        assert faces.centre[:, 0].min() > 0.2

    def test_cavity_air_is_no_outside(self):
        floor = Exposure("floor", 5, 0.05, ((0.1, 0.35), (0.2, 0.5)), FixedFlux(0.0))
        assert len(exposed_faces(cells_of(WHOLE, HOLLOW, exposures=(floor,)), floor)) == 0

    def test_index_and_body(self):
        top = Exposure("up", 5, 0.3, ((0.0, 0.4), (0.0, 0.6)), FixedFlux(0.0))
        cells = cells_of(WHOLE, block((0, 0, 0.2), SIZE), exposures=(top,))
        faces = exposed_faces(cells, top)
        assert_array_equal(faces.body, 1)
        assert_array_equal(faces.index()[2], cells.grid.shape[2] - 1)

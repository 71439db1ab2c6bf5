"""Meshes: every interface on a cell face, sizes within their limits, sheets one cell thick."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.bay.geometry import AirZone, Box, Contact, Exposure, Feed, Geometry, Tube
from sim.bay.grid import SIZES, Fineness, Grid, build_grid, fill_interval, fineness_from_word
from sim.case.materials import Material
from sim.physics.surroundings import FixedFlux

WOOD = Material("wood", (0.12, 0.12, 0.12), 500.0, 1600.0, 0.9)
MESH = Fineness((0.02, 0.05, 0.02), layer_cells=2, focus=0.004, tube_cells=4)


def box(low, high, sheet=None):
    return Box("part", "block", low, high, WOOD, sheet=sheet)


def geometry(*boxes, **more):
    low = tuple(min(b.low[a] for b in boxes) for a in range(3))
    high = tuple(max(b.high[a] for b in boxes) for a in range(3))
    return Geometry("test", low, high, boxes, **{"layered": (0, 1, 2)} | more)


def crowded(rng):
    """Boxes, a tube, a contact, a surface and a zone at random places."""
    boxes = [box((0.0, 0.0, 0.0), (0.4, 0.6, 0.3))]
    for _ in range(6):
        low = rng.uniform(0.0, 0.25, 3)
        boxes.append(box(tuple(low), tuple(low + rng.uniform(0.003, 0.05, 3))))
    return geometry(
        *boxes,
        tubes=(Tube("tube", 1, (0.2111, 0.1234), (0.0, 0.6), 0.016),),
        contacts=(Contact(2, 0.1717, ((0.05, 0.31), (0.1, 0.2)), 0.01),),
        exposures=(Exposure("up", 5, 0.3, ((0.033, 0.377), (0.0, 0.6)), FixedFlux(0.0)),),
        zones=(AirZone("air", (0.0, 0.44, 0.0), (0.4, 0.6, 0.3)),),
    )


def wanted_planes(case, axis):
    planes = [case.low[axis], case.high[axis]]
    for part in (*case.boxes, *case.zones):
        planes += [part.low[axis], part.high[axis]]
    for tube in case.tubes:
        planes += tube.bounds(axis)
    planes += {0: [0.05, 0.31, 0.033, 0.377], 1: [0.1, 0.2], 2: [0.1717]}[axis]
    return planes


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_every_interface_is_an_edge(axis, rng):
    case = crowded(rng)
    edges = build_grid(case, MESH).edges[axis]
    for plane in wanted_planes(case, axis):
        assert np.abs(edges - plane).min() < 1e-6
    assert (edges[0], edges[-1]) == (case.low[axis], case.high[axis])


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_no_cell_is_larger_than_asked(axis, rng):
    widths = build_grid(crowded(rng), MESH).widths(axis)
    assert widths.min() > 0.0
    assert widths.max() <= MESH.largest[axis] * 1.02  # a fiftieth of a cell is not worth another one


def test_cells_through_each_layer():
    layers = [box((0, 0, z), (0.1, 0.1, z + t)) for z, t in ((0.0, 0.019), (0.019, 0.003), (0.022, 0.1))]
    case = geometry(*layers, exposures=(Exposure("up", 5, 0.122, ((0, 0.1), (0, 0.1)), FixedFlux(0.0)),))
    for cells in (1, 2, 5):
        z = build_grid(case, Fineness((0.1, 0.1, 0.1), cells, 0.1, 4)).z
        for low, high in ((0.0, 0.019), (0.019, 0.022), (0.022, 0.122)):
            inside = np.sum((z > low + 1e-9) & (z < high - 1e-9))
            assert inside + 1 >= cells


def test_a_sheet_is_one_cell_thick_and_does_not_shrink_its_neighbours():
    base = box((0, 0, 0), (0.2, 0.2, 0.1))
    sheet = box((0.05, 0.05, 0.05), (0.15, 0.15, 0.0504), sheet=2)
    grid = build_grid(geometry(base, sheet, layered=(2,)), MESH)
    at = grid.plane(2, 0.05)
    assert_allclose(grid.z[at + 1], 0.0504, rtol=0, atol=1e-9)
    assert min(grid.widths(2)[[at - 1, at + 1]]) > 0.003


def test_a_sheet_thicker_than_the_focus_size_is_still_one_cell():
    base, sheet = box((0, 0, 0), (0.2, 0.2, 0.1)), box((0.05, 0.05, 0.05), (0.15, 0.15, 0.056), sheet=2)
    focus = ((), (), ((0.05, 1.0), (0.056, 1.0)))
    grid = build_grid(geometry(base, sheet, focus=focus, layered=(2,)), MESH.refined(4))
    assert grid.plane(2, 0.056) == grid.plane(2, 0.05) + 1


def test_neighbours_differ_little(rng):
    # Sizes grow by 0.35 per unit of distance, so by e^0.35 = 1.42 a cell, and more only where a count is rounded up.
    # Narrow gaps between interfaces are left out: their size is given, not graded.
    case = geometry(
        box((0, 0, 0), (1.0, 0.1, 0.1)), box((0.4, 0, 0), (0.43, 0.1, 0.1)), focus=(((0.4, 1.0), (0.43, 1.0)), (), ())
    )
    widths = build_grid(case, Fineness((0.05, 0.05, 0.05), 2, 0.001, 4)).widths(0)
    ratios = widths[1:] / widths[:-1]
    assert max(ratios.max(), 1 / ratios.min()) < 1.6
    assert widths.min() < 0.0012


def test_cells_of_a_long_span_grow_evenly():
    """No jump where small cells at the ends of a long span meet larger ones: the growth that was asked for, no more."""
    widths = np.diff(fill_interval((0.0, 8.0), 0.04, [(0.0, 0.006), (8.0, 0.006)], 1, 0.15))
    assert np.all(np.abs(np.log(widths[1:] / widths[:-1])) < np.log(1.17))
    assert widths[0] < 0.007


def test_cells_near_a_focus_are_small():
    case = geometry(box((0, 0, 0), (0.4, 0.1, 0.1)), box((0.1, 0, 0), (0.3, 0.1, 0.1)), focus=(((0.1, 1.0),), (), ()))
    grid = build_grid(case, Fineness((0.04, 0.05, 0.05), 1, 0.002, 4))
    at = grid.plane(0, 0.1)
    assert grid.widths(0)[at] < 0.0027
    assert grid.widths(0)[-1] > 0.01


@pytest.mark.parametrize("cells", [4, 10])
def test_cells_across_a_tube(cells):
    case = geometry(box((0, 0, 0), (0.1, 1, 0.1)), tubes=(Tube("t", 1, (0.05, 0.04), (0, 1), 0.02),))
    grid = build_grid(case, Fineness((0.1, 1, 0.1), 1, 0.1, cells))
    for axis, centre in ((0, 0.05), (2, 0.04)):
        across = grid.plane(axis, centre + 0.01) - grid.plane(axis, centre - 0.01)
        assert across >= cells


class TestUniformAxis:
    SLAB = box((0, 0, 0), (0.5, 0.5, 0.1))
    TOP = Exposure("up", 5, 0.1, ((0, 0.5), (0, 0.5)), FixedFlux(0.0))

    def test_one_cell_where_nothing_varies(self):
        assert build_grid(geometry(self.SLAB, exposures=(self.TOP,)), MESH).shape[:2] == (1, 1)

    def test_more_under_a_partial_surface(self):
        part = Exposure("part", 5, 0.1, ((0, 0.2), (0, 0.5)), FixedFlux(0.0))
        shape = build_grid(geometry(self.SLAB, exposures=(part,)), MESH).shape
        assert shape[0] > 10
        assert shape[1] == 1

    def test_more_across_a_surface(self):
        side = Exposure("side", 0, 0.0, ((0, 0.5), (0, 0.1)), FixedFlux(0.0))
        assert build_grid(geometry(self.SLAB, exposures=(side,)), MESH).shape[0] > 10

    def test_more_along_water_only(self):
        isothermal = Tube("t", 1, (0.2, 0.05), (0, 0.5), 0.02, temperature=320.0)
        water = Tube("t", 1, (0.2, 0.05), (0, 0.5), 0.02, 0.015, feed=Feed(320.0, 0.01, None, 60.0))
        assert build_grid(geometry(self.SLAB, exposures=(self.TOP,), tubes=(isothermal,)), MESH).shape[1] == 1
        assert build_grid(geometry(self.SLAB, exposures=(self.TOP,), tubes=(water,)), MESH).shape[1] >= 10


def test_planes_closer_than_a_micrometre_are_one():
    case = geometry(
        box((0, 0, 0), (0.1, 0.1, 0.1)), box((0.05, 0, 0), (0.1, 0.1, 0.1)), box((0, 0, 0), (0.05 + 4e-7, 0.1, 0.1))
    )
    assert build_grid(case, MESH).widths(0).min() > 1e-4


def test_a_symmetric_geometry_has_a_symmetric_mesh():
    parts = [
        box((0, 0, 0), (0.4, 0.1, 0.2)),
        box((0.05, 0, 0.1), (0.09, 0.1, 0.12)),
        box((0.31, 0, 0.1), (0.35, 0.1, 0.12)),
    ]
    x = build_grid(geometry(*parts, focus=(((0.05, 1.0), (0.35, 1.0)), (), ())), MESH).x
    assert_allclose(x + x[::-1], 0.4, rtol=0, atol=1e-12)


def test_refined_halves_every_size():
    floor = [box((0, 0, z), (0.4, 0.4, z + t)) for z, t in ((-0.2, 0.2), (0.0, 0.019), (0.019, 0.012))]
    plate = box((0.1, 0.1, -0.0005), (0.3, 0.3, 0.0), sheet=2)
    case = geometry(*floor, plate, focus=(((0.1, 1.0), (0.3, 1.0)),) * 2 + ((),), layered=(2,))
    rough, fine = build_grid(case, MESH), build_grid(case, MESH.refined())
    for axis in range(3):
        assert 1.6 < (fine.shape[axis] - 1) / (rough.shape[axis] - 1) < 2.2
    assert MESH.refined(3).layer_cells == 6


def test_finer_words_make_more_cells(rng):
    case = crowded(rng)
    sizes = [build_grid(case, fineness_from_word(word)).size for word in SIZES]
    assert sizes == sorted(sizes)
    assert sizes[0] < 0.5 * sizes[-1]


class TestGridValue:
    GRID = Grid(np.array([0.0, 0.1, 0.4]), np.array([0.0, 1.0]), np.array([0.0, 0.02, 0.05, 0.1]))

    def test_measures_by_hand(self):
        assert self.GRID.shape == (2, 1, 3)
        assert self.GRID.size == 6
        assert_allclose(self.GRID.volumes().sum(), 0.04, rtol=1e-12, atol=0)
        assert_allclose(self.GRID.face_areas(0)[0, 0], [0.02, 0.03, 0.05], rtol=1e-12, atol=0)
        assert_allclose(self.GRID.face_areas(2)[:, 0, 0], [0.1, 0.3], rtol=1e-12, atol=0)
        assert_allclose(self.GRID.centres(2), [0.01, 0.035, 0.075], rtol=1e-12, atol=0)

    def test_lookup(self):
        assert self.GRID.plane(2, 0.05) == 2
        assert self.GRID.index_range(2, 0.02, 0.1) == slice(1, 3)
        with pytest.raises(ValueError, match=r"no mesh plane at 0.06 m on axis z"):
            self.GRID.plane(2, 0.06)

    def test_cannot_be_written_to(self):
        with pytest.raises(ValueError, match="read-only"):
            self.GRID.x[0] = 1.0

    def test_prints_as_a_tree(self):
        assert str(self.GRID).splitlines()[0] == "Grid 2 × 1 × 3 = 6 cells"
        assert "z: 3 cells, 20 to 50 mm" in str(self.GRID)
        assert "y: 1 cell, 1000 mm" in str(self.GRID) and " to " not in str(self.GRID).splitlines()[2]


@pytest.mark.parametrize(("gap", "cells"), [(0.003, 1), (0.006, 2)])
def test_between_two_planes_closer_than_the_focus_lies_one_cell(gap, cells):
    parts = box((0, 0, 0), (0.4, 0.1, 0.1)), box((0.2, 0, 0), (0.2 + gap, 0.1, 0.1))
    x = build_grid(geometry(*parts, layered=(2,)), MESH).x
    assert ((x > 0.2 - 1e-9) & (x < 0.2 + gap + 1e-9)).sum() == cells + 1

"""The grid of rays: fewer lines than the cells', and the same walls at the same places."""

import numpy as np
import pytest

from sim.physics.ray_grid import ray_grid
from sim.physics.view_factors import trace_exchange

MIRRORS = (True, True, True, True, False, False)


def fine(coarse, times):
    """Every cell of a grid cut into so many along each axis."""
    return [np.interp(np.arange((len(line) - 1) * times + 1) / times, np.arange(len(line)), line) for line in coarse]


def box_with_a_post(times):
    """A box of 3 x 3 x 2 cells with a solid post in its middle, all cut finer: edges, solids and walls by side."""
    edges = fine(([0.0, 1.0, 1.5, 3.0], [0.0, 0.4, 1.0, 2.0], [0.0, 0.3, 0.9]), times)
    solid = np.zeros([len(line) - 1 for line in edges], bool)
    solid[times : 2 * times, times : 2 * times] = True
    around = np.pad(solid, ((0, 0), (0, 0), (1, 1)), constant_values=True)
    cells, sides = [], []
    for side in range(6):
        axis, step = side // 2, 2 * (side % 2) - 1
        behind = np.roll(around, -step, axis)[:, :, 1:-1]
        if axis < 2:
            behind[tuple(slice(None) if a != axis else (-1 if step > 0 else 0) for a in range(3))] = False
        found = np.argwhere(~solid & behind)
        cells.append(found)
        sides.append(np.full(len(found), side))
    return edges, solid, np.concatenate(cells), np.concatenate(sides)


@pytest.mark.parametrize("times", [1, 2, 5])
def test_lines_at_which_nothing_changes_are_left_out(times):
    edges, solid, cell, side = box_with_a_post(times)
    grid = ray_grid(edges, solid, cell, side, side)
    # the post's four sides are all that changes across and along; upright nothing does
    assert grid.solid.shape == (3, 3, 1)
    np.testing.assert_allclose(grid.lines[0], [0.0, 1.0, 1.5, 3.0])
    np.testing.assert_array_equal(grid.walls[0, 0, 0], [-1, -1, -1, -1, 4, 5])
    np.testing.assert_array_equal(grid.home[2], np.zeros(2 * times))


def test_a_patch_that_ends_within_a_wall_keeps_its_line():
    edges, solid, cell, side = box_with_a_post(4)
    halves = np.where((side == 4) & (cell[:, 0] < 2), 6, side)
    assert ray_grid(edges, solid, cell, side, halves).solid.shape == (4, 3, 1)


def test_exchange_of_a_fine_grid_is_that_of_a_coarse_one():
    coarse, cut = (trace_exchange(*box_with_a_post(times)[:3], side_of(times), side_of(times), MIRRORS, 20_000)
                   for times in (1, 4))
    # other faces, other rays: within their scatter, 1 in the root of the rays that hit
    np.testing.assert_allclose(cut[0], coarse[0], atol=0.01 * coarse[0].max())
    np.testing.assert_allclose(cut[1], 0.0, atol=1e-12)


def side_of(times):
    """Sides of the walls: also their patches, one a side."""
    return box_with_a_post(times)[3]

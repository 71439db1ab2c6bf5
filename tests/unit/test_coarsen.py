"""Coarser levels: which planes go, and what is left of the conductances."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sim.solver.coarsen import choose_drops, choose_planes, coarsen, plane_scores
from sim.solver.column_kernels import coloured_column, stored_row
from sim.solver.columns import ColumnGrid


def chain(conductance, nz=1):
    """A row of columns along x, each of nz cells that are not joined to one another."""
    g = np.repeat(np.asarray(conductance, float)[:, None], nz, axis=1)
    n = g.shape[0] + 1
    return ColumnGrid(n, 1, g, np.zeros((0, nz)), np.zeros((n, nz - 1)))


def level(rng, nx, ny, nz):
    """A level with random conductances."""
    return ColumnGrid(
        nx, ny, rng.random(((nx - 1) * ny, nz)), rng.random((nx * (ny - 1), nz)), rng.random((nx * ny, nz - 1))
    )


@pytest.mark.parametrize("planes", [1, 2, 3, 8, 9, 30])
def test_every_other_plane_of_a_uniform_grid_goes(planes):
    drop = choose_planes(np.full(planes, 0.5), 0.25)
    assert drop.sum() == planes // 2 if planes < 3 else drop.sum() >= (planes - 1) // 2
    assert not (drop[1:] & drop[:-1]).any()


def test_planes_below_the_threshold_stay(rng):
    score = rng.random(50)
    drop = choose_planes(score, 0.4)
    assert not drop[score < 0.4].any()
    assert not (drop[1:] & drop[:-1]).any()


def test_a_standing_sheet_keeps_its_plane():
    # Plane 4 conducts a hundred times better within itself than towards its neighbours.
    nx, ny = 9, 16
    gy = np.ones((nx, ny - 1, 1))
    gy[4] = 100.0
    grid = ColumnGrid(nx, ny, np.ones(((nx - 1) * ny, 1)), gy.reshape(-1, 1), np.zeros((nx * ny, 0)))
    drops = choose_drops(grid, grid.eliminate(np.full((nx * ny, 1), 1e-6)), 0.25, 0.75)
    assert drops[0].any()
    assert not drops[0][4]


def test_two_conductances_in_series():
    # 2 W/K and 3 W/K in series are 6/5 W/K: a textbook sum, 1/(1/2 + 1/3).
    coarse, _ = coarsen(chain([2.0, 3.0]), np.zeros((3, 1)), 0, np.array([False, True, False]))
    assert_allclose(coarse.gx, [[1.2]], rtol=1e-14, atol=0)


def test_weights_of_a_dropped_column_follow_the_stronger_neighbour():
    _, way = coarsen(chain([3.0, 1.0]), np.zeros((3, 1)), 0, np.array([False, True, False]))
    assert_allclose([way.low_weight[0, 0], way.high_weight[0, 0]], [0.75, 0.25], rtol=1e-14, atol=0)


def test_a_fixed_temperature_on_a_dropped_plane_is_eliminated():
    # 1 W/K to a neighbour and 2 W/K to a fixed temperature: 2/3 W/K in series from the neighbour.
    sink = np.array([[0.0], [2.0]])
    _, way = coarsen(chain([1.0]), sink, 0, np.array([False, True]))
    assert_allclose(way.gather(sink), [[2.0 / 3.0]], rtol=1e-14, atol=0)


@pytest.mark.parametrize("axis", [0, 1])
def test_what_lies_across_and_along_the_columns_is_conserved(rng, axis):
    # Without sinks the weights of a dropped cell add up to one: nothing is lost, whatever they are.
    grid = level(rng, 7, 6, 5)
    drop = np.zeros((7, 6)[axis], bool)
    drop[[1, 4]] = True
    coarse, way = coarsen(grid, np.zeros((42, 5)), axis, drop)
    assert_allclose(way.low_weight + way.high_weight, 1.0, rtol=1e-12, atol=0)
    assert_allclose(coarse.gz.sum(), grid.gz.sum(), rtol=1e-12, atol=0)
    across, coarse_across = (grid.gy, coarse.gy) if axis == 0 else (grid.gx, coarse.gx)
    assert_allclose(coarse_across.sum(), across.sum(), rtol=1e-12, atol=0)


def test_both_axes_are_treated_alike(rng):
    grid = level(rng, 6, 6, 4)
    turned = ColumnGrid(
        6,
        6,
        grid.gy.reshape(6, 5, 4).transpose(1, 0, 2).reshape(-1, 4),
        grid.gx.reshape(5, 6, 4).transpose(1, 0, 2).reshape(-1, 4),
        grid.gz.reshape(6, 6, 3).transpose(1, 0, 2).reshape(-1, 3),
    )
    drop = np.array([True, False, True, False, False, True])
    a, _ = coarsen(grid, np.zeros((36, 4)), 0, drop)
    b, _ = coarsen(turned, np.zeros((36, 4)), 1, drop)
    assert_allclose(a.gx.reshape(2, 6, 4).transpose(1, 0, 2).ravel(), b.gy.ravel(), rtol=1e-9, atol=0)
    assert_allclose(a.gz.reshape(3, 6, 3).transpose(1, 0, 2).ravel(), b.gz.ravel(), rtol=1e-9, atol=0)


@pytest.mark.parametrize("shape", [(1, 1), (4, 5), (5, 4), (3, 3), (1, 6), (6, 1)])
def test_rows_and_columns_are_inverse(shape):
    nx, ny = shape
    half = (nx * ny + 1) // 2
    rows = [stored_row(c, ny, half) for c in range(nx * ny)]
    assert [coloured_column(r % half, r // half, ny) for r in rows] == list(range(nx * ny))
    grid = ColumnGrid(nx, ny, *(np.zeros((n, 1)) for n in ((nx - 1) * ny, nx * (ny - 1))), np.zeros((nx * ny, 0)))
    assert list(grid.rows) == rows


def test_every_column_is_eliminated_with_its_own_sinks(rng):
    """The pivots of its own matrix, lateral conductances and sink on the diagonal: d − g² / the pivot before."""
    nx, ny, nz = 3, 2, 5
    gx, gy, gz = rng.random((2, 2, nz)), rng.random((3, 1, nz)), rng.random((3, 2, nz - 1))
    sink = rng.random((nx, ny, nz))
    grid = ColumnGrid(nx, ny, gx.reshape(-1, nz), gy.reshape(-1, nz), gz.reshape(-1, nz - 1))
    found = 1.0 / grid.eliminate(sink.reshape(-1, nz)).inverse[grid.rows]
    own = sink.copy()
    own[:-1] += gx
    own[1:] += gx
    own[:, :-1] += gy
    own[:, 1:] += gy
    own[..., :-1] += gz
    own[..., 1:] += gz
    pivots = own.copy()
    for k in range(1, nz):
        pivots[..., k] -= gz[..., k - 1] ** 2 / pivots[..., k - 1]
    assert_allclose(found, pivots.reshape(-1, nz), rtol=1e-10)


def test_planes_are_judged_by_where_heat_leaves_their_columns(rng):
    """By the dense matrix of each column: heat spreads along it, and leaves along x or y, or to its sink."""
    nx, ny, nz = 4, 3, 5
    gx, gy, gz = rng.random((nx - 1, ny, nz)), rng.random((nx, ny - 1, nz)), rng.random((nx, ny, nz - 1))
    sink = 0.1 * rng.random((nx, ny, nz))
    sink[0, 0] = 1e3  # a column held fast: nothing of its heat leaves sideways, so it has no say
    along, across = np.zeros((2, nx, ny, nz))
    along[:-1] += gx
    along[1:] += gx
    across[:, :-1] += gy
    across[:, 1:] += gy
    shares = np.full((nx, ny, nz), np.nan)
    for i, j in np.ndindex(nx, ny):
        g = gz[i, j]
        upright = np.append(g, 0.0) + np.append(0.0, g)
        matrix = np.diag(along[i, j] + across[i, j] + sink[i, j] + upright) - np.diag(g, 1) - np.diag(g, -1)
        a, b = np.linalg.solve(matrix, np.column_stack([along[i, j], across[i, j]])).T
        shares[i, j] = np.where(a + b > 0.02, a / (a + b), np.nan)
    assert np.isnan(shares[0, 0]).all() and np.isfinite(shares[1:]).all()
    grid = ColumnGrid(nx, ny, gx.reshape(-1, nz), gy.reshape(-1, nz), gz.reshape(-1, nz - 1))
    in_x, in_y = plane_scores(grid, grid.eliminate(sink.reshape(-1, nz)))
    assert_allclose(in_x, np.nanmin(shares, axis=(1, 2)), rtol=1e-10)
    assert_allclose(in_y, 1.0 - np.nanmax(shares, axis=(0, 2)), rtol=1e-10)

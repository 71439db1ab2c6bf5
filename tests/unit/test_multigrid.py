"""The preconditioner: symmetric, positive, close to the inverse, and quick on hard grids."""

import hard_grids
import numpy as np
import pytest
from hard_grids import SMALL, random_stencil
from numpy.testing import assert_allclose

from sim.solver.linear import solve_linear
from sim.solver.multigrid import MultigridOptions, StencilOperator, build_multigrid

# Iterations to a residual of 1e-8; the project's own target is 15. Conductivities drawn anew for every
# cell over four decades are beyond what a seven-point coarse level can represent and need a few more.
CEILINGS = dict.fromkeys(hard_grids.FAMILY, 15) | {"random cells": 20, "one column": 3, "uniform": 11}


def as_matrix(function, shape):
    """Dense matrix of a linear function, column by column."""
    size = int(np.prod(shape))
    return np.stack([function(e.reshape(shape)).ravel() for e in np.eye(size)], axis=1)


def iterations(system, seed=7, tolerance=1e-8, **options):
    """Iterations to the tolerance for a random and for a top-heated right-hand side; the larger."""
    operator = StencilOperator(*system)
    multigrid = build_multigrid(operator, MultigridOptions(**options))
    taking_part = ~((operator.sink == 1.0) & (operator.diagonal() == 1.0))
    random = np.random.default_rng(seed).standard_normal(operator.shape) * operator.diagonal()
    top = np.zeros(operator.shape)
    top[..., -1] = 1.0
    sides = [rhs * taking_part for rhs in (random, top)]
    found = [solve_linear(operator.apply, rhs, None, multigrid, tolerance, 60) for rhs in sides]
    assert all(f.converged for f in found)
    return max(f.iterations for f in found)


@pytest.mark.parametrize("precision, tolerance", [("double", 1e-13), ("single", 1e-5)])
@pytest.mark.parametrize("shape", SMALL)
def test_cycle_is_symmetric_and_positive(rng, shape, precision, tolerance):
    operator = random_stencil(rng, shape, holes=0.15)
    multigrid = build_multigrid(operator, MultigridOptions(precision=precision))
    inverse = as_matrix(multigrid.cycle, shape)
    scale = np.abs(inverse).max()
    assert_allclose(inverse, inverse.T, rtol=0, atol=tolerance * scale)
    assert np.linalg.eigvalsh(0.5 * (inverse + inverse.T)).min() > 0.0


@pytest.mark.parametrize("shape", [(1, 1, 12), (1, 1, 1)])
def test_a_single_column_is_solved_exactly(rng, shape):
    operator = random_stencil(rng, shape, decades=4.0)
    rhs = rng.standard_normal(shape)
    z = build_multigrid(operator, MultigridOptions(precision="double")).cycle(rhs)
    assert_allclose(operator.apply(z), rhs, rtol=0, atol=1e-9 * np.abs(rhs).max())


def test_with_sink_there_and_back_changes_nothing(rng):
    operator = random_stencil(rng, (9, 8, 6), holes=0.2)
    rhs = rng.standard_normal(operator.shape)
    first = build_multigrid(operator)
    z = first.cycle(rhs)
    again = first.with_sink(operator.sink + 3.0).with_sink(operator.sink)
    assert_allclose(again.cycle(rhs), z, rtol=0, atol=0)


def test_with_sink_solves_single_columns_of_the_new_operator(rng):
    operator = random_stencil(rng, (1, 1, 9))
    other = operator.with_sink(operator.sink + 2.0)
    multigrid = build_multigrid(operator, MultigridOptions(precision="double"))
    z = multigrid.with_sink(other.sink).cycle(other.sink)
    assert_allclose(z, 1.0, rtol=1e-12, atol=0)  # a uniform 1 K feeds every sink with its own conductance


def test_with_sink_still_converges_after_a_large_change(rng):
    operator = StencilOperator(*hard_grids.flat_sheets(24, 30, 12))
    changed = operator.with_sink(operator.sink * 100.0 + 1.0e-4)
    multigrid = build_multigrid(operator).with_sink(changed.sink)
    found = solve_linear(changed.apply, rng.standard_normal(operator.shape), None, multigrid, 1e-8, 30)
    assert found.converged
    assert found.iterations <= 15


def test_cells_that_take_no_part_keep_their_value(rng):
    operator = random_stencil(rng, (6, 6, 6), holes=0.3)
    out = (operator.sink == 1.0) & (operator.diagonal() == 1.0)
    rhs = np.where(out, 5.0, rng.standard_normal(operator.shape))
    found = solve_linear(operator.apply, rhs, None, build_multigrid(operator), 1e-12, 100)
    assert found.converged
    assert_allclose(found.x[out], 5.0, rtol=1e-9, atol=0)


def test_manufactured_solution(rng):
    # Any chosen temperature field is recovered from the flows it drives.
    operator = StencilOperator(*hard_grids.layered(21, 23, 20))
    x, y, z = np.meshgrid(*(np.linspace(0, np.pi, n) for n in operator.shape), indexing="ij")
    chosen = 300.0 + 10.0 * np.cos(x) * np.cos(2 * y) + z
    found = solve_linear(operator.apply, operator.apply(chosen), None, build_multigrid(operator), 1e-12, 60)
    assert found.converged
    assert_allclose(found.x, chosen, rtol=0, atol=1e-5)


def test_prints_as_a_tree(rng):
    assert "levels, columns: 4×3" in str(build_multigrid(random_stencil(rng, (4, 3, 5))))


@pytest.mark.parametrize("name", hard_grids.FAMILY)
def test_iterations_stay_below_the_ceiling(name):
    assert iterations(hard_grids.FAMILY[name]()) <= CEILINGS[name]


@pytest.mark.parametrize("kind", ["hung", "upright"])
def test_iterations_do_not_grow_with_the_grid(kind):
    counts = [iterations(hard_grids.bay(n, 2 * n, n // 2, **{kind: True})) for n in (18, 36, 72)]
    assert max(counts) <= 15
    assert counts[-1] <= counts[0] + 3


@pytest.mark.parametrize("contrast", [1.0, 1.0e2, 1.0e6])
@pytest.mark.parametrize("sheets", [hard_grids.flat_sheets, hard_grids.upright_sheets])
def test_iterations_do_not_depend_on_the_contrast(sheets, contrast):
    assert iterations(sheets(30, 40, 14, contrast=contrast)) <= 15


def test_memory_stays_lean():
    # The project's limit is 30 doubles a cell for the whole solve; vectors and operator take 11 of them.
    system = hard_grids.bay(40, 60, 30, hung=True)
    multigrid = build_multigrid(StencilOperator(*system))
    assert multigrid.memory / 8 / system[3].size <= 12.0


def test_threads_change_nothing(rng, monkeypatch):
    operator = StencilOperator(*hard_grids.bay(20, 24, 20, upright=True))
    rhs = rng.standard_normal(operator.shape)
    alone = build_multigrid(operator).cycle(rhs)
    monkeypatch.setattr("sim.solver.threads.SMALLEST_SHARED_LOOP", 1)
    assert_allclose(build_multigrid(operator).cycle(rhs), alone, rtol=0, atol=0)

"""Conjugate gradients: against a direct solve, and every way of stopping."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.sparse.linalg import spsolve

from sim.solver.linear import solve_linear
from sim.solver.multigrid import StencilOperator, build_multigrid


@pytest.fixture
def operator(rng):
    """A small stencil with random conductances over three decades."""
    nx, ny, nz = 7, 6, 5
    g = [10.0 ** rng.uniform(-1.5, 1.5, s) for s in ((nx - 1, ny, nz), (nx, ny - 1, nz), (nx, ny, nz - 1))]
    return StencilOperator(*g, rng.random((nx, ny, nz)))


def test_solution_equals_direct_solve(operator, rng):
    # Oracle: scipy's sparse direct solver on the assembled matrix.
    rhs = rng.standard_normal(operator.shape)
    found = solve_linear(operator.apply, rhs, None, build_multigrid(operator), 1e-12, 100)
    exact = spsolve(operator.to_sparse().tocsc(), rhs.ravel()).reshape(rhs.shape)
    assert found.stop_reason == "converged"
    assert_allclose(found.x, exact, rtol=0, atol=1e-10 * np.abs(exact).max())


def test_without_preconditioner_and_with_a_start(operator, rng):
    rhs, start = rng.standard_normal((2, *operator.shape))
    before = start.copy()
    found = solve_linear(operator.apply, rhs, start, None, 1e-10, 2000)
    assert found.converged
    assert_allclose(operator.apply(found.x), rhs, rtol=0, atol=1e-9 * np.linalg.norm(rhs))
    assert_allclose(start, before, rtol=0, atol=0)


def test_extra_low_rank_coupling(operator, rng):
    # A balance with one added node, eliminated: A + c u uᵀ; oracle: dense solve.
    u, rhs = rng.standard_normal((2, *operator.shape))

    def apply(t):
        return operator.apply(t) + 3.0 * u * np.vdot(u, t)

    found = solve_linear(apply, rhs, None, build_multigrid(operator), 1e-11, 200)
    dense = operator.to_sparse().toarray() + 3.0 * np.outer(u.ravel(), u.ravel())
    exact = np.linalg.solve(dense, rhs.ravel()).reshape(rhs.shape)
    assert_allclose(found.x, exact, rtol=0, atol=1e-8 * np.abs(exact).max())


def test_history_is_true_residual(operator, rng):
    rhs = rng.standard_normal(operator.shape)
    found = solve_linear(operator.apply, rhs, None, build_multigrid(operator), 1e-9, 100)
    left = np.linalg.norm(rhs - operator.apply(found.x)) / np.linalg.norm(rhs)
    assert len(found.residual_history) == found.iterations + 1
    assert_allclose(found.residual_history[-1], left, rtol=1e-6, atol=0)
    assert left <= 1e-9


def test_exact_start_needs_no_iteration(operator, rng):
    x = rng.standard_normal(operator.shape)
    found = solve_linear(operator.apply, operator.apply(x), x, None, 1e-8, 10)
    assert (found.iterations, found.stop_reason) == (0, "converged")


def test_zero_right_hand_side(operator, rng):
    start = rng.standard_normal(operator.shape)
    found = solve_linear(operator.apply, np.zeros(operator.shape), start, None, 1e-8, 10)
    assert found.converged
    assert_allclose(found.x, 0.0, rtol=0, atol=0)


def test_iteration_limit_is_said(operator, rng):
    found = solve_linear(operator.apply, rng.standard_normal(operator.shape), None, None, 1e-12, 3)
    assert (found.iterations, found.stop_reason) == (3, "iteration limit")
    assert not found.converged


def test_indefinite_operator_is_a_breakdown(rng):
    signs = np.array([1.0, -1.0, 1.0, -1.0])
    found = solve_linear(lambda v: signs * v, np.array([1.0, 2.0, 1.0, 2.0]), None, None, 1e-12, 50)
    assert found.stop_reason == "breakdown"


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_non_finite_values_are_said(operator, bad):
    rhs = np.ones(operator.shape)
    rhs[2, 3, 1] = bad
    with np.errstate(invalid="ignore", over="ignore"):
        found = solve_linear(operator.apply, rhs, None, build_multigrid(operator), 1e-8, 10)
    assert found.stop_reason == "not finite"


def test_operator_that_turns_non_finite(operator):
    def apply(t):
        return np.full_like(t, np.nan) if np.any(t) else np.zeros_like(t)

    found = solve_linear(apply, np.ones(operator.shape), None, None, 1e-8, 10)
    assert found.stop_reason == "not finite"


def test_prints_as_a_tree(operator):
    text = str(solve_linear(operator.apply, np.ones(operator.shape), None, None, 1e-8, 2))
    assert text.splitlines()[0] == "LinearSolution: iteration limit"
    assert "iterations: 2" in text

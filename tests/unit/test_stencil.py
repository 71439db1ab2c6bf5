"""The seven-point operator: against its own matrix, its conservation, and refusal of bad coefficients."""

import numpy as np
import pytest
from hard_grids import SMALL, random_stencil
from numpy.testing import assert_allclose

from sim.solver.stencil import StencilOperator


@pytest.mark.parametrize("shape", SMALL)
def test_apply_and_diagonal_equal_the_matrix(rng, shape):
    operator = random_stencil(rng, shape, holes=0.2)
    t = rng.standard_normal(shape)
    matrix = operator.to_sparse()
    assert_allclose(operator.apply(t).ravel(), matrix @ t.ravel(), rtol=0, atol=1e-11 * abs(matrix).max())
    assert_allclose(operator.diagonal().ravel(), matrix.diagonal(), rtol=1e-14, atol=0)
    assert abs(matrix - matrix.T).max() == 0.0


def test_rows_sum_to_the_sink(rng):
    # A uniform temperature drives no flow between cells: A 1 = sink.
    operator = random_stencil(rng, (6, 5, 4))
    assert_allclose(operator.apply(np.ones(operator.shape)), operator.sink, rtol=1e-14, atol=0)


def test_flow_between_two_cells():
    # Two cells at 3 K and 1 K with 5 W/K between them and a sink of 2 W/K in the second, on each axis.
    for axis in range(3):
        shape = [1, 1, 1]
        shape[axis] = 2
        faces = [np.zeros([n - (a == b) for b, n in enumerate(shape)]) for a in range(3)]
        faces[axis][...] = 5.0
        operator = StencilOperator(*faces, np.array([0.0, 2.0]).reshape(shape))
        flow = operator.apply(np.array([3.0, 1.0]).reshape(shape))
        assert_allclose(flow.ravel(), [10.0, -10.0 + 2.0], rtol=1e-15, atol=0)


def test_large_grids_are_shared_between_threads(rng, monkeypatch):
    operator = random_stencil(rng, (9, 7, 5))
    t = rng.standard_normal(operator.shape)
    alone = operator.apply(t)
    monkeypatch.setattr("sim.solver.threads.SMALLEST_SHARED_LOOP", 1)
    assert_allclose(operator.apply(t), alone, rtol=0, atol=0)


def test_with_sink_replaces_only_the_sink(rng):
    operator = random_stencil(rng, (4, 3, 5))
    other = operator.with_sink(np.full(operator.shape, 7.0))
    assert other.gx is operator.gx
    assert_allclose(other.diagonal() - operator.diagonal(), 7.0 - operator.sink, rtol=0, atol=1e-9)
    with pytest.raises(ValueError, match="sink"):
        operator.with_sink(-operator.sink)
    with pytest.raises(ValueError, match="sink has shape"):
        operator.with_sink(np.ones((4, 3, 4)))


def test_arrays_are_read_only(rng):
    operator = random_stencil(rng, (4, 3, 5))
    with pytest.raises(ValueError, match="read-only"):
        operator.gx[0] = 1.0


@pytest.mark.parametrize("name", ["gx", "gy", "gz", "sink"])
def test_bad_coefficients_are_refused(rng, name):
    good = random_stencil(rng, (4, 3, 5))
    parts = {n: getattr(good, n).copy() for n in ("gx", "gy", "gz", "sink")}
    for value in (-1.0, np.nan, np.inf):
        bad = parts | {name: parts[name].copy()}
        bad[name].flat[3] = value
        with pytest.raises(ValueError, match=name):
            StencilOperator(**bad)
    with pytest.raises(ValueError, match=f"{name}|shape"):
        StencilOperator(**(parts | {name: np.ones((4, 3, 3))}))


def test_prints_as_a_tree(rng):
    assert str(random_stencil(rng, (4, 3, 5))).startswith("StencilOperator: 4 × 3 × 5 cells")

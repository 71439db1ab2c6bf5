"""The influence matrix of closed faces, piece by piece, against the pseudo-inverse of the whole operator."""

import numpy as np
import pytest
from airflow_cases import random_planes
from numpy.testing import assert_allclose

from sim.airflow.domain import build_domain
from sim.airflow.face_influence import face_influence, line_key
from sim.airflow.grid_tables import axis_tables
from sim.airflow.modes import build_modes


def box_operator(domain):
    """Volume-weighted Poisson operator of the empty box, from the three axes' second differences."""

    def axis(width):
        gap = 0.5 * (width[1:] + width[:-1])
        step = np.diff(np.eye(width.size), axis=0)
        return step.T @ (step / gap[:, None])

    width = domain.widths
    mass, stiff = [np.diag(w) for w in width], [axis(w) for w in width]
    kron = lambda a, b, c: np.kron(np.kron(a, b), c)  # noqa: E731
    x, y, z = ([stiff[b] if a == b else mass[b] for b in range(3)] for a in range(3))
    return kron(*x) + kron(*y) + kron(*z)


@pytest.fixture
def faces(rng):
    """Sixty faces of all three directions, anywhere in a box of 6 × 5 × 4 cells, several at the same place along it."""
    domain = build_domain([random_planes(rng, n)[: m + 1] for n, m in ((2, 6), (2, 5), (2, 4))])
    cells = np.argwhere(np.ones(domain.shape, bool))
    below, above = [], []
    for axis in range(3):
        inner = cells[cells[:, axis] < domain.shape[axis] - 1]
        chosen = inner[rng.permutation(len(inner))[:20]]
        below.append(chosen)
        above.append(chosen + np.eye(3, dtype=int)[axis])
    return domain, np.concatenate(below), np.concatenate(above)


def expected(domain, below, above, conductance, null):
    inverse = np.linalg.pinv(box_operator(domain), rcond=1e-12)
    low, high = (np.ravel_multi_index(tuple(c.T), domain.shape) for c in (below, above))
    difference = inverse[:, high] - inverse[:, low]
    matrix = np.diag(1.0 / conductance) - (difference[high] - difference[low])
    return matrix, matrix + np.trace(matrix) / len(below) * null @ null.T


@pytest.fixture
def both(rng, faces):
    domain, below, above = faces
    axis = (above - below).argmax(axis=1)
    first, second = ([domain.centres[a][c[a]] for a, c in zip(axis, cells, strict=True)] for cells in (below, above))
    area = domain.volumes[tuple(below.T)] / [domain.widths[a][c[a]] for a, c in zip(axis, below, strict=True)]
    conductance = area / np.subtract(second, first)
    null = np.linalg.qr(rng.standard_normal((len(below), 2)))[0]
    matrix, order = face_influence(below, above, conductance, null, build_modes(*axis_tables(domain)))
    whole = expected(domain, below, above, conductance, null)[1]
    return matrix, whole[np.ix_(order, order)]


def test_faces_are_in_the_order_of_their_lines(both):
    matrix, _ = both
    assert np.all(np.diff(line_key(matrix.below, matrix.above)) >= 0)


def test_dense_blocks_and_diagonal(both):
    matrix, whole = both
    assert_allclose(matrix.dense(0, 60), whole, rtol=0.0, atol=1e-12)
    assert_allclose(matrix.dense(17, 41), whole[17:41, 17:41], rtol=0.0, atol=1e-12)
    assert_allclose(matrix.diagonal(5, 50), whole.diagonal()[5:50], rtol=0.0, atol=1e-12)


def test_far_blocks_wherever_they_are_split(rng, both):
    """Also between faces within a line, and between faces across the lines in one gap."""
    matrix, whole = both
    for start, middle, stop in [(0, m, 60) for m in range(1, 60)] + [(11, 23, 42)]:
        far, block = matrix.far(start, middle, stop), whole[start:middle, middle:stop]
        assert far.shape == block.shape
        vectors, others = rng.standard_normal((stop - middle, 3)), rng.standard_normal((middle - start, 3))
        assert_allclose(far.times(vectors), block @ vectors, rtol=0.0, atol=1e-11)
        assert_allclose(far.transposed_times(others), block.T @ others, rtol=0.0, atol=1e-11)


def test_many_faces_are_worked_through_in_parts(both, monkeypatch):
    matrix, whole = both
    monkeypatch.setattr("sim.airflow.face_influence.ROOM", 70)
    assert_allclose(matrix.dense(0, 60), whole, rtol=0.0, atol=1e-12)
    assert_allclose(matrix.far(0, 30, 60).times(np.eye(30)), whole[:30, 30:], rtol=0.0, atol=1e-12)


"""Nested inverses: closed forms, what they keep, the compiled product."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sim.airflow import nested
from sim.airflow.nested import Leaf, invert, low_rank
from sim.airflow.nested_product import lay_flat, multiply, multiply_alone


@dataclass
class Part:
    block: np.ndarray

    @property
    def shape(self):
        return self.block.shape

    def times(self, vectors):
        return self.block @ vectors

    def transposed_times(self, vectors):
        return self.block.T @ vectors


@dataclass
class Whole:
    values: np.ndarray

    @property
    def size(self):
        return len(self.values)

    def diagonal(self, start, stop):
        return self.values.diagonal()[start:stop]

    def dense(self, start, stop):
        return self.values[start:stop, start:stop]

    def far(self, start, middle, stop):
        return Part(self.values[start:middle, middle:stop])


def fading(points):
    """exp(−|x − x'|): every block off the diagonal has rank one."""
    return np.exp(-np.abs(points[:, None] - points))


def fading_inverse(points):
    """Its inverse, tridiagonal: the process is Markov, so with r = exp(−gap) each gap adds r²/(1 − r²) to the
    diagonal on both sides and −r/(1 − r²) beside it."""
    r = np.exp(-np.diff(points))
    own, beside = r**2 / (1.0 - r**2), -r / (1.0 - r**2)
    diagonal = np.ones(points.size)
    diagonal[:-1] += own
    diagonal[1:] += own
    return np.diag(diagonal) + np.diag(beside, 1) + np.diag(beside, -1)


def columns(inverse, count):
    """All columns of a nested inverse through the compiled product."""
    flat, found = lay_flat(inverse), np.empty((count, count))
    for unit, row in zip(np.eye(count), found, strict=True):
        multiply(unit, row, flat)
    return found.T


@pytest.mark.parametrize("count", [40, 300, 777])
def test_inverse_of_a_fading_correlation_is_the_closed_form(rng, count):
    points = np.cumsum(rng.uniform(0.1, 1.0, count))
    inverse, expected = invert(Whole(fading(points))), fading_inverse(points)
    assert isinstance(inverse, Leaf) == (count <= nested.LEAF)
    assert_allclose(inverse.solve(np.eye(count)), expected, rtol=0.0, atol=1e-11 * expected.max())
    assert_allclose(columns(inverse, count), expected, rtol=0.0, atol=1e-11 * expected.max())


def smooth(rng, count, least=1.0):
    """A positive matrix whose blocks off the diagonal have ranks of some ten, growing towards the diagonal."""
    points = np.sort(rng.uniform(0.0, 30.0, count))
    gap = np.abs(points[:, None] - points)
    return sum(np.exp(-k * gap) for k in range(1, 25)) / 24.0 + least * np.eye(count)


def test_products_agree_with_the_dense_solution_on_one_thread_and_shared(rng):
    matrix = smooth(rng, 1500)
    flat, vector = lay_flat(invert(Whole(matrix))), rng.standard_normal(1500)
    shared, alone = np.empty(1500), np.empty(1500)
    multiply(vector, shared, flat)
    multiply_alone(vector, alone, flat)
    assert flat.answer_at.size > 3
    assert_allclose(shared, np.linalg.solve(matrix, vector), rtol=0.0, atol=1e-11 * np.abs(vector).max())
    assert_allclose(alone, shared, rtol=0.0, atol=1e-14 * np.abs(vector).max())


def test_what_is_read_grows_like_the_rows_and_not_their_square(rng):
    """Twice the rows at the same density are twice the leaves: at most a tenth more than twice the numbers, for the
    level more; dense inverses have four times as many."""
    numbers = []
    for count, length in ((1024, 30.0), (2048, 60.0)):
        gap = np.abs(np.subtract.outer(*2 * [np.linspace(0.0, length, count)]))
        matrix = sum(np.exp(-k * gap) for k in range(1, 25)) / 24.0 + np.eye(count)
        flat = lay_flat(invert(Whole(matrix)))
        numbers.append(flat.near.size + 2 * flat.far.size + flat.coupling.size)
    assert numbers[1] < 2.2 * numbers[0] < 0.5 * 1024**2 * 2.2


def test_a_matrix_without_structure_is_one_dense_leaf(rng):
    half = rng.standard_normal((600, 600))
    matrix = half @ half.T / 600.0 + np.eye(600)
    inverse = invert(Whole(matrix))
    assert isinstance(inverse, Leaf)
    assert_allclose(inverse.inverse @ matrix, np.eye(600), rtol=0.0, atol=1e-10)


def test_a_block_of_more_than_the_rank_allowed_is_left_to_others(rng):
    block = rng.standard_normal((200, 40)) @ rng.standard_normal((40, 170))
    assert low_rank(Part(block), 1e-9, 39) is None
    assert low_rank(Part(block), 1e-9, 40) is not None


@pytest.mark.parametrize("rank", [0, 5, 64, 150])
def test_low_rank_finds_the_rank_and_the_block(rng, rank):
    """150 is more than one round of random vectors, and 64 just one without any to spare."""
    block = rng.standard_normal((200, rank)) @ rng.standard_normal((rank, 170))
    left, right = low_rank(Part(block), 1e-9)
    assert left.shape == (200, rank) and right.shape == (170, rank)
    assert_allclose(left @ right.T, block, rtol=0.0, atol=1e-10)


def test_far_leaves_need_few_columns_of_a_node(rng):
    """24 decays act next to the split, but over a distance of 15 / 2 only exp(−k · 7.5) > 1e-12, so k ≤ 3."""
    inverse = invert(Whole(smooth(rng, 2048)))
    near, far = inverse.widths[0][-1], inverse.widths[0][0]
    assert far <= 4 < near <= 24
    assert near == inverse.feet[0].shape[1]


def test_equal_matrices_get_equal_inverses(rng):
    matrix = smooth(rng, 700)
    first, second = (lay_flat(invert(Whole(matrix.copy()))) for _ in range(2))
    for a, b in zip(first, second, strict=True):
        assert_array_equal(a, b)

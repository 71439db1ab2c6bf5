"""Inverse of a symmetric matrix whose blocks off the diagonal are of low rank: halves, quarters, … down to leaves.

With A = diag(A₁, A₂) + [0 U Vᵀ; V Uᵀ 0] and P = diag(A₁⁻¹ U, A₂⁻¹ V),

    A⁻¹ = diag(A₁⁻¹, A₂⁻¹) − P S Pᵀ,    S = (K + [Uᵀ 0; 0 Vᵀ] P)⁻¹,    K = [0 1; 1 0],

and the same again for A₁ and A₂. All levels act on the same vector, so the inverse is kept as the leaves' own inverses,
the rows of all P of a leaf side by side, and one S a node. A block that would not be smaller that way is not halved: a
small matrix is one leaf.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag, inv, qr

Array = NDArray[np.float64]

LEAF = 256
"""Most rows of a block that is not halved."""

DENSE = 5
"""A block that is not this many times larger than the rank between its halves is not halved: halves of half its size,
2 n r numbers of the feet and 4 r² of the coupling are then no fewer than n²."""

TRUNCATION = 1e-12
"""Part of the matrix' scale below which singular values of its blocks off the diagonal are left out."""

FIRST_SAMPLES = 64
"""Random vectors with which the search for the rank of a block begins; doubled until they are enough."""

SPARE = 8
"""Random vectors beyond the rank that make sure of it."""


class FarBlock(Protocol):
    """A block off the diagonal that can be multiplied with vectors."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""

    def times(self, vectors: Array) -> Array:
        """The block times vectors."""

    def transposed_times(self, vectors: Array) -> Array:
        """Its transpose times vectors."""


class Matrix(Protocol):
    """What a matrix must be able to give."""

    @property
    def size(self) -> int:
        """Number of rows."""

    def dense(self, start: int, stop: int) -> Array:
        """Block on the diagonal."""

    def far(self, start: int, middle: int, stop: int) -> FarBlock:
        """Block of the rows before the middle with the columns from it on."""

    def diagonal(self, start: int, stop: int) -> Array:
        """Its diagonal."""


@dataclass(frozen=True, slots=True, eq=False)
class Leaf:
    """Rows start ≤ i < stop and the dense inverse of their block."""

    start: int
    stop: int
    inverse: Array

    @property
    def leaves(self) -> list[Leaf]:
        """Itself."""
        return [self]

    def solve(self, vectors: Array) -> Array:
        """The inverse times vectors (n, k)."""
        return self.inverse @ vectors


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """Two halves and how they act on each other.

    Attributes
    ----------
    halves : two nodes or leaves
    feet : (rows, r) for each half
        Its part of P.
    widths : two lists of int
        Columns that are not zero in each leaf of a half: the far ones need only the first few.
    coupling : (2 r, 2 r)
        S.
    """

    halves: tuple[Leaf | Node, Leaf | Node]
    feet: tuple[Array, Array]
    widths: tuple[list[int], list[int]]
    coupling: Array

    @property
    def start(self) -> int:
        """First row."""
        return self.halves[0].start

    @property
    def stop(self) -> int:
        """Row after the last."""
        return self.halves[1].stop

    @property
    def leaves(self) -> list[Leaf]:
        """All leaves from the first to the last."""
        return self.halves[0].leaves + self.halves[1].leaves

    def solve(self, vectors: Array) -> Array:
        """The inverse times vectors (n, k)."""
        middle, rank = self.halves[0].stop - self.start, self.feet[0].shape[1]
        first, second = vectors[:middle], vectors[middle:]
        share = self.coupling @ np.concatenate([self.feet[0].T @ first, self.feet[1].T @ second])
        return np.concatenate([
            self.halves[0].solve(first) - self.feet[0] @ share[:rank],
            self.halves[1].solve(second) - self.feet[1] @ share[rank:],
        ])


def invert(matrix: Matrix) -> Leaf | Node:
    """Inverse of a positive definite matrix, to some 1e-12 of its scale.

    Equal matrices get equal inverses: the random vectors in which ranks are found are always the same ones.
    """
    scale = float(np.abs(matrix.diagonal(0, matrix.size)).max())
    return _invert(matrix, 0, matrix.size, TRUNCATION * scale)


def _invert(matrix: Matrix, start: int, stop: int, least: float) -> Leaf | Node:
    """Inverse of the block of the rows start ≤ i < stop."""
    count = stop - start
    if count <= LEAF:
        return Leaf(start, stop, _symmetric(inv(matrix.dense(start, stop))))
    middle = (start + stop) // 2
    factors = low_rank(matrix.far(start, middle, stop), least, count // DENSE)
    if factors is None:
        return Leaf(start, stop, _symmetric(inv(matrix.dense(start, stop))))
    halves = _invert(matrix, start, middle, least), _invert(matrix, middle, stop, least)
    return _joined(halves, factors)


def _joined(halves: tuple[Leaf | Node, Leaf | Node], factors: tuple[Array, Array]) -> Node:
    """Both halves and the block between them."""
    feet = [half.solve(factor) for half, factor in zip(halves, factors, strict=True)]
    rank = feet[0].shape[1]
    own = [factor.T @ foot for factor, foot in zip(factors, feet, strict=True)]
    coupling = inv(np.block([[own[0], np.eye(rank)], [np.eye(rank), own[1]]]))
    low, turn_low, widths_low = _graded(feet[0], _runs(halves[0]))
    high, turn_high, widths_high = _graded(feet[1], _runs(halves[1])[::-1])
    turn = block_diag(turn_low, turn_high)
    return Node(halves, (low, high), (widths_low, widths_high[::-1]), _symmetric(turn.T @ coupling @ turn))


def _runs(half: Leaf | Node) -> list[slice]:
    """Rows of the leaves of a half, counted from its first."""
    return [slice(leaf.start - half.start, leaf.stop - half.start) for leaf in half.leaves]


def _graded(feet: Array, runs: list[slice]) -> tuple[Array, Array, list[int]]:
    """Feet turned so that the first runs of rows, the far ones, need only the first few columns.

    Returns the turned feet, the turn (r, r) and the number of columns that each run needs.
    """
    feet, turn, widths = feet.copy(), np.eye(feet.shape[1]), [0]
    least = TRUNCATION * np.abs(feet).max(initial=0.0)
    for run in runs:
        done = widths[-1]
        basis, rows, _ = qr(feet[run, done:].T, pivoting=True, mode="full")
        needed = int((np.abs(np.diagonal(rows)) > least).sum())
        feet[:, done:], turn[:, done:] = feet[:, done:] @ basis, turn[:, done:] @ basis
        widths.append(done + needed)
        feet[run, done + needed :] = 0.0
    return feet, turn, widths[1:]


def low_rank(block: FarBlock, least: float, most: int | None = None) -> tuple[Array, Array] | None:
    """Factors (n, r) and (m, r) of a block, without its singular values below the least (Halko and others 2011).

    None if these are more than `most`.
    """
    basis = _range(block, least, min(block.shape) if most is None else most)
    if basis is None:
        return None
    right, rest = np.linalg.qr(block.transposed_times(basis))
    left, value, turned = np.linalg.svd(rest.T)
    rank = int((value > least).sum())
    root = np.sqrt(value[:rank])
    return basis @ left[:, :rank] * root, right @ turned[:rank].T * root


def _range(block: FarBlock, least: float, most: int) -> Array | None:
    """Orthonormal columns that span what the block makes of any vector, from random ones; None beyond `most`."""
    random, sample, wanted = np.random.default_rng(0), np.empty((block.shape[0], 0)), FIRST_SAMPLES
    full, enough = min(block.shape), min(most + SPARE, *block.shape)
    while True:
        more = min(wanted, enough) - sample.shape[1]
        sample = np.hstack([sample, block.times(random.standard_normal((block.shape[1], more)))])
        basis, rest = np.linalg.qr(sample)
        rank = int((np.linalg.svd(rest, compute_uv=False) > least).sum())
        if sample.shape[1] == full or rank <= sample.shape[1] - SPARE:
            return basis
        if sample.shape[1] == enough:
            return None
        wanted *= 2


def _symmetric(matrix: Array) -> Array:
    """The symmetric part."""
    return 0.5 * (matrix + matrix.T)

"""Compiled product of a nested inverse with one vector, in loops that threads can share.

    near      leaves' own inverses                  over rows
    collect   what each leaf gives its nodes        over leaves
    couple    S of every node                       over nodes
    spread    what nodes give back to their leaves  over leaves

A dense inverse is one leaf without nodes: only the first loop is left.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.airflow.nested import Leaf, Node
from sim.airflow.rows import compiled
from sim.machine.threads import share_loop

Array = NDArray[np.float64]

PRODUCTS_A_CELL = 16
"""Entries of a matrix whose products cost about as much as one cell of the other loops: decides what is shared."""


class NestedProduct(NamedTuple):
    """A nested inverse laid out flat for compiled loops.

    Each leaf has a piece with every node above it: a few columns of the node's feet.

    row_at (leaves + 1,): first row of each leaf; near, near_at: all leaves' inverses, and where each begins; far,
    far_at: likewise the rows of all their pieces side by side; share, share_at: room for what leaves give, all pieces
    of a leaf together; coupling, coupling_at: S of all nodes; answer, answer_at: room for what nodes give back;
    piece_at (leaves + 1,): first piece of each leaf; piece (pieces, 3): place in `share`, width, place in `answer`;
    member, member_at: pieces of each node.
    """

    row_at: Any
    near: Any
    near_at: Any
    far: Any
    far_at: Any
    share: Any
    share_at: Any
    coupling: Any
    coupling_at: Any
    answer: Any
    answer_at: Any
    piece: Any
    piece_at: Any
    member: Any
    member_at: Any


@compiled
def near(start, stop, vector, result, inverse):
    """result = the leaves' own inverses times the vector, in the rows start ≤ i < stop."""
    at = inverse.row_at
    for leaf in range(at.size - 1):
        first, last = max(start, at[leaf]), min(stop, at[leaf + 1])
        if first < last:
            count = at[leaf + 1] - at[leaf]
            begin, end = (first - at[leaf]) * count, (last - at[leaf]) * count
            rows = inverse.near[inverse.near_at[leaf] + begin : inverse.near_at[leaf] + end].reshape(-1, count)
            result[first:last] = np.dot(rows, vector[at[leaf] : at[leaf + 1]])


@compiled
def feet(leaf, inverse):
    """All pieces of a leaf (rows, columns)."""
    count = inverse.row_at[leaf + 1] - inverse.row_at[leaf]
    return inverse.far[inverse.far_at[leaf] : inverse.far_at[leaf + 1]].reshape(count, -1)


@compiled
def collect(start, stop, vector, inverse):
    """What the leaves start ≤ l < stop give to the nodes above them."""
    for leaf in range(start, stop):
        rows = vector[inverse.row_at[leaf] : inverse.row_at[leaf + 1]]
        inverse.share[inverse.share_at[leaf] : inverse.share_at[leaf + 1]] = np.dot(feet(leaf, inverse).T, rows)


@compiled
def couple(start, stop, inverse):
    """What the nodes start ≤ n < stop give back."""
    for node in range(start, stop):
        first, last = inverse.answer_at[node], inverse.answer_at[node + 1]
        total = np.zeros(last - first)
        for m in range(inverse.member_at[node], inverse.member_at[node + 1]):
            source, width, target = inverse.piece[inverse.member[m]]
            total[target - first : target - first + width] += inverse.share[source : source + width]
        own = inverse.coupling[inverse.coupling_at[node] : inverse.coupling_at[node + 1]]
        inverse.answer[first:last] = np.dot(own.reshape(last - first, last - first), total)


@compiled
def spread(start, stop, result, inverse):
    """Take what the nodes give back from the result, in the leaves start ≤ l < stop."""
    for leaf in range(start, stop):
        begin, end = inverse.share_at[leaf], inverse.share_at[leaf + 1]
        for p in range(inverse.piece_at[leaf], inverse.piece_at[leaf + 1]):
            target, width, source = inverse.piece[p]
            inverse.share[target : target + width] = inverse.answer[source : source + width]
        result[inverse.row_at[leaf] : inverse.row_at[leaf + 1]] -= np.dot(feet(leaf, inverse), inverse.share[begin:end])


@compiled
def multiply_alone(vector, result, inverse):
    """result = inverse times vector, on one thread."""
    leaves, nodes = inverse.row_at.size - 1, inverse.answer_at.size - 1
    near(0, vector.size, vector, result, inverse)
    if nodes > 0:
        collect(0, leaves, vector, inverse)
        couple(0, nodes, inverse)
        spread(0, leaves, result, inverse)


def multiply(vector: Array, result: Array, inverse: NestedProduct) -> None:
    """result (n,) = inverse (n, n) times vector (n,), shared between threads; dimensions are the caller's."""
    leaves, nodes = inverse.row_at.size - 1, inverse.answer_at.size - 1
    share_loop(near, vector.size, inverse.near.size // PRODUCTS_A_CELL, vector, result, inverse)
    if nodes:
        share_loop(collect, leaves, inverse.far.size // PRODUCTS_A_CELL, vector, inverse)
        share_loop(couple, nodes, inverse.coupling.size // PRODUCTS_A_CELL, inverse)
        share_loop(spread, leaves, inverse.far.size // PRODUCTS_A_CELL, result, inverse)


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """Feet (rows of one leaf, columns) of a node, and where in `answer` what the node gives back to them begins."""

    leaf: int
    node: int
    feet: Array
    target: int


def lay_flat(inverse: Leaf | Node | None) -> NestedProduct:
    """A nested inverse as flat arrays; without any rows for None."""
    leaves, nodes = (inverse.leaves, _nodes(inverse)) if inverse else ([], [])
    answer_at = _starts([len(node.coupling) for node in nodes])
    number = {leaf.start: n for n, leaf in enumerate(leaves)}
    pieces = [p for n, node in enumerate(nodes) for p in _pieces(node, n, int(answer_at[n]), number)]
    pieces.sort(key=lambda piece: piece.leaf)
    own = [[p for p in pieces if p.leaf == n] for n in range(len(leaves))]
    member = [[k for k, p in enumerate(pieces) if p.node == n] for n in range(len(nodes))]
    far = [np.hstack([p.feet for p in row]) if row else np.zeros((leaf.inverse.shape[0], 0))
           for row, leaf in zip(own, leaves, strict=True)]  # fmt: skip
    widths, targets = [p.feet.shape[1] for p in pieces], [p.target for p in pieces]
    share_at = _starts([block.shape[1] for block in far])
    return NestedProduct(
        _starts([len(leaf.inverse) for leaf in leaves]),
        *_flat([leaf.inverse for leaf in leaves]),
        *_flat(far),
        np.zeros(share_at[-1]), share_at,
        *_flat([node.coupling for node in nodes]),
        np.zeros(answer_at[-1]), answer_at,
        np.column_stack([_starts(widths)[:-1], widths, targets]).astype(np.intp),
        _starts([len(row) for row in own]),
        np.array([k for row in member for k in row], np.intp), _starts([len(row) for row in member]),
    )  # fmt: skip


def _nodes(inverse: Leaf | Node) -> list[Node]:
    """All nodes of a tree."""
    if isinstance(inverse, Leaf):
        return []
    return [inverse, *_nodes(inverse.halves[0]), *_nodes(inverse.halves[1])]


def _pieces(node: Node, number: int, answer: int, leaf_number: Mapping[int, int]) -> Iterator[_Piece]:
    """A node's feet leaf by leaf."""
    for side, (half, feet, widths) in enumerate(zip(node.halves, node.feet, node.widths, strict=True)):
        for leaf, width in zip(half.leaves, widths, strict=True):
            rows = feet[leaf.start - half.start : leaf.stop - half.start, :width]
            if width:
                yield _Piece(leaf_number[leaf.start], number, rows, answer + side * feet.shape[1])


def _starts(sizes: list[int]) -> NDArray[np.intp]:
    """Where each of several runs begins, and where the last one ends."""
    return np.concatenate([[0], np.cumsum(sizes, dtype=np.intp)]).astype(np.intp)


def _flat(blocks: list[Array]) -> tuple[Array, NDArray[np.intp]]:
    """All blocks in one array, and where each begins."""
    return np.concatenate([np.zeros(0), *(block.ravel() for block in blocks)]), _starts([b.size for b in blocks])

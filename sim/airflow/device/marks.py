"""What stands round a cell, in the bits of one number: one read in place of two dozen.

    bits 4 a …      along axis a, whether the faces one below the cell's low face, that face, the high one, and one
                    above it are open
    bits 12 + 3 p … of the edges between both axes of pair p (PAIRS), whether air passes all four faces that meet at
                    the cell's low edge, at the one beyond along the pair's second axis, and along its first
    bits 21 + f     whether the value of field f is fixed
    bit 25          whether one of the cell's faces is open in part
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.airflow.device.layout import BatchShape
from sim.airflow.rows import compiled

PAIRS = ((0, 1), (0, 2), (1, 2))
EDGES, FIXED, PARTLY = 12, 21, 25

Flags = NDArray[np.bool_]


@compiled
def marked(mark, bit):
    """Whether a bit is set."""
    return (mark >> bit) & 1 != 0


def build_marks(grid: BatchShape, codes: np.ndarray, opening: np.ndarray, fixed: np.ndarray) -> NDArray[np.int32]:
    """The marks of all cells (total,), from `build_codes` and the places in four fields of values that are fixed."""
    shape = (grid.bays, grid.px, grid.py, grid.pz)
    marks = np.zeros(shape, np.int32)
    opens = [part.reshape(shape) > 0 for part in np.split(codes, 3)]
    for axis, faces in enumerate(opens):
        for n, beyond in enumerate((-1, 0, 1, 2)):
            _set(marks, 4 * axis + n, _from(faces, axis, beyond))
    for pair, (first, second) in enumerate(PAIRS):
        edges = _edges(opens, first, second)
        sides = (edges, _from(edges, second, 1), _from(edges, first, 1))
        for n, side in enumerate(sides):
            _set(marks, EDGES + 3 * pair + n, side)
    field, place = np.divmod(fixed, grid.total)
    np.bitwise_or.at(marks.reshape(-1), place, np.int32(1) << (FIXED + field).astype(np.int32))
    shares = [opening[part.reshape(shape)] for part in np.split(codes, 3)]
    _set(marks, PARTLY, _partly(shares))
    return marks.reshape(-1)


def _set(marks: NDArray[np.int32], bit: int, where: Flags) -> None:
    """Set a bit of some cells."""
    np.bitwise_or(marks, np.int32(1 << bit), out=marks, where=where)


def _from(flags: Flags, axis: int, beyond: int) -> Flags:
    """The flags of the places so many beyond along an axis; none past the ends."""
    result, own = np.zeros_like(flags), [slice(None)] * flags.ndim
    other = list(own)
    own[axis + 1] = slice(max(-beyond, 0), -beyond if beyond > 0 else None)
    other[axis + 1] = slice(max(beyond, 0), beyond if beyond < 0 else None)
    result[tuple(own)] = flags[tuple(other)]
    return result


def _edges(opens: Sequence[Flags], first: int, second: int) -> Flags:
    """Whether all four faces round the low edge between two axes are open."""
    across, along = _from(opens[first], second, -1), _from(opens[second], first, -1)
    return np.asarray(opens[first] & across & opens[second] & along)


def _partly(shares: Sequence[np.ndarray]) -> Flags:
    """Whether one of a cell's six faces is open in part."""
    result = np.zeros(shares[0].shape, bool)
    for axis, share in enumerate(shares):
        part = (share > 0.0) & (share < 1.0)
        result |= part | _from(part, axis, 1)
    return result

"""Where warm air rises and strikes: smooth shapes on the plan round plates and tubes.

Coordinates on the plan are (a, b): a across the tubes, b along them [m]. All shapes lie between 0 and about 1 (2 where
two edges meet), are smooth in every coordinate, and end with a width: the spread of what rises from the edge that draws
them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


TOUCHING = 0.003
"""Gap between the ends of plates below which hardly any air rises between them [m]."""


@dataclass(frozen=True, slots=True)
class PlumePlan:
    """Plates and tubes from above, mirrored where the air ends in a plane of symmetry.

    Attributes
    ----------
    plates : (n, 4) a0, a1, b0, b1 of every plate [m]
    line : (n,) the tube that each plate is on
    facing : (n, 2) what each plate's edges at a0 and a1 face: 1 another plate, 0 a wall
    opening : (n, 2) how far away that is [m]
    gap : (n, 2) from each plate's ends at b0 and b1 to what comes next [m]
    tubes : (m, 3) a, b0, b1 of every tube [m]
    walls : (2,) a of the walls at both sides [m]
    ends : (k,) b of walls at the ends, if any [m]
    """

    plates: Array
    line: NDArray[np.int64]
    facing: Array
    opening: Array
    gap: Array
    tubes: Array
    walls: Array
    ends: Array


def between(at: Array, low: Array, high: Array, width: Array | float) -> Array:
    """1 within an interval, 0 outside, smooth over a width [m]."""
    scale = np.sqrt(2.0) * width
    from scipy.special import erf

    return np.asarray(0.5 * (erf((at - low) / scale) - erf((at - high) / scale)))


def beside(at: Array, line: Array, width: Array | float) -> Array:
    """A bell of a width [m] round a line."""
    return np.asarray(np.exp(-0.5 * ((at - line) / width) ** 2))


def cover(plan: PlumePlan, a: Array, b: Array, width: float) -> Array:
    """Share of plates around points of the plan, smoothed over a width [m]."""
    total = np.zeros_like(a)
    for a0, a1, b0, b1 in plan.plates:
        total += between(a, a0, a1, width) * between(b, b0, b1, width)
    return total


def along_line(plan: PlumePlan, tube: int, b: Array, width: float) -> Array:
    """Share (n,) [-] of a tube's line that carries a plate around b (n,) [m], over a width [m]."""
    total = np.zeros_like(b)
    for _, _, b0, b1 in plan.plates[plan.line == tube]:
        total += between(b, b0, b1, width)
    return total


def tube_bells(plan: PlumePlan, a: Array, b: Array, width: float) -> tuple[Array, Array]:
    """Bells (n,) [-] of a width [m] over the tubes, where bare and where they carry a plate, at a and b (n,) [m]."""
    bare, carrying = np.zeros_like(a), np.zeros_like(a)
    for number, (at, b0, b1) in enumerate(plan.tubes):
        bell = beside(a, at, width) * between(b, b0, b1, width)
        covered = along_line(plan, number, b, width)
        bare += bell * (1.0 - covered)
        carrying += bell * covered
    return bare, carrying


def edge_bells(plan: PlumePlan, a: Array, b: Array, width: float) -> tuple[Array, Array, Array]:
    """Bells (n,) [-] of a width [m] over the plates' edges, at a and b (n,) [m].

    Three: edges along the tubes that face a plate, those that face a wall, and the plates' ends.
    """
    inner, outer, ends = np.zeros_like(a), np.zeros_like(a), np.zeros_like(a)
    for (a0, a1, b0, b1), facing, gap in zip(plan.plates, plan.facing, plan.gap, strict=True):
        inside = between(b, b0, b1, width)
        for edge, other in ((a0, facing[0]), (a1, facing[1])):
            bell = beside(a, edge, width) * inside
            inner += other * bell
            outer += (1.0 - other) * bell
        free = 1.0 - np.exp(-gap / TOUCHING)
        ends += (free[0] * beside(b, b0, width) + free[1] * beside(b, b1, width)) * between(a, a0, a1, width)
    return inner, outer, ends


def wall_bell(plan: PlumePlan, a: Array, width: float) -> Array:
    """Nearness (n,) [-] of the walls at the sides, at a (n,) [m], within a width [m]."""
    near = np.exp(-np.abs(a[:, None] - plan.walls) / width)
    return np.asarray(near.sum(axis=1))

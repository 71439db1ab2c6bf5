"""Thin boxes of a free arrangement: which of them air passes on both sides, so that the mesh takes them as sheets.

A sheet has one cell through its thickness and conducts along its plane, like a bay's plates; in computed air it is a
wall without thickness with two faces. Its thickness is not asked of the air's cells, however fine they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sim.bay.geometry import Box, Point

SHEET_THICKNESS = 3e-3
"""Thickest box that becomes a sheet [m]: the air round thicker ones is resolved with their own shape."""

SLENDER = 5.0
"""Least length and width of a sheet over its thickness [-]; what is stubbier is a rod."""

_SNAP = 1e-9
_SHARES = (0.125, 0.375, 0.625, 0.875)
"""Where along its length and width the air beside a box is looked for."""


def mark_sheets(boxes: Sequence[Box]) -> tuple[Box, ...]:
    """The boxes in the same order, thin ones with air on both of their broad sides marked as sheets."""
    return tuple(_marked(box, boxes) for box in boxes)


def _marked(box: Box, boxes: Sequence[Box]) -> Box:
    sizes = [high - low for low, high in zip(box.low, box.high, strict=True)]
    axis = sizes.index(min(sizes))
    broad = min(size for other, size in enumerate(sizes) if other != axis)
    thin = sizes[axis] <= SHEET_THICKNESS + _SNAP and broad >= SLENDER * sizes[axis]
    if box.material is None or not thin:
        return box
    air_beside = all(any(_is_air(point, boxes) for point in _beside(box, axis, upper)) for upper in (False, True))
    return replace(box, sheet=axis) if air_beside else box


def _beside(box: Box, axis: int, upper: bool) -> list[Point]:
    """Points close to one broad side of a box, outside it."""
    first, second = (other for other in range(3) if other != axis)
    away = box.span(axis)[upper] + (_SNAP if upper else -_SNAP)
    points = []
    for a in _SHARES:
        for b in _SHARES:
            point = [away] * 3
            for other, share in ((first, a), (second, b)):
                low, high = box.span(other)
                point[other] = low + share * (high - low)
            points.append((point[0], point[1], point[2]))
    return points


def _is_air(point: Point, boxes: Sequence[Box]) -> bool:
    """Whether the last box that holds a point is air."""
    holders = [b for b in boxes if all(low < p < high for low, p, high in zip(b.low, point, b.high, strict=True))]
    return bool(holders) and holders[-1].material is None

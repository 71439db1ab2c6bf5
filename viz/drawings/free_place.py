"""Where a label stands so that it covers as little as can be of what is on a sheet already."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import ceil, dist

from viz.drawings.board import Board, Lettering, Spot, Stroke, width_of

STEP = 1.5
"""Lines are looked at in steps of so many millimetres."""

WORDS = 50.0
"""A text that would be covered counts as much as so many steps of lines."""


def free_place(board: Board, size: Spot, wanted: Iterable[Spot], *, texts_alone: bool = False) -> Spot:
    """The middle, of those wanted, around which a label of a size [mm] covers least; the first of equals.

    With `texts_alone` lines do not count.
    """
    spots = list(wanted)
    strokes = () if texts_alone else (mark for mark in board.marks if isinstance(mark, Stroke))
    lines = [spot for mark in strokes for spot in _steps(mark)]
    texts = [mark for mark in board.marks if isinstance(mark, Lettering)]

    def covered(middle: Spot) -> float:
        (x, y), (wide, high) = middle, (size[0] / 2.0, size[1] / 2.0)
        under = sum(abs(spot[0] - x) < wide and abs(spot[1] - y) < high for spot in lines)
        return under + WORDS * sum(_meets(text, middle, size) for text in texts)

    return min(spots, key=covered)


def _steps(mark: Stroke) -> Iterator[Spot]:
    """Places along a stroke."""
    for (x0, y0), (x1, y1) in pairwise(mark.points):
        count = max(1, ceil(dist((x0, y0), (x1, y1)) / STEP))
        yield from ((x0 + (x1 - x0) * k / count, y0 + (y1 - y0) * k / count) for k in range(count + 1))


def hides_text(board: Board, size: Spot, middle: Spot) -> bool:
    """Whether a label of a size [mm] around a place would lie over a text that is on the sheet."""
    return any(_meets(mark, middle, size) for mark in board.marks if isinstance(mark, Lettering))


def _meets(text: Lettering, middle: Spot, size: Spot) -> bool:
    """Whether a text and a level label overlap; texts are level or read from the right."""
    long, share = width_of(text.text, text.height), {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    (x, y), high = text.place, text.height
    begin, level = (y, x - high / 2.0) if text.turn else (x, y + high / 2.0)
    centre, own, other = (begin + (0.5 - share) * long, *((1, 0) if text.turn else (0, 1)))
    return (
        abs(centre - middle[own]) < (long + size[own]) / 2.0
        and abs(level - middle[other]) < (high + size[other]) / 2.0
    )

"""Air zones of a joist bay for the `films` model."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.bay.bay_frame import Frame
from sim.bay.geometry import AirZone, Box, Range
from sim.case.taught import uses_learned_films

if TYPE_CHECKING:
    from sim.case.bay_case import Case

AIR_SEGMENT = 0.45
"""Longest stretch of bay whose air is taken as one zone where plates do not divide it [m]."""


def place_zones(case: Case, frame: Frame, plates: list[Box]) -> tuple[AirZone, ...]:
    """Air zones: stretches of the bay, above and below hung plates, the layer over each plate, and below the batt.

    Learned films know how the air of a stretch is layered: they take it as one zone, from midway between plates to
    midway.
    """
    learned = uses_learned_films(case)
    low, high = (0.0, -frame.depth), (frame.width, 0.0)
    hung = [plate for plate in plates if plate.sheet == 2 and plate.high[2] < -1e-9]
    level = 0.5 * (hung[0].low[2] + hung[0].high[2]) if hung else None
    zones: list[AirZone] = []
    for number, (y0, y1) in enumerate(_pitches(case, frame, plates) if learned else _segments(frame, plates)):
        levels = [("air", low[1], high[1])]
        if level is not None and not learned:
            levels = [("upper air", level, high[1]), ("lower air", low[1], level)]
        for name, z0, z1 in levels:
            zones.append(AirZone(f"{name} {number + 1}", (low[0], y0, z0), (high[0], y1, z1)))
    for plate in hung:
        zones.append(AirZone(f"gap over {plate.name}", (*plate.low[:2], plate.high[2]), (*plate.high[:2], 0.0)))
    if frame.insulation and frame.insulation[0] > -frame.depth + 1e-9 and case.ceiling:
        zones.append(
            AirZone(
                "air under insulation",
                (0.0, frame.along[0], -frame.depth),
                (frame.width, frame.along[1], frame.insulation[0]),
            )
        )
    return tuple(zones)


def _pitches(case: Case, frame: Frame, plates: list[Box]) -> list[Range]:
    """Stretches along y, each with the plates of one place along the tube; without plates as `_segments`."""
    if not plates or case.tube.direction == "across":
        return _segments(frame, [])
    spans = sorted({plate.span(1) for plate in plates})
    cuts = [0.5 * (one[1] + next_[0]) for one, next_ in zip(spans, spans[1:], strict=False)]
    edges = [frame.along[0], *cuts, frame.along[1]]
    return list(zip(edges[:-1], edges[1:], strict=True))


def _segments(frame: Frame, plates: list[Box]) -> list[Range]:
    """Stretches along y that begin and end at plate ends, none longer than AIR_SEGMENT."""
    cuts = {frame.along[0], frame.along[1]}
    for plate in plates:
        cuts |= {y for y in plate.span(1) if frame.along[0] < y < frame.along[1]}
    edges = sorted(cuts)
    edges = [edges[0]] + [b for a, b in zip(edges, edges[1:], strict=False) if b - a > 1e-6]
    pieces: list[Range] = []
    for a, b in zip(edges, edges[1:], strict=False):
        count = max(1, int(np.ceil((b - a) / AIR_SEGMENT - 1e-9)))
        inner = np.linspace(a, b, count + 1)
        pieces += [(float(p), float(q)) for p, q in zip(inner[:-1], inner[1:], strict=True)]
    return pieces

"""Lines that follow computed air in a section: begun at the edges of plates and at tubes, few enough to follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from viz.air_view import AirSection, air_section, is_still
from viz.choice import Array, Choice, Outline
from viz.fine_section import filled

STEPS = 900
"""Steps of a line in each direction at most."""
LONGEST = 1.6
"""A line is at most so many times as long as the section is wide."""
SLOWEST = 0.03
"""Share of the fastest speed below which a line ends."""
AWAY = 1.5
"""Length of a line over the distance of lines within which its own beginning is no hindrance to it."""
NEAREST = 0.06
"""Lines keep so far apart, as a share of the section's height; a line that never does is left out."""


@dataclass(frozen=True, slots=True)
class Line:
    """Points (n, 2) across and upwards [m], in the direction of the flow, and the mean speed along them [m/s]."""

    points: Array
    speed: float


def section_lines(choice: Choice, y: float, most: int) -> list[Line]:
    """Lines of the mean flow in a section across the bay; none of air at rest.

    Parameters
    ----------
    choice : with computed air.
    y : place along the bay [m].
    most : lines at most.
    """
    section = air_section(choice, y)
    if is_still(choice, section.fastest, float(np.ptp(section.z_edge))):
        return []
    return lines_from(section, seeds(section, choice.outlines), most)


def seeds(section: AirSection, outlines: Sequence[Outline]) -> list[tuple[float, float]]:
    """Where lines begin (x, z) [m]: beside and above plate edges, round tubes, then spread over the quicker air."""
    parts = [p for p in outlines if p.box[2] - 1e-9 <= section.y <= p.box[3] + 1e-9]
    found: list[tuple[float, float]] = []
    gap = 0.03 * float(np.ptp(section.z_edge))
    for part in parts:
        x0, x1, y0, y1, z0, z1 = part.box
        if part.kind in ("plate", "sheet"):
            found += [(x, z) for x in (x0 - gap, x1 + gap) for z in (z1 + gap, z0 - gap)]
        elif part.kind == "tube" and y1 - y0 > x1 - x0:
            found += [(x0 - gap, (z0 + z1) / 2), (x1 + gap, (z0 + z1) / 2)]
    order = np.argsort(-np.nan_to_num(section.speed), axis=None)[: section.speed.size // 2 : 7]
    i, k = np.unravel_index(order, section.speed.shape)
    return found + [(float(section.x[a]), float(section.z[b])) for a, b in zip(i, k, strict=True)]


def lines_from(section: AirSection, starts: Sequence[tuple[float, float]], most: int) -> list[Line]:
    """Lines through places, in their order, without those that keep too close to earlier ones."""
    flow = _Flow(section)
    apart = NEAREST * float(np.ptp(section.z_edge))
    found: list[Line] = []
    for start in starts:
        if len(found) == most:
            break
        if any(_distance(line.points, np.array(start)) < apart for line in found):
            continue
        line = flow.follow(start, [line.points for line in found], apart)
        if line is not None:
            found.append(line)
    return found


class _Flow:
    """The velocity of a section, between cells interpolated, zero in solids."""

    def __init__(self, section: AirSection) -> None:
        edges = section.x_edge, section.z_edge
        self.solid = np.isnan(section.across)
        self.x, self.z, self.edges = section.x, section.z, edges
        self.across, self.up = filled(section.across, edges), filled(section.up, edges)
        self.fastest = section.fastest
        self.step = 0.5 * min(float(np.median(np.diff(e))) for e in edges)
        self.longest = LONGEST * float(np.ptp(section.x_edge))

    def at(self, place: Array) -> Array | None:
        """Velocity at a place; None outside the air."""
        if any(p <= e[0] or p >= e[-1] for p, e in zip(place, self.edges, strict=True)):
            return None
        i, k = (int(np.searchsorted(e, p)) - 1 for p, e in zip(place, self.edges, strict=True))
        if self.solid[i, k]:
            return None
        return np.array([_between(f, self.x, self.z, place) for f in (self.across, self.up)])

    def follow(self, start: tuple[float, float], others: Sequence[Array], apart: float) -> Line | None:
        """The line through a place, both ways; None where it is short or slow."""
        back = self._one_way(np.array(start), -1.0, others, apart)
        behind = [np.array(back[self._away(apart) :])]
        ahead = self._one_way(np.array(start), 1.0, [*others, *filter(len, behind)], apart)
        points = np.array([*back[::-1], np.array(start), *ahead])
        length = float(np.hypot(*np.diff(points, axis=0).T).sum()) if len(points) > 1 else 0.0
        if length < 4.0 * apart:
            return None
        speeds = [float(np.hypot(*v)) for p in points[:: max(1, len(points) // 12)] if (v := self.at(p)) is not None]
        return Line(points, float(np.mean(speeds)) if speeds else 0.0)

    def _away(self, apart: float) -> int:
        """Steps after which a line is far from where it was, unless it turned."""
        return int(np.ceil(AWAY * apart / self.step))

    def _one_way(self, start: Array, way: float, others: Sequence[Array], apart: float) -> list[Array]:
        """Points ahead of a place, by the midpoint rule in steps of equal length, until they near a line or their own.

        What a section shows of a flow in three dimensions may wind in or out for ever, as air leaves the section: one
        turn says so, more of them are a knot.
        """
        place, points = start, list[Array]()
        for number in range(STEPS):
            first = self._direction(place, way)
            middle = None if first is None else self._direction(place + 0.5 * self.step * first, way)
            if middle is None:
                break
            place = place + self.step * middle
            if self.at(place) is None or number * self.step > self.longest / 2:
                break
            own = points[: max(0, number - self._away(apart))]
            passed = [*others, np.array(own)] if own else others
            if number % 4 == 0 and any(_distance(other, place) < 0.45 * apart for other in passed):
                break
            points.append(place)
        return points

    def _direction(self, place: Array, way: float) -> Array | None:
        velocity = self.at(place)
        speed = 0.0 if velocity is None else float(np.hypot(*velocity))
        return None if velocity is None or speed < SLOWEST * self.fastest else way * velocity / speed


def _between(field: Array, x: Array, z: Array, place: Array) -> float:
    """Bilinear between cell centres, held beyond the outer ones."""
    i, k = (int(np.clip(np.searchsorted(c, p) - 1, 0, c.size - 2)) for c, p in zip((x, z), place, strict=True))
    u, v = (
        float(np.clip((p - c[n]) / (c[n + 1] - c[n]), 0.0, 1.0)) for c, p, n in ((x, place[0], i), (z, place[1], k))
    )
    low, high = field[i, k : k + 2], field[i + 1, k : k + 2]
    row = low * (1.0 - u) + high * u
    return float(row[0] * (1.0 - v) + row[1] * v)


def _distance(points: Array, place: Array) -> float:
    return float(np.sqrt(((points - place) ** 2).sum(axis=1).min()))

"""Streamlines of computed air, followed on plain arrays: they need neither VTK nor a driver for graphics."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from viz.choice import Array, Choice, Outline
from viz.view.parts import StreamLine

LINES_PER_AREA, FEWEST, MOST = 110, 24, 260
"""Lines over a square metre of plan, and at least and at most."""
LONGEST = 0.9
"""Length of a line forwards, and as much backwards, over the widest section of the air."""
STEPS = 300
STEP = 0.45
"""Length of a step over the smallest typical cell."""
SLOWEST = 2e-3
"""A line ends where the air is slower than this share of its fastest speed."""


class FollowedAir:
    """Velocity [m/s] and temperature [K] of air between cell centres; at rest in solids and outside.

    Walls at the ends of the box are reached half a cell beyond the outermost centres.
    """

    def __init__(self, choice: Choice, ending: str = "") -> None:
        fields = choice.fields
        self.edges = [choice.edges(f"air_{axis}") for axis in "xyz"]
        self.places = [np.concatenate([e[:1], (e[1:] + e[:-1]) / 2, e[-1:]]) for e in self.edges]
        kelvin = np.asarray(fields[f"air_temperature{ending}"].values, dtype=float)
        self.is_air = np.isfinite(kelvin)
        filled = np.where(self.is_air, kelvin, np.nanmean(kelvin))
        speeds = [np.nan_to_num(fields[f"air_velocity_{axis}{ending}"].values) for axis in "xyz"]
        self.values = [np.pad(np.asarray(v, dtype=float), 1, mode="edge") for v in (*speeds, filled)]
        self.fastest = float(np.sqrt(sum(v**2 for v in self.values[:3])).max())
        self.limits = (float(kelvin[self.is_air].min()), float(kelvin[self.is_air].max()))

    def at(self, points: Array) -> tuple[Array, Array]:
        """Velocities (n, 3) and temperatures (n,) at points (n, 3)."""
        from scipy.ndimage import map_coordinates

        where = [np.interp(points[:, n], p, np.arange(p.size)) for n, p in enumerate(self.places)]
        found = [map_coordinates(v, where, order=1, mode="nearest") for v in self.values]
        return np.stack(found[:3], axis=1), found[3]

    def inside(self, points: Array) -> npt.NDArray[np.bool_]:
        """Which points lie in air."""
        low, high = (np.array([edge[end] for edge in self.edges]) for end in (0, -1))
        within = ((points >= low) & (points <= high)).all(axis=1)
        cells = [np.clip(np.searchsorted(e, points[:, n]) - 1, 0, e.size - 2) for n, e in enumerate(self.edges)]
        return np.asarray(within & self.is_air[tuple(cells)])


def stream_lines(flow: FollowedAir, outlines: Sequence[Outline]) -> tuple[StreamLine, ...]:
    """Lines from the edges of plates, from tubes and from points spread over the quicker half of the air."""
    spans = np.array([float(np.ptp(edge)) for edge in flow.edges])
    flat = flow.edges[1].size == 2
    count = FEWEST if flat else int(np.clip(LINES_PER_AREA * spans[0] * spans[1], FEWEST, MOST))
    begin = _starts(flow, outlines, count)
    if not len(begin):
        return ()
    step = STEP * float(np.median(np.concatenate([np.diff(edge) for edge in flow.edges if edge.size > 2])))
    steps = min(STEPS, int(LONGEST * max(spans[0], spans[2]) / step) + 1)
    back, on = (_followed(flow, begin, way * step, steps) for way in (-1.0, 1.0))
    joined = (_joined(flow, before, after) for before, after in zip(back, on, strict=True))
    return tuple(line for line in joined if len(line.points) > 3)


def _starts(flow: FollowedAir, outlines: Sequence[Outline], count: int) -> Array:
    """Half of the lines begin at plates and tubes, where there are any; the others where the air is quick."""
    near = _at_bodies(flow, outlines)
    near = near[np.unique(np.linspace(0, len(near) - 1, count // 2).astype(int))] if len(near) else near
    return np.concatenate([near, _quick(flow, count - len(near))])


def _at_bodies(flow: FollowedAir, outlines: Sequence[Outline]) -> Array:
    """Points (n, 3) beside the long edges of plates, and beside tubes along the bay."""
    width = float(np.ptp(flow.edges[0]))
    gap, step = 0.012 * width, 0.06 * width
    low, high = float(flow.edges[1][0]), float(flow.edges[1][-1])
    found = []
    for part in outlines:
        x0, x1, y0, y1, z0, z1 = part.box
        if part.kind in ("plate", "sheet") or (part.kind == "tube" and y1 - y0 > x1 - x0):
            up = (z0 + z1) / 2 if part.kind == "tube" else z1 + gap
            along = np.arange(max(y0, low) + step / 2, min(y1, high), step)
            along = along if flow.edges[1].size > 2 else np.array([(low + high) / 2])
            found += [(x, y, up) for y in along for x in (x0 - gap, x1 + gap)]
    points = np.array(found, dtype=float).reshape(-1, 3)
    return points[flow.inside(points)]


def _quick(flow: FollowedAir, count: int) -> Array:
    """Points (count, 3) spread by a low-discrepancy sequence over the quicker half of the air."""
    from scipy.stats import qmc

    low, high = (np.array([edge[end] for edge in flow.edges]) for end in (0, -1))
    points = qmc.scale(qmc.Halton(3, seed=1).random(6 * count), low, high)
    points[:, 1] = points[:, 1] if flow.edges[1].size > 2 else (low[1] + high[1]) / 2
    points = points[flow.inside(points)]
    speed = np.linalg.norm(flow.at(points)[0], axis=1)
    return np.asarray(points[speed >= np.median(speed)][:count])


def _followed(flow: FollowedAir, begin: Array, step: float, steps: int) -> list[Array]:
    """Each line from its start on, in steps of equal length [m] by the midpoint rule, until it leaves or rests."""
    at, alive = begin.copy(), np.ones(len(begin), dtype=bool)
    lines = [[point] for point in begin]
    for _ in range(steps):
        half = at + 0.5 * step * _direction(flow, at)
        onward = at + step * _direction(flow, half)
        alive &= flow.inside(onward) & (np.linalg.norm(flow.at(onward)[0], axis=1) > SLOWEST * flow.fastest)
        if not alive.any():
            break
        at = np.where(alive[:, None], onward, at)
        for number in np.flatnonzero(alive):
            lines[number].append(at[number])
    return [np.array(line) for line in lines]


def _direction(flow: FollowedAir, points: Array) -> Array:
    """Unit vectors of the velocity (n, 3); zero where it rests."""
    velocity = flow.at(points)[0]
    return velocity / np.maximum(np.linalg.norm(velocity, axis=1), 1e-12 * max(flow.fastest, 1e-300))[:, None]


def _joined(flow: FollowedAir, back: Array, on: Array) -> StreamLine:
    """The line through its start, with temperatures and travel times, thinned to every second point."""
    points = np.concatenate([back[:0:-1], on])
    points = points[np.unique(np.append(np.arange(0, len(points), 2), len(points) - 1))]
    velocity, kelvin = flow.at(points)
    speed = np.linalg.norm(velocity, axis=1)
    between = np.linalg.norm(np.diff(points, axis=0), axis=1) / np.maximum((speed[1:] + speed[:-1]) / 2, 1e-12)
    return StreamLine(points, kelvin, np.append(0.0, np.cumsum(between)))

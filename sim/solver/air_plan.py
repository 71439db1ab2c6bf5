"""The plan of a cavity's heated parts, from filled cells: what films of hung plates and tubes depend on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.bay.cells import VOID, Cells
from sim.bay.geometry import Box, Tube
from sim.bay.regions import beside, reached
from sim.physics.learned_films import Measures
from sim.physics.plumes import PlumePlan

Array = NDArray[np.float64]

LEAST_DROP = 0.005
"""Drop that shapes on the plan take at least [m]: parts at the sheathing still have a thickness."""


AT_SHEATHING = 0.002
"""Drop of plates, or of a tube's upper side, up to which they lie at the sheathing [m]."""


@dataclass(frozen=True, slots=True)
class AirPlan:
    """A cavity with tubes in it.

    Attributes
    ----------
    plan : of plates and tubes
    axis : of the tubes, 0 or 1
    low, high : (3,) of the cavity's air [m]
    drop : from the cavity's top down to the plates, or to the middle of bare tubes [m]
    plate_width, plate_length, diameter : [m]; 0 without plates
    upright : bool
        Plates stand.
    """

    plan: PlumePlan
    axis: int
    low: Array
    high: Array
    drop: float
    plate_width: float
    plate_length: float
    diameter: float
    upright: bool


def find_air_plan(cells: Cells) -> AirPlan | None:
    """The plan of the air that tubes run through; None where no tube meets air."""
    tubes = [body for body in cells.bodies if isinstance(body, Tube)]
    airy = np.argwhere(_heated_air(cells))
    if not tubes or not len(airy):
        return None
    first, last = airy.min(axis=0), airy.max(axis=0) + 1
    low, high = (np.array([cells.grid.edges[n][at[n]] for n in range(3)]) for at in (first, last))
    axis = tubes[0].axis
    plates = [b for b, kind in zip(cells.bodies, cells.kinds(), strict=True) if kind == "plate" and isinstance(b, Box)]
    mirrors = [_mirror(cells, axis, 0, float(low[axis])), _mirror(cells, axis, 1, float(high[axis]))]
    sides = [_mirror(cells, 1 - axis, 0, float(low[1 - axis])), _mirror(cells, 1 - axis, 1, float(high[1 - axis]))]
    plan = _plan(tubes, plates, axis, mirrors, sides, (low, high))
    centre = float(np.mean([tube.centre[1] for tube in tubes]))
    drop = float(high[2] - (plates[0].high[2] if plates else centre))
    sizes = [abs(plates[0].high[n] - plates[0].low[n]) for n in (1 - axis, axis, 2)] if plates else [0.0, 0.0, 0.0]
    upright = bool(plates) and sizes[0] < sizes[2]
    return AirPlan(
        plan, axis, low, high, drop, sizes[2] if upright else sizes[0], sizes[1], tubes[0].outer_diameter, upright
    )


def _heated_air(cells: Cells) -> NDArray[np.bool_]:
    """Air of the regions that touch tubes or plates."""
    return reached(cells.air, beside(cells.of_kind("tube", "plate")))


def _mirror(cells: Cells, axis: int, end: int, at: float) -> float | None:
    """Where the air ends in a plane of symmetry on a side [m]; None where a wall ends it."""
    edges = cells.grid.edges[axis]
    plane = edges[-1] if end else edges[0]
    if abs(plane - at) > 1e-9 or np.all(np.take(cells.body, -1 if end else 0, axis) == VOID):
        return None
    return float(plane)


def _plan(tubes, plates, axis, mirrors, sides, corners) -> PlumePlan:
    across = 1 - axis
    places = sorted({round(0.5 * sum(tube.bounds(across)), 9) for tube in tubes})
    boxes = [(*plate.span(across), *plate.span(axis)) for plate in plates]
    lines = [[at, *tubes[0].along] for at in places]
    for plane in mirrors:
        if plane is not None:
            boxes += [(a0, a1, 2 * plane - b1, 2 * plane - b0) for a0, a1, b0, b1 in boxes if _near(b0, b1, plane)]
            lines = [[a, *((-1e3, b1) if plane <= b0 + 1e-9 else (b0, 1e3))] for a, b0, b1 in lines]
    for plane in sides:
        if plane is not None:
            boxes += [(2 * plane - a1, 2 * plane - a0, b0, b1) for a0, a1, b0, b1 in boxes]
            lines += [[2 * plane - a, b0, b1] for a, b0, b1 in lines]
    rectangles, segments = np.array(boxes, float).reshape(-1, 4), np.array(lines, float)
    line = np.abs(0.5 * (rectangles[:, :1] + rectangles[:, 1:2]) - segments[:, 0]).argmin(axis=1) if boxes else []
    walls = [float(corners[n][across]) for n in (0, 1) if sides[n] is None]
    facing, opening = _openings(rectangles, walls)
    ends = [float(corners[n][axis]) for n in (0, 1) if mirrors[n] is None]
    _, gap = _openings(rectangles[:, [2, 3, 0, 1]], ends)
    nearest = np.array(line, np.int64)
    return PlumePlan(rectangles, nearest, facing, opening, gap, segments, np.array(walls), np.array(ends))


def _near(b0: float, b1: float, plane: float) -> bool:
    """Whether a plate lies close enough to a plane of symmetry for its image to matter."""
    return min(abs(b0 - plane), abs(b1 - plane)) < 1.0


def _openings(plates: Array, walls: list[float]) -> tuple[Array, Array]:
    """What the first two edges of every plate face (1 a plate, 0 a wall or nothing), and how far away that is [m]."""
    facing, opening = np.zeros((len(plates), 2)), np.full((len(plates), 2), 1.0)
    for number, (a0, a1, b0, b1) in enumerate(plates):
        level = (plates[:, 2] < b1 - 1e-9) & (plates[:, 3] > b0 + 1e-9)
        for side, edge in enumerate((a0, a1)):
            sign = 1.0 if side else -1.0
            gaps = [(sign * (other[1 - side] - edge), 1.0) for other in plates[level]]
            gaps += [(sign * (wall - edge), 0.0) for wall in walls]
            ahead = [gap for gap in gaps if gap[0] > -1e-6]
            if ahead:
                opening[number, side], facing[number, side] = min(ahead)
    return facing, opening


def measures_of(found: AirPlan, cells: Cells) -> Measures:
    """The cavity's measures that films depend on."""
    across_axis, plan = 1 - found.axis, found.plan
    width = float(found.high[across_axis] - found.low[across_axis])
    inside = [t for t in plan.tubes if found.low[across_axis] - 1e-9 <= t[0] <= found.high[across_axis] + 1e-9]
    across = width / max(len(inside), 1)
    plated = len(plan.plates) > 0
    share = 0.0 if found.upright or not plated else found.plate_width / across
    within = (plan.plates[:, 3] > found.low[found.axis] + 1e-9) & (plan.plates[:, 2] < found.high[found.axis] - 1e-9)
    gap = float(np.min(plan.gap[within].max(axis=1))) if np.any(within) else 1.0
    return Measures(
        drop=max(found.drop, LEAST_DROP),
        height=float(found.high[2] - found.low[2]),
        across=across,
        open_across=max(0.0, 1.0 - share),
        open_along=gap,
        length=found.plate_length,
        diameter=found.diameter,
        place=_tube_place(found, cells) if plated and not found.upright else 0.0,
    )


def _tube_place(found: AirPlan, cells: Cells) -> float:
    """Of the tube below (−0.5) to above (0.5) its plate."""
    heights = [body.centre[1] for body in cells.bodies if isinstance(body, Tube)]
    above = float(np.mean(heights)) - (found.high[2] - found.drop)
    return float(np.clip(above / found.diameter, -0.5, 0.5))


def situation_of(found: AirPlan) -> int:
    """Which law: plates hung flat (0), bare tubes (1), plates or tubes at the sheathing (2), standing plates (3)."""
    plated = len(found.plan.plates) > 0
    if found.drop < (AT_SHEATHING if plated else 0.5 * found.diameter + AT_SHEATHING):
        return 2
    return 3 if found.upright else 0 if plated else 1


def kind_of(found: AirPlan) -> str:
    """Whose band of errors a cavity has."""
    plated = len(found.plan.plates) > 0
    if situation_of(found) == 2:
        return "fastened" if plated else "sheathing"
    return "upright" if found.upright else "flat" if plated else "bare"

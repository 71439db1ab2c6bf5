"""Limits on how warm a floor's surface may get, and where a floor passes them.

Rules are not looked up here: a picture is given the limits that it shows (`Choice.limits`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from sim.results.people import Units, format_against
from viz.choice import FloorLimit, FloorPlan
from viz.scales import ZERO_CELSIUS

Array = npt.NDArray[np.float64]

_KEYS = {"surface_peak_C": False, "covering_peak_C": True}
"""Report numbers that bind the floor's surface; whether that of the covering alone."""

_ROUNDING = 1e-6

_SEEN = 0.05
"""A covering that is warmer by this than what is seen of it is so under a rug [K]."""


def floor_limits(verdicts: Iterable[Mapping[str, Any]]) -> tuple[FloorLimit, ...]:
    """Those of a bay's limits (`what`, `key`, `highest`, `value`) that a map of its floor can show, lowest first."""
    found = [
        FloorLimit(str(v["what"]), float(v["highest"]), _KEYS[v["key"]], float(v["value"]))
        for v in verdicts
        if v["key"] in _KEYS
    ]
    return tuple(sorted(found, key=lambda limit: limit.highest))


def passed(plan: FloorPlan, limits: Sequence[FloorLimit]) -> tuple[FloorLimit, ...]:
    """Limits that a floor passes somewhere; one that is met exactly is kept."""
    warmest = (float(np.nanmax(bound(plan, limit), initial=-np.inf)) for limit in limits)
    return tuple(limit for limit, found in zip(limits, warmest, strict=True) if found > limit.highest + _ROUNDING)


def passed_by(choices: Sequence[tuple[str, Sequence[FloorLimit]]]) -> list[tuple[FloorLimit, list[str]]]:
    """Limits that what was found of some choices passes, each once with the names of those that pass it."""
    names: dict[tuple[str, float], list[str]] = {}
    first: dict[tuple[str, float], FloorLimit] = {}
    for name, limits in choices:
        for limit in limits:
            if limit.found is not None and limit.found > limit.highest + _ROUNDING:
                names.setdefault((limit.what, limit.highest), []).append(name)
                first.setdefault((limit.what, limit.highest), limit)
    return [(first[key], who) for key, who in names.items()]


def under_rugs(plan: FloorPlan, limits: Sequence[FloorLimit]) -> tuple[FloorLimit, ...]:
    """Limits of the covering that are passed by more than a map shows: under a rug."""
    return tuple(
        limit
        for limit in limits
        if limit.covering
        and limit.found is not None
        and limit.found > max(limit.highest + _ROUNDING, float(np.nanmax(bound(plan, limit), initial=-np.inf)) + _SEEN)
    )


def bound(plan: FloorPlan, limit: FloorLimit) -> Array:
    """The floor's surface where a limit binds it [°C] (across, along); NaN elsewhere."""
    celsius = np.asarray(plan.temperature, dtype=float) - ZERO_CELSIUS
    return np.where(under_a_rug(plan, plan.x, plan.y), np.nan, celsius) if limit.covering else celsius


def under_a_rug(plan: FloorPlan, x: Array, y: Array) -> npt.NDArray[np.bool_]:
    """Which of some places (across, along) [m] a rug covers."""
    covered = np.zeros((len(x), len(y)), dtype=bool)
    for rug in (part for part in plan.outlines if part.kind == "rug"):
        x0, x1, y0, y1 = rug.box[:4]
        covered |= np.outer((x >= x0) & (x <= x1), (y >= y0) & (y <= y1))
    return covered


def bound_spans(plan: FloorPlan, limit: FloorLimit, axis: int) -> list[tuple[float, float]]:
    """From where to where [m] a limit binds the line through the warmest spot across (0) or along (1) the bay."""
    peak = np.unravel_index(np.nanargmax(plan.temperature), plan.temperature.shape)
    free = np.isfinite(bound(plan, limit))
    line, edges = (free[:, peak[1]], plan.x_edge) if axis == 0 else (free[peak[0], :], plan.y_edge)
    turns = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
    return [(float(edges[start]), float(edges[end])) for start, end in zip(turns[::2], turns[1::2], strict=True)]


def hidden_words(limit: FloorLimit, units: Units = "si") -> str:
    """What a map cannot show of a limit that is passed under a rug."""
    found, highest = format_against("surface_peak_C", float(limit.found or 0.0), limit.highest, units)
    return f"under the rug, not seen here: {limit.what} {found}, at most {highest}"


def kept_words(limits: Sequence[FloorLimit], units: Units = "si") -> str:
    """That no limit is passed, with their names."""
    each = "; ".join(dict.fromkeys(limit.words(units) for limit in limits))
    return f"nowhere warmer than it may be: {each}"

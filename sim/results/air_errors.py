"""What is not known about the numbers of computed air: by its unsteadiness, and by its mesh.

A number's standard error comes from what the solids answer to the means of eight pieces of the window. Their spread is
made larger by as much as that of the series of rounds they are cut from tells too little (`sim.resolved.means`): by the
series of its own path or of the ripple where there is one, else by the most that any needs. What a number still drifts
from the first half of them to the second, or two starts of the flow differ by, counts, halved, where that is no chance;
so does, where mirror images of a symmetric bay are averaged, their scatter (`sim.resolved.mirror`). Its mesh error is
the larger of two: what films without the share that cells at walls may have added would make of it
(`sim.resolved.thinner`), and what a companion on larger cells tells (`sim.resolved.companion`); without one
`sim.resolved.unseen` says what stays open. Its ray error is the scatter of the rays behind the view factors. All
together, ± in reports: twice the standard error, the mesh error and the ray error as a root of squares, about 95 %.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import hypot, isfinite, nan
from statistics import stdev

import numpy as np
from numpy.typing import NDArray

from sim.bay.geometry import BayPath
from sim.resolved.air import ResolvedAir
from sim.resolved.means import or_drift
from sim.resolved.mirror import surface_temperatures
from sim.resolved.unseen import TOO_COARSE
from sim.results.people import BAND, MESH, RAYS, SCATTER, quantity
from sim.solver.steady import Solution

Values = Mapping[str, float]
Array = NDArray[np.float64]

BAY_NUMBERS = (
    "heat_flux_up_W_m2",
    "heat_flow_down_W",
    "surface_mean_C",
    "surface_peak_C",
    "surface_trough_C",
    "ripple_K",
    "output_per_kelvin_W_m2K",
)
"""Report keys of a bay that get a band; of a blocks case every number does."""

LEAST_UNSEEN, MOST_UNSEEN = 0.75, 1.5
"""Least and most that a companion tells of a ripple over `sim.resolved.unseen`'s share, which held for every bay that
was computed on cells half as large (half of it did not, in a kitchen over flat plates) (`docs/air-mesh.md`)."""

STUDENT = 3.182
"""Student's t for 95 % and three degrees of freedom (four answers): tables."""

LEFT_OPEN = 0.7
"""What cells leave open over what halving them changed: 1 / (2^p − 1) for an order p of 1.3 or more [-]."""

NOTEWORTHY = 0.05
"""Share of the largest heat flow below which a flow's relative error says nothing."""


def error_values(values: Values, air: ResolvedAir, numbers: Callable[[Solution], Values]) -> dict[str, float]:
    """Standard error, mesh error and band of every headline number, and the largest mesh error of a heat flow.

    Parameters
    ----------
    values : the report's numbers.
    numbers : the same numbers of any other answer of the solids.
    """
    keys = [key for key in BAY_NUMBERS if key in values] or [key for key in values if quantity(key).group != "Run"]
    pieces, beyond = [numbers(solution) for solution in air.batches], air.evidence.beyond
    if air.thinner is None or not pieces:
        return {}
    thinner, coarser = numbers(air.thinner), numbers(air.coarser.solution) if air.coarser else {}
    lopsided, leaning = (numbers(air.lopsided), air.mirror.of_extreme) if air.lopsided else ({}, 0.0)
    others = [numbers(solution) for solution in air.other_rays]
    found: dict[str, float] = {}
    for key in keys:
        scatter = _scatter([piece[key] for piece in pieces], _more(key, beyond), air.evidence.starts)
        scatter = hypot(scatter, leaning * (lopsided.get(key, values[key]) - values[key]))
        layers = (TOO_COARSE if air.too_coarse else 1.0) * abs(values[key] - thinner[key])
        mesh = max(layers, _by_companion(abs(values[key] - coarser.get(key, nan)), _unseen(key, values, air)))
        rays = STUDENT * stdev([values[key], *(other[key] for other in others)]) if others else 0.0
        if isfinite(scatter) and isfinite(mesh):
            found |= {key + SCATTER: scatter, key + MESH: mesh, key + RAYS: rays}
            found[key + BAND] = hypot(2.0 * scatter, mesh, rays)
    return found | largest_mesh_error({**values, **found})


def map_error(air: ResolvedAir, solution: Solution) -> dict[str, float]:
    """How well a floor's map is known, root mean square over its area [K]: by chance alone, and ± with mesh and rays.

    Chance by pieces of time and by mirror images; the mesh by layers and by a companion, what neither sees as a share
    of the map's own standard deviation.
    """
    here = _map(solution)
    if not here.size or not air.batches:
        return {}
    path = BayPath.UP
    area = np.concatenate([surface.area for surface in solution.system.surfaces if surface.path == path])

    def size(squares: Array) -> float:
        return float(np.average(squares, weights=area) ** 0.5)

    maps = [_map(piece) for piece in air.batches]
    variance = max(air.evidence.beyond.values(), default=1.0) ** 2 * np.var(maps, axis=0, ddof=1) / len(maps)
    if air.lopsided is not None:
        variance += (air.mirror.of_image * (_map(air.lopsided) - here)) ** 2
    scatter = size(variance)
    thinner = here if air.thinner is None else _map(air.thinner)
    layers = (TOO_COARSE if air.too_coarse else 1.0) * size((thinner - here) ** 2)
    unseen = air.unseen * size((here - np.average(here, weights=area)) ** 2)
    if air.coarser is not None:  # it moves the floor's mean as well, of which it tells all
        unseen = max(LEFT_OPEN * size((_map(air.coarser.solution) - here) ** 2), LEAST_UNSEEN * unseen)
    others = [here, *map(_map, air.other_rays)]
    rays = STUDENT * size(np.var(others, axis=0, ddof=1)) if len(others) > 1 else 0.0
    band = hypot(2.0 * scatter, max(layers, unseen), rays)
    return {"surface_map_error_K": scatter, "surface_map_band_K": band}


def _map(answer: Solution) -> Array:
    """Temperatures of the floor's faces [K]."""
    return surface_temperatures(answer.system, answer.flows.surfaces, BayPath.UP)


def _scatter(pieces: Sequence[float], beyond: float, starts: int) -> float:
    """Standard error of a mean over pieces of equal length, so many times their spread's, or their drift.

    The pieces of one start come after the other's.
    """
    series = np.reshape(pieces, (starts, -1))
    return or_drift(series, beyond * float(series.std(ddof=1)) / series.size**0.5)


def _more(key: str, beyond: Mapping[str, float]) -> float:
    """By how much pieces tell too little of a number: the series whose name its key holds, else the largest."""
    own = [factor for name, factor in beyond.items() if f"_{name}_" in f"_{key}_"]
    return max(own or beyond.values(), default=1.0)


def _unseen(key: str, values: Values, air: ResolvedAir) -> float:
    """What layers do not see of a floor's ripple and its extremes at such cells [K]; half of it of either."""
    share = {"ripple_K": 1.0, "surface_peak_C": 0.5, "surface_trough_C": 0.5}.get(key, 0.0)
    return share * air.unseen * values["ripple_K"] if share else 0.0


def _by_companion(change: float, unseen: float) -> float:
    """What a companion tells from the change in a number [its unit]; NaN without one: then what else is unseen.

    Of a ripple it tells neither less than three quarters nor more than one and a half times what halving such cells has
    changed at most: its own cells may be too large for a plume that this mesh has, or miss it by chance as much as
    this one.
    """
    if not isfinite(change):
        return unseen
    told = LEFT_OPEN * change
    return min(max(told, LEAST_UNSEEN * unseen), MOST_UNSEEN * unseen) if unseen else told


def largest_mesh_error(values: Values) -> dict[str, float]:
    """The largest mesh error of a heat flow [%], as a share of it: in a bay that of the heat upwards."""
    named = "heat_flux_up" if BAY_NUMBERS[0] in values else "heat_flow_"
    flows = {key: abs(value) for key, value in values.items() if key.startswith(named) and key + MESH in values}
    most = max(flows.values(), default=0.0)
    shares = [values[key + MESH] / flow for key, flow in flows.items() if flow > NOTEWORTHY * most]
    return {"air_mesh_error_percent": 100.0 * max(shares)} if shares else {}

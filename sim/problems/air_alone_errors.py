"""What is not known about the Nusselt numbers of air alone: by its unsteadiness, and by its mesh.

The mesh error is the larger of two, as beside solids: the bounds of `sim.resolved.thinner` on what cells at walls may
add to a wall's heat and what plumes may lose of it, and, of a flow that became steady, what halving the cells last
changed in it. Where such cells are too few for a flow, the first counts twice (`sim.resolved.unseen`).
The heat that a steady flow still takes up stands for its standard error; of an unsteady one half of it does, where its
readings tell of less: twice that is in the band, so that no band is narrower than what walls give and take apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import hypot

import numpy as np
from numpy.typing import NDArray

from sim.airflow.correlated import series_mean
from sim.airflow.flow import Flow
from sim.airflow.layers import cell_shares, layer_cells, plume_shares
from sim.problems.air_box import AirProblem
from sim.resolved.means import or_drift
from sim.resolved.thinner import film_losses, free_bound
from sim.resolved.unseen import TOO_COARSE
from sim.results.people import BAND, MESH, SCATTER

Array = NDArray[np.float64]

LEFT_OPEN = 0.55
"""What the cells of a steady flow of air alone leave open over what halving them changed: 1 / (2^p − 1) for an order p
of 1.5 or more. Where the error was above 0.3 %, p was 1.6 to 5 in eleven folders (`docs/air-mesh-convergence.md`)."""

LEAST_READINGS = 16
"""Readings of an unsteady flow that a standard error is taken from."""


def nusselt_errors(
    problem: AirProblem,
    mean: Flow,
    heat: Array,
    series: Mapping[str, Array],
    coarser: Mapping[str, float] | None,
) -> Iterator[tuple[str, float]]:
    """Standard error, mesh error and band of every surface's Nusselt number, and what the mesh costs at most.

    Parameters
    ----------
    heat : mean heat flow from every wall face into the air (n,) [W].
    series : readings of an unsteady flow by name; empty for a steady one.
    coarser : Nusselt numbers by surface on cells twice as large; empty where not wanted, None where those are too few.
    """
    box, amount = problem.box, np.abs(heat)
    shares = cell_shares(box.domain, box.walls, heat, box.wall_temperature, mean.temperature, box.air.conductivity)
    losses = film_losses(shares, free_bound(box.scheme), plume_shares(box.domain, box.walls, heat, mean))
    entering = float(heat[heat > 0.0].sum())
    unsettled = abs(float(heat.sum())) / entering if entering > 0.0 else 0.0
    largest = 0.0
    for surface in problem.surfaces:
        own = surface.faces & (amount > 0.0)
        if not own.any():
            continue
        key, found = "nusselt_" + "_".join(surface.name.split()), problem.nusselt(heat, surface)
        share = float(np.average(losses[own], weights=amount[own]))
        value = abs(found)
        larger = (coarser or {}).get(surface.name, found)
        mesh = max((TOO_COARSE if coarser is None else 1.0) * share * value, LEFT_OPEN * abs(found - larger))
        readings = series.get(f"nusselt_{surface.name}", np.zeros(0))
        scatter = unsettled * value
        if len(readings) >= LEAST_READINGS:  # walls that give and take apart drift towards each other, by half at most
            scatter = max(_scatter(readings), 0.5 * scatter)
        yield key + SCATTER, scatter
        yield key + MESH, mesh
        yield key + BAND, hypot(2.0 * scatter, mesh)
        largest = max(largest, mesh / value) if value else largest
    if largest:
        yield "air_mesh_error_percent", 100.0 * largest
        yield "air_layer_cells", layer_cells(shares, heat)


def _scatter(readings: Array) -> float:
    """Standard error of the mean of readings at about equal distances in time."""
    return or_drift(list(readings), series_mean(readings.tolist()).error)

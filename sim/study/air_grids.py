"""Uncertainty of computed air: a case on three meshes, errors of the mesh and of the means apart and together.

The finest is the case's own, which keeps the time within a third more than that of the run alone: one twice as fine
would take sixteen times as long. Solids and air are refined together. The band is that of `grid_convergence`; where
values do not converge steadily it is no less than what films without the share that cells at walls may have added would
change (`sim.resolved.thinner`). The scatter is twice the standard error on the finest mesh, and that of traced rays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import hypot
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sim.bay.grid import Fineness
from sim.build_up import mesh_fineness
from sim.resolved.air import ResolvedAir
from sim.resolved.pattern import pattern_words, plumes
from sim.results.people import MESH, RAYS, SCATTER
from sim.run import Result, prepare, solve_model
from sim.study.compare import StudyStep
from sim.study.grid_convergence import Estimate, GridStudy, estimate, headline_numbers, refinement_ratios

if TYPE_CHECKING:
    from sim.case.load import AnyCase

COARSER = (1.0, 2.0**0.5, 2.0)
"""Cells of the three meshes over the case's own, finest first."""

NAMES = ("own mesh", "middle mesh", "coarsest mesh")

COVERED = 2.0
"""Standard errors in the half width of a band."""


def with_air_uncertainty(case: AnyCase, listener: Callable[[StudyStep], None] | None = None) -> GridStudy:
    """Solve a case with computed air on its own mesh and two coarser ones; every headline number gets its band.

    Raises
    ------
    ValueError : the three sizes do not give three grids of the air.
    """
    sizes = [mesh_fineness(case).scaled(factor) for factor in COARSER]
    found: list[Result] = []
    for number in (2, 1, 0):
        if listener:
            listener(StudyStep(NAMES[number], 3 - number, 3))
        found.insert(0, _solve(case, sizes[number]))
    airs = [_air(result) for result in found]
    shapes = tuple(air.domain.shape for air in airs)
    ratios = refinement_ratios(shapes)
    report = found[0].report
    told = headline_numbers([result.report for result in found])
    numbers = {key: values for key, values in told.items() if key + MESH in report.values}
    estimates = {key: _estimate(key, values, ratios, report.values) for key, values in numbers.items()}
    words = pattern_words([plumes(air.domain, air.mean) for air in reversed(airs)])
    result = replace(found[0], case=case)
    return GridStudy(result, shapes, ratios, MappingProxyType(estimates), (words,) if words else ())


def _solve(case: AnyCase, size: Fineness) -> Result:
    """One mesh, without a companion: the other meshes serve for it."""
    alone = case.model_copy(update={"air": case.air.model_copy(update={"companion": False})})
    return solve_model(prepare(alone, size))


def _air(result: Result) -> ResolvedAir:
    assert result.air is not None
    return result.air


def _estimate(key: str, values: Any, ratios: tuple[float, float], report: Any) -> Estimate:
    """The band of one number: by the three meshes or by its films, whichever is wider; beside it its scatter."""
    found = estimate(values, ratios)
    told = report.get(key + MESH, 0.0)
    band = found.band if found.behaviour == "monotone" else max(found.band, told)
    scatter = hypot(COVERED * report.get(key + SCATTER, 0.0), report.get(key + RAYS, 0.0))
    return replace(found, band=band, scatter=scatter)

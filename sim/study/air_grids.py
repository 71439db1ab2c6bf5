"""Uncertainty of computed air: a case on three meshes, errors of the mesh and of the means apart and together.

The finest is the case's own, which keeps the time within a third more than that of the run alone: one twice as fine
would take sixteen times as long. Solids and air are refined together. The band is that of `grid_convergence` where
the values converge steadily, by more than chance may make of them, on meshes that are far enough apart to tell the
order. Bays are not: planes that all meshes have keep some cells small, so that √2 in the sizes asked for is 1.2 in
their cells. An observed order is then chance, and an index by it told up to a third of the heat of a kitchen that was
3 % off. So there the band is what a fit of a stated order leaves open (`sim.study.fitted`), but no less than what films
without the share that cells at walls may have added would change (`sim.resolved.thinner`). Still larger cells are no
way to wider ratios: plumes are lost on them. The scatter is twice the standard error on the finest mesh, and that of
traced rays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import hypot, inf
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sim.airflow.domain import TooFewCellsError
from sim.build_up import mesh_fineness
from sim.resolved.air import Companion, ResolvedAir, RoundListener
from sim.resolved.pattern import plumes
from sim.results.air_covered import covered_among_solids
from sim.results.air_errors import largest_mesh_error
from sim.results.air_remarks import air_remarks
from sim.results.people import BAND, MESH, RAYS, SCATTER
from sim.results.report import Report
from sim.run import Model, Result, prepare, solve_model
from sim.study.compare import StudyStep
from sim.study.fitted import fitted_band
from sim.study.grid_convergence import Estimate, GridStudy, estimate, headline_numbers, refinement_ratios

if TYPE_CHECKING:
    from sim.case.load import AnyCase

COARSER = (1.0, 2.0**0.5, 2.0)
"""Cells of the three meshes over the case's own, finest first, as they are asked for."""

COARSE = "the air's cells are too large for three meshes: {why}; make air.cell and air.wall_cell smaller"

NAMES = ("own mesh", "middle mesh", "coarsest mesh")

COVERED = 2.0
"""Standard errors in the half width of a band."""

APART = 1.3
"""Least ratio of neighbouring cells from which an observed order says something (Celik and others 2008, from
memory)."""


class NoCoarserMeshesError(ValueError):
    """Cells twice as large as a case's own are no mesh of its air."""


def with_air_uncertainty(
    case: AnyCase,
    listener: Callable[[StudyStep], None] | None = None,
    air_listener: RoundListener | None = None,
    checkpoint: Path | None = None,
) -> GridStudy:
    """Solve a case with computed air on its own mesh and two coarser ones; every headline number gets its band.

    Parameters
    ----------
    listener : hears of every mesh.
    air_listener : hears of the rounds on all of them.
    checkpoint : file beside which a stopped run keeps each mesh's air (`mesh_files`), from which it goes on.

    Raises
    ------
    NoCoarserMeshesError : the three sizes do not give three grids of the air; said before any is followed.
    """
    models = _meshes(case)
    shapes = tuple(model.air_domain().shape for model in models)
    ratios = refinement_ratios(shapes)
    found: list[Result] = []
    kept = mesh_files(checkpoint) if checkpoint else (None, None, None)
    for number in (2, 1, 0):
        if listener:
            listener(StudyStep(NAMES[number], 3 - number, 3))
        found.insert(0, solve_model(models[number], air_listener=air_listener, air_checkpoint=kept[number]))
    reports = [result.report for result in found]
    told = headline_numbers(reports)
    numbers = {key: values for key, values in told.items() if key + MESH in reports[0].values}
    estimates = {key: _estimate(key, values, ratios, [r.values for r in reports]) for key, values in numbers.items()}
    result = _whole(case, found, estimates)
    return GridStudy(result, shapes, ratios, MappingProxyType(estimates), tuple(_remarks(result)))


def _whole(case: AnyCase, found: list[Result], estimates: Mapping[str, Estimate]) -> Result:
    """The finest result, with the coarsest mesh as its companion and the mesh errors that the three meshes tell."""
    own, middle, coarsest = (_air(result) for result in found)
    air = replace(own, coarser=Companion(found[2].solution, coarsest), too_coarse=False)
    values = found[0].report.as_dict()
    values |= {key + MESH: estimate.band for key, estimate in estimates.items()}
    values |= {key + BAND: estimate.uncertainty for key, estimate in estimates.items()}
    values |= {
        "air_companion_cells": float(coarsest.domain.cells),
        "air_plumes_middle": float(plumes(middle.domain, middle.mean)),
        "air_plumes_coarser": float(plumes(coarsest.domain, coarsest.mean)),
    }
    values |= largest_mesh_error(values)
    return replace(found[0], case=case, air=air, report=Report(found[0].report.name, MappingProxyType(values)))


def _remarks(result: Result) -> list[str]:
    """What a reader has to know beside the bands."""
    assert result.air is not None
    air = result.case.air
    stated = air.cell is not None or air.wall_cell is not None
    return [*air_remarks(result.air, True), *covered_among_solids(result.report.values, stated)]


def mesh_files(checkpoint: Path) -> tuple[Path, ...]:
    """Where the air of each mesh is kept, finest first."""
    return tuple(checkpoint.with_suffix(f".mesh{number + 1}.npz") for number in range(len(COARSER)))


def _meshes(case: AnyCase) -> list[Model]:
    """The three meshes made ready, without a companion: the other meshes serve for it."""
    alone = case.model_copy(update={"air": case.air.model_copy(update={"companion": False})})
    try:
        models = [prepare(alone, mesh_fineness(case).scaled(factor)) for factor in COARSER]
        cells = [model.air_domain().cells for model in models]
    except TooFewCellsError as error:
        raise NoCoarserMeshesError(COARSE.format(why=f"of larger ones, {error}")) from error
    if not cells[0] > cells[1] > cells[2]:
        told = ", ".join(f"{count:,}" for count in cells)
        raise NoCoarserMeshesError(COARSE.format(why=f"larger ones make no coarser meshes ({told} cells)"))
    return models


def _air(result: Result) -> ResolvedAir:
    assert result.air is not None
    return result.air


def _estimate(key: str, values: Any, ratios: tuple[float, float], reports: Sequence[Mapping[str, float]]) -> Estimate:
    """The band of one number: by its three values, or by a fit and its films; beside it its scatter."""
    found, own = estimate(values, ratios), reports[0]
    chance = [report.get(key + SCATTER, inf) for report in reports]
    if not _tells_order(found, ratios, chance):
        band = max(fitted_band(values, COARSER, chance), own.get(key + MESH, 0.0))
        found = Estimate(values, band, "unchanged" if found.behaviour == "unchanged" else "fitted")
    return replace(found, scatter=hypot(COVERED * chance[0], own.get(key + RAYS, 0.0)))


def _tells_order(found: Estimate, ratios: tuple[float, float], chance: Sequence[float]) -> bool:
    """Whether three values converge steadily, on meshes far enough apart and by more than chance may make of them."""
    steps = [abs(found.values[n + 1] - found.values[n]) for n in (0, 1)]
    beyond = all(steps[n] > COVERED * hypot(chance[n], chance[n + 1]) for n in (0, 1))
    return found.behaviour == "monotone" and beyond and min(ratios) >= APART

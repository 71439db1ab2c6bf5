"""Report of air alone: Nusselt numbers of its walls, speeds, oscillation, and how well its budgets close.

With `rayleigh` the case is dimensionless and keys carry no unit: lengths are in L, velocities in α/L, times in L²/α,
temperatures in ΔT, heat flows in k ΔT L.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.airflow.flow import Flow
from sim.airflow.gauge import oscillation
from sim.airflow.growth import diffusion_scales
from sim.airflow.numbers import (
    WallNumbers,
    fastest,
    mean_speed,
    middle_line,
    peak,
    relative_divergence,
    stream_function,
    symmetry_line,
    wall_numbers,
)
from sim.airflow.statistics import kinetic_budget
from sim.airflow.step import build_stepper
from sim.case.constants import ZERO_CELSIUS
from sim.problems.air_alone_errors import nusselt_errors
from sim.problems.air_box import AirProblem, NamedFaces
from sim.results.people import BAND, MESH, SCATTER

if TYPE_CHECKING:
    from sim.case.blocks_case import BlocksCase

Array = NDArray[np.float64]
Flows = tuple[Flow, Flow]
Named = Iterator[tuple[str, float]]

NOTICEABLE = 1e-3
"""Swing over ΔT (or over the mean Nusselt number) below which a flow does not count as oscillating."""


UNSEEN = 1e-3
"""Share of the highest speed below which the peak on a middle line says nothing, by symmetry or inside a solid; and of
the highest stream function."""


def air_values(
    case: BlocksCase,
    problem: AirProblem,
    flows: Flows,
    heat: Array,
    series: Mapping[str, Array],
    seconds: Mapping[str, float],
    coarser: Mapping[str, float] | None,
) -> dict[str, float]:
    """Every number of the report by its key.

    Parameters
    ----------
    flows : the flow at the end and its mean
    heat : (n,) [W]
        Mean heat flow from every wall face into the air.
    series : readings over the averaging time by name, equally long
    seconds : by stage
    coarser : Nusselt numbers by surface on cells twice as large, where they are wanted; None where those are too few
    """
    now, mean = flows
    values = dict(_walls(problem, mean, heat))
    values |= dict(nusselt_errors(problem, mean, heat, series if _unsteady(series, now) else {}, coarser))
    values |= dict(_heat_errors(problem, values))
    values |= dict(_air(problem, mean))
    values |= dict(_probes(case, problem, series, now))
    values |= dict(_oscillation(problem, series, now))
    values |= dict(_budgets(problem, now, heat))
    cells, steps = problem.box.domain.cells, now.steps
    values |= {"rayleigh": problem.rayleigh, "prandtl": problem.box.air.prandtl, "cells": float(cells)}
    values |= {"steps": float(steps), "simulated" + _unit(problem, "s"): now.time, "solve_time_s": seconds["solve"]}
    return values | {"steady": float(now.stop_reason == "steady")}


def _unit(problem: AirProblem, unit: str) -> str:
    """Ending of a key; none in a dimensionless case."""
    return "" if problem.dimensionless else f"_{unit}"


def _size(problem: AirProblem, unit: str) -> float:
    """What a value in SI is multiplied by for a key's unit."""
    return 1e3 if unit.startswith("mm") and not problem.dimensionless else 1.0


def _key(name: str) -> str:
    return "_".join(name.split())


def _walls(problem: AirProblem, mean: Flow, heat: Array) -> Named:
    """Heat flow and Nusselt numbers of every surface; places of extremes along the axes on which they can move."""
    box, scale = problem.box, problem.length / (problem.box.air.conductivity * problem.difference)
    for surface in problem.surfaces:
        found, name = wall_numbers(box, mean.temperature, heat, surface.faces), _key(surface.name)
        yield f"heat_flow_{name}" + _unit(problem, "W"), found.heat_flow
        yield f"nusselt_{name}", problem.nusselt(heat, surface)
        if surface.plane:
            yield from _extremes(problem, surface, found, scale)
        line = symmetry_line(box, mean.temperature, surface.faces)
        if line is not None:
            yield f"nusselt_{name}_on_symmetry", problem.towards(surface) * line * scale


def _heat_errors(problem: AirProblem, values: Mapping[str, float]) -> Named:
    """Errors of the surfaces' heat flows: a Nusselt number is nothing but its surface's heat in another measure."""
    for surface in problem.surfaces:
        name = _key(surface.name)
        heat, nusselt = f"heat_flow_{name}" + _unit(problem, "W"), values[f"nusselt_{name}"]
        for ending in (SCATTER, MESH, BAND):
            if nusselt and f"nusselt_{name}{ending}" in values:
                yield heat + ending, abs(values[heat] / nusselt) * values[f"nusselt_{name}{ending}"]


def _extremes(problem: AirProblem, surface: NamedFaces, found: WallNumbers, scale: float) -> Named:
    name, sign = _key(surface.name), problem.towards(surface)
    pair = (found.highest, found.lowest) if sign > 0.0 else (found.lowest, found.highest)
    cells = problem.box.walls.cell[surface.faces]
    for word, extreme in zip(("highest", "lowest"), pair, strict=True):
        yield f"nusselt_{name}_{word}", sign * extreme.value * scale
        for axis, at in enumerate(extreme.place):
            if np.ptp(cells[:, axis]) > 0:
                yield f"nusselt_{name}_{word}_at_{'xyz'[axis]}" + _unit(problem, "mm"), at * _size(problem, "mm")


def _air(problem: AirProblem, mean: Flow) -> Named:
    """Peaks on the middle lines, speeds, and of a two-dimensional flow the stream function in the middle."""
    domain, speed, place = problem.box.domain, _unit(problem, "mm_s"), _unit(problem, "mm")
    size, length = _size(problem, "mm_s"), _size(problem, "mm")
    top = fastest(domain, mean)
    for word, component, along in (("across", 0, 2), ("up", 2, 0)):
        value, at = peak(*middle_line(domain, mean, component, along))
        if abs(value) < UNSEEN * top.value:
            continue
        yield f"air_velocity_{word}_peak{speed}", value * size
        yield f"air_velocity_{word}_peak_at_{'xyz'[along]}{place}", at * length
    yield f"air_speed_mean{speed}", mean_speed(domain, mean) * size
    yield f"air_speed_highest{speed}", top.value * size
    yield "peclet", top.value / diffusion_scales(domain, problem.box.air.diffusivity)[1]
    for axis, at in zip("xyz", top.place, strict=True):
        if domain.shape["xyz".index(axis)] > 1:
            yield f"air_speed_highest_at_{axis}{place}", at * length
    air, warmth = domain.air, np.average(mean.temperature, weights=domain.volumes * domain.air)
    offset = 0.0 if problem.dimensionless else ZERO_CELSIUS
    yield "air_temperature_mean" + _unit(problem, "C"), float(warmth) - offset
    yield "air_temperature_highest" + _unit(problem, "C"), float(mean.temperature[air].max()) - offset
    yield "air_temperature_lowest" + _unit(problem, "C"), float(mean.temperature[air].min()) - offset
    if domain.shape[1] == 1:
        psi = stream_function(domain, mean)
        x, z = (0.5 * (e[0] + e[-1]) for e in (domain.edges[0], domain.edges[2]))
        centre = float(np.abs(_bilinear(domain.edges[0], domain.edges[2], psi, (x, z))))
        if centre > UNSEEN * np.abs(psi).max():
            yield "air_stream_function_centre" + _unit(problem, "mm2_s"), centre * (
                1.0 if problem.dimensionless else 1e6
            )


def _bilinear(x: Array, z: Array, values: Array, at: tuple[float, float]) -> float:
    rows = np.array([np.interp(at[1], z, row) for row in values])
    return float(np.interp(at[0], x, rows))


def _probes(case: BlocksCase, problem: AirProblem, series: Mapping[str, Array], now: Flow) -> Named:
    """Mean temperature and velocity at every probe, over the averaging time or at the end of a steady march."""
    from sim.airflow.gauge import make_gauge

    offset = 0.0 if problem.dimensionless else ZERO_CELSIUS
    for probe in case.probes:
        name = _key(probe.name)
        temperature, *velocity = make_gauge(problem.box.domain, probe.point)((*now.velocity, now.temperature))
        if _unsteady(series, now):
            temperature = oscillation(series["time"], series[f"probe_{probe.name}_temperature"]).mean
            columns = [series[f"probe_{probe.name}_velocity_{axis}"] for axis in "xyz"]
            velocity = [oscillation(series["time"], column).mean for column in columns]
        yield f"probe_{name}" + _unit(problem, "C"), temperature - offset
        for axis, value in zip("xyz", velocity, strict=True):
            if axis != "y" or problem.box.domain.shape[1] > 1:
                size = _size(problem, "mm_s")
                yield f"probe_{name}_velocity_{axis}" + _unit(problem, "mm_s"), value * size


def _unsteady(series: Mapping[str, Array], now: Flow) -> bool:
    return now.stop_reason != "steady" and len(series.get("time", ())) > 2


def _oscillation(problem: AirProblem, series: Mapping[str, Array], now: Flow) -> Named:
    """Period and swings (peak less valley) of Nusselt numbers and probes, where they oscillate at all."""
    if not _unsteady(series, now):
        return
    periods: list[float] = []
    for name, column in series.items():
        if not name.startswith(("nusselt_", "probe_")):
            continue
        found = oscillation(series["time"], column)
        unit = "" if name.startswith("nusselt_") else "K" if name.endswith("temperature") else "mm_s"
        size = _size(problem, unit)
        yield f"swing_{_key(name)}" + (_unit(problem, unit) if unit else ""), found.swing * size
        noticeable = found.swing > NOTICEABLE * (problem.difference if unit == "K" else abs(found.mean))
        periods += [found.period] if noticeable and np.isfinite(found.period) else []
    if periods:
        yield "swing_period" + _unit(problem, "s"), float(np.median(periods))


def _budgets(problem: AirProblem, now: Flow, heat: Array) -> Named:
    """Heat that enters and does not leave; kinetic energy: what buoyancy gives against what friction takes."""
    entering = float(heat[heat > 0.0].sum())
    yield "imbalance_percent", 100.0 * abs(float(heat.sum())) / entering if entering > 0.0 else 0.0
    box = problem.box
    budget = kinetic_budget(build_stepper(box.domain, box.air, box.wall_temperature, now, box.scheme))
    gained = abs(budget.buoyancy) or 1.0
    yield "kinetic_energy_change_percent", 100.0 * budget.change / gained
    yield "kinetic_energy_advection_percent", 100.0 * budget.advection / gained
    pace = problem.length**2 / box.air.diffusivity
    yield "kinetic_energy_growth", 0.5 * budget.change / budget.energy * pace if budget.energy > 0.0 else 0.0
    yield "divergence", relative_divergence(box.domain, now)

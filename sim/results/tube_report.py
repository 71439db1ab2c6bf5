"""Report quantities of the tubes of a free arrangement: what flows in them, its film, and how it leaves."""

from __future__ import annotations

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.physics.tube import reynolds_tube, turbulent_share
from sim.solver.steady import Solution
from sim.solver.terms.water import RunWater, TubeRun


def tube_values(solution: Solution) -> dict[str, float]:
    """Outlet, mean, velocity, Reynolds number, share of turbulence and film of every tube with water or air."""
    values: dict[str, float] = {}
    for run, water in zip(solution.system.runs, solution.flows.waters, strict=True):
        if run.feed is not None:
            key = "_".join(run.name.split())
            values[f"outlet_{key}_C"] = water.outlet - ZERO_CELSIUS
            values |= {f"tube_{key}_{name}": value for name, value in _inside(run, water).items()}
    return values


def _inside(run: TubeRun, water: RunWater) -> dict[str, float]:
    """The flow in a run at its mean temperature, at which the film is; nothing where it stands."""
    if run.feed is None or water.flow <= 0.0:
        return {}
    mean, bore = water.mean(run), float(run.inner_diameter or 0.0)
    fluid = run.feed.fluid_at(mean)
    number = float(reynolds_tube(water.flow, bore, fluid))
    return {
        "mean_C": mean - ZERO_CELSIUS,
        "velocity_m_s": float(4.0 * water.flow / (np.pi * bore * bore * fluid.density)),
        "reynolds": number,
        "turbulent_percent": 100.0 * float(turbulent_share(number)),
        "film_W_m2K": 1.0 / (np.pi * bore * water.film_resistance),
    }

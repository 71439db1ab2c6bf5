"""What is kept while air alone is followed: readings at every look."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.gauge import make_gauge
from sim.airflow.stepping import FlowStepper, Look
from sim.problems.air_box import AirProblem

Array = NDArray[np.float64]
MOST_ROWS = 5000
"""Lines of the history that are kept at most; beyond that every other one is dropped."""


class Record:
    """Readings of a march: time, steps, speed, the Nusselt number of every surface, what every probe shows.

    Parameters
    ----------
    problem : AirProblem
    probes : name and point [m] of each
    """

    def __init__(self, problem: AirProblem, probes: tuple[tuple[str, tuple[float, float, float]], ...]) -> None:
        self.rows: list[dict[str, float]] = []
        self._surfaces = problem.surfaces
        self._nusselt = problem.nusselt
        self._probes: list[tuple[str, Callable[[Any], Any]]] = [
            (name, make_gauge(problem.box.domain, point)) for name, point in probes
        ]

    def __call__(self, look: Look, stepper: FlowStepper) -> None:
        """Take the readings of one look."""
        row = {"time": look.time, "step": look.step, "steps": float(look.steps)}
        row |= {"fastest_velocity": look.speed, "change": look.change}
        row |= {"kinetic_energy": look.energy, "growth": look.growth}
        flows = stepper.heat_flow()
        for surface in self._surfaces:
            row[f"nusselt_{surface.name}"] = self._nusselt(flows, surface)
        for name, read in self._probes:
            temperature, *velocity = read(stepper.state)
            row[f"probe_{name}_temperature"] = temperature
            row |= {f"probe_{name}_velocity_{axis}": v for axis, v in zip("xyz", velocity, strict=True)}
        self.rows.append(row)

    def series(self, after: float) -> dict[str, Array]:
        """Every column from a time on."""
        rows = [row for row in self.rows if row["time"] >= after]
        return {name: np.array([row[name] for row in rows]) for name in (rows[0] if rows else {})}

    def history(self) -> list[dict[str, float]]:
        """The lines to keep in a file."""
        every = 1 + len(self.rows) // MOST_ROWS
        return self.rows[:: -every][::-1]

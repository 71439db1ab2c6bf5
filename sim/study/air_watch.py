"""What is kept while air alone is followed: readings at every look, and pictures of the start."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import Look
from sim.airflow.gauge import make_gauge
from sim.airflow.step import Stepper
from sim.study.air_box import AirProblem

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

    def __call__(self, look: Look, stepper: Stepper) -> None:
        """Take the readings of one look."""
        row = {"time": look.time, "step": look.step, "steps": float(look.steps)}
        row |= {"fastest_velocity": look.speed, "change": look.change}
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


class Frames:
    """Pictures of one section (x-z through the middle of y) at even times, the start included.

    Parameters
    ----------
    count : int
    until : float [s]
    """

    def __init__(self, count: int, until: float) -> None:
        self.times: list[float] = []
        self.fields: list[tuple[Array, Array, Array]] = []
        self._due = np.linspace(0.0, until, count) if count else np.array([])

    def __call__(self, look: Look, stepper: Stepper) -> None:
        """Keep a picture when one is due."""
        self.keep(look.time, stepper.state)

    def keep(self, time: float, state: Any) -> None:
        """Keep the picture of a time if it is due: temperature [K], x and z velocity [m/s] at cell centres."""
        if len(self.times) >= len(self._due) or time < self._due[len(self.times)]:
            return
        u, _, w, t = state
        middle = t.shape[1] // 2
        across, up = 0.5 * (u[1:, middle] + u[:-1, middle]), 0.5 * (w[:, middle, 1:] + w[:, middle, :-1])
        self.times.append(time)
        self.fields.append((t[:, middle].copy(), across, up))

"""Pictures of one section of a flow, kept while it is followed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.airflow.stepping import FlowStepper, Look

Array = NDArray[np.float64]


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

    def __call__(self, look: Look, stepper: FlowStepper) -> None:
        """Keep a picture when one is due."""
        self.keep(look.time, stepper.state)

    def due(self, time: float) -> bool:
        """Whether a picture is due at a time [s]."""
        return len(self.times) < len(self._due) and time >= self._due[len(self.times)]

    def keep(self, time: float, state: Sequence[Array]) -> None:
        """Keep the picture of a time if it is due: temperature [K], x and z velocity [m/s] at cell centres."""
        if not self.due(time):
            return
        u, _, w, t = state
        middle = t.shape[1] // 2
        across, up = 0.5 * (u[1:, middle] + u[:-1, middle]), 0.5 * (w[:, middle, 1:] + w[:, middle, :-1])
        self.times.append(time)
        self.fields.append((t[:, middle].copy(), across, up))

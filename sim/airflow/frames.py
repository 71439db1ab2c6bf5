"""Pictures of one section of a flow, kept while it is followed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sim.airflow.stepping import FlowStepper, Look

Array = NDArray[np.float64]

MANY, FINEST = 240, 64
"""Pictures kept on the way at least, where the length of a start is not known; the first come so many times closer."""
ALIKE = 0.01
"""Share of the span of temperatures up to which a picture looks like another."""


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

    def close(self) -> None:
        """The flow has ended: every picture stays."""


class StartFrames(Frames):
    """Pictures of a start of which nobody knows beforehand how long it takes.

    Many are kept at even times. Whenever they get too many, those after which nothing changes any more go, and where
    that is not enough every second one; in the end the same, and of the others `count` at most stay.

    Parameters
    ----------
    count : int
    until : float [s]
        The flow is followed so long at the most.
    """

    def __init__(self, count: int, until: float) -> None:
        super().__init__(count, until)
        self._count, self._most = count, max(2 * count, MANY)
        self._apart = until / self._most / FINEST
        self._next = 0.0

    def due(self, time: float) -> bool:
        """Whether a picture is due at a time [s]."""
        return self._count > 0 and time >= self._next

    def keep(self, time: float, state: Sequence[Array]) -> None:
        """As `Frames` does, with room made where there are too many."""
        if not self.due(time):
            return
        super().keep(time, state)
        if len(self.times) > self._most:
            self._make_room()
        self._next = time + self._apart

    def _make_room(self) -> None:
        self._keep_only(self._while_moving())
        if len(self.times) > 0.75 * self._most:
            self._keep_only(range(0, len(self.times), 2))
            self._apart *= 2.0

    def _while_moving(self) -> range:
        """Numbers of the pictures up to the one from which on nothing changes."""
        last = self.fields[-1][0]
        span = max(float(np.ptp(warmth)) for warmth, *_ in self.fields) or 1.0
        moving = [n for n, (warmth, *_) in enumerate(self.fields) if np.abs(warmth - last).max() > ALIKE * span]
        return range(min((moving[-1] if moving else 0) + 2, len(self.times)))

    def _keep_only(self, numbers: Sequence[int]) -> None:
        self.times[:] = [self.times[n] for n in numbers]
        self.fields[:] = [self.fields[n] for n in numbers]

    def close(self) -> None:
        """Leave out what looks like the last picture but for one of it, and thin what is left to `count`."""
        if len(self.times) > 1:
            numbers = self._while_moving()
            even = np.linspace(0, len(numbers) - 1, min(self._count, len(numbers))).round()
            self._keep_only([int(n) for n in np.unique(even)])

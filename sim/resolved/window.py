"""Mean fields of the flow over the window of rounds, without keeping the rounds' fields."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.flow import Flow
from sim.airflow.stepping import FollowedFlow
from sim.resolved.means import window_start

Array = NDArray[np.float64]


@dataclass(slots=True)
class FieldMeans:
    """Two running sums of the four fields, one over the present window and one over what will be the next.

    `begin` is how many rounds each leaves out, `duration` [s] and `sums` what they hold.
    """

    begin: list[int]
    duration: list[float]
    sums: list[list[Array]]

    @classmethod
    def none(cls, stepper: FollowedFlow) -> FieldMeans:
        """Nothing averaged yet."""
        return cls([0, 1], [0.0, 0.0], [_zeros(stepper), _zeros(stepper)])

    def for_round(self, number: int, stepper: FollowedFlow) -> FieldMeans:
        """The sums that a round (from 1) adds to: when the window moves on, the second becomes the first."""
        if number > 1 and window_start(number) != window_start(number - 1):
            return FieldMeans([self.begin[1], number], [self.duration[1], 0.0], [self.sums[1], _zeros(stepper)])
        return self

    def add(self, number: int, span: float, state: Sequence[Array]) -> None:
        """Add the fields of a round (from 1), which held for a time [s]."""
        for one in (one for one in (0, 1) if number > self.begin[one]):
            self.duration[one] += span
            for total, field in zip(self.sums[one], state, strict=True):
                total += span * field

    def flow(self, stepper: FollowedFlow) -> Flow:
        """The mean flow over the window."""
        u, v, w, t = (total / self.duration[0] for total in self.sums[0])
        return Flow((u, v, w), t, stepper.time, stepper.steps, "mean")


def mean_flow(flows: Sequence[Flow]) -> Flow:
    """The mean of several starts' mean flows, each over as long; its clock is the first one's."""
    u, v, w, t = (np.mean(parts, axis=0) for parts in zip(*((*f.velocity, f.temperature) for f in flows), strict=True))
    return Flow((u, v, w), t, flows[0].time, flows[0].steps, flows[0].stop_reason)


def _zeros(stepper: FollowedFlow) -> list[Array]:
    return [np.zeros_like(field) for field in stepper.state]

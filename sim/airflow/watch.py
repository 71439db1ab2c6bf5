"""A look at the state now and then: values that are not numbers, or a flow that ran away, stop the march."""

from __future__ import annotations

from typing import Any

import numpy as np

from sim.airflow.domain import Domain
from sim.airflow.rows import compiled


class FlowError(ValueError):
    """The flow ran into values that mean nothing; the message names field, place and step."""


NAMES = ("x velocity", "y velocity", "z velocity", "temperature")


@compiled
def all_finite(start, stop, field):
    """Whether every value of the slabs is a number (a sum is NaN or infinite as soon as one of them is)."""
    total = 0.0
    for i in range(start, stop):
        for j in range(field.shape[1]):
            for k in range(field.shape[2]):
                total += 0.0 * field[i, j, k]
    return total == 0.0


def check_state(state: Any, domain: Domain, steps: int, time: float) -> None:
    """Raise unless every velocity and temperature is finite.

    Raises
    ------
    FlowError
        Naming the field, the place of the first bad value [m], step and time.
    """
    for axis, (name, field) in enumerate(zip(NAMES, state, strict=True)):
        if all_finite(0, field.shape[0], field):
            continue
        place = np.argwhere(~np.isfinite(field))[0]
        coordinates = [
            (edge if a == axis else centre)[i]
            for a, (edge, centre, i) in enumerate(zip(domain.edges, domain.centres, place, strict=True))
        ]
        at = ", ".join(f"{c:.4g}" for c in coordinates)
        raise FlowError(f"{name} is {field[tuple(place)]} at ({at}) m in step {steps}, time {time:.6g} s")

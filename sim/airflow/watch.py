"""A look at the state now and then: values that are not numbers, or a flow that ran away, stop the march."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.airflow.rows import compiled

if TYPE_CHECKING:
    from sim.airflow.stepping import FollowedFlow

Array = NDArray[np.float64]


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


def check_state(state: Sequence[Array], domain: Domain, steps: int, time: float) -> None:
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
        value, at = field[tuple(place)], _at(domain, axis, place)
        raise FlowError(f"{name} is {value} at {at} in step {steps}, time {time:.6g} s")


SMALLEST_PACE = 1e-6
"""Steps this much shorter than the longest so far mean that the flow ran away, not that it is quick."""


def check_pace(size: float, longest: float, stepper: FollowedFlow) -> None:
    """Raise when the stable step has collapsed.

    Raises
    ------
    FlowError
        Naming the quickest velocity component, its place [m], step and time.
    """
    if size > SMALLEST_PACE * longest:
        return
    axis = max(range(3), key=lambda a: float(np.abs(stepper.state[a]).max()))
    field = stepper.state[axis]
    place = np.unravel_index(np.abs(field).argmax(), field.shape)
    raise FlowError(
        f"{NAMES[axis]} is {field[place]:.3g} m/s at {_at(stepper.domain, axis, place)} in step {stepper.steps}, "
        f"time {stepper.time:.6g} s: the flow ran away"
    )


def _at(domain: Domain, axis: int, place: Any) -> str:
    """A place of a field as text; axis 3 means cell centres."""
    lines = zip(domain.edges, domain.centres, place, strict=True)
    return "(" + ", ".join(f"{(e if a == axis else c)[i]:.4g}" for a, (e, c, i) in enumerate(lines)) + ") m"

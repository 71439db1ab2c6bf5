"""The unknowns of a system."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.machine.brief import Brief

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, repr=False)
class State(Brief):
    """Unknowns: flat cell temperatures, zone air [K] and patch irradiation [W/m²].

    `wall` temperatures [K] and `delivered` heat [W] are carried from the last evaluation as a start for the next.
    """

    temperature: Array
    air: Array
    irradiation: Array
    wall: Array
    delivered: float | None = None


def blended(states: Sequence[State], shares: Sequence[float]) -> State:
    """A state between or beyond others of the same system, to begin from; shares add up to 1.

    Irradiation goes by its temperature: what patches send grows with the fourth power, the rest hardly bends.
    """
    radiant = _mixed([state.irradiation**0.25 for state in states], shares)
    return replace(
        states[-1],
        temperature=_mixed([state.temperature for state in states], shares),
        air=_mixed([state.air for state in states], shares),
        irradiation=np.maximum(radiant, 0.0) ** 4,
        wall=_mixed([state.wall for state in states], shares),
    )


def _mixed(values: Sequence[Array], shares: Sequence[float]) -> Array:
    """Σ share · value."""
    return sum((share * value for value, share in zip(values, shares, strict=True)), np.zeros_like(values[0]))

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

    Irradiation goes by its temperature: what patches send grows with the fourth power, the rest hardly bends. The heat
    delivered is blended too: a circuit's flow follows from it, and a flow of other water costs passes.
    """
    radiant = _mixed([state.irradiation**0.25 for state in states], shares)
    return replace(
        states[-1],
        temperature=_mixed([state.temperature for state in states], shares),
        air=_mixed([state.air for state in states], shares),
        irradiation=np.maximum(radiant, 0.0) ** 4,
        wall=_mixed([state.wall for state in states], shares),
        delivered=_delivered(states, shares),
    )


def _delivered(states: Sequence[State], shares: Sequence[float]) -> float | None:
    """Heat of a blend [W], not negative; None where one of its states does not know its own."""
    known = [state.delivered for state in states if state.delivered is not None]
    if len(known) < len(states):
        return None
    return max(0.0, sum(share * heat for share, heat in zip(shares, known, strict=True)))


def _mixed(values: Sequence[Array], shares: Sequence[float]) -> Array:
    """Σ share · value."""
    return sum((share * value for value, share in zip(values, shares, strict=True)), np.zeros_like(values[0]))

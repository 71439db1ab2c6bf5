"""How far learned films may be off, by where a bay lies among the computed bays that taught its kind.

A bay lies `far` from their middle by the mean of ((m − middle) / half)² over a few of its measures m: 0 in the middle,
1 at the ends of all of them. What the films were off by in bays that took no part in a fit (each teacher once, in turn)
grows with it, so that 19 of 20 lie within

    base · exp(growth · far)    of heat up, heat down and ripple.

Coefficients are those of `learned_films.json`, made by `tests/tools/air_bands.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.physics.learned_films import Measures, learned_data

NUMBERS: tuple[Literal["up", "down", "ripple"], ...] = ("up", "down", "ripple")
"""What has a band: heat up, heat down, ripple."""


@dataclass(frozen=True, slots=True)
class Band:
    """What may be off where a bay lies.

    Attributes
    ----------
    percent : half widths that hold heat up, heat down and ripple in 19 of 20 bays, over what the law gave [%]
    nearer : share of the computed bays of its kind that lie nearer their middle [%]
    """

    percent: tuple[float, float, float]
    nearer: float


def band_at(kind: str, measures: Measures) -> Band:
    """The band of a bay of a kind ("flat", "bare", "upright", "fastened" or "sheathing")."""
    kept = learned_data()["bands"][kind]
    far = far_of(kind, measures)
    widest = min(far, kept["farthest"])
    up, down, ripple = (kept[name][0] * float(np.exp(kept[name][1] * widest)) for name in NUMBERS)
    quantiles = np.array(kept["quantiles"])
    nearer = float(np.interp(far, quantiles, np.linspace(0.0, 100.0, len(quantiles))))
    return Band((up, down, ripple), nearer)


def far_of(kind: str, measures: Measures) -> float:
    """How far a bay lies from the middle of the computed ones [-]: 0 there, about 1 at the ends of all measures."""
    found, placed = measures.all(), learned_data()["bands"][kind]["measures"]
    squares = [((found[name] - middle) / half) ** 2 for name, (middle, half) in placed.items()]
    return sum(squares) / len(squares)


def computed_over_correlations(kind: str) -> dict[str, tuple[float, float]]:
    """What computed air gave in 19 of 20 bays of a kind, in multiples of what correlations give: from, to.

    By the names of `NUMBERS`: they give too little of some and too much of others, so no ± says it.
    """
    found = learned_data()["correlations"][kind]
    up, down, ripple = found["up_computed"], found["down_computed"], found["ripple_computed"]
    return {"up": (up[0], up[1]), "down": (down[0], down[1]), "ripple": (ripple[0], ripple[1])}


def correlations_band(kind: str) -> tuple[float, float, float]:
    """Errors of correlations in 19 of 20 computed bays: heat up, heat down and ripple, over what they gave [%]."""
    found = learned_data()["correlations"][kind]
    return found["up_percent"], found["down_percent"], found["ripple_percent"]

"""The unknowns of a system."""

from __future__ import annotations

from dataclasses import dataclass

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

"""The characteristic curve of a bay: upward flux against mean water above room, as a power law.

    q = c ΔT^n,   ΔT = mean water − room

fitted to solved points by least squares in the logarithms; n is near 1 (1.1 of the floor law, softened by the layers).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.run import Model, Result, solve_model


@dataclass(frozen=True, slots=True)
class Characteristic:
    """Coefficient c [W/m²K^n], exponent n, the points it was fitted to, and its largest misfit [-]."""

    name: str
    coefficient: float
    exponent: float
    excess: tuple[float, ...]
    flux: tuple[float, ...]
    misfit: float

    def at(self, excess: float) -> float:
        """Upward flux [W/m²] at a mean water temperature above the room [K].

        Raises
        ------
        ValueError : outside the fitted range.
        """
        if not self.excess[0] <= excess <= self.excess[-1]:
            raise ValueError(f"{excess:.1f} K is outside the fitted {self.excess[0]:.1f} to {self.excess[-1]:.1f} K")
        return float(self.coefficient * excess**self.exponent)

    def as_dict(self) -> dict[str, Any]:
        """Plain values with units in their names, for other simulations."""
        return {
            "case": self.name,
            "law": "heat_flux_up_W_m2 = coefficient * (mean_water_C - room_C) ** exponent",
            "coefficient": self.coefficient,
            "exponent": self.exponent,
            "lowest_excess_K": self.excess[0],
            "highest_excess_K": self.excess[-1],
            "largest_misfit": self.misfit,
            "points_excess_K": list(self.excess),
            "points_heat_flux_up_W_m2": list(self.flux),
        }

    def __str__(self) -> str:
        return (
            f"q = {self.coefficient:.4g} ΔT^{self.exponent:.4f} W/m², mean water {self.excess[0]:.0f} to "
            f"{self.excess[-1]:.0f} K above the room, within {100 * self.misfit:.2f} %"
        )


def fit_power(name: str, excess: Sequence[float], flux: Sequence[float]) -> Characteristic:
    """Fit the power law to points.

    Parameters
    ----------
    excess, flux : at least two points [K], [W/m²], all positive.
    """
    order = np.argsort(excess)
    x, y = np.asarray(excess, float)[order], np.asarray(flux, float)[order]
    exponent, level = np.polyfit(np.log(x), np.log(y), 1)
    fitted = np.exp(level) * x**exponent
    misfit = float(np.max(np.abs(fitted / y - 1.0)))
    return Characteristic(name, float(np.exp(level)), float(exponent), tuple(x), tuple(y), misfit)


def characteristic(model: Model, first: Result, supplies: Sequence[float]) -> Characteristic:
    """Solve a bay at several supply temperatures [K] and fit its curve; `first` is where to start from."""
    room, last = float(model.case.room.temperature), first
    points: list[tuple[float, float]] = []
    for supply in supplies:
        last = solve_model(model.with_supply(supply), start=last.solution.state)
        points.append((last.report["water_mean_C"] + ZERO_CELSIUS - room, last.report["heat_flux_up_W_m2"]))
    excess, flux = zip(*points, strict=True)
    return fit_power(model.case.name, excess, flux)

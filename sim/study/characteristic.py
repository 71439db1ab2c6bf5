"""The characteristic curve of a bay: upward flux against mean water above room, as a power law with an offset.

    q = c ΔT^n − q₀,   ΔT = mean water − room

n is near 1 (1.1 of the floor law, softened by the layers). q₀ is what the floor loses downwards when the water is no
warmer than the room; over a cold space without insulation the flux turns upwards only with warmer water than that.
Where a power law alone fits as well, q₀ is 0. Fitted to solved points by least squares of relative errors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sim.case.constants import ZERO_CELSIUS
from sim.results.people import Units, convert, unit_of

if TYPE_CHECKING:
    from sim.case.bay_case import Case
    from sim.run import Model, Result

LAW = "heat_flux_up_W_m2 = coefficient * (mean_water_C - room_C) ** exponent - offset_W_m2"

GOOD = 0.02
"""Largest misfit with which a power law alone is taken: curves of insulated bays stay within it."""

EXPONENTS = (0.9, 1.4)
"""Between these the exponent is sought beside an offset: a resistance alone has 1, free convection 1.25 to 1.33."""

_FLUX = "heat_flux_up_W_m2"

_LEAST_GAIN = 0.05
"""The water adds at least this share of the largest loss at every point, so that its logarithm can be taken."""


@dataclass(frozen=True, slots=True)
class Characteristic:
    """Coefficient c [W/m²K^n], exponent n, the points it was fitted to, its largest misfit [-], offset q₀ [W/m²].

    The misfit is a share of what the water adds, q + q₀.
    """

    name: str
    coefficient: float
    exponent: float
    excess: tuple[float, ...]
    flux: tuple[float, ...]
    misfit: float
    offset: float = 0.0

    def at(self, excess: float) -> float:
        """Upward flux [W/m²] at a mean water temperature above the room [K].

        Raises
        ------
        ValueError : outside the fitted range.
        """
        if not self.excess[0] <= excess <= self.excess[-1]:
            raise ValueError(f"{excess:.1f} K is outside the fitted {self.excess[0]:.1f} to {self.excess[-1]:.1f} K")
        return float(self.coefficient * excess**self.exponent - self.offset)

    def numbers(self) -> dict[str, object]:
        """The law and its range as plain values with units in their names, for other simulations."""
        return {
            "law": LAW,
            "coefficient": self.coefficient,
            "exponent": self.exponent,
            "offset_W_m2": self.offset,
            "lowest_excess_K": self.excess[0],
            "highest_excess_K": self.excess[-1],
            "largest_misfit": self.misfit,
        }

    def as_dict(self) -> dict[str, object]:
        """Name, law and points."""
        points = {"points_excess_K": list(self.excess), "points_heat_flux_up_W_m2": list(self.flux)}
        return {"case": self.name} | self.numbers() | points

    def __str__(self) -> str:
        return self.words()

    def words(self, units: Units = "si") -> str:
        """The law with its range and misfit; ΔT in K and q in W/m², or in °F and Btu/h·ft²."""
        law = law_text(self.coefficient, self.exponent, self.offset, units)
        low, high = (f"{convert('excess_K', end, units):.0f}" for end in (self.excess[0], self.excess[-1]))
        degree = "K" if units == "si" else "°F"
        return f"{law}, mean water {low} to {high} {degree} above the room, within {100 * self.misfit:.2f} %"


def law_text(coefficient: float, exponent: float, offset: float, units: Units = "si") -> str:
    """The law with its numbers, which are given in SI.

    >>> law_text(1.5, 1.1, 0.0)
    'q = 1.5 ΔT^1.1000 W/m²'
    >>> law_text(1.5, 1.1, 8.25)
    'q = 1.5 ΔT^1.1000 − 8.25 W/m²'
    """
    per_degree = convert("excess_K", 1.0, units) ** exponent  # c (ΔT in K)^n = c / 1.8^n (ΔT in °F)^n
    shown = convert(_FLUX, coefficient, units) / per_degree
    lost = f" − {convert(_FLUX, offset, units):.4g}" if offset else ""
    return f"q = {shown:.4g} ΔT^{exponent:.4f}{lost} {unit_of(_FLUX).name(units)}"


def fit_power(name: str, excess: Sequence[float], flux: Sequence[float]) -> Characteristic:
    """Fit the law to points: without an offset where that is good enough.

    Parameters
    ----------
    excess, flux : at least two different points [K], [W/m²]; the excess positive, the flux of any sign.
    """
    order = np.argsort(excess)
    x, y = np.asarray(excess, float)[order], np.asarray(flux, float)[order]
    plain = _fit(name, x, y, 0.0) if y.min() > 0.0 else None
    if plain is not None and (plain.misfit <= GOOD or x.size < 3):
        return plain
    return _fit(name, x, y, _offset(x, y))


def _fit(name: str, x: NDArray[np.float64], y: NDArray[np.float64], offset: float) -> Characteristic:
    """Coefficient and exponent beside an offset, by least squares in the logarithms of what the water adds."""
    exponent, level = np.polyfit(np.log(x), np.log(y + offset), 1)
    fitted = np.exp(level) * x**exponent
    misfit = float(np.max(np.abs(fitted / (y + offset) - 1.0)))
    points = (tuple(x.tolist()), tuple(y.tolist()))
    return Characteristic(name, float(np.exp(level)), float(exponent), *points, misfit, offset)


def _offset(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """The loss at no excess [W/m²] that, with the best exponent, leaves the smallest errors; of two points' line."""

    def solved(exponent: float) -> tuple[float, float]:
        rows, wanted = np.column_stack([x**exponent, -np.ones_like(x)]) / x[:, None], y / x
        found = np.linalg.lstsq(rows, wanted)[0]
        return float(found[1]), float(np.sum((rows @ found - wanted) ** 2))

    best = 1.0
    if x.size > 2:
        from scipy.optimize import minimize_scalar  # half a second, and most curves have no offset

        sought = minimize_scalar(lambda n: solved(n)[1], bounds=EXPONENTS, method="bounded", options={"xatol": 1e-9})
        best = float(sought.x)
    return max(solved(best)[0], -(1.0 + _LEAST_GAIN) * float(y.min()), 0.0)


def characteristic(model: Model[Case], first: Result[Case], supplies: Sequence[float]) -> Characteristic:
    """Solve a bay at several supply temperatures [K] and fit its curve; `first` is where to start from."""
    from sim.run import solve_model

    room, last = float(model.case.room.temperature), first
    points: list[tuple[float, float]] = []
    for supply in supplies:
        last = solve_model(model.with_supply(supply), start=last.solution.state)
        points.append((last.report["water_mean_C"] + ZERO_CELSIUS - room, last.report["heat_flux_up_W_m2"]))
    excess, flux = zip(*points, strict=True)
    return fit_power(model.case.name, excess, flux)

"""What a bay gives against its mean water: a few solved points, and what lies between them.

The upward flux is interpolated in the logarithms (q = c ΔT^n − q₀ with n that may drift a little), every other number
of the report by the polynomial through the points. A curve is for looking around; what a layout finally rests on is
solved again at its own water.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sim.case.constants import ZERO_CELSIUS
from sim.house.crossing import crossing
from sim.study.characteristic import Characteristic, fit_power

FLUX = "heat_flux_up_W_m2"

FALLS = {"water_supply_C", "water_mean_C"}

LOSSES = ("floor_area_m2", "heat_flow_down_W", "heat_flow_edge_W")

EXCESSES = (6.0, 14.0, 30.0, 65.0)
"""Supply above the room at which a curve is solved [K]: from mild weather to 85 °C of water."""


LOW = 1.0 / 3.0
"""The curve is followed down to this share of its lowest point: measured within 2 %,
and 0.2 % between the points, or up to 3 % where the flow turns from laminar to turbulent between them."""


class OutOfRangeError(ValueError):
    """Asked beyond the solved points; the message names the range."""


@dataclass(frozen=True, slots=True)
class Curve:
    """What a bay type gives against its mean water.

    Attributes
    ----------
    law : Characteristic
        The power law that was fitted to its points.
    reports : tuple of mappings
        The bay's report at each.
    """

    law: Characteristic
    reports: tuple[Mapping[str, float], ...]

    @property
    def excess(self) -> tuple[float, ...]:
        """Mean water above the room at the points [K], rising."""
        return self.law.excess

    @property
    def offset(self) -> float:
        """What the floor loses downwards when the water is as warm as the room [W/m²]; 0 for most bays."""
        return self.law.offset

    def flux(self, excess: float) -> float:
        """Upward flux [W/m²]; far below the lowest point along the power law, minus the offset without excess.

        Raises
        ------
        OutOfRangeError : above the highest point.
        """
        if excess <= 0.0:
            return -self.offset
        self._check(excess)
        lowest = LOW * self.excess[0]
        if excess < lowest:
            return self._added(lowest) * (excess / lowest) ** self.law.exponent - self.offset
        return self._added(excess) - self.offset

    def _added(self, excess: float) -> float:
        """What the water adds to the upward flux [W/m²], through the points."""
        shares = lagrange_shares([math.log(own) for own in self.excess], math.log(excess))
        known = (math.log(report[FLUX] + self.offset) for report in self.reports)
        return math.exp(sum(share * value for share, value in zip(shares, known, strict=True)))

    def excess_for(self, flux: float) -> float:
        """Mean water above the room that gives an upward flux [K]; 0 where none is wanted and nothing heated.

        Raises
        ------
        OutOfRangeError : more than the highest point gives.
        """
        if flux <= 0.0:
            return 0.0
        top = self.excess[-1]
        if flux > self.flux(top):
            raise OutOfRangeError(f"{flux:.1f} W/m² is more than the {self.flux(top):.1f} W/m² at {top:.0f} K")
        return crossing(lambda excess: self.flux(excess) - flux, 1e-9, top, 1e-9)

    def report(self, excess: float) -> dict[str, float]:
        """Every number of the bay's report at a mean water above the room [K].

        Raises
        ------
        OutOfRangeError : above the highest point.
        """
        self._check(excess)
        keys = [key for key in self.reports[0] if all(key in report for report in self.reports)]
        return self._numbers(keys, excess) | {FLUX: self.flux(excess)}

    def losses(self, excess: float) -> tuple[float, float]:
        """Heat down and through the edges for each square metre of floor [W/m²]."""
        self._check(excess)
        return losses_of(self._numbers(LOSSES, excess))

    def _numbers(self, keys: Iterable[str], excess: float) -> dict[str, float]:
        """Numbers of the report on the polynomials through the points."""
        shares = lagrange_shares(self.excess, excess)
        rows = list(zip(shares, self.reports, strict=True))
        return {key: sum(share * report[key] for share, report in rows) for key in keys}

    def _check(self, excess: float) -> None:
        if excess > self.excess[-1] * (1.0 + 1e-9):
            raise OutOfRangeError(f"{excess:.1f} K is above the solved {self.excess[-1]:.1f} K")

    def __str__(self) -> str:
        return str(self.law)


def curve_of(name: str, room: float, reports: Sequence[Mapping[str, float]]) -> Curve:
    """The curve through solved reports of one bay under a room of a temperature [K]; in rising order of their water."""
    excess = [report["water_mean_C"] + ZERO_CELSIUS - room for report in reports]
    return Curve(fit_power(name, excess, [report[FLUX] for report in reports]), tuple(reports))


def fall_of(report: Mapping[str, float]) -> float:
    """How far the mean water of a bay lies below its supply [K], from its report; 0 where that does not say."""
    return max(0.0, report["water_supply_C"] - report["water_mean_C"]) if report.keys() >= FALLS else 0.0


def losses_of(report: Mapping[str, float]) -> tuple[float, float]:
    """Heat down and through the edges for each square metre of floor [W/m²], from a bay's report."""
    area, down, edge = (report[key] for key in LOSSES)
    return down / area, edge / area


def lagrange_shares(x: Sequence[float], at: float) -> list[float]:
    """The weight of each point's value, dimensionless, at a place on the polynomial through all (Lagrange)."""
    return [math.prod((at - other) / (own - other) for other in x if other != own) for own in x]

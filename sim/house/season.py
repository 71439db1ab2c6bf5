"""A heating season by bins of outdoor temperature: heat, fuel or electricity, what is left to a backup, and money.

In the manner of EN 15316-4-2: each bin has its hours, its supply by the weather, its heat, and the source's efficiency
at that outdoor and supply temperature and load.

    Q = Σ hours · heat,   E = Σ hours · [min(heat, output) / ratio + max(0, heat − output)]

What a source cannot give is taken from direct electric heat (ratio 1); water cooler than its table has the ratio of
the table's first row. Sun and gains are left out, so this compares
sources in one house; it does not foretell a bill.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.house.sources import Source

COLD = ZERO_CELSIUS - 14.0
"""A colder design day than this [K] has the colder of the two climates, unless the file says."""

_STATIONS = 10
"""The house is looked at so many outdoor temperatures; between them its heat is taken as linear."""

_KWH = 1e3
"""A kilowatt-hour in watt-hours."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Hours by outdoor temperature: (K, h), from cold to mild, and where they come from."""

    name: str
    source: str
    bins: tuple[tuple[float, float], ...]

    @property
    def hours(self) -> float:
        """All of them [h]."""
        return sum(hours for _, hours in self.bins)


@dataclass(frozen=True, slots=True)
class BinState:
    """The house in one bin: supply [K], heat from the source and load that floors do not give [W]."""

    supply: float
    heat: float
    unmet: float


@dataclass(frozen=True, slots=True)
class SeasonResult:
    """A season with one source [kWh]; `cost` is None without a price, `cycling` in hours below the least output."""

    climate: str
    heat: float
    energy: float
    backup: float
    unmet: float
    hours: float
    cycling: float
    cost: float | None

    @property
    def ratio(self) -> float:
        """Heat over fuel or electricity, backup included [-]; NaN without heat."""
        return self.heat / self.energy if self.energy > 0.0 else float("nan")


def climate_of(house: House) -> Climate:
    """The climate of a house: its own file of bins, the one that it names, or the one that fits its design day.

    Raises
    ------
    CaseError
        The file of bins cannot be read.
    """
    season = house.season
    if season.bins is not None:
        return _own_climate(house, Path(house.path or ".").parent / season.bins)
    name = season.climate or ("colder" if house.design.outdoor < COLD else "average")
    entry = tomllib.loads(files("sim.house").joinpath("season_bins.toml").read_text("utf-8"))[name]
    coldest = ZERO_CELSIUS + entry["coldest_C"]
    return Climate(name, entry["source"], tuple((coldest + k, float(h)) for k, h in enumerate(entry["hours"])))


def _own_climate(house: House, path: Path) -> Climate:
    """Bins from a file with the columns outdoor_C and hours."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = [(ZERO_CELSIUS + float(row["outdoor_C"]), float(row["hours"])) for row in csv.DictReader(file)]
    except (OSError, KeyError, TypeError, ValueError):
        rows = []
    good = rows and all(hours >= 0.0 for _, hours in rows) and all(-60.0 < at - ZERO_CELSIUS < 60.0 for at, _ in rows)
    if not good:
        rule = "must be a CSV file with the columns outdoor_C and hours, at least one line, hours 0 or more"
        raise CaseError(house.path or house.name, [Problem("season.bins", f'"{path.name}"', rule)])
    return Climate(path.name, "the house's own file", tuple(sorted(rows)))


def season_of(
    source: Source, climate: Climate, state: Callable[[float], BinState | None], price: float | None = None
) -> SeasonResult:
    """Sum a season.

    Parameters
    ----------
    source : what makes the heat.
    climate : its bins.
    state : the house at an outdoor temperature [K]; None where the heating is off.
    price : of a kWh of fuel or electricity; backup is counted at the same price.
    """
    heat = energy = backup = unmet = hours = cycling = 0.0
    for outdoor, span in climate.bins:
        now = state(outdoor)
        if now is None or now.heat <= 0.0:
            continue
        given = min(now.heat, source.output(now.supply, outdoor))
        rest = now.heat - given
        heat += span * now.heat / _KWH
        made = max(now.supply, source.performance[0][0])
        energy += span * (given / source.ratio(made, outdoor, now.heat) + rest) / _KWH
        backup += span * rest / _KWH
        unmet += span * now.unmet / _KWH
        hours += span
        cycling += span if now.heat < source.smallest_output else 0.0
    cost = None if price is None else price * energy
    return SeasonResult(climate.name, heat, energy, backup, unmet, hours, cycling, cost)


def stations(climate: Climate) -> tuple[float, ...]:
    """Outdoor temperatures at which the house is looked at for a season [K]."""
    return tuple(float(at) for at in np.linspace(climate.bins[0][0], climate.bins[-1][0], _STATIONS))

"""Heat sources as profiles that a user can edit, held against the water a floor needs.

The profiles are in `sources.toml`. A source is suited by supply, return, drop and load at once; every limit is held
whether it is kept or not, and says what follows. Sources of the numbers are in the file, row by row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from difflib import get_close_matches
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem, shortened
from sim.case.load import read_toml
from sim.case.read_file import read_text
from sim.house.heat_pump import RatingPoint, cycling_factor, is_rating, rated_output, rated_ratio
from sim.solver.signals import OutdoorReset, constant

KINDS = ("boiler", "heat pump")


@dataclass(frozen=True, slots=True)
class Source:
    """One heat source.

    Attributes
    ----------
    name, kind, source : str
        Kind "boiler" or "heat pump"; `source` says where the limits come from.
    lowest_supply, highest_supply : float [K]
        Water that the source itself makes.
    mixes : bool
        Whether a mixing valve cools its water for the floor.
    return_at_least : float or None [K]
        Cooler water must not come back to it, or its flue gas condenses where it should not.
    condenses_below : float or None [K]
        Only a cooler return lets it condense.
    drop_from, drop_to : float [K]
        Supply less return that it is usually run with.
    smallest_output, largest_output : float [W]
    performance : tuple of (supply [K], ratio [-], str)
        Useful heat over energy taken, from cool to hot, and where each number comes from.
    rating : tuple of (outdoor [K], supply [K], ratio [-], output [W], str)
        Of a heat pump at the points of its test, at full output; it goes before `performance` where the outdoor
        temperature is known.
    """

    name: str
    kind: str
    source: str
    lowest_supply: float
    highest_supply: float
    mixes: bool
    drop_from: float
    drop_to: float
    smallest_output: float
    largest_output: float
    performance: tuple[tuple[float, float, str], ...]
    return_at_least: float | None = None
    condenses_below: float | None = None
    rating: tuple[RatingPoint, ...] = ()

    def ratio(self, supply: float, outdoor: float | None = None, load: float | None = None) -> float:
        """Efficiency or COP at the floor's supply temperature [K], and outdoors and at a load where these matter [-].

        Linear between the rows of `performance`, or by the second law between those of `rating`; below its least output
        a heat pump cycles, and its COP falls as EN 14825 has it. A source that mixes makes at least its own lowest
        supply.

        Raises
        ------
        ValueError : outside the table.
        """
        made = max(supply, self.lowest_supply) if self.mixes else supply
        if self.rating and outdoor is not None:
            coolest = self.performance[0][0] if self.performance else made
            if not coolest <= made <= self.highest_supply:
                raise ValueError(f"{self.name}: makes no water of {made - ZERO_CELSIUS:.1f} °C")
            part = cycling_factor(load / self.smallest_output) if load is not None else 1.0
            return rated_ratio(self.rating, outdoor, made) * part
        points, ratios, _ = zip(*self.performance, strict=True)
        if not points[0] <= made <= points[-1]:
            raise ValueError(
                f"{self.name}: nothing is known of its performance at {made - ZERO_CELSIUS:.1f} °C, only from "
                f"{points[0] - ZERO_CELSIUS:.1f} to {points[-1] - ZERO_CELSIUS:.1f} °C"
            )
        return float(np.interp(made, points, ratios))

    def output(self, supply: float, outdoor: float | None = None) -> float:
        """Greatest output at the floor's supply and the outdoor temperature [W]."""
        if self.rating and outdoor is not None:
            return rated_output(self.rating, outdoor, supply)
        return self.largest_output

    def energy(self, heat: float, supply: float) -> float:
        """Fuel or electricity taken for a heat flow at a supply temperature [W]; raises as `ratio`."""
        return heat / self.ratio(supply)

    def __str__(self) -> str:
        return (
            f"{self.name}: supply {_celsius(self.lowest_supply)} to {_celsius(self.highest_supply)}, "
            f"{self.smallest_output / 1e3:g} to {self.largest_output / 1e3:g} kW"
        )


def reset_supply(
    outdoor: float,
    *,
    room: float,
    design_supply: float,
    design_outdoor: float,
    limits: tuple[float, float],
    shutdown: float | None = None,
) -> float | None:
    """Supply temperature by the weather [K], or None above the warm-weather shutdown.

    T = T_room + (T_design − T_room) [(T_room − T_out)/(T_room − T_out,design)]^(1/1.1), kept within the limits: the
    curve of `sim.solver.signals.OutdoorReset`, whose exponent comes from the floor law q ~ ΔT^1.1 of EN 1264-2.

    Parameters
    ----------
    outdoor : [K]
    room, design_supply, design_outdoor : the design day [K]; design_outdoor below the room.
    limits : lowest and highest supply [K].
    shutdown : at this outdoor temperature and above, no heat [K]; never when left out.

    Raises
    ------
    ValueError : design_outdoor not below the room, limits not in order.

    Examples
    --------
    Half of the design difference:

    >>> weather = dict(room=293.15, design_supply=323.15, design_outdoor=255.15, limits=(293.15, 333.15))
    >>> round(reset_supply(274.15, **weather) - 273.15, 2)
    35.98
    """
    if not design_outdoor < room:
        raise ValueError(f"design_outdoor {_celsius(design_outdoor)} must be below the room, {_celsius(room)}")
    if not limits[0] <= limits[1]:
        raise ValueError(f"limits: {_celsius(limits[0])} must not be above {_celsius(limits[1])}")
    if shutdown is not None and outdoor >= shutdown:
        return None
    return OutdoorReset(constant(outdoor), room, design_supply, design_outdoor, *limits).value(0.0)


def load_share(outdoor: float, *, room: float, design_outdoor: float) -> float:
    """Share of the design load at an outdoor temperature, (T_room − T_out)/(T_room − T_out,design), at least 0 [-].

    Sun and gains left out. Raises `ValueError` unless `design_outdoor` is below the room.
    """
    if not design_outdoor < room:
        raise ValueError(f"design_outdoor {_celsius(design_outdoor)} must be below the room, {_celsius(room)}")
    return max(0.0, (room - outdoor) / (room - design_outdoor))


def load_sources(path: str | Path | None = None) -> Mapping[str, Source]:
    """Profiles by name: those of a file, or the shipped ones.

    Raises
    ------
    CaseError : the file cannot be read or is not TOML, or a key is unknown, missing or out of range; all such
        problems at once.
    """
    name = str(path or "sources.toml")
    shipped = files("sim.house").joinpath("sources.toml")
    text = shipped.read_text("utf-8") if path is None else read_text(Path(path))
    rows = read_toml(text, name).get("source", [])
    if not isinstance(rows, list) or not rows:
        raise CaseError(name, [Problem("source", "", "no heat source", "write at least one [[source]]")])
    if odd := [index for index, row in enumerate(rows) if not isinstance(row, dict)]:
        rule, way_out = "must be a section with keys", "write it as [[source]]"
        raise CaseError(name, [Problem(f"source[{odd[0]}]", "", rule, way_out)])
    problems = [problem for index, row in enumerate(rows) for problem in _problems(f"source[{index}]", row)]
    names = [row.get("name") for row in rows]
    problems += [
        Problem(f"source[{index}].name", shortened(repr(row_name)), "given twice")
        for index, row_name in enumerate(names)
        if row_name in names[:index]
    ]
    if problems:
        raise CaseError(name, problems)
    return MappingProxyType({row["name"]: _source(row) for row in rows})


def _celsius(temperature: float) -> str:
    return f"{temperature - ZERO_CELSIUS:.1f} °C"


_TEMPERATURES = ("lowest_supply", "highest_supply", "return_at_least", "condenses_below")
_POSITIVE = ("drop_from", "drop_to", "smallest_output", "largest_output")
_ORDERED = (("lowest_supply", "highest_supply"), ("drop_from", "drop_to"), ("smallest_output", "largest_output"))
_OPTIONAL = ("return_at_least", "condenses_below", "rating")


def _key(name: str) -> str:
    """A field as the file writes it, with its unit."""
    unit = "_C" if name in _TEMPERATURES else "_K" if "drop" in name else "_W" if "output" in name else ""
    return name + unit


_KEYS = {_key(field.name): field.name for field in fields(Source)}


def _problems(where: str, row: Mapping[str, Any]) -> Iterator[Problem]:
    """What is wrong with one profile."""
    for key in row:
        if key not in _KEYS:
            near = get_close_matches(key, _KEYS, n=1)
            yield Problem(f"{where}.{key}", "", "unknown key", f'did you mean "{near[0]}"?' if near else "")
    for key, name in _KEYS.items():
        if key not in row:
            if name not in _OPTIONAL:
                yield Problem(f"{where}.{key}", "", "missing")
        elif (rule := _broken(name, row[key])) is not None:
            yield Problem(f"{where}.{key}", shortened(repr(row[key])), rule)
    for low, high in ((_key(low), _key(high)) for low, high in _ORDERED):
        if _is_number(row.get(low)) and _is_number(row.get(high)) and row[low] > row[high]:
            yield Problem(f"{where}.{low}", repr(row[low]), f"must not be above {high}, {row[high]!r}")


def _broken(name: str, value: Any) -> str | None:
    """The rule that a value breaks."""
    if name in _TEMPERATURES:
        return None if _is_number(value) and 0.0 <= value <= 95.0 else "must be a number of °C from 0 to 95"
    if name in _POSITIVE:
        return None if _is_number(value) and value > 0.0 else "must be a number greater than 0"
    if name == "mixes":
        return None if isinstance(value, bool) else "must be true or false"
    if name == "kind":
        return None if isinstance(value, str) and value in KINDS else f"must be one of: {', '.join(KINDS)}"
    if name == "performance":
        return None if _is_table(value) else (
            "must be rows [supply in °C, ratio greater than 0, where it comes from], from cool to hot"
        )
    if name == "rating":
        return None if is_rating(value) else (
            "must be rows [outdoors in °C, supply in °C, COP greater than 0, output in W, where it comes from]"
        )
    return None if isinstance(value, str) and value else "must be a text"


def _is_table(rows: Any) -> bool:
    """Whether these are rows of a performance table, from cool to hot."""
    if not (isinstance(rows, list) and rows and all(isinstance(row, list) and len(row) == 3 for row in rows)):
        return False
    good = all(_is_number(at) and _is_number(ratio) and ratio > 0.0 and where for at, ratio, where in rows)
    return good and all(low[0] < high[0] for low, high in zip(rows, rows[1:], strict=False))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300  # neither nan nor inf


def _source(row: Mapping[str, Any]) -> Source:
    """One profile in SI."""
    values = {_KEYS[key]: value for key, value in row.items()}
    for name in _TEMPERATURES:
        if name in values:
            values[name] += ZERO_CELSIUS
    rows = values["performance"]
    values["performance"] = tuple((at + ZERO_CELSIUS, float(ratio), str(why)) for at, ratio, why in rows)
    values["rating"] = tuple(
        (out + ZERO_CELSIUS, at + ZERO_CELSIUS, float(ratio), float(watts), str(why))
        for out, at, ratio, watts, why in values.get("rating", ())
    )
    return Source(**values)

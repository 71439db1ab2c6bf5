"""Sizes of the units that `sim.case.notation` understands, in SI, from their definitions.

A table of our own, as building the registry of a unit library takes longer than checking a case. Tests hold every row
against such a library.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from sim.case.constants import ZERO_CELSIUS
from sim.case.notation import Factors

INCH = 0.0254
"""One inch [m], exact by definition (1959 agreement)."""
FOOT = 12.0 * INCH
BTU = 1055.05585262
"""One British thermal unit, International Table [J], exact by definition (ISO 31-4)."""
FAHRENHEIT = 5.0 / 9.0
"""One degree Fahrenheit of temperature difference [K]."""
GALLON = 231.0 * INCH**3
"""One US liquid gallon [m3], exact: 231 cubic inches."""
POUND = 0.45359237
"""One avoirdupois pound [kg], exact (1959 agreement)."""
GRAVITY = 9.80665
"""Standard gravity [m/s2]."""
INCH_OF_WATER = 249.08891
"""One inch of water at 39.2 degF [Pa] (NIST SP 811, appendix B.8)."""

Powers = tuple[int, int, int, int]
"""Powers of metre, kilogram, second and kelvin."""


@dataclass(frozen=True, slots=True)
class UnitSize:
    """A unit: its size in SI, what it measures, and the SI value of its zero."""

    size: float
    powers: Powers
    zero: float = 0.0

    @property
    def shifted(self) -> bool:
        """Whether its zero is not that of SI."""
        return self.zero != 0.0


_LENGTH, _MASS, _TIME, _KELVIN = (1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1)
_VOLUME, _ENERGY, _POWER = (3, 0, 0, 0), (2, 1, -2, 0), (2, 1, -3, 0)
_PRESSURE, _VOLUME_FLOW = (-1, 1, -2, 0), (3, 0, -1, 0)

_SIZES: Mapping[str, UnitSize] = MappingProxyType(
    {name: UnitSize(1.0, _LENGTH) for name in ("m", "meter", "metre", "meters", "metres")}
    | {"inch": UnitSize(INCH, _LENGTH), "foot": UnitSize(FOOT, _LENGTH), "yard": UnitSize(3.0 * FOOT, _LENGTH)}
    | {"mile": UnitSize(5280.0 * FOOT, _LENGTH), "mil": UnitSize(1e-3 * INCH, _LENGTH)}
    | {"g": UnitSize(1e-3, _MASS), "pound": UnitSize(POUND, _MASS), "ounce": UnitSize(POUND / 16.0, _MASS)}
    | {"metric_ton": UnitSize(1e3, _MASS), "s": UnitSize(1.0, _TIME), "second": UnitSize(1.0, _TIME)}
    | {"minute": UnitSize(60.0, _TIME), "hour": UnitSize(3600.0, _TIME), "day": UnitSize(86400.0, _TIME)}
    | {"week": UnitSize(7 * 86400.0, _TIME), "K": UnitSize(1.0, _KELVIN), "degR": UnitSize(FAHRENHEIT, _KELVIN)}
    | {"degC": UnitSize(1.0, _KELVIN, ZERO_CELSIUS), "degF": UnitSize(FAHRENHEIT, _KELVIN, 459.67 * FAHRENHEIT)}
    | {"delta_degC": UnitSize(1.0, _KELVIN), "delta_degF": UnitSize(FAHRENHEIT, _KELVIN)}
    | {name: UnitSize(1e-3, _VOLUME) for name in ("l", "L", "liter")}
    | {"gallon": UnitSize(GALLON, _VOLUME), "N": UnitSize(1.0, (1, 1, -2, 0))}
    | {name: UnitSize(1.0, _POWER) for name in ("W", "watt")}
    | {name: UnitSize(1.0, _ENERGY) for name in ("J", "joule")}
    | {"Wh": UnitSize(3600.0, _ENERGY), "cal": UnitSize(4.184, _ENERGY), "Btu": UnitSize(BTU, _ENERGY)}
    | {"Btuh": UnitSize(BTU / 3600.0, _POWER), "MBH": UnitSize(1e3 * BTU / 3600.0, _POWER)}
    | {"gpm": UnitSize(GALLON / 60.0, _VOLUME_FLOW), "lpm": UnitSize(1e-3 / 60.0, _VOLUME_FLOW)}
    | {"cfm": UnitSize(FOOT**3 / 60.0, _VOLUME_FLOW), "tog": UnitSize(0.1, (0, -1, 3, 1))}
    | {"Pa": UnitSize(1.0, _PRESSURE), "bar": UnitSize(1e5, _PRESSURE), "atm": UnitSize(101325.0, _PRESSURE)}
    | {"psi": UnitSize(POUND * GRAVITY / INCH**2, _PRESSURE), "psf": UnitSize(POUND * GRAVITY / FOOT**2, _PRESSURE)}
    | {"inH2O": UnitSize(INCH_OF_WATER, _PRESSURE), "ftH2O": UnitSize(1e3 * GRAVITY * FOOT, _PRESSURE)}
)

_PREFIXES = {"n": 1e-9, "µ": 1e-6, "u": 1e-6, "m": 1e-3, "c": 1e-2, "d": 1e-1, "h": 1e2, "k": 1e3, "M": 1e6}
_PREFIXES |= {"micro": 1e-6, "milli": 1e-3, "centi": 1e-2, "deci": 1e-1, "kilo": 1e3}


def size_of(name: str) -> UnitSize:
    """A unit by a name that `read_unit` gives: one of the table, or one with a metric prefix.

    Examples
    --------
    >>> size_of("mm").size, size_of("kBtu").powers
    (0.001, (2, 1, -2, 0))
    """
    if name in _SIZES:
        return _SIZES[name]
    prefix = next(prefix for prefix in _PREFIXES if name.startswith(prefix) and name[len(prefix) :] in _SIZES)
    plain = _SIZES[name[len(prefix) :]]
    return UnitSize(_PREFIXES[prefix] * plain.size, plain.powers)


def product(factors: Factors) -> UnitSize:
    """The product of some units, each with its power; only a unit that stands alone keeps its zero."""
    sizes = [(size_of(name), power) for name, power in factors]
    if len(sizes) == 1 and sizes[0][1] == 1:
        return sizes[0][0]
    powers = [sum(size.powers[place] * power for size, power in sizes) for place in range(4)]
    return UnitSize(math.prod(size.size**power for size, power in sizes), (powers[0], powers[1], powers[2], powers[3]))

"""Numbers with units: text such as "3/4 in", "R-13" or "120 degF" becomes an SI float, and back.

Names of units are understood by `sim.case.notation`; what they measure is in `sim.case.unit_sizes`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from sim.case.constants import HOUR, ZERO_CELSIUS
from sim.case.errors import shortened
from sim.case.notation import LONGEST, NotationError, beyond_a_foot, read_number, read_unit, tidy_marks
from sim.case.unit_sizes import BTU, FAHRENHEIT, FOOT, INCH, POUND, UnitSize, product


def inches(number: float) -> float:
    """Length [m] of a number of inches, rounded to 15 digits."""
    return float(f"{number * INCH:.15g}")


R_VALUE_IP = 3600.0 * FOOT**2 * FAHRENHEIT / BTU
"""R-1 in inch-pound units, 1 h ft2 degF/Btu [m2 K/W]: 0.17611."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """What a key measures: words for people, SI unit as text, an example, and display scales.

    ``si`` and ``ip`` are (unit, size of the unit in SI, SI value of its zero).
    """

    words: str
    unit: str
    example: str
    si: tuple[str, float, float]
    ip: tuple[str, float, float]


_K_IP = BTU / 3600.0 / (FOOT**2 * FAHRENHEIT)

DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension("a length", "m", '"19 mm" or "3/4 in"', ("mm", 1e-3, 0.0), ("in", INCH, 0.0)),
    "distance": Dimension("a length", "m", '"4 m" or "13 ft"', ("m", 1.0, 0.0), ("ft", FOOT, 0.0)),
    "temperature": Dimension(
        "a temperature",
        "K",
        '"45 degC" or "120 degF"',
        ("°C", 1.0, ZERO_CELSIUS),
        ("°F", FAHRENHEIT, 459.67 * FAHRENHEIT),
    ),
    "temperature difference": Dimension(
        "a temperature difference", "K", '"5.5 K" or "10 degF"', ("K", 1.0, 0.0), ("°F", FAHRENHEIT, 0.0)
    ),
    "conductivity": Dimension(
        "a thermal conductivity",
        "W/(m*K)",
        '"0.12 W/(m*K)" or "0.8 Btu*in/(h*ft^2*degF)"',
        ("W/(m·K)", 1.0, 0.0),
        ("Btu·in/(h·ft²·°F)", _K_IP * INCH, 0.0),
    ),
    "thermal resistance": Dimension(
        "a thermal resistance",
        "m^2*K/W",
        '"2.3 m^2*K/W", "R-13" or "2.5 tog"',
        ("m²·K/W", 1.0, 0.0),
        ("R", R_VALUE_IP, 0.0),
    ),
    "film coefficient": Dimension(
        "a film coefficient",
        "W/(m^2*K)",
        '"8 W/(m^2*K)" or "1.4 Btu/(h*ft^2*degF)"',
        ("W/(m²·K)", 1.0, 0.0),
        ("Btu/(h·ft²·°F)", _K_IP, 0.0),
    ),
    "heat flux": Dimension(
        "a heat flux",
        "W/m^2",
        '"60 W/m^2" or "20 Btu/(h*ft^2)"',
        ("W/m²", 1.0, 0.0),
        ("Btu/(h·ft²)", BTU / 3600.0 / FOOT**2, 0.0),
    ),
    "tube resistance": Dimension(
        "a resistance of one metre of tube",
        "m*K/W",
        '"0.05 m*K/W"',
        ("m·K/W", 1.0, 0.0),
        ("h·ft·°F/Btu", 3600.0 * FOOT * FAHRENHEIT / BTU, 0.0),
    ),
    "flow": Dimension(
        "a flow of water",
        "kg/s",
        '"1.5 l/min" or "0.5 gpm"',
        ("kg/s", 1.0, 0.0),
        ("lb/min", POUND / 60.0, 0.0),
    ),
    "heat flow": Dimension(
        "a heat flow", "W", '"1200 W" or "4100 Btu/h"', ("W", 1.0, 0.0), ("Btu/h", BTU / 3600.0, 0.0)
    ),
    "area": Dimension("an area", "m^2", '"12 m^2" or "130 ft^2"', ("m²", 1.0, 0.0), ("ft²", FOOT**2, 0.0)),
    "volume": Dimension("a volume", "m^3", '"30 m^3" or "1060 ft^3"', ("m³", 1.0, 0.0), ("ft³", FOOT**3, 0.0)),
    "pressure": Dimension(
        "a pressure", "Pa", '"9 kPa" or "1.3 psi"', ("kPa", 1e3, 0.0), ("psi", POUND * 9.80665 / INCH**2, 0.0)
    ),
    "density": Dimension(
        "a density", "kg/m^3", '"500 kg/m^3"', ("kg/m³", 1.0, 0.0), ("lb/ft³", POUND / FOOT**3, 0.0)
    ),
    "specific heat": Dimension(
        "a specific heat",
        "J/(kg*K)",
        '"1600 J/(kg*K)"',
        ("J/(kg·K)", 1.0, 0.0),
        ("Btu/(lb·°F)", BTU / (POUND * FAHRENHEIT), 0.0),
    ),
    "diffusivity": Dimension(
        "a diffusivity", "m^2/s", '"15 mm^2/s"', ("m²/s", 1.0, 0.0), ("ft²/h", FOOT**2 / 3600.0, 0.0)
    ),
    "expansion": Dimension("an expansion", "1/K", '"0.003 1/K"', ("1/K", 1.0, 0.0), ("1/°F", 1.0 / FAHRENHEIT, 0.0)),
    "time": Dimension("a time", "s", '"12 h" or "30 min"', ("h", 3600.0, 0.0), ("h", 3600.0, 0.0)),
    "rise": Dimension(
        "a rise in time", "K/s", '"5 K/day"', ("K/day", 1.0 / 86400.0, 0.0), ("°F/day", FAHRENHEIT / 86400.0, 0.0)
    ),
    "heat capacity of an area": Dimension(
        "a heat capacity of an area",
        "J/(m^2*K)",
        '"150 kJ/(m^2*K)"',
        ("kJ/(m²·K)", 1e3, 0.0),
        ("Btu/(ft²·°F)", BTU / (FOOT**2 * FAHRENHEIT), 0.0),
    ),
    "fraction": Dimension("a plain number", "", '0.9 or "90 %"', ("", 1.0, 0.0), ("", 1.0, 0.0)),
}
"""Every dimension a key of a case file can have."""


class UnitError(ValueError):
    """Text that is not the quantity wanted; `rule` says what was wrong and `way_out` what to write.

    Parameters
    ----------
    rule, way_out : str
        As in `Problem`.
    """

    def __init__(self, rule: str, way_out: str) -> None:
        self.rule = rule
        self.way_out = way_out
        super().__init__(f"{rule}; {way_out}")

    def __reduce__(self) -> tuple[type[UnitError], tuple[str, str]]:
        return type(self), (self.rule, self.way_out)


_VOLUME_FLOW = (3, 0, -1, 0)
"""Powers of metre, kilogram, second and kelvin of a flow by volume."""

_R_VALUE = re.compile(r"(R|RSI)\s*-?\s*(\d+\.?\d*|\.\d+)", re.IGNORECASE)


def parse(text: str, dimension: str) -> float:
    """Read a quantity with its unit.

    Parameters
    ----------
    text : str
        Such as "19 mm", "11 7/8 in", "120 degF", "R-13", "2.5 tog", "85 %".
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    float
        Value in the SI unit, rounded to 15 digits so that "1 ft" is 0.3048 and not 0.3047999...

    Raises
    ------
    UnitError
        No number, unknown or missing unit, or a unit of another dimension.
    """
    if dimension == "flow":
        value, kind = parse_flow(text)
        if kind != "mass":
            raise UnitError("a mass flow is wanted here", 'such as "0.03 kg/s"')
        return value
    return _parse(text.strip(), dimension)


def parse_flow(text: str) -> tuple[float, str]:
    """Read a flow of water.

    Returns
    -------
    tuple of (float, str)
        Value [kg/s] and "mass", or value [m3/s] and "volume": the density that joins them depends on
        temperature.

    Raises
    ------
    UnitError
        As in `parse`.
    """
    number, unit = split(text, "flow")
    if unit == "kg/s":
        return number, "mass"
    size = _size(unit, "flow")
    return _in_si(number, size, "flow"), "volume" if size.powers == _VOLUME_FLOW else "mass"


_DRESSED = "a 2x6 is 5 1/2 in deep, a 2x8 7 1/4 in, a 2x10 9 1/4 in, a 2x12 11 1/4 in, all 1 1/2 in wide"
"""Dry dressed sizes of lumber (American Softwood Lumber Standard PS 20, from memory)."""


@lru_cache(maxsize=4096)
def _parse(text: str, dimension: str) -> float:
    if dimension == "thermal resistance" and len(text) <= LONGEST and (match := _R_VALUE.fullmatch(text)):
        return float(match[2]) * (R_VALUE_IP if match[1].upper() == "R" else 1.0)
    number, unit = split(text, dimension)
    if dimension == "fraction":
        return _fraction(number, unit)
    if unit == DIMENSIONS[dimension].unit:
        return number
    return _in_si(number, _size(unit, dimension), dimension)


def split(text: str, dimension: str) -> tuple[float, str]:
    """Part a quantity into its number and the text of its unit (not yet looked up).

    Raises
    ------
    UnitError
        It does not begin with a number, or the number is not finite.
    """
    if len(text) > LONGEST:
        raise UnitError(f"is too long for a number and its unit, {len(text):,} characters", _wanted(dimension))
    if (found := read_number(tidy_marks(text))) is None:
        rule = "twelve inches or more beside feet" if beyond_a_foot(tidy_marks(text)) else "no number found"
        raise UnitError(rule, _wanted(dimension))
    number, unit = found
    if re.match(r",\s*[0-9]", unit):
        raise UnitError("numbers hold no comma", f"{_without_comma(text)}; {_wanted(dimension)}")
    if not math.isfinite(number):
        raise UnitError("the number is too large", _wanted(dimension))
    return number, unit


def _without_comma(text: str) -> str:
    """What to write instead of a number with a comma: its decimals, unless it may as well part off thousands."""
    if re.match(r"\s*[+-]?\d+,(?!\d{3}(?!\d))\d+(?![,\d])", text):
        return f'decimals follow a point: "{text.strip().replace(",", ".", 1)}"'
    return "a point parts off decimals, and thousands stand together"


def _wanted(dimension: str) -> str:
    known = DIMENSIONS[dimension]
    return f"{known.words} is wanted, e.g. {known.example}"


def _fraction(number: float, unit: str) -> float:
    if unit not in ("", "%"):
        raise UnitError(f'the unit "{shortened(unit, 40)}" does not belong here', _wanted("fraction"))
    return number / 100.0 if unit else number


def _size(unit: str, dimension: str) -> UnitSize:
    """What a unit measures."""
    if not unit:
        raise UnitError("the unit is missing", _wanted(dimension))
    if dimension == "length" and re.fullmatch(r"[x×] *[0-9]+", unit):
        raise UnitError("sizes of the trade such as 2x10 are names, not lengths", f"give the real one: {_DRESSED}")
    try:
        factors = read_unit(unit)
    except NotationError:
        raise UnitError(f'the unit "{shortened(unit, 40)}" is not known', _wanted(dimension)) from None
    if dimension == "temperature difference" and factors[0][0] in ("degC", "degF"):
        factors = ((f"delta_{factors[0][0]}", 1),)  # a difference must not be shifted by the zero of its scale
    size = product(factors)
    difference = any(name.startswith("delta") for name, _ in factors)
    allowed = [product(read_unit(DIMENSIONS[dimension].unit)).powers, *[_VOLUME_FLOW] * (dimension == "flow")]
    if size.powers not in allowed or (dimension == "temperature" and difference):
        load = dimension == "heat flux" and size.powers == product(read_unit("W")).powers
        way_out = "divide a room's load by its heated floor area; " * load + _wanted(dimension)
        raise UnitError(f'"{shortened(unit, 40)}" is not the unit of {DIMENSIONS[dimension].words}', way_out)
    return size


def _in_si(number: float, size: UnitSize, dimension: str) -> float:
    """A number of a unit in SI, rounded to 15 digits."""
    value = float(f"{number * size.size + size.zero:.15g}")
    if not math.isfinite(value):
        raise UnitError("the number is too large", _wanted(dimension))
    return value


def format_si(value: float, dimension: str) -> str:
    """Write an SI value so that `parse` gives back the very same float: 0.019 -> "0.019 m"."""
    return f"{float(value)!r} {DIMENSIONS[dimension].unit}".rstrip()


def convert(value: float, dimension: str, system: str) -> tuple[float, str]:
    """Value and unit that people read.

    Parameters
    ----------
    value : float
        In the SI unit of the dimension.
    dimension : str
        A key of `DIMENSIONS`.
    system : str
        "SI" or "IP".

    Returns
    -------
    tuple of (float, str)
        For instance (19.0, "mm") or (0.748, "in") for 0.019 m.
    """
    known = DIMENSIONS[dimension]
    unit, size, zero = known.si if system == "SI" else known.ip
    if dimension == "time" and value < HOUR:  # read more easily in minutes or seconds
        unit, size = ("min", 60.0) if value >= 60.0 else ("s", 1.0)
    return (value - zero) / size, unit


def format_value(value: float, dimension: str, system: str = "both") -> str:
    """Write a value for people.

    Parameters
    ----------
    value : float
        In the SI unit of the dimension.
    dimension : str
        A key of `DIMENSIONS`.
    system : str
        "SI", "IP" or "both" (SI with IP in brackets, where it differs).

    Returns
    -------
    str
        Four significant digits, inches with two decimals at most, eighths of them whole; lengths of 2 m and more in
        metres and feet.

    Examples
    --------
    >>> format_value(0.01905, "length")
    '19.05 mm (0.75 in)'
    >>> format_value(0.028575, "length"), format_value(0.0286, "length")
    ('28.57 mm (1.125 in)', '28.6 mm (1.13 in)')
    """
    if dimension == "fraction":
        return f"{value:.4g}"
    if dimension == "length" and abs(value) >= 2.0:
        dimension = "distance"
    if system == "both":
        metric, imperial = (format_value(value, dimension, each) for each in ("SI", "IP"))
        return metric if metric == imperial else f"{metric} ({imperial})"
    number, unit = convert(value, dimension, system)
    if unit == "R":
        return f"R-{number:.3g}"
    return f"{_inches(number) if unit == 'in' else _digits(number)} {unit}"


def format_alike(values: Sequence[float], dimension: str, system: str) -> list[str]:
    """Write values that are read beside each other, in one system, with as many decimals as any of them has.

    Examples
    --------
    >>> format_alike([323.15, 329.15], "temperature", "IP")
    ['122.0 °F', '132.8 °F']
    """
    texts = [format_value(value, dimension, system) for value in values]
    parts = [re.fullmatch(r"(-?[0-9]+(?:\.([0-9]+))?)( .+)?", text) for text in texts]
    if not all(parts) or len({part[3] for part in parts if part}) > 1:
        return texts
    places = max(len(part[2] or "") for part in parts if part)
    if parts[0] and parts[0][3] == " in" and any(abs(float(part[1])) >= 1.0 for part in parts if part):
        places = min(places, 2)
    return [f"{float(part[1]):.{places}f}{part[3] or ''}" for part in parts if part]


def _inches(number: float) -> str:
    if abs(number) >= 1.0 and math.isclose(8.0 * number, round(8.0 * number), abs_tol=1e-6):
        return f"{round(number, 3):.10g}"
    return f"{round(number, 2):.10g}" if abs(number) >= 1.0 else f"{number:.3g}"


def _digits(number: float) -> str:
    if abs(number) < 1e-9:  # what is left of 0 degF after conversion
        return "0"
    return f"{number:.0f}" if 1e3 <= abs(number) < 1e8 else f"{number:.4g}"

"""The report for people: what each report key means, its label and group, and its value in SI or IP.

Report keys carry their unit as a suffix (`ripple_K`, `heat_flux_up_W_m2`), so a key alone says how to print
its value. Keys outside the table (say a later study adds one) are understood from their suffix.

Conversion factors follow from exact definitions: inch = 25.4 mm, foot = 0.3048 m, US gallon = 3.785411784 l,
Btu (international table) = 1055.05585262 J (NIST SP 811, appendix B).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from typing import Literal, NamedTuple, cast

from sim.results.lines import AIR_WALLS, LINES, in_words

Units = Literal["si", "ip"]
"""Which units a person reads: "si" or "ip"."""

NO_RESISTANCE = 1e-6
"""A step from water to room with less than this is none [m²K/W]."""

PLAIN_BELOW = 1e7
"""Numbers below this are written out, 10,210, and not as 1.021e+04."""

_INCH = 25.4
_FOOT = 0.3048
_GALLON = 3.785411784
_BTU_PER_HOUR = 3600.0 / 1055.05585262
_PER_FAHRENHEIT = 1.0 / 1.8


@dataclass(frozen=True, slots=True)
class Unit:
    """One SI unit of the report and its IP partner: ip value = si value * factor + offset.

    Attributes
    ----------
    si, ip : str
        Unit names as printed; empty for a plain number.
    factor, offset : float
        The conversion.
    si_format, ip_format : str
        Format specifications that show sensible digits.
    digits : int
        Significant digits instead, where sizes are not known beforehand; 0: as the formats say.
    """

    si: str
    ip: str
    factor: float = 1.0
    offset: float = 0.0
    si_format: str = ".1f"
    ip_format: str = ".1f"
    digits: int = 0

    def convert(self, value: float, units: Units = "si") -> float:
        """Return an SI value in the wanted units."""
        return value if units == "si" else value * self.factor + self.offset

    def name(self, units: Units = "si") -> str:
        """Return the printed unit."""
        return self.si if units == "si" else self.ip

    def write(self, value: float, units: Units = "si") -> str:
        """Return an SI value written in the wanted units, with the unit."""
        shown = self.convert(value, units)
        number = format(shown, self._places(shown) or (self.si_format if units == "si" else self.ip_format))
        if "e+" in number and abs(shown) < PLAIN_BELOW:
            number = f"{float(number):,.0f}"
        return f"{_no_negative_zero(number)} {self.name(units)}".rstrip()

    def _places(self, shown: float) -> str:
        """Format with so many places that `digits` digits are seen; empty where the formats count."""
        if not self.digits:
            return ""
        return f".{max(0, self.digits - 1 - math.floor(math.log10(abs(shown))))}f" if shown else ".0f"


_FLUX_FACTOR = _BTU_PER_HOUR * _FOOT**2
_NUMBER = Unit("", "", 1.0, 0.0, ".4g", ".4g")

BAND = "_uncertainty"
"""Ending of a key that holds the half width of the band round the number of the key before it."""

SCATTER, MESH, RAYS = "_standard_error", "_mesh_error", "_ray_error"
"""Endings of the parts of such a band where it has them: they are stored, the band is printed."""

SURE = 1e-5
"""Share of a number below which its band only says that all digits shown are right; of 1 K for a temperature."""

_WIDTHS = (BAND, SCATTER, MESH, RAYS)

UNITS: Mapping[str, Unit] = {
    "W_m2K": Unit("W/m²K", "Btu/h·ft²·°F", _FLUX_FACTOR * _PER_FAHRENHEIT, 0.0, ".2f", ".3f"),
    "m2K_W": Unit("m²K/W", "h·ft²·°F/Btu", 1.0 / (_FLUX_FACTOR * _PER_FAHRENHEIT), 0.0, ".4f", ".3f"),
    "m_per_m2": Unit("m/m²", "ft/ft²", _FOOT, 0.0, ".2f", ".2f"),
    "per_m2": Unit("per m²", "per ft²", _FOOT**2, 0.0, ".2f", ".3f"),
    "W_m2": Unit("W/m²", "Btu/h·ft²", _FLUX_FACTOR),
    "Wh_m2": Unit("Wh/m²", "Btu/ft²", _FLUX_FACTOR, 0.0, ".0f", ".0f"),
    "l_min": Unit("l/min", "gpm", 1.0 / _GALLON, 0.0, ".2f", ".2f"),
    "m_s": Unit("m/s", "ft/s", 1.0 / _FOOT, 0.0, ".2f", ".2f"),
    "percent": Unit("%", "%"),
    "mm": Unit("mm", "in", 1.0 / _INCH, 0.0, ".0f", ".1f"),
    "mm_s": Unit("mm/s", "in/s", 1.0 / _INCH, 0.0, ".1f", ".2f"),
    "mm2_s": Unit("mm²/s", "in²/s", _INCH**-2, 0.0, ".0f", ".3f"),
    "m2": Unit("m²", "ft²", _FOOT**-2, 0.0, ".2f", ".2f"),
    "W": Unit("W", "Btu/h", _BTU_PER_HOUR),
    "K": Unit("K", "°F", 1.8, 0.0, ".2f", ".2f"),
    "C": Unit("°C", "°F", 1.8, 32.0),
    "m": Unit("m", "ft", 1.0 / _FOOT, 0.0, ".2f", ".2f"),
    "s": Unit("s", "s"),
    "us": Unit("µs", "µs", si_format=".2f", ip_format=".2f"),
    "h": Unit("h", "h", si_format=".2f", ip_format=".2f"),
}
"""Suffix of a report key -> its unit. A difference of temperature (K) converts without the offset."""


_IN_TABLE = frozenset(key for lines in LINES.values() for key, _ in lines) | {"wood_peak_C"}
"""Keys that are written alike in every report; the last one limits in time are held against."""

_OPEN_SIZED: Mapping[str, Unit] = {
    UNITS[name].si: replace(UNITS[name], digits=digits)
    for name, digits in {"W": 4, "W_m2": 4, "W_m2K": 4, "mm_s": 4}.items()
} | {"°C": replace(UNITS["C"], si_format=".2f", ip_format=".2f")}
"""Units of keys outside the table: a case of blocks may give 0.05 W or 5 kW."""


@dataclass(frozen=True, slots=True)
class ReportQuantity:
    """One line of the report: key, label in plain words, group heading and unit."""

    key: str
    label: str
    group: str
    unit: Unit

    def heading(self, units: Units = "si") -> str:
        """Return the label in the wanted units ("area above 29 °C" reads "area above 84.2 °F" in IP)."""
        return self.label if units == "si" else re.sub(r"(\d+) °C", _to_fahrenheit_text, self.label)


class ReportRow(NamedTuple):
    """One printed line of a report: its group, its label, its value with unit."""

    group: str
    label: str
    text: str


_PLAIN_UNITS: Mapping[str, Unit] = {
    "ripple_ratio": Unit("", "", si_format=".2f", ip_format=".2f"),
    "reynolds": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "cells": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "outer_iterations": Unit("", "", si_format=".0f", ip_format=".0f"),
    "steps": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "air_cells": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "air_meetings": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "air_companion_cells": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "air_steps": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    **{f"air_plumes{mesh}": Unit("", "", si_format=".0f", ip_format=".0f") for mesh in ("", "_middle", "_coarser")},
    "air_starts": Unit("", "", si_format=".0f", ip_format=".0f"),
    "air_samples": Unit("", "", si_format=",.0f", ip_format=",.0f"),
    "air_layer_cells": Unit("", "", si_format=".1f", ip_format=".1f"),
    "air_rayleigh": Unit("", "", si_format=".2e", ip_format=".2e"),
    **{f"air_heat_{walls}_W": replace(UNITS["W"], digits=3) for walls in AIR_WALLS},
    **dict.fromkeys(("air_speed_mean_m_s", "air_speed_peak_m_s", "air_plume_m_s"), replace(UNITS["m_s"], digits=2)),
    "switches": Unit("", "", si_format=".0f", ip_format=".0f"),
    "audit_residual": Unit("", "", si_format=".1e", ip_format=".1e"),
}


def unit_of(key: str) -> Unit:
    """Return the unit that a report key names in its suffix (a plain number when it names none).

    >>> unit_of("heat_flux_up_W_m2").ip
    'Btu/h·ft²'
    """
    if key in _PLAIN_UNITS:
        return _PLAIN_UNITS[key]
    for width in _WIDTHS:
        if key.endswith(width):
            unit = unit_of(key.removesuffix(width))
            return UNITS["K"] if unit.offset else unit
    fitting = [suffix for suffix in UNITS if key.endswith("_" + suffix)]
    unit = UNITS[max(fitting, key=len)] if fitting else _NUMBER
    return unit if key in _IN_TABLE else _OPEN_SIZED.get(unit.si, unit)


QUANTITIES: Mapping[str, ReportQuantity] = {
    key: ReportQuantity(key, label, group, unit_of(key)) for group, lines in LINES.items() for key, label in lines
}
"""Every report key of the table, in the order in which a report prints them."""


_GROUPS = {"heat_": "Heat", "surface_": "Surfaces", "wall_": "Cavity walls", "probe_": "Probes"}
_GROUPS |= {"nusselt_": "Nusselt numbers", "air_": "Air", "swing_": "Swings (highest less lowest)"}
_GROUPS |= {"mean_": "Means from air.average_from on", **dict.fromkeys(("outlet_", "tube_"), "Tubes")}
"""Groups of keys outside the table, by how they begin: a case of blocks names its own surfaces and probes."""


def quantity(key: str) -> ReportQuantity:
    """Return what a report key means; a key outside the table gets its words as label and a group by its beginning."""
    group = next((name for start, name in _GROUPS.items() if key.startswith(start)), "Other")
    return QUANTITIES.get(key) or ReportQuantity(key, _words(key), group, unit_of(key))


def full_name(key: str, units: Units = "si") -> str:
    """Return the label of a report key as it stands without its group: "floor surface, mean" instead of "mean"."""
    found = quantity(key)
    label = found.heading(units)
    return f"{found.group.lower()}, {label}" if found.group == "Floor surface" else label


def format_value(key: str, value: float | None, units: Literal["si", "ip", "both"] = "si") -> str:
    """Write one report value for a person, with its unit.

    Parameters
    ----------
    key : str
        Report key; its suffix names the unit that `value` is in.
    value : float or None
        The value as stored in the report (SI, temperatures in °C). None and NaN print as "n/a".
    units : "si", "ip" or "both"
        "both" prints the SI value followed by the IP value in brackets.

    Examples
    --------
    >>> format_value("surface_mean_C", 25.0, "both")
    '25.0 °C (77.0 °F)'
    >>> format_value("ripple_K", 5.0, "ip")
    '9.00 °F'
    >>> format_value("air_speed_mean_m_s", 0.0132, "both"), format_value("water_velocity_m_s", 0.6, "si")
    ('0.013 m/s (0.043 ft/s)', '0.60 m/s')
    """
    if value is None or not math.isfinite(value):
        return "n/a"
    unit = unit_of(key)
    if units != "both":
        return unit.write(value, units)
    both = unit.write(value, "si"), unit.write(value, "ip")
    return both[0] if both[0] == both[1] else f"{both[0]} ({both[1]})"


def format_uncertain(key: str, value: float, band: float, units: Literal["si", "ip", "both"] = "si") -> str:
    """Write a report value with the half width of its band, which gets two digits and the value as many places.

    A band that is next to nothing beside its value is left out.

    Parameters
    ----------
    key, value, units
        As in `format_value`.
    band : float
        In the same unit as the value; for a temperature a difference [K].

    Examples
    --------
    >>> format_uncertain("heat_flux_up_W_m2", 79.861, 0.1027)
    '79.86 ± 0.10 W/m²'
    >>> format_uncertain("surface_mean_C", 25.0, 0.05, "ip")
    '77.000 ± 0.090 °F'
    >>> format_uncertain("wall_hot_side_mean_C", 25.349995224, 5.2e-8)
    '25.35 °C'
    """
    if units == "both":
        both = [format_uncertain(key, value, band, system) for system in ("si", "ip")]
        return both[0] if both[0] == both[1] else f"{both[0]} ({both[1]})"
    unit, width = unit_of(key), unit_of(key + BAND).convert(band, units)
    least = SURE * max(abs(unit.convert(value, units)), 1.0 if unit.offset else 0.0)
    if not (math.isfinite(value) and math.isfinite(width) and width > least):
        return format_value(key, value, units)
    places = max(0, 1 - math.floor(math.log10(float(f"{width:.1e}"))))
    number = _no_negative_zero(f"{unit.convert(value, units):.{places}f}")
    return f"{number} ± {width:.{places}f} {unit.name(units)}".rstrip()


def format_span(key: str, values: Sequence[float], units: Units = "si") -> tuple[list[str], str]:
    """Write several values of one report key side by side, and their unit.

    All get the places at which the distance between the lowest and the highest has three digits, unless that is but
    rounding; NaN reads "n/a".

    Examples
    --------
    >>> format_span("heat_flux_up_W_m2", [74.713, 79.9, 89.106])
    (['74.7', '79.9', '89.1'], 'W/m²')
    >>> format_span("heat_flux_up_W_m2", [24.4072760, 24.4072761])
    (['24.41', '24.41'], 'W/m²')
    """
    unit = unit_of(key)
    shown = [unit.convert(value, units) for value in values]
    known = [value for value in shown if math.isfinite(value)]
    span = max(known) - min(known) if known else 0.0
    differ = span > 1e-6 * max(map(abs, known), default=0.0)
    places = min(6, max(0, 2 - math.floor(math.log10(span)))) if differ else 2
    texts = [_no_negative_zero(f"{value:.{places}f}") if math.isfinite(value) else "n/a" for value in shown]
    return texts, unit.name(units)


def format_against(
    key: str, value: float, bound: float, units: Literal["si", "ip", "both"] = "si"
) -> tuple[str, str]:
    """Write a value and the bound that it is held against, in so many digits that they read alike only where they are.

    Both come in the unit that the key ends in.

    Examples
    --------
    >>> format_against("surface_peak_C", 30.0042, 30.0)
    ('30.004 °C', '30.000 °C')
    >>> format_against("surface_peak_C", 27.3, 29.0, "both")
    ('27.3 °C (81.1 °F)', '29.0 °C (84.2 °F)')
    """
    if units == "both":
        pairs = zip(*(format_against(key, value, bound, system) for system in ("si", "ip")), strict=True)
        first, second = (both[0] if both[0] == both[1] else f"{both[0]} ({both[1]})" for both in pairs)
        return first, second
    unit = unit_of(key)
    texts = unit.write(value, units), unit.write(bound, units)
    if texts[0] != texts[1] or math.isclose(value, bound, rel_tol=1e-7, abs_tol=1e-6):
        return texts
    for places in range(1, 7):
        numbers = [f"{unit.convert(number, units):.{places}f}" for number in (value, bound)]
        if numbers[0] != numbers[1]:
            break
    first, second = (f"{_no_negative_zero(number)} {unit.name(units)}".rstrip() for number in numbers)
    return first, second


def convert(key: str, value: float, units: Units = "si") -> float:
    """Return a report value as a bare number in the wanted units."""
    return unit_of(key).convert(value, units)


def report_rows(report: Mapping[str, object], units: Literal["si", "ip", "both"] = "si") -> list[ReportRow]:
    """Return the lines of a report in printing order: table keys first, then other numeric keys.

    Parameters
    ----------
    report : mapping
        Report keys and values; values that are not numbers (lists, texts) and missing keys are left out. A number
        with a band beside it (`ripple_K_uncertainty`) is written as value ± band.
    units : "si", "ip" or "both"
        Units of the texts; "both" keeps the SI wording of the labels.
    """
    known = [key for key in QUANTITIES if key in report]
    bands = {key + width for key in report for width in _WIDTHS}
    others = [key for key in report if key not in QUANTITIES and key not in bands]
    label_units: Units = "ip" if units == "ip" else "si"
    absent = _absent_steps(report)
    rows = [
        ReportRow(quantity(key).group, quantity(key).heading(label_units), shown_value(report, key, units))
        for key in known + others
        if key not in absent and (_is_number(report[key]) or (report[key] is None and key in QUANTITIES))
    ]
    order = [*dict.fromkeys(row.group for row in rows if row.group != "Run"), "Run"]
    return sorted(rows, key=lambda row: order.index(row.group))


def _absent_steps(report: Mapping[str, object]) -> set[str]:
    """Steps of the way from water to room that a bay without plates or covering lacks: nothing resists there."""
    steps = ("resistance_bond_m2K_W", "resistance_plate_m2K_W", "resistance_covering_m2K_W")
    held = {key: report[key] for key in steps if _is_number(report.get(key))}
    return {key for key, value in held.items() if abs(cast("float", value)) < NO_RESISTANCE}


def shown_value(report: Mapping[str, object], key: str, units: Literal["si", "ip", "both"]) -> str:
    """Write a number of a report, None among them, with its band where the report holds one."""
    value, band = (cast("float | None", report.get(name)) for name in (key, key + BAND))
    if value is None or band is None:
        return format_value(key, value, units)
    return format_uncertain(key, value, band, units)


def _is_number(value: object) -> bool:
    """Say whether a report value is one number."""
    return isinstance(value, Real) and not isinstance(value, bool)


def _words(key: str) -> str:
    """Turn a key without its unit suffix into words."""
    fitting = [suffix for suffix in UNITS if key.endswith("_" + suffix)]
    stem = key.removesuffix("_" + max(fitting, key=len)) if fitting else key
    return in_words(stem)


def _to_fahrenheit_text(match: re.Match[str]) -> str:
    """Rewrite "29 °C" inside a label as "84.2 °F"."""
    return f"{float(match.group(1)) * 1.8 + 32.0:.4g} °F"


def _no_negative_zero(number: str) -> str:
    """Print -0.0 as 0.0."""
    return number.removeprefix("-") if not re.search("[1-9]", number) else number

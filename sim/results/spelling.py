"""Spelling follows the units: texts are written as in SI countries, and turned where a reader has inches and pounds."""

from __future__ import annotations

import re
from typing import Literal

from sim.results.people import Units

_AMERICAN = {
    "aluminium": "aluminum",
    "expansion vessel": "expansion tank",
    "on-centre": "on-center",
    "centre": "center",
    "colour": "color",
    "millimetre": "millimeter",
    "metre": "meter",
    "litre": "liter",
    "fibre": "fiber",
    "grey": "gray",
    "neighbouring": "neighboring",
    "modelled": "modeled",
    "levelled": "leveled",
    "galvanised": "galvanized",
}
_WORDS = re.compile(rf"\S*[/\\]\S*|\b({'|'.join(_AMERICAN)})(?=s?\b|ed\b|board\b)", re.IGNORECASE)
"""Paths, which keep their spelling, or a word that has another one."""


def spelled(text: str, units: Units) -> str:
    """A text in the spelling that goes with its units.

    Examples
    --------
    >>> spelled("Aluminium plates, an expansion vessel", "ip")
    'Aluminum plates, an expansion tank'
    >>> spelled("aluminium", "si")
    'aluminium'
    >>> spelled("the centre, kept in runs/centre", "ip")
    'the center, kept in runs/centre'
    """
    return text if units == "si" else _WORDS.sub(_turned, text)


_PARTED = re.compile(r"(?:(?<=[±≤≥])|(?<=\s[<>])|(?<=^[<>])) (?=\d)|(?<=\d) (?=[^\s\d(]|\d+/\d)")
"""Spaces of which no line ends; a bracket that closes a tag is no sign."""


def kept_together(text: str, space: str = "\u00a0") -> str:
    """A text, or markup, whose numbers stay on one line with the word or unit that follows, and a sign before them.

    Parameters
    ----------
    space : what stands for a space that no line ends at

    Examples
    --------
    >>> kept_together("± 20 % of 3.5 K (6.3 °F), < 5 K", "_")
    '±_20_% of 3.5_K (6.3_°F), <_5_K'
    >>> kept_together("<b>holes</b> 1 3/8 in wide", "_")
    '<b>holes</b> 1_3/8_in wide'
    """
    return _PARTED.sub(space, text)


_INCH_POUNDS = {
    "mm/s": ("in/s", 1.0 / 25.4, 0.0),
    "mm": ("in", 1.0 / 25.4, 0.0),
    "°C": ("°F", 1.8, 32.0),
    "K": ("°F", 1.8, 0.0),
    "m²K/W": ("h·ft²·°F/Btu", 5.678263, 0.0),
    "W/m²": ("Btu/h·ft²", 3600.0 / 1055.05585262 * 0.3048**2, 0.0),
    "m/s": ("ft/s", 1.0 / 0.3048, 0.0),
    "bar": ("psi", 14.5037738, 0.0),
}
"""Units in sentences: what they become, factor and offset, by exact definitions (NIST SP 811, appendix B)."""

_NUMBER = r"-?\d+(?:\.\d+)?"
_SIZED = re.compile(rf"({_NUMBER}(?:(?:,| to| and| or) {_NUMBER})*) ({'|'.join(_INCH_POUNDS)})(?![\w/²·]| per)")

_GIVEN_TWICE = re.compile(rf"((?:°F|psi)) \((?:{_NUMBER}(?: to )?)+ (?:°C|kPa|bar)\)")
"""What a source gives in both units already: only the second one goes."""


def in_inch_pounds(text: str) -> str:
    """A sentence that was written in SI with its lengths, temperatures, fluxes, speeds and pressures in IP units.

    Examples
    --------
    >>> in_inch_pounds("A gap of 12 mm, 10 K warmer below; 62 and 36 W/m² up, water at 50 °C")
    'A gap of 0.47 in, 18 °F warmer below; 20 and 11 Btu/h·ft² up, water at 122 °F'
    >>> in_inch_pounds("practice 80 to 85 °F (27 to 29 °C), 100 psi (690 kPa)")
    'practice 80 to 85 °F, 100 psi'
    """
    return _SIZED.sub(_converted, _GIVEN_TWICE.sub(r"\1", text))


_TWICE = re.compile(r"((?:R )?-?\d[\d.,]* \S+) \(((?:-?\d|R-\d)(?:[^()]|\([^()]*\))*)\)")
"""A quantity with the same one in the other system behind it."""


def in_one_system(text: str, units: Literal["si", "ip", "both"]) -> str:
    """A text whose quantities stand in both systems, with those of one; for "both" as it is.

    Examples
    --------
    >>> in_one_system("glass wool 160 mm (6.3 in), R 3.346 m²·K/W (R-19), room 20 °C (68 °F)", "ip")
    'glass wool 6.3 in, R-19, room 68 °F'
    >>> in_one_system("film 11.36 W/(m²·K) (2 Btu/(h·ft²·°F)) to 20 °C (68 °F)", "ip")
    'film 2 Btu/(h·ft²·°F) to 68 °F'
    >>> in_one_system("plates every 508 mm (20 in), 2 runs (of 3)", "si")
    'plates every 508 mm, 2 runs (of 3)'
    """
    return text if units == "both" else spelled(_TWICE.sub(r"\2" if units == "ip" else r"\1", text), units)


def told(text: str, units: Units) -> str:
    """A text that was written in SI as a reader of these units has it: its numbers and its spelling.

    Examples
    --------
    >>> told("An aluminium plate of 60 mm", "ip")
    'An aluminum plate of 2.4 in'
    >>> told("heat up, per metre of slab", "ip")
    'heat up, per 3.28 ft of slab'
    >>> told("An aluminium plate of 60 mm", "si")
    'An aluminium plate of 60 mm'
    """
    return text if units == "si" else spelled(in_inch_pounds(text).replace("per metre", "per 3.28 ft"), units)


def _converted(found: re.Match[str]) -> str:
    unit, factor, offset = _INCH_POUNDS[found[2]]

    def number(one: re.Match[str]) -> str:
        value = float(one[0]) * factor + offset
        return f"{value:.0f}" if offset or abs(value) >= 10.0 else f"{value:.2g}"

    return f"{re.sub(_NUMBER, number, found[1])} {unit}"


def _turned(found: re.Match[str]) -> str:
    if not found[1]:
        return found[0]
    word = _AMERICAN[found[1].lower()]
    return word.capitalize() if found[1][0].isupper() else word

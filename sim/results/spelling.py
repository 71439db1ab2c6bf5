"""Spelling follows the units: texts are written as in SI countries, and turned where a reader has inches and pounds."""

from __future__ import annotations

import re

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


def _turned(found: re.Match[str]) -> str:
    if not found[1]:
        return found[0]
    word = _AMERICAN[found[1].lower()]
    return word.capitalize() if found[1][0].isupper() else word
